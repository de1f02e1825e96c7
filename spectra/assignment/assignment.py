"""Names for bands: what the reference tables say of a measured position."""

from __future__ import annotations

from reference_bands import BandTable
from spectra.findings import (
    Assigned,
)
from spectra.peaks.finding import Peak

# Between laboratories and techniques positions of one band differ by about this much; cm-1.
BETWEEN_LABORATORIES = 6.0


def assign(peak: Peak, material: str, table: BandTable) -> Assigned:
    """Return the assignment of a band of a known material; empty where the tables have none."""
    name = table.named(material)
    if name is None:
        return Assigned()
    near = table.near(peak.position, BETWEEN_LABORATORIES + 2 * peak.position_error, name)
    if not near:
        return Assigned()
    best = min(near, key=lambda band: (abs(band.centre - peak.position), not band.strong))
    return Assigned(best.assignment, table.cite(best), best.checked)
