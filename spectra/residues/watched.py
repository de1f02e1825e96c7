"""Verdict on a watched residue, from the places where the tables say that it absorbs."""

from __future__ import annotations

import numpy as np

from reference_bands import Band, BandTable
from spectra.assignment.assignment import BETWEEN_LABORATORIES
from spectra.findings import (
    CANNOT_TELL,
    NOT_SHOWN,
    PRESENT,
    Reason,
    Residue,
)
from spectra.residues.search import Bump, Search, bump_between
from spectra.statistics import detectable_factor, exceedance, holm

RESIDUE_BANDS_NEEDED = 2
POWER = 0.95  # chance of finding a band of the stated height

# Rows wider than this describe a region, not a band that a bump could be found for; cm-1.
WIDEST_ROW = 60.0

# A place is hidden where a bump's error is this many times the usual one.
HIDDEN_FACTOR = 5.0


def judge_watched(name: str, search: Search, alpha: float, table: BandTable, doubt: str | None) -> Residue:
    """Judge a named residue by the places where the tables say it absorbs.

    Every place is asked for a bump of its own; Student's t pays for the places inside a row's window, and
    Holm's rule for the rows. ``present`` needs two rows, at least one of them strong, and a coating whose
    own spectrum is accounted for: the new bands of a changed coating, and what optics do to an uncomputed
    one, fall into the windows of many materials.

    Parameters
    ----------
    name : str
        A material of the tables.
    search : Search
    alpha : float
    table : BandTable
    doubt : str or None
        Code of what else may cause bands on this sample: ``residue-or-change``, ``residue-or-optics``.
    """
    every = _rows(name, search, table)
    rows = [row for row in every if not _hidden(row, search)]
    if not rows:
        return Residue(name, CANNOT_TELL, (Reason("residue-outside", {"material": name}),))
    bumps = [_at(row, search) for row in rows]
    looks = [max((row.high - row.low + 2 * BETWEEN_LABORATORIES) / 10.0, 1.0) for row in rows]
    p_values = holm(
        np.array(
            [
                min(look * float(exceedance(np.array([bump.evidence]), search.bank.degrees)[0]), 1.0)
                if bump
                else 1.0
                for bump, look in zip(bumps, looks, strict=True)
            ]
        )
    )
    seen = [(row, bump) for row, bump, p in zip(rows, bumps, p_values, strict=True) if bump and p <= alpha]
    positions = tuple(sorted({bump.position for _, bump in seen}))
    verdict, reason = _verdict(name, every, rows, seen, doubt)
    hidden = tuple(sorted(row.centre for row in every if row not in rows))
    height, place = _limit(rows, search, alpha)
    recalled = tuple(sorted(row.centre for row in rows if row.checked == "memory"))
    return Residue(name, verdict, (reason,), positions, None, hidden, height, place, recalled)


def _verdict(
    name: str, every: list[Band], rows: list[Band], seen: list[tuple[Band, Bump]], doubt: str | None
) -> tuple[str, Reason]:
    """Apply the rule to what was seen of a residue's rows."""
    positions = tuple(sorted({bump.position for _, bump in seen}))
    if positions and doubt:
        return CANNOT_TELL, Reason(doubt, {"positions": positions})
    if len(positions) >= RESIDUE_BANDS_NEEDED and any(row.strong for row, _ in seen):
        return PRESENT, Reason("residue-bands", {"positions": positions})
    if positions:
        return CANNOT_TELL, Reason("one-band", {"position": positions[0]})
    hidden = tuple(sorted(row.centre for row in every if row not in rows))
    if any(row.strong for row in every) and not any(row.strong for row in rows):
        return CANNOT_TELL, Reason("residue-hidden", {"material": name, "hidden": hidden})
    looked_for = tuple(sorted({row.centre for row in rows}))
    return NOT_SHOWN, Reason("residue-not-seen", {"bands": looked_for, "hidden": hidden})


def _limit(rows: list[Band], search: Search, alpha: float) -> tuple[float, float]:
    """Smallest height that would have been found at one of a residue's places, and that place.

    Strong rows come first: a weak band seen well says less than a strong one.
    """
    best = [row for row in rows if row.strong] or rows
    degrees = search.bank.degrees
    factor = detectable_factor(alpha / len(rows), POWER, degrees)
    heights = [factor * _error(row, search) for row in best]
    least = int(np.argmin(heights))
    return float(heights[least]), best[least].centre


def _error(row: Band, search: Search) -> float:
    """Error of a bump's height at a row's place."""
    near = np.abs(search.bank.positions - row.centre) < BETWEEN_LABORATORIES
    return float(search.errors[near].min())


def _rows(name: str, search: Search, table: BandTable) -> list[Band]:
    """Return the rows of a residue that a bump can be looked for at, one for each place."""
    bank = search.bank
    kept: list[Band] = []
    for row in sorted(table.of(table.resolve(name)), key=lambda band: band.strength):
        reachable = np.any(np.abs(bank.positions - row.centre) < BETWEEN_LABORATORIES)
        wanted = row.strength in ("vs", "s", "m") and row.high - row.low <= WIDEST_ROW
        if wanted and reachable and all(abs(row.centre - other.centre) > 10.0 for other in kept):
            kept.append(row)
    return kept


def residue_places(name: str, search: Search, table: BandTable) -> list[float]:
    """Return where a residue's strong and medium bands stand, cm-1."""
    return [row.centre for row in _rows(name, search, table)]


def _hidden(row: Band, search: Search) -> bool:
    """Tell whether substrate or coating hide a row's place: a bump there is known far worse than usual."""
    if any(row.distance(bump.position) <= BETWEEN_LABORATORIES for bump in search.found):
        return False
    near = np.abs(search.bank.positions - row.centre) < BETWEEN_LABORATORIES
    return bool(search.errors[near].min() > HIDDEN_FACTOR * float(np.median(search.errors)))


def _at(row: Band, search: Search) -> Bump | None:
    """Return the bump at a row's place, if there is one."""
    return bump_between(search, row.low - BETWEEN_LABORATORIES, row.high + BETWEEN_LABORATORIES)
