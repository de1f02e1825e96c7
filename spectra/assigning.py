"""Names for bands: what the reference tables say of a measured position."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reference_bands import Band, BandTable
from spectra.chemistry import Assigned
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, Candidate, Reason, Residue, Unexplained
from spectra.peaks import Peak
from spectra.residues import Bump
from spectra.spectrum import Stack

# Between laboratories and techniques positions of one band differ by about this much; cm-1.
BETWEEN_LABORATORIES = 6.0
CANDIDATES_SHOWN = 5
RESIDUE_BANDS_NEEDED = 2


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


def explain_bump(bump: Bump, table: BandTable, watch: Sequence[str]) -> Unexplained:
    """Put candidates of the tables beside an unexplained band, watched materials first."""
    watched = {table.resolve(name) for name in watch}
    tolerance = BETWEEN_LABORATORIES / 2
    near = table.near(bump.position, tolerance)
    ranked = sorted(
        near,
        key=lambda b: (b.material not in watched, not b.strong, abs(b.typical - bump.position)),
    )
    chosen: dict[str, Band] = {}
    for band in ranked:
        chosen.setdefault(band.material, band)
    candidates = tuple(_candidate(band, table) for band in list(chosen.values())[:CANDIDATES_SHOWN])
    return Unexplained(bump.position, bump.height, bump.width, bump.evidence, candidates)


def _candidate(band: Band, table: BandTable) -> Candidate:
    """Turn a row of the tables into a candidate, with the strong bands that should be there too."""
    others = tuple(
        sorted({other.typical for other in table.of(band.material) if other.strong and other is not band})
    )
    return Candidate(band.material, band.assignment, band.typical, table.cite(band), band.checked, others)


def judge_watched(name: str, unexplained: Sequence[Unexplained], bare: Stack, table: BandTable) -> Residue:
    """Judge a named residue by its strong bands in the tables: two of them must be unexplained bands."""
    material = table.resolve(name)
    strong = [band for band in table.of(material) if band.strong and _usable(band, bare)]
    rising = [item.position for item in unexplained if item.height > 0]
    seen = {
        band.typical: position
        for band in strong
        for position in rising
        if band.distance(position) <= BETWEEN_LABORATORIES
    }
    positions = tuple(sorted(set(seen.values())))
    looked_for = tuple(sorted({band.typical for band in strong}))
    if not strong:
        return Residue(name, CANNOT_TELL, (Reason("all_masked", {"bands": looked_for}),))
    if len(positions) >= RESIDUE_BANDS_NEEDED:
        return Residue(name, PRESENT, (Reason("residue_bands", {"positions": positions}),), positions)
    if positions:
        return Residue(name, CANNOT_TELL, (Reason("one_band", {"position": positions[0]}),), positions)
    return Residue(name, NOT_SHOWN, (Reason("residue_not_seen", {"bands": looked_for}),))


def _usable(band: Band, bare: Stack) -> bool:
    """Tell whether the study looks at the band's place at all."""
    at = int(np.argmin(np.abs(bare.grid - band.typical)))
    return bool(bare.usable[at] and bare.grid[0] <= band.typical <= bare.grid[-1])
