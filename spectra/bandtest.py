"""Band by band decision."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class DecisionSettings:
    """Error rates and margins of every verdict, fixed before the data are seen."""

    alpha: float = setting(0.01, "chance of calling a bare sample coated", low=1e-6, high=0.2)
    power: float = setting(0.95, "chance of finding the detectable amount", low=0.5, high=0.9999)
    margin: float = setting(4.0, "shift that still counts as unchanged", unit="cm-1", low=0.1, high=50.0)

    def __post_init__(self) -> None:
        require_in_range(self)
