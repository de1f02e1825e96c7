"""Unexplained bands with the materials that may cause them."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace

import numpy as np

from reference_bands import BandTable
from spectra.assignment.candidates import candidates
from spectra.assignment.coherence import FoundBands
from spectra.assignment.matching import propose
from spectra.assignment.settings import SuggestionSettings
from spectra.findings import Candidate, Unexplained
from spectra.residues.search import Bump

# A bump's place is known to about a fifth of its width.
PLACE_SHARE = 0.2


def explain_bumps(
    bumps: Sequence[Bump],
    most: int,
    table: BandTable,
    watch: Sequence[str],
    settings: SuggestionSettings | None = None,
) -> tuple[Unexplained, ...]:
    """Put candidates of the tables beside the first unexplained bands.

    Watched materials come first, then those whose strong bands are there in several unexplained bands
    together, then the rest. Absorption that is missing gets no candidates: nothing left behind takes
    absorption away.

    Parameters
    ----------
    bumps : sequence of Bump
        All that were found, the most evident first.
    most
        How many of them are put into words.
    table : BandTable
    watch
        Materials looked for, by any of their names.
    settings : SuggestionSettings, optional
    """
    settings = settings or SuggestionSettings()
    together = _proposed_together(bumps, table, settings)
    found = []
    for bump in bumps[:most]:
        proposed = {name for name, members in together.items() if bump in members}
        named = _named(bump, bumps, proposed, table, watch, settings) if bump.height > 0 else ()
        shown = named[: settings.shown]
        found.append(Unexplained(bump.position, bump.height, bump.width, bump.evidence, shown))
    return tuple(found)


def _named(
    bump: Bump,
    bumps: Sequence[Bump],
    proposed: Set[str],
    table: BandTable,
    watch: Sequence[str],
    settings: SuggestionSettings,
) -> tuple[Candidate, ...]:
    """Return what one band may be: watched materials, those proposed for several bands, the rest."""
    others = [other.position for other in bumps if other is not bump]
    at = (bump.position, PLACE_SHARE * bump.width)
    every = candidates(*at, table, watch, others=others, settings=replace(settings, materials=100))
    usual = candidates(*at, table, watch, others=others, settings=settings)
    first = [each for each in every if each.material in {table.resolve(name) for name in watch}]
    together = [each for each in every if each.material in proposed and each not in first]
    return (*first, *together, *(each for each in usual if each not in first and each not in together))


def _proposed_together(
    bumps: Sequence[Bump], table: BandTable, settings: SuggestionSettings
) -> dict[str, tuple[Bump, ...]]:
    """Return the materials that explain two rising bands or more, each with these bands.

    Where the substrate or a coating hides a strong band, the material is not proposed: it stays a candidate
    of single bands.
    """
    rising = sorted((bump for bump in bumps if bump.height > 0), key=lambda bump: bump.position)
    if len(rising) < settings.matching.least:
        return {}
    positions, widths = (np.array([getattr(b, name) for b in rising]) for name in ("position", "width"))
    heights = np.array([bump.height for bump in rising])
    covered = (float(positions.min()), float(positions.max()))
    seen = FoundBands(positions, PLACE_SHARE * widths, heights, widths, covered)
    proposals = propose(seen, table, settings.matching)
    return {
        each.material: tuple(rising[i] for i in each.explained)
        for each in proposals
        if len(each.explained) >= settings.matching.least
    }
