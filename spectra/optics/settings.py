"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class PredictionSettings:
    """What is assumed about contact when the study does not state it."""

    neat_contact_low: float = setting(
        0.85, "a neat layer dried or pressed onto the crystal; common practice, no source", low=0.05, high=1.0
    )
    bare_contact_low: float = setting(
        0.5,
        "fibres and meshes touch half of the crystal or more; common practice, no source",
        low=0.05,
        high=1.0,
    )
    tolerance_computed: float = setting(
        0.1, "what a band of a computed film may differ by in height", low=0.0, high=1.0
    )
    tolerance_neat: float = setting(
        0.2, "what a band may differ by where the neat spectrum stands for the film", low=0.0, high=1.0
    )

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class InversionSettings:
    """What is assumed about a material when its spectrum is inverted, and how hard to try."""

    n_inf: float = setting(
        1.5,
        "index above all vibrations: of most organic materials; else the visible index less 0.01",
        low=1.2,
        high=3.6,
    )
    n_inf_error: float = setting(0.05, "half-width of its even prior", low=0.0, high=0.3)
    pull: float = setting(
        0.015,
        "index that bands below the range take off at its low end; 0 to 0.03 in measured polymers",
        low=-0.1,
        high=0.3,
    )
    pull_error: float = setting(0.015, "half-width of its even prior", low=0.0, high=0.2)
    strongest_low: float = setting(
        0.15,
        "k of the strongest band, for a film of unknown thickness; 0.17 to 0.72 in measured polymers",
        low=0.0,
    )
    strongest_high: float = setting(
        0.75, "upper end of the same prior, even in the logarithm", high=5.0, not_below="strongest_low"
    )
    tolerance: float = setting(
        5e-5, "largest residual: a quarter of good noise", unit="absorbance", low=1e-9, high=1e-3
    )
    iterations: int = setting(25, "Newton steps before giving up", low=3, high=200)

    def __post_init__(self) -> None:
        require_in_range(self)
