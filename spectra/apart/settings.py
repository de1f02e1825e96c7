"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class ApartSettings:
    """When a spectrum is said to stand apart from its group."""

    alpha: float = setting(
        0.01,
        "chance of naming anything in a study where all belongs; shared by its groups",
        low=1e-5,
        high=0.2,
    )
    wide_alpha: float = setting(
        0.005, "chance of calling a group wide that varies as the model says", low=1e-5, high=0.2
    )
    along: float = setting(
        0.05,
        "chance of taking the end of the group's own direction of difference for a stranger",
        low=1e-4,
        high=0.5,
    )
    remark: float = setting(
        0.02, "chance of a remark on a sample whose specimens are alike", low=1e-5, high=0.2
    )
    step: float = setting(
        4.0, "the search needs no narrow points: a third of the time", unit="cm-1", low=1.0, high=16.0
    )
    left_bare: float = setting(
        0.25,
        "of the least of the others' amounts, below which a coated spot is named as left bare: no uneven "
        "coating is meant",
        low=0.01,
        high=0.5,
    )
    stretch: float = setting(40.0, "about the width of a band", unit="cm-1", low=10.0, high=400.0)
    dilution: float = setting(4.0, "points that count as one", low=1.0, high=50.0)
    hint_times: float = setting(
        2.0, "gain in the detectable amount for which a wide group's outermost are named", low=1.1, high=100.0
    )
    specimens: int = setting(3, "coated specimens of the design that costs are given for", low=1, high=100)

    def __post_init__(self) -> None:
        require_in_range(self)
