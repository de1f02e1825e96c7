"""Unexplained bands with the materials that may cause them."""

from __future__ import annotations

from collections.abc import Sequence

from reference_bands import BandTable
from spectra.assignment.candidates import candidates
from spectra.findings import (
    Unexplained,
)
from spectra.residues.search import Bump

CANDIDATES_SHOWN = 5


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
