"""Common footing."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class FootingSettings:
    """Common grid: the range the spectra share, at the coarsest step among them."""

    low: float = setting(
        400.0, "below it most crystals and detectors end", unit="cm-1", low=100.0, high=12000.0
    )
    high: float = setting(4000.0, "end of the mid-infrared", unit="cm-1", low=100.0, high=12000.0)
    leave_out: tuple[tuple[float, float], ...] = setting(
        ((1900.0, 2700.0), (3550.0, 4000.0)),
        "crystal absorption and CO2; water vapour: no coating band lies there",
        unit="cm-1",
    )

    def __post_init__(self) -> None:
        require_in_range(self)
