"""Unexplained bands with the materials that may cause them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reference_bands import BandTable
from spectra.assignment.candidates import candidates
from spectra.assignment.coherence import FoundBands
from spectra.assignment.matching import propose
from spectra.assignment.settings import SuggestionSettings
from spectra.findings import Candidate, Unexplained
from spectra.residues.search import Bump
from spectra.residues.settings import ResidueSettings


def explain_bumps(
    bumps: Sequence[Bump],
    table: BandTable,
    watch: Sequence[str],
    residues: ResidueSettings,
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
    table : BandTable
    watch
        Materials looked for, by any of their names.
    residues : ResidueSettings
        ``told``: how many are put into words; ``place``: how well their places are known.
    settings : SuggestionSettings, optional
    """
    settings = settings or SuggestionSettings()
    together = _proposed_together(bumps, residues.place, table, settings)
    found = []
    for bump in bumps[: residues.told]:
        named: tuple[Candidate, ...] = ()
        if bump.height > 0:
            others = [other.position for other in bumps if other is not bump]
            proposed = [name for name, members in together.items() if bump in members]
            at = (bump.position, residues.place * bump.width)
            named = candidates(at, table, watch, proposed, others, settings)
        shown = named[: settings.shown]
        found.append(Unexplained(bump.position, bump.height, bump.width, bump.evidence, shown))
    return tuple(found)


def _proposed_together(
    bumps: Sequence[Bump], place: float, table: BandTable, settings: SuggestionSettings
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
    seen = FoundBands(positions, place * widths, heights, widths, covered)
    proposals = propose(seen, table, settings.matching)
    return {
        each.material: tuple(rising[i] for i in each.explained)
        for each in proposals
        if len(each.explained) >= settings.matching.least
    }
