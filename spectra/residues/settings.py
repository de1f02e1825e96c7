"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class ResidueSettings:
    """What counts as an unexplained band."""

    widths: tuple[float, ...] = setting(
        (10.0, 20.0, 40.0, 80.0), "full widths of the bumps looked for", unit="cm-1", low=4.0, high=300.0
    )
    alpha: float = setting(0.01, "chance of a false finding anywhere in one sample", low=1e-6, high=0.2)
    shape_tolerance: float = setting(
        0.15, "what a coating's band may differ by from the expected one, in height", low=0, high=1
    )
    place_tolerance: float = setting(
        2.0, "the same in place: what optics and neighbours leave open", unit="cm-1", low=0, high=20
    )
    width_tolerance: float = setting(0.1, "the same in width, as a share of it", low=0, high=1)
    substrate_tolerance: float = setting(
        0.01, "the same for the substrate's bands, beyond what bare spots show", low=0, high=1
    )
    smallest: float = setting(
        0.02,
        "share of the strongest expected coating band below which a bump is taken for misfit of the coating",
        low=0.0,
        high=1.0,
    )
    trust: float = setting(2.0, "degrees of freedom of the model's error per bare specimen", low=0, high=20)

    def __post_init__(self) -> None:
        require_in_range(self)
