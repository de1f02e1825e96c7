"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class PeakSettings:
    """Which maxima count as bands, and how they are measured."""

    prominence: float = setting(
        0.03, "height over the neighbouring valleys, as a share of the highest band", low=0.001, high=1.0
    )
    noise_factor: float = setting(
        8.0,
        "the same in units of the noise, whose own valley-to-top range is about seven",
        low=1.0,
        high=100.0,
    )
    window: float = setting(
        1.5, "half-width of the fitted window in band widths, cut at the valleys", low=0.5, high=5.0
    )

    def __post_init__(self) -> None:
        require_in_range(self)
