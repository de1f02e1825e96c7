"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class ComparisonSettings:
    """How spots, specimens, recipes and conditions are compared."""

    scatter: str = setting(
        "own",
        "own: every recipe by its own scatter; pooled: one scatter for all, surer only if they scatter alike",
        choices=("own", "pooled"),
    )
    same_scale: float = setting(
        0.1,
        "difference of two samples' thickness for the same amount up to which theirs is told in nm: a film "
        "whose bands changed, or whose signal no longer grows with thickness, has another scale",
        low=0.0,
        high=1.0,
    )
    kept_margin: float = setting(
        0.1, "share of the amount that may be lost and still counts as nothing lost", low=0.001, high=0.9
    )
    kept_risk: float = setting(0.05, "chance of saying nothing was lost at the margin", low=1e-4, high=0.2)
    populations_alpha: float = setting(
        0.005, "chance of taking one population of spots for two", low=1e-4, high=0.2
    )
    populations_apart: float = setting(
        5.0,
        "distance of two populations in units of their own scatter: an evenly filled range has 3.5, and the "
        "cut is the best of many",
        low=2.0,
        high=20.0,
    )
    populations_share: float = setting(
        0.1, "share of the spots that a part has at least: fewer are an outlier or two", low=0.01, high=0.5
    )
    populations_spots: int = setting(8, "fewest spots that can show two populations", low=6, high=1000)
    draws: int = setting(999, "drawn samples behind the chance of two populations", low=99, high=100000)
    seed: int = setting(1, "of those draws", low=0, high=2**31)
    evenness_true: float = setting(
        0.5, "share of a wanted variation that the coating is taken to have in a plan", low=0.05, high=0.95
    )
    evenness_power: float = setting(
        0.8, "chance of deciding that a plan must reach; common practice, no source", low=0.5, high=0.99
    )
    least_contact: float = setting(
        0.2,
        "of the bare spots' mean contact, and its inverse: a spot beyond is not levelled further",
        low=0.01,
        high=1.0,
    )
    same_band: float = setting(
        0.5,
        "share of a band's width within which it is the same band in another spectrum",
        low=0.05,
        high=2.0,
    )
    stand_out: float = setting(
        2.0,
        "times less, or more, than the other specimens, from which one is remarked on",
        low=1.1,
        high=100.0,
    )
    layout_evidence: float = setting(
        30.0,
        "twice a log likelihood ratio from which film or blend is said to fit: far beyond chance, for optics "
        "are not known exactly",
        low=4.0,
        high=1000.0,
    )
    trend_alpha: float = setting(
        0.01, "chance of seeing a trend over position where there is none", low=1e-4, high=0.2
    )

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class Requirement:
    """What is asked of a sample; None asks nothing."""

    least_nm: float | None = setting(None, "thickness of the coating, mean of the sample", unit="nm", low=0.0)
    most_variation: float | None = setting(None, "coefficient of variation from spot to spot", low=0.0)
    risk: float = setting(
        0.05, "chance of saying conforms of what does not, and the other way round", low=1e-4, high=0.5
    )

    def __post_init__(self) -> None:
        require_in_range(self)
