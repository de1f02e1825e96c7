"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class BandSettings:
    """Which bands of the coating count, and what they must show."""

    prominence: float = setting(0.05, "share of the shape's range that makes a band", low=0.005, high=0.5)
    most: int = setting(6, "bands looked at: more only make the correction harsher", low=2, high=30)
    masked: float = setting(
        5.0, "times the joint error; a worse band cannot show what the joint test finds", low=2.0, high=100.0
    )
    hopeless: float = setting(30.0, "the same for the best bands, one more than needed", low=2.0, high=1000.0)
    needed: int = setting(2, "bands that must be found on their own", low=1, high=10)
    alpha: float = setting(
        0.05, "for single bands, asked only once the joint test is passed", low=1e-6, high=0.2
    )
    pattern_alpha: float = setting(0.01, "chance of doubting a pattern that is right", low=1e-6, high=0.2)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class PlanSettings:
    """Which designs are looked at."""

    specimens: int = setting(3, "coated specimens of the design at hand", low=1, high=1000)
    spots: int = setting(1, "spots on each", low=1, high=1000)
    most_specimens: int = setting(30, "coated specimens anybody would measure", low=1, high=10000)
    most_bare: int = setting(30, "bare specimens anybody would measure", low=2, high=10000)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class MisfitSettings:
    """When a residual is one that no bare spot shows."""

    alpha: float = setting(0.005, "chance of doubting a bare set that is right", low=1e-6, high=0.2)
    stretch: float = setting(40.0, "about the width of a band", unit="cm-1", low=10.0, high=400.0)
    # Residuals of neighbouring points are not quite independent: a stretch of n points counts as n / 4.
    dilution: float = setting(4.0, "points that count as one", low=1.0, high=50.0)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class SpikeSettings:
    """How the limits are tried out."""

    multiples: tuple[float, ...] = setting(
        (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0), "of the stated detectable amount", low=0.0, high=100.0
    )
    splits: int = setting(3, "divisions of the bare set, each learned anew; 0: no trial", low=0, high=1000)
    step: float = setting(
        4.0, "grid of the trials, coarser than the verdict's to save time", unit="cm-1", low=0.5, high=16.0
    )
    points: int = setting(
        160,
        "points the sizes are fitted on in the trials: half as many as for the verdict",
        low=100,
        high=4000,
    )
    seed: int = setting(1, "chooses which specimens are held back", low=0, high=2**31)
    held_back: int = setting(1, "bare specimens in each trial sample", low=1, high=50)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class IdentitySettings:
    """When what is on the surface counts as the named coating, changed or not."""

    explained: float = setting(
        0.9, "share of the excess energy that the coating must explain at least", low=0.5, high=1.0
    )
    mostly: float = setting(
        0.5, "share below which a plain layer is mostly something else", low=0.0, high=1.0
    )
    surely: float = setting(
        0.97, "share from which a misfit of the optics is no objection", low=0.5, high=1.0
    )
    misfit: float = setting(5.0, "chi-square a degree above which that share is needed", low=1.0, high=1000.0)
    little_left: float = setting(
        3.0, "chi-square a degree below which half of the energy explained is enough", low=1.0, high=100.0
    )
    found: float = setting(4.0, "standard errors of a band's height that make it found", low=2.0, high=20.0)
    least_ratio: float = setting(0.3, "relative height that a found band has at least", low=0.01, high=1.0)
    half: float = setting(
        0.5,
        "relative height, or its inverse, beyond which a band that moved too is no longer its own",
        low=0.1,
        high=1.0,
    )
    could: float = setting(
        0.167, "error of a relative height below which a band could be found", low=0.01, high=1.0
    )
    seen: float = setting(
        0.2, "error of a relative height from which a band counts as hidden", low=0.02, high=1.0
    )
    share: float = setting(
        0.5, "share of the strength that could be found which must be found", low=0.05, high=1.0
    )
    in_place: float = setting(
        0.2,
        "share of that strength which must stand at its place, unless most of it moved alike",
        low=0.0,
        high=1.0,
    )
    alike: float = setting(
        4.0,
        "distance from the common shift at which a band moved with the others",
        unit="cm-1",
        low=0.5,
        high=20,
    )
    needed: int = setting(2, "bands that must be found", low=1, high=10)
    layer_alpha: float = setting(0.01, "chance of seeing something on a bare sample", low=1e-6, high=0.2)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class PresenceSettings:
    """How the figures of presence are formed; the error rates are in ``DecisionSettings``."""

    trust: float = setting(
        1.0,
        "degrees of freedom the model's error counts for, per bare specimen beyond one; with more, intervals "
        "on measured fabrics were too short",
        low=0.0,
        high=20.0,
    )
    interval: float = setting(0.95, "chance that the interval holds the true amount", low=0.5, high=0.999)
    uneven: float = setting(
        0.05,
        "chance of taking an even coating for an uneven one when the interval is formed",
        low=1e-6,
        high=0.5,
    )
    worth: float = setting(
        0.5,
        "of the neat spectrum: where more than this would be needed to be found, nothing is called not shown",
        low=1e-3,
        high=100.0,
    )
    unmistakable: float = setting(
        3.0,
        "times critical, a misfit counted as scatter, from which a coating stands despite it",
        low=1,
        high=100,
    )
    few_bare: int = setting(5, "bare units below which a verdict says how few they are", low=2, high=100)
    inseparable: float = setting(0.98, "correlation that leaves two coatings one", low=0.5, high=1.0)
    identity: IdentitySettings = field(default_factory=IdentitySettings)
    bands: BandSettings = field(default_factory=BandSettings)
    misfit: MisfitSettings = field(default_factory=MisfitSettings)

    def __post_init__(self) -> None:
        require_in_range(self)
