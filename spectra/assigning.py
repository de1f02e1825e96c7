"""Names for bands: what the reference tables say of a measured position."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reference_bands import Band, BandTable
from spectra.chemistry import Assigned
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, PossibleCause, Reason, Residue, Unexplained
from spectra.peaks import Peak
from spectra.replicates import exceedance, holm
from spectra.residues import Bump, Search, bump_between
from spectra.suggestions import candidates, explain_change

# Between laboratories and techniques positions of one band differ by about this much; cm-1.
BETWEEN_LABORATORIES = 6.0
CANDIDATES_SHOWN = 5
CAUSES_SHOWN = 3
# Codes of changed bands; a weaker band is asked for as a lower one, which includes a lost one.
CHANGE_DIRECTIONS = {"shifted": "", "lost-band": "lower", "grown-band": "higher"}
RESIDUE_BANDS_NEEDED = 2
# Rows wider than this describe a region, not a band that a bump could be found for; cm-1.
WIDEST_ROW = 60.0
# A place is hidden where a bump's error is this many times the usual one.
HIDDEN_FACTOR = 5.0


def assign(peak: Peak, material: str, table: BandTable) -> Assigned:
    """Return the assignment of a band of a known material; empty where the tables have none."""
    name = table.named(material)
    if name is None:
        return Assigned()
    near = table.near(peak.position, BETWEEN_LABORATORIES + 2 * peak.position_error, name)
    if not near:
        return Assigned()
    best = min(near, key=lambda band: (abs(band.typical - peak.position), not band.strong))
    return Assigned(best.assignment, table.cite(best), best.checked)


def explain_bumps(
    bumps: Sequence[Bump], most: int, table: BandTable, watch: Sequence[str]
) -> tuple[Unexplained, ...]:
    """Put candidates of the tables beside the first unexplained bands, watched materials first.

    Absorption that is missing gets no candidates: nothing left behind takes absorption away.
    """
    positions = [bump.position for bump in bumps]
    found = []
    for i, bump in enumerate(bumps[:most]):
        others = positions[:i] + positions[i + 1 :]
        # A bump's place is known to about a fifth of its width.
        error = bump.width / 5.0
        named = candidates(bump.position, error, table, watch, others=others) if bump.height > 0 else ()
        found.append(
            Unexplained(bump.position, bump.height, bump.width, bump.evidence, named[:CANDIDATES_SHOWN])
        )
    return tuple(found)


def possible_causes(
    reasons: Sequence[Reason], unexplained: Sequence[Unexplained], material: str, table: BandTable
) -> tuple[PossibleCause, ...]:
    """Put processes known for a material beside its changes; nothing for an unknown material.

    Parameters
    ----------
    reasons : sequence of Reason
        Of the chemistry: shifted, lost and grown bands.
    unexplained : sequence of Unexplained
        Rising ones are taken for new bands.
    material : str
    table : BandTable
    """
    name = table.named(material)
    if name is None:
        return ()
    changes = [(r.values["position"], *_direction(r)) for r in reasons if r.code in CHANGE_DIRECTIONS]
    changes += [(item.position, "new", None) for item in unexplained if item.height > 0]
    return tuple(
        PossibleCause(
            position,
            direction,
            found.change.process,
            found.change.change,
            table.cite(found.change),
            found.change.checked,
        )
        for position, direction, shift in changes
        for found in explain_change(name, position, direction, table, shift=shift)[:CAUSES_SHOWN]
        if found.specific
    )


def _direction(reason: Reason) -> tuple[str, float | None]:
    """Return what happened to a band in the words of the tables, and its shift."""
    if reason.code != "shifted":
        return CHANGE_DIRECTIONS[reason.code], None
    shift = float(reason.values["shift"])
    return ("up" if shift > 0 else "down"), shift


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
    looked_for = tuple(sorted({row.typical for row in rows}))
    if positions and doubt:
        return Residue(name, CANNOT_TELL, (Reason(doubt, {"positions": positions}),), positions)
    if len(positions) >= RESIDUE_BANDS_NEEDED and any(row.strong for row, _ in seen):
        return Residue(name, PRESENT, (Reason("residue-bands", {"positions": positions}),), positions)
    if positions:
        return Residue(name, CANNOT_TELL, (Reason("one-band", {"position": positions[0]}),), positions)
    hidden = tuple(sorted(row.typical for row in every if row not in rows))
    return Residue(name, NOT_SHOWN, (Reason("residue-not-seen", {"bands": looked_for, "hidden": hidden}),))


def _rows(name: str, search: Search, table: BandTable) -> list[Band]:
    """Return the rows of a residue that a bump can be looked for at, one for each place."""
    bank = search.bank
    kept: list[Band] = []
    for row in sorted(table.of(table.resolve(name)), key=lambda band: band.strength):
        reachable = np.any(np.abs(bank.positions - row.typical) < BETWEEN_LABORATORIES)
        wanted = row.strength in ("vs", "s", "m") and row.high - row.low <= WIDEST_ROW
        if wanted and reachable and all(abs(row.typical - other.typical) > 10.0 for other in kept):
            kept.append(row)
    return kept


def _hidden(row: Band, search: Search) -> bool:
    """Tell whether substrate or coating hide a row's place: a bump there is known far worse than usual."""
    if any(row.distance(bump.position) <= BETWEEN_LABORATORIES for bump in search.found):
        return False
    near = np.abs(search.bank.positions - row.typical) < BETWEEN_LABORATORIES
    return bool(search.errors[near].min() > HIDDEN_FACTOR * float(np.median(search.errors)))


def _at(row: Band, search: Search) -> Bump | None:
    """Return the bump at a row's place, if there is one."""
    return bump_between(search, row.low - BETWEEN_LABORATORIES, row.high + BETWEEN_LABORATORIES)
