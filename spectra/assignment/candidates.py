"""Suggestions: what an unexplained band may be, and what may have changed a known one.

Every entry is a candidate with its source and with the bands that would confirm it. A material needs more
than one band to be proposed (:mod:`spectra.assignment.matching`); a functional group or a candidate needs
one. The order says where to look first and is no verdict.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from reference_bands import Band, BandTable, GroupRange, ProcessChange
from reference_bands.records import Range
from spectra.assignment.coherence import uncertainty
from spectra.assignment.features import Feature, features_of, is_region
from spectra.assignment.settings import SuggestionSettings
from spectra.errors import SettingError
from spectra.findings import Candidate

Row = TypeVar("Row", Band, GroupRange)

# Families looked at before the rest: what is left behind or comes from outside.
LEFT_BEHIND = ("solvents", "interferents")

# What may have happened to a band, and the changes of the tables that do it. "varies" speaks for any height.
EFFECTS = {
    "new": ("appears", "grows", "splits", "varies"),
    "lost": ("disappears", "shrinks", "merges", "varies"),
    "higher": ("appears", "grows", "varies"),
    "lower": ("disappears", "shrinks", "varies"),
    "up": ("shifts", "splits", "merges"),
    "down": ("shifts", "splits", "merges"),
}


@dataclass(frozen=True)
class Explanation:
    """A process that could have changed a band.

    Attributes
    ----------
    change : ProcessChange
    specific
        Known for this material, not only for any.
    distance
        How far the band lies outside the window of the change, cm-1.
    size_fits
        Whether the size of the shift suits; None where either is unknown.
    """

    change: ProcessChange
    specific: bool
    distance: float
    size_fits: bool | None


@dataclass(frozen=True)
class _Fit:
    """A row that fits, with what orders it."""

    row: Band | GroupRange
    closeness: float
    look_for: tuple[float, ...]
    confirmed: int


def candidates(
    at: tuple[float, float],
    table: BandTable,
    watch: Sequence[str] = (),
    proposed: Sequence[str] = (),
    others: Sequence[float] = (),
    settings: SuggestionSettings | None = None,
) -> tuple[Candidate, ...]:
    """Return what a band at one position may be.

    Parameters
    ----------
    at : (float, float)
        Position of the band and its standard error, cm-1.
    table : BandTable
    watch
        Materials looked for, by any of their names.
    proposed
        Materials that several bands together speak for (:func:`~spectra.assignment.matching.propose`).
    others
        Positions of the other unexplained bands of the same sample, cm-1: a candidate whose companion bands
        are among them stands before one whose are not.
    settings : SuggestionSettings, optional

    Returns
    -------
    tuple of Candidate
        Watched materials, then proposed ones, then functional groups, then other materials: what may be left
        behind first.

    Raises
    ------
    BandTableError
        For an unknown watched material.

    Examples
    --------
    >>> from reference_bands import load
    >>> found = candidates((1650.0, 1.0), load())
    >>> sorted((c.material, c.look_for[0]) for c in found if c.material in ("C=C alkene", "water bend"))
    [('C=C alkene', 990.0), ('water bend', 2125.0)]
    """
    settings = settings or SuggestionSettings()
    watched = {table.resolve(name) for name in watch}
    bands = [row for row in table.usual if not is_region(row, settings.matching.features)]
    fits = _fitting(bands, lambda row: _companions(row, table, settings), at, others, settings)
    groups = _fitting(table.groups, lambda row: row.look_for[: settings.companions], at, others, settings)
    first = [fit for fit in fits if fit.row.name in watched]
    rest = [fit for fit in fits if fit.row.name not in watched]
    rest.sort(key=lambda fit: table.names[fit.row.name].family not in LEFT_BEHIND)
    together = [fit for fit in rest if fit.row.name in proposed]
    rest = [fit for fit in rest if fit.row.name not in proposed]
    chosen = [*first, *together, *groups[: settings.groups], *rest[: settings.materials]]
    return tuple(_candidate(fit, table) for fit in chosen)


def explain_change(
    material: str,
    position: float,
    direction: str,
    table: BandTable,
    *,
    shift: float | None = None,
    tolerance: float = 6.0,
) -> tuple[Explanation, ...]:
    """Return the processes that could have changed a band of a material.

    Parameters
    ----------
    material
        Any of its names.
    position
        Of the changed band, before or after, cm-1.
    direction : {"new", "lost", "higher", "lower", "up", "down"}
        What happened to it; the last two are shifts in position.
    table : BandTable
    shift
        Signed size of the shift, cm-1.
    tolerance
        By how much the band may lie outside a window, or the shift beside a size, cm-1. The default is what
        one band differs by between laboratories (common practice, no source).

    Returns
    -------
    tuple of Explanation
        Those known for the material first, then by distance from the usual position.

    Raises
    ------
    BandTableError
        For an unknown material.
    SettingError
        For an unknown direction.

    Examples
    --------
    >>> from reference_bands import load
    >>> [e.change.process for e in explain_change("PCL", 1724.0, "down", load()) if e.specific][0]
    'crystallisation'
    """
    if direction not in EFFECTS:
        raise SettingError(f"direction is {direction!r}; expected one of {', '.join(EFFECTS)}")
    name = table.resolve(material)
    found = [
        Explanation(
            change, "any" not in change.materials, change.distance(position), _size(change, shift, tolerance)
        )
        for change in table.changes_of(name)
        if change.distance(position) <= tolerance and _does(change, direction)
    ]
    return tuple(sorted(found, key=lambda e: (not e.specific, abs(e.change.centre - position))))


def _does(change: ProcessChange, direction: str) -> bool:
    """Tell whether a change of the tables has the direction; a shift of unknown sign has both."""
    if change.change not in EFFECTS[direction]:
        return False
    if direction == "up":
        return change.shift_high is None or change.shift_high > 0
    if direction == "down":
        return change.shift_low is None or change.shift_low < 0
    return True


def _size(change: ProcessChange, shift: float | None, tolerance: float) -> bool | None:
    """Tell whether a shift has the size that is known for the change."""
    if shift is None or change.shift_low is None or change.shift_high is None:
        return None
    return change.shift_low - tolerance <= shift <= change.shift_high + tolerance


def _fitting(
    rows: Iterable[Row],
    companions: Callable[[Row], tuple[float, ...]],
    at: tuple[float, float],
    others: Sequence[float],
    settings: SuggestionSettings,
) -> list[_Fit]:
    """Return one fit a name for the band ``at`` a position with its error, the most telling first."""
    fits = []
    for row in rows:
        closeness = _closeness(row, *at, settings)
        if closeness <= settings.matching.limit:
            look_for = companions(row)
            fits.append(_Fit(row, closeness, look_for, _confirmed(look_for, others, settings)))
    return _best_of_each(fits)


def _closeness(row: Range, position: float, error: float, settings: SuggestionSettings) -> float:
    """Return how far a position lies from a row, in combined uncertainties."""
    return abs(position - row.centre) / float(uncertainty(row, position, error, settings.matching))


def _companions(row: Band, table: BandTable, settings: SuggestionSettings) -> tuple[float, ...]:
    """Return the strongest other bands of the row's material, the strongest first."""
    features = features_of(row.material, table, settings.matching.features)
    others = [f for f in features if row not in f.rows and not _tied(f)]
    others.sort(key=lambda feature: -feature.nominal)
    return tuple(feature.position for feature in others[: settings.companions])


def _tied(feature: Feature) -> bool:
    """Tell whether a feature holds for one state only."""
    return all(row.state for row in feature.rows)


def _confirmed(look_for: Sequence[float], others: Sequence[float], settings: SuggestionSettings) -> int:
    """Count the companion bands that are among the other bands."""
    reach = settings.matching.limit * settings.matching.spread * 2
    return sum(any(abs(other - band) <= reach for other in others) for band in look_for)


def _best_of_each(fits: Sequence[_Fit]) -> list[_Fit]:
    """Return the best fit of each name: confirmed by other bands, a strong band of a material, near."""
    ordered = sorted(
        fits,
        key=lambda f: (-f.confirmed, isinstance(f.row, Band) and not f.row.strong, f.closeness, f.row.name),
    )
    best: dict[str, _Fit] = {}
    for fit in ordered:
        best.setdefault(fit.row.name, fit)
    return list(best.values())


def _candidate(fit: _Fit, table: BandTable) -> Candidate:
    """Turn a fit into the record of the chain."""
    row = fit.row
    span = (row.low, row.high) if row.typical is None else (None, None)
    return Candidate(row.name, row.assignment, row.centre, table.cite(row), row.checked, fit.look_for, *span)
