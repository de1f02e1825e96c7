"""Peaks."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class PeakSettings:
    """Which maxima count as bands."""

    prominence: float = setting(0.03, "share of the highest band", low=0.0, high=1.0)

    def __post_init__(self) -> None:
        require_in_range(self)
