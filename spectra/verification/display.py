"""Spectra corrected for display: scaled for depth, or as the absorption index (see ``optics.display``).

No verdict uses these: verdicts compare with the expected spectrum, which needs no correction of what was
measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.groups import Group
from spectra.optics.display import Corrected, as_absorption_index, scale_depth
from spectra.optics.material import Unsolved
from spectra.optics.prediction import geometry_of, material_of
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Shown:
    """Stacks to be drawn, and what was done to them.

    Attributes
    ----------
    stacks : mapping of (role, group) to Stack
    quantity
        What the ordinates are.
    undone, left
        What the correction undoes and what it leaves as measured; empty without one.
    """

    stacks: Mapping[tuple[str, str], Stack]
    quantity: str = "absorbance"
    undone: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


def correct(flat: Mapping[tuple[str, str], Stack], study: Study, form: str) -> Shown:
    """Correct every group of a study for display.

    Parameters
    ----------
    flat : mapping of (role, group) to Stack
        Baselines removed, not normalised.
    study : Study
        For technique, geometry and contact of each group.
    form : str
        ``"depth"``: each spot scaled to constant effective thickness; ``"k"``: the absorption index of each
        group's mean.

    Raises
    ------
    SpectraError
        If a group cannot be corrected: the message says why.
    """
    groups = {(group.role, group.name): group for group in study.groups}
    shown: dict[tuple[str, str], Stack] = {}
    done: Corrected | None = None
    for key, stack in flat.items():
        rows = [_corrected(row, stack, groups[key], study, form) for row in _rows(stack, form)]
        done = rows[0]
        grid = stack.grid
        values = np.array([np.interp(grid, row.wavenumbers, row.values) for row in rows])
        names = stack.names[: len(rows)]
        shown[key] = Stack(grid, values, stack.specimens[: len(rows)], names, stack.usable)
    if done is None:
        raise SpectraError("there is no spectrum to correct; name bare, neat or coated spectra")
    return Shown(shown, done.quantity, done.undone, done.left)


def _rows(stack: Stack, form: str) -> list[FloatArray]:
    """Return the spots, or their mean where one answer for the group is wanted."""
    return [stack.mean] if form == "k" else list(stack.absorbance)


def _corrected(row: FloatArray, stack: Stack, group: Group, study: Study, form: str) -> Corrected:
    """Correct one spectrum."""
    if form == "depth":
        if group.technique != "ATR":
            raise SpectraError(
                f"{group.role} {group.name}: measured by {group.technique}; only ATR spectra can be scaled "
                "for depth"
            )
        return scale_depth(stack.grid, row, geometry_of(group, study.instrument))
    lowest = study.settings.prediction.bare_contact_low
    if group.role == "neat":
        lowest = study.settings.prediction.neat_contact_low
    material = material_of(stack, group, study.instrument, lowest, study.settings.inversion)
    if isinstance(material, Unsolved):
        raise SpectraError(f"{group.role} {group.name}: no absorption index: {material.message}")
    return as_absorption_index(material)
