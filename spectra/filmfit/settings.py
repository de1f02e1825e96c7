"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting


@dataclass(frozen=True)
class FilmFitSettings:
    """What an unchanged band may still differ by, what a changed one costs, and how far is searched."""

    grid: float = setting(
        4.0, "points of the film fit: half the width of a narrow band", unit="cm-1", low=1.0, high=16.0
    )
    reach: float = setting(35.0, "how far a band is looked for to either side", unit="cm-1", low=5, high=100)
    step: float = setting(2.5, "step of that search", unit="cm-1", low=0.5, high=10)
    place: float = setting(
        0.7, "standard deviation of an unchanged band's place beyond optics", unit="cm-1", low=0.05, high=5
    )
    strength: float = setting(0.06, "the same for its relative strength", low=0.005, high=0.5)
    width: float = setting(0.08, "the same for the logarithm of its width", low=0.005, high=0.5)
    loose_strength: float = setting(
        0.6, "standard deviation of a changed band's relative strength", low=0.1, high=3
    )
    loose_width: float = setting(0.2, "the same for the logarithm of its width", low=0.02, high=1)
    place_cost: float = setting(
        14.0, "in -2 log posterior: odds against a moved band and the room it may move in", low=2, high=60
    )
    strength_cost: float = setting(12.0, "the same for a band of another strength", low=2, high=60)
    new_cost: float = setting(
        24.0, "the same for a band that is none of the coating's: it may stand anywhere", low=2, high=100
    )
    new_most: int = setting(8, "most bands that are none of the coating's in one fit", low=0, high=30)
    new_widths: tuple[float, ...] = setting(
        (20.0, 40.0, 80.0), "full widths of such bands", unit="cm-1", low=4, high=300
    )
    computed: float = setting(
        0.02,
        "what a computed film may miss of its own signal at any point, optics apart; found with published "
        "constants",
        low=0,
        high=0.2,
    )
    substrate: float = setting(
        0.015, "relative strength by which a substrate band may differ beyond the bare set", low=0, high=0.2
    )
    tilt: float = setting(
        0.015, "the same for the substrate's whole spectrum over 1000 cm-1 of the axis", low=0, high=0.2
    )
    seen: float = setting(
        0.2, "standard deviation of a band's relative strength below which its loss shows", low=0.02, high=1
    )
    broad: float = setting(
        120.0, "width from which a band is fitted along and not judged", unit="cm-1", low=30, high=1000
    )
    merged: float = setting(
        0.5, "likeness above which an oscillator without a maximum of its own joins its neighbour", low=0.05,
        high=1,
    )  # fmt: skip
    oscillators: int = setting(22, "most oscillators the coating is divided into", low=2, high=60)
    bed_oscillators: int = setting(30, "the same for the substrate", low=2, high=60)
    weakest: float = setting(
        0.012, "height of the weakest oscillator against the strongest", low=1e-3, high=0.2
    )
    flags: int = setting(14, "most changes of bands that are looked for", low=1, high=60)
    amount_wider: float = setting(
        1.1, "factor on the error of the amount, found by trial: six bare units know it badly", low=1, high=3
    )
    good: float = setting(
        1.2, "chi-square a degree up to which a fit leaves nothing but noise over", low=1.0, high=5.0
    )
    coherent: float = setting(
        24.0,
        "stretch over which what a misfit of optics leaves over goes one way",
        unit="cm-1",
        low=1.0,
        high=200.0,
    )
    bent: float = setting(
        2.0, "chi-square a degree of the unchanged film from which optics are held at first", low=1, high=100
    )
    hopeless: float = setting(
        20.0, "chi-square a degree above which the search stops after four changes", low=2, high=1000
    )

    def __post_init__(self) -> None:
        require_in_range(self)
