"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class FeatureSettings:
    """When two rows of one material mean the same band."""

    same_band: float = setting(
        12.0, "rows closer than this are not resolved as two bands of a solid", unit="cm-1", low=0, high=50
    )
    same_vibration: float = setting(
        30.0,
        "one vibration given for two techniques or states, or the gap between two windows of a broad band; "
        "a strong band moves by up to this in ATR",
        unit="cm-1",
        low=0,
        high=100,
    )
    region: float = setting(
        60.0,
        "a wider row describes a region and no band, unless the band is broad",
        unit="cm-1",
        low=20,
        high=1000,
    )

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class MatchingSettings:
    """When a found band fits a row, and when a material is proposed."""

    spread: float = setting(
        3.0, "what one band differs by between instruments and techniques", unit="cm-1", low=0, high=20
    )
    limit: float = setting(2.0, "distance in combined uncertainties up to which a band fits", low=0.5, high=5)
    coherence: float = setting(
        0.8, "share of the visible strong bands that must be there, by expected height", low=0.3, high=1
    )
    seen: float = setting(
        0.6, "share of all strong bands that must be there, hidden ones counted", low=0, high=1
    )
    least: int = setting(2, "bands of at least medium strength that must be there", low=1, high=10)
    adds: float = setting(
        0.03, "share of the summed heights a proposal must explain beyond those before it", low=0, high=0.5
    )
    near_best: float = setting(
        0.8, "proposals that add this share of the best are ordered by completeness", low=0.1, high=1
    )
    features: FeatureSettings = field(default_factory=FeatureSettings)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class SuggestionSettings:
    """How many candidates are shown, and how near they must be."""

    materials: int = setting(5, "what a reader weighs; watched materials come on top", low=0, high=100)
    groups: int = setting(8, "the same for functional groups, which overlap more", low=0, high=100)
    companions: int = setting(3, "bands to look for beside each candidate", low=0, high=20)
    shown: int = setting(5, "candidates shown beside one unexplained band of a sample", low=0, high=200)
    matching: MatchingSettings = field(default_factory=MatchingSettings)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class MaterialSettings:
    """When the stated material of neat or bare spectra is doubted."""

    spread: float = setting(
        8.0,
        "what a band may differ by from the tables before its material is doubted: optics of thick layers "
        "and overlap move bands by 15, and the benefit of the doubt is the stated material's",
        unit="cm-1",
        low=0,
        high=30,
    )
    complete: float = setting(
        0.75,
        "share of the visible strong bands that must be there, by expected height; measured spectra of the "
        "right material showed all of theirs",
        low=0.1,
        high=1,
    )
    visible: int = setting(2, "strong bands that must be visible before any is missed", low=1, high=10)
    bands: int = setting(3, "bands of a spectrum below which only a complete miss counts", low=1, high=20)
    better: float = setting(
        0.2,
        "share of the summed heights by which another material must explain more, with more strong bands",
        low=0.05,
        high=1,
    )

    def __post_init__(self) -> None:
        require_in_range(self)
