"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class FateSettings:
    """When a band counts as judged, and when as changed."""

    least_share: float = setting(
        0.5, "share of the coating's strength that must be judged for `unchanged`", low=0.05, high=1.0
    )
    seen: float = setting(
        0.2, "error of a relative height below which a band's loss would show", low=0.02, high=1.0
    )
    sharp: float = setting(
        0.06, "error of a relative height below which it counts as sharply known", low=0.005, high=0.5
    )
    certain: float = setting(
        8.0, "standard errors beyond its limit from which a change is beyond doubt", low=3.0, high=100.0
    )
    strongest: float = setting(
        1.2,
        "absorption index above which a neat ATR spectrum does not give constants to judge bands by; strong "
        "polymer bands have 0.2 to 0.8, silica 2.3",
        low=0.1,
        high=10.0,
    )
    judged_ratio: float = setting(
        0.45, "half-interval of a relative height up to which it can be judged", low=0.05, high=2.0
    )
    found: float = setting(
        4.0, "standard errors of its height that a band needs to have a position", low=2.0, high=20.0
    )
    misfit: float = setting(
        20.0, "chi-square a degree from which no height of a band is judged", low=1.0, high=1000.0
    )
    least_ratio: float = setting(
        0.2, "relative height that a band needs to have a position", low=0.01, high=1.0
    )

    def __post_init__(self) -> None:
        require_in_range(self)
