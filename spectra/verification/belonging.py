"""Which spectra of a study do not belong to their group, and what they cost.

Half of the stated chance goes to the bare set, half to the neat sets together. Nothing is dropped: the user
writes ``leave_out`` where a file is wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from spectra.apart.groups import APART, TWO_KINDS, Examined, examine
from spectra.apart.likeness import Context
from spectra.apart.members import Members, members_of
from spectra.detection.design import plan_measurement
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.variation.model import learn
from spectra.verification.result import ApartFinding

BARE = ("bare", "substrate")


def find_apart(
    study: Study, raw: Mapping[tuple[str, str], Stack], shapes: Mapping[str, Shape]
) -> tuple[ApartFinding, ...]:
    """Look through the bare set and every neat set.

    Parameters
    ----------
    study : Study
    raw : mapping of (role, group) to Stack
        As measured, on the common grid.
    shapes : mapping of str to Shape
        Expected shape of every coating on the bare substrate.

    Returns
    -------
    tuple of ApartFinding
        Bare first; empty where all belong.
    """
    neat = [key for key in raw if key[0] == "neat" and len(raw[key]) > 2]
    alpha = study.settings.apart.alpha
    found = list(_bare(study, raw, shapes, alpha / 2.0))
    for key in neat:
        found += _neat(study, raw, key, alpha / (2.0 * len(neat)))
    return tuple(found)


def _bare(
    study: Study, raw: Mapping[tuple[str, str], Stack], shapes: Mapping[str, Shape], alpha: float
) -> list[ApartFinding]:
    """Look through the bare set, with the coatings as what a file might hold."""
    members = _members(study, raw[BARE])
    context = _context(members, {name: shape.curve for name, shape in shapes.items()}, raw, BARE)
    found = examine(members, context, study.settings.apart, alpha)
    said = _findings(found, members, BARE)
    if not said or not shapes:
        return said
    before = _detectable(study, raw[BARE], shapes)
    after = _detectable(study, _trusted(members, found), shapes)
    return [replace(item, detectable_with=before, detectable_without=after) for item in said]


def _neat(
    study: Study, raw: Mapping[tuple[str, str], Stack], key: tuple[str, str], alpha: float
) -> list[ApartFinding]:
    """Look through one neat set; what a file might hold is the bare substrate."""
    members = _members(study, raw[key])
    context = _context(members, {"substrate": raw[BARE].mean}, raw, key)
    return _findings(examine(members, context, study.settings.apart, alpha), members, key)


def _members(study: Study, stack: Stack) -> Members:
    return members_of(stack, study.settings.variation, study.settings.apart.step)


def _context(
    members: Members,
    shapes: Mapping[str, FloatArray],
    raw: Mapping[tuple[str, str], Stack],
    key: tuple[str, str],
) -> Context:
    """Say what a member of the group ``key`` may look like."""
    apply = members.reduction.apply
    neat = {name: apply(stack.mean) for (role, name), stack in raw.items() if role == "neat" and key == BARE}
    others = {
        name: apply(stack.mean)
        for (role, name), stack in raw.items()
        if (role, name) != key and role != "neat"
    }
    return Context(members.stack.grid, {n: apply(c) for n, c in shapes.items()}, neat, others, key[0])


def _findings(found: Examined, members: Members, key: tuple[str, str]) -> list[ApartFinding]:
    """Return what was found, with the files of every outsider."""
    if found.kind not in (APART, TWO_KINDS):
        return []
    rows = dict(zip(members.names, members.rows, strict=True))
    return [
        ApartFinding(
            *key, outsider, tuple(members.stack.names[row] for row in rows[outsider.name]), found.kind
        )
        for outsider in found.outsiders
    ]


def _trusted(members: Members, found: Examined) -> Stack:
    """Return the spots of those that belong."""
    out = {item.name for item in found.outsiders}
    return members.take([i for i, name in enumerate(members.names) if name not in out])


def _detectable(study: Study, bare: Stack, shapes: Mapping[str, Shape]) -> dict[str, float]:
    """Return the detectable amounts of a plan with this bare set."""
    settings = study.settings
    design = replace(settings.plan, specimens=settings.apart.specimens)
    variation = learn(bare, settings.variation)
    return {
        name: float(
            plan_measurement(variation, {name: shape}, settings.decision, settings.presence, design)[
                name
            ].design.detectable
        )
        for name, shape in shapes.items()
    }
