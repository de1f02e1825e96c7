"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class CheckSettings:
    """From which size on something is said."""

    fewest_points: int = setting(50, "a band of 20 cm-1 needs several points", low=10, high=10_000)
    saturated: float = setting(2.5, "detectors are not linear above it; common practice", low=0.5, high=6)
    noisy: float = setting(2e-3, "bands of a thin layer are of this size", unit="A", low=1e-6, high=1)
    quantised: float = setting(2e-4, "steps of the values; a fifth of a thin layer's band", low=1e-7, high=1)
    coarse: float = setting(4.5, "distance of points; narrow bands are 8 wide", unit="cm-1", low=0.1, high=50)
    gas: float = setting(2e-3, "strength of gas lines that change a weak band", unit="A", low=1e-5, high=1)
    fringes: float = setting(1e-3, "amplitude of fringes that look like bands", unit="A", low=1e-5, high=1)

    def __post_init__(self) -> None:
        require_in_range(self)
