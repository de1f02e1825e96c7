"""Error rates and margins: what is fixed before the data are seen."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class DecisionSettings:
    """Error rates and margins of every verdict, fixed before the data are seen."""

    alpha: float = setting(0.01, "chance of calling a bare sample coated", low=1e-6, high=0.2)
    power: float = setting(0.95, "chance of finding the detectable amount", low=0.5, high=0.9999)
    confidence: float = setting(0.95, "level of every interval", low=0.5, high=0.9999)
    margin: float = setting(
        4.0,
        "shift that still counts as unchanged: twice 1 cm-1 of repeatability and 2 cm-1 of optics; "
        "common practice, no source",
        unit="cm-1",
        low=0.1,
        high=50.0,
    )
    ratio_margin: float = setting(
        0.35,
        "relative change of a band against the others that still counts as unchanged",
        low=0.02,
        high=2.0,
    )
    mask_factor: float = setting(
        10.0,
        "a band is masked if its detectable amount is this many times that of the best",
        low=1,
        high=1000,
    )
    mask_amount: float = setting(
        1.0,
        "a band is masked if its detectable amount exceeds this much of the neat spectrum",
        low=0,
        high=100,
    )
    mask_never: float = setting(
        0.05, "a band that finds this much of the neat spectrum is never masked", low=0.0, high=1.0
    )
    agreement: float = setting(
        0.7, "lowest correlation of a found band with the expected shape in its window", low=0.0, high=1.0
    )

    def __post_init__(self) -> None:
        require_in_range(self)
