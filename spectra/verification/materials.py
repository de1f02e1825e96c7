"""Stated materials of a study, checked against the reference tables."""

from __future__ import annotations

from collections.abc import Iterator

from reference_bands import BandTable, load
from spectra.assignment.statement import bands_of, check_material
from spectra.findings import MaterialCheck
from spectra.groups import Group
from spectra.peaks.reference import measure_reference
from spectra.study.records import Study
from spectra.verification.result import Stages


def check_materials(study: Study, stages: Stages) -> tuple[MaterialCheck, ...]:
    """Check every group of one material against the material that is stated for it.

    A coating or residue without a stated material is taken for what it is called, where the tables know the
    name; the substrate without one is not checked.

    Parameters
    ----------
    study : Study
    stages : Stages
    """
    settings, table = study.settings, load(*study.band_tables)
    checks = []
    for group, stated in _stated(study, table):
        stack = stages.flat[group.role, group.name]
        peaks = measure_reference(stack, f"{group.role} {group.name}", settings.peaks).peaks
        found = bands_of(stack, peaks)
        matching = settings.suggestions.matching
        checks.append(check_material(group, stated, found, table, settings.materials, matching))
    return tuple(checks)


def _stated(study: Study, table: BandTable) -> Iterator[tuple[Group, str]]:
    """Yield the groups that should be one material, each with that material."""
    for group in (study.substrate, *study.coatings.values(), *study.measured.values()):
        if group.material is not None:
            yield group, group.material
        elif group.role != "bare" and table.named(group.name) is not None:
            yield group, group.name
