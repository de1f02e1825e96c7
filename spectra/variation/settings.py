"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class VariationSettings:
    """What the model of the bare spots may hold."""

    step: float = setting(
        2.0, "finer points are averaged: bands are wider, and cost grows with the cube",
        unit="cm-1", low=0.5, high=16.0,
    )  # fmt: skip
    narrow: float = setting(15.0, "width of one band of the substrate", unit="cm-1", low=2.0, high=60.0)
    wide: float = setting(
        80.0, "width of a group of bands", unit="cm-1", low=30.0, high=400.0, not_below="narrow"
    )
    position: float = setting(20.0, "bands move by themselves", unit="cm-1", low=2.0, high=200.0)
    drift: float = setting(250.0, "baselines are smoother than bands", unit="cm-1", low=100.0, high=2000.0)
    window: float = setting(75.0, "the detector's noise changes slowly", unit="cm-1", low=20.0, high=1000.0)
    directions: int = setting(6, "most directions of difference that are projected out", low=0, high=20)
    resolution: float = setting(
        0.0,
        "of the instrument, for vapour lines; 0: twice the data interval",
        unit="cm-1",
        low=0.0,
        high=32.0,
    )
    points: int = setting(320, "points the sizes are fitted on; the verdict uses all", low=100, high=4000)

    def __post_init__(self) -> None:
        require_in_range(self)
