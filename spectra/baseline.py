"""Baselines."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class BaselineSettings:
    """One baseline for every spectrum of the study."""

    method: str = setting(
        "arpls", "lowest error of eleven methods on bands and drift", choices=("arpls", "none")
    )
    period: float = setting(600.0, "longer than any band", unit="cm-1", low=50.0, high=10000.0)

    def __post_init__(self) -> None:
        require_in_range(self)
