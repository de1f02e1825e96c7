"""What a reason's sentence is made of: its values, the names of bands, and small clauses that many share."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from spectra.findings import BandFinding
from spectra.report.words.comparing import share
from spectra.report.words.numerals import counted, fixed, listed, percent, wavenumber

NEAR = 12.0  # cm-1: a band this near to a position is the one meant

Names = Mapping[float, str]


class Values(dict[str, Any]):
    """Values of a reason, and the names of the bands it may speak of by position."""

    def __init__(self, values: Mapping[str, Any], names: Names) -> None:
        super().__init__(values)
        self.names = names

    def name(self, position: float) -> str:
        """Return what the band at a position is called, or nothing."""
        near = min(self.names, key=lambda place: abs(place - position), default=math.inf)
        return self.names[near] if abs(near - position) <= NEAR else ""

    def band(self, position: float) -> str:
        """Name one band: ``amide I (1655 cm-1)``, or ``the band at 1655 cm-1``."""
        name = self.name(position)
        return f"{name} ({wavenumber(position)})" if name else f"the band at {wavenumber(position)}"

    def bands(self, positions: Iterable[float]) -> str:
        """Name several bands by falling wavenumber: ``amide I 1655 and amide II 1549 cm-1``."""
        falling = sorted(positions, reverse=True)
        words = [f"{self.name(each)} {fixed(each, 0)}".strip() for each in falling]
        return f"{listed(words)} cm-1" if words else "none"


@dataclass(frozen=True)
class Wording:
    """What is said of a reason, and what to do about it; no remedy where nothing needs doing."""

    sentence: Callable[[Values], str]
    remedy: str = ""


def names_of(bands: Iterable[BandFinding]) -> dict[float, str]:
    """Return what bands are called, by expected and by reference position.

    A name is the first part of the assignment, without the state it holds for.
    """
    found: dict[float, str] = {}
    for band in bands:
        if band.assignment and "not assigned" not in band.assignment:
            name = band.assignment.split(" (")[0].split(" + ")[0].split(" or ")[0]
            found[band.expected_position] = name
            found.setdefault(band.neat_position, name)
    return found


def count_of_bands(v: Values, value: Any) -> str:
    """Count of bands, with their names where they are given."""
    if not hasattr(value, "__iter__"):
        return counted(value, "band")
    places = list(value)
    return f"{counted(len(places), 'band')} ({v.bands(places)})" if places else "no band"


def falling(positions: Iterable[float]) -> list[float]:
    """Return positions as they are named, by falling wavenumber."""
    return sorted(positions, reverse=True)


def whole_share(value: float) -> str:
    """Share in whole per cent, never as all of it."""
    whole = math.floor(100.0 * value)
    return percent(whole / 100.0) if whole < 100 else "over 99 %"


def from_to(low: float, high: float) -> str:
    """Write an interval of shares."""
    return f"{share(low)} to {share(high)}"
