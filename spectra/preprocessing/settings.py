"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.errors import SettingError
from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class FootingSettings:
    """Which part of the spectra is used. The grid step is the coarsest step among the spectra."""

    low: float = setting(
        400.0, "below it most crystals and detectors end", unit="cm-1", low=100.0, high=12000.0
    )
    high: float = setting(
        4000.0, "end of the mid-infrared", unit="cm-1", low=100.0, high=12000.0, not_below="low"
    )
    leave_out: tuple[tuple[float, float], ...] = setting(
        ((2280.0, 2390.0),),
        "carbon dioxide of the air; add regions where your crystal or window absorbs",
        unit="cm-1",
        low=100.0,
        high=12000.0,
    )

    def __post_init__(self) -> None:
        require_in_range(self)
        for pair in self.leave_out:
            if not pair[0] < pair[1]:
                raise SettingError(
                    f"setting 'leave_out' of FootingSettings is {pair}; expected the lower end first"
                )


@dataclass(frozen=True)
class NormalisationSettings:
    """How spectra of different contact or film thickness are made comparable."""

    method: str = setting(
        "substrate",
        "substrate bands that the coating does not have; the others scale each spectrum by itself",
        choices=("substrate", "area", "maximum", "vector", "none"),
    )
    low: float | None = setting(
        None, "lower end of a region chosen by hand", unit="cm-1", low=100, high=12000
    )
    high: float | None = setting(None, "upper end of it", unit="cm-1", low=100, high=12000, not_below="low")
    strength: float = setting(
        0.15, "a point belongs to a substrate band above this share of the highest", low=0.0, high=1.0
    )
    overlap: float = setting(
        0.05, "coating absorption that still counts as none, as a share of its highest band", low=0, high=1
    )

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class BaselineSettings:
    """One baseline method and one smoothness for the whole study."""

    method: str = setting(
        "arpls",
        "arPLS (Baek et al., Analyst 140, 250, 2015): lowest error of eleven methods on bands with drift",
        choices=("arpls", "none"),
    )
    period: float = setting(
        1000.0,
        "baseline features shorter than this count as bands; broad O-H bands are about 400 wide",
        unit="cm-1",
        low=50.0,
        high=20000.0,
    )

    def __post_init__(self) -> None:
        require_in_range(self)
