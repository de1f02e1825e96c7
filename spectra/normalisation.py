"""Normalisation."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class NormalisationSettings:
    """How spectra of different contact or film thickness are made comparable."""

    method: str = setting(
        "substrate",
        "on substrate bands the coating does not have",
        choices=("substrate", "area", "maximum", "vector", "none"),
    )
    low: float | None = setting(None, "region given by hand", unit="cm-1")
    high: float | None = setting(None, "region given by hand", unit="cm-1")

    def __post_init__(self) -> None:
        require_in_range(self)
