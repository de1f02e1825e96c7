"""Verdict on a watched residue, from the places where the tables say that it absorbs."""

from __future__ import annotations

import numpy as np

from reference_bands import Band, BandTable
from spectra.assignment.features import NOMINAL
from spectra.decision import DecisionSettings
from spectra.findings import (
    CANNOT_TELL,
    NOT_SHOWN,
    PRESENT,
    Reason,
    Residue,
)
from spectra.residues.search import Bump, Search, bump_between
from spectra.residues.settings import ResidueSettings
from spectra.statistics import detectable_factor, exceedance, holm
from spectra.units import Mask


def judge_watched(
    name: str,
    search: Search,
    decision: DecisionSettings,
    settings: ResidueSettings,
    table: BandTable,
    doubt: str | None,
) -> Residue:
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
    decision : DecisionSettings
        ``alpha`` and ``power``.
    settings : ResidueSettings
    table : BandTable
    doubt : str or None
        Code of what else may cause bands on this sample: ``residue-or-change``, ``residue-or-optics``.
    """
    every = _rows(name, search, settings, table)
    rows = [row for row in every if not _hidden(row, search, settings)]
    if not rows:
        return Residue(name, CANNOT_TELL, (Reason("residue-outside", {"material": name}),))
    reach = settings.laboratories
    bumps = [bump_between(search, row.low - reach, row.high + reach) for row in rows]
    looks = [max((row.high - row.low + 2 * reach) / settings.apart, 1.0) for row in rows]
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
    seen = [
        (row, bump)
        for row, bump, p in zip(rows, bumps, p_values, strict=True)
        if bump and p <= decision.alpha
    ]
    positions = tuple(sorted({bump.position for _, bump in seen}))
    verdict, reason = _verdict(name, (every, rows), seen, doubt, settings.watched_bands)
    hidden = tuple(sorted(row.centre for row in every if row not in rows))
    height, place = _limit(rows, search, decision, settings)
    recalled = tuple(sorted(row.centre for row in rows if row.checked == "memory"))
    return Residue(name, verdict, (reason,), positions, None, hidden, height, place, recalled)


def _verdict(
    name: str,
    asked: tuple[list[Band], list[Band]],
    seen: list[tuple[Band, Bump]],
    doubt: str | None,
    needed: int,
) -> tuple[str, Reason]:
    """Apply the rule to what was seen of a residue's rows: all of them, and those that are not hidden."""
    every, rows = asked
    positions = tuple(sorted({bump.position for _, bump in seen}))
    if positions and doubt:
        return CANNOT_TELL, Reason(doubt, {"positions": positions})
    if len(positions) >= needed and any(row.strong for row, _ in seen):
        return PRESENT, Reason("residue-bands", {"positions": positions})
    if positions:
        return CANNOT_TELL, Reason("one-band", {"position": positions[0]})
    hidden = tuple(sorted(row.centre for row in every if row not in rows))
    if any(row.strong for row in every) and not any(row.strong for row in rows):
        return CANNOT_TELL, Reason("residue-hidden", {"material": name, "hidden": hidden})
    looked_for = tuple(sorted({row.centre for row in rows}))
    return NOT_SHOWN, Reason("residue-not-seen", {"bands": looked_for, "hidden": hidden})


def _limit(
    rows: list[Band], search: Search, decision: DecisionSettings, settings: ResidueSettings
) -> tuple[float, float]:
    """Smallest height that would have been found at one of a residue's places, and that place.

    Strong rows come first: a weak band seen well says less than a strong one.
    """
    best = [row for row in rows if row.strong] or rows
    degrees = search.bank.degrees
    factor = detectable_factor(decision.alpha / len(rows), decision.power, degrees)
    heights = [factor * float(search.errors[_near(row, search, settings)].min()) for row in best]
    least = int(np.argmin(heights))
    return float(heights[least]), best[least].centre


def _near(row: Band, search: Search, settings: ResidueSettings) -> Mask:
    """Mark the bumps of the bank at a row's place."""
    return np.asarray(np.abs(search.bank.positions - row.centre) < settings.laboratories)


def _rows(name: str, search: Search, settings: ResidueSettings, table: BandTable) -> list[Band]:
    """Return the rows of a residue that a bump can be looked for at, the strongest of each place."""
    kept: list[Band] = []
    for row in sorted(table.of(table.resolve(name)), key=lambda band: -NOMINAL[band.strength]):
        reachable = _near(row, search, settings).any()
        wanted = row.strength in ("vs", "s", "m") and row.high - row.low <= settings.widest_row
        if wanted and reachable and all(abs(row.centre - other.centre) > settings.apart for other in kept):
            kept.append(row)
    return kept


def residue_places(name: str, search: Search, settings: ResidueSettings, table: BandTable) -> list[float]:
    """Return where a residue's strong and medium bands stand, cm-1."""
    return [row.centre for row in _rows(name, search, settings, table)]


def _hidden(row: Band, search: Search, settings: ResidueSettings) -> bool:
    """Tell whether substrate or coating hide a row's place: a bump there is known far worse than usual."""
    if any(row.distance(bump.position) <= settings.laboratories for bump in search.found):
        return False
    least = search.errors[_near(row, search, settings)].min()
    return bool(least > settings.hidden * float(np.median(search.errors)))
