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
    most: int = setting(40, "unexplained bands after which the search stops", low=1, high=1000)
    told: int = setting(
        12, "unexplained bands that are put into words, the most evident first", low=0, high=40
    )
    place: float = setting(
        0.2, "share of its width to which an unexplained band's place is known", low=0.01, high=1.0
    )
    beside: float = setting(
        35.0,
        "distance from a coating's band within which something left over may be a part of it that moved",
        unit="cm-1",
        low=0.0,
        high=200.0,
    )
    part: float = setting(
        0.3, "share of that band's expected height from which it may be such a part", low=0.0, high=1.0
    )
    watched_bands: int = setting(
        2, "bands of a watched residue that must be seen, a strong one among them", low=1, high=10
    )
    laboratories: float = setting(
        6.0,
        "positions of one band in two laboratories or techniques; common practice, no source",
        unit="cm-1",
        low=1.0,
        high=30.0,
    )
    widest_row: float = setting(
        60.0, "a wider row of the tables describes a region and no band", unit="cm-1", low=10.0, high=1000.0
    )
    apart: float = setting(
        10.0, "rows of a residue nearer than this are one place", unit="cm-1", low=0.0, high=60.0
    )
    hidden: float = setting(
        5.0, "times the usual error of a height, from which a place counts as hidden", low=1.0, high=100.0
    )
    band_width: float = setting(
        35.0,
        "width taken for a residue's band in the film fit, where the tables give the place only",
        unit="cm-1",
        low=4.0,
        high=200.0,
    )

    def __post_init__(self) -> None:
        require_in_range(self)
