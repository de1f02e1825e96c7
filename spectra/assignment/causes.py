"""Processes known for a material, put beside the changes that were found."""

from __future__ import annotations

from collections.abc import Sequence

from reference_bands import BandTable
from spectra.assignment.candidates import explain_change
from spectra.findings import (
    PossibleCause,
    Reason,
    Unexplained,
)

CAUSES_SHOWN = 3

# Codes of changed bands; a weaker band is asked for as a lower one, which includes a lost one.
CHANGE_DIRECTIONS = {"shifted": "", "lost-band": "lower", "grown-band": "higher"}


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
