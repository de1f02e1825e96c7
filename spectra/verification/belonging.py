"""Which spectra of a study do not belong to their group, and what they cost.

Half of the stated chance goes to the bare set, a quarter to the neat sets together and a quarter to the
coated samples together (the half, where there is only one of these kinds). Nothing is dropped: the user
writes ``leave_out`` where a file is wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import PurePath

import numpy as np

from spectra.apart.coated import THICK_NM, Films, examine_coated
from spectra.apart.groups import APART, TWO_KINDS, Examined, examine
from spectra.apart.likeness import Context
from spectra.apart.members import Members, members_of, spots_of
from spectra.detection.design import plan_measurement
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.variation.model import Variation, learn
from spectra.variation.settings import VariationSettings
from spectra.verification.result import ApartFinding

BARE = ("bare", "substrate")


def find_apart(
    study: Study, raw: Mapping[tuple[str, str], Stack], shapes: Mapping[str, Shape]
) -> tuple[ApartFinding, ...]:
    """Look through the bare set, every neat set and every coated sample.

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
    kinds = {
        role: [key for key in raw if key[0] == role and len(raw[key]) > 2] for role in ("neat", "coated")
    }
    # While measuring, the bare set is looked at without the samples that lie beside it.
    kinds["coated"] = [key for key in kinds["coated"] if key[1] in study.samples]
    rest = study.settings.apart.alpha / 2.0 / max(1, sum(bool(keys) for keys in kinds.values()))
    found, trusted = _bare(study, raw, shapes, study.settings.apart.alpha / 2.0)
    for key in kinds["neat"]:
        found += _neat(study, raw, key, rest / len(kinds["neat"]))
    variation = learn(trusted, _coarse(study)) if kinds["coated"] and len(trusted) > 1 else None
    if variation is not None:
        for key in kinds["coated"]:
            found += _coated(study, raw, key, (variation, shapes), rest / len(kinds["coated"]))
    return tuple(found)


def _coarse(study: Study) -> VariationSettings:
    return replace(study.settings.variation, step=study.settings.apart.step)


def _bare(
    study: Study, raw: Mapping[tuple[str, str], Stack], shapes: Mapping[str, Shape], alpha: float
) -> tuple[list[ApartFinding], Stack]:
    """Look through the bare set, with the coatings as what a file might hold; and who belongs."""
    members = _members(study, raw[BARE])
    context = _context(members, {name: shape.curve for name, shape in shapes.items()}, raw, BARE)
    found = examine(members, context, study.settings.apart, alpha)
    said, trusted = _findings(found, members, BARE), _trusted(members, found)
    if not said or not shapes:
        return said, trusted
    before, after = (_detectable(study, stack, shapes) for stack in (raw[BARE], trusted))
    named = [replace(item, detectable_with=before, detectable_without=after) for item in said]
    return named, trusted


def _neat(
    study: Study, raw: Mapping[tuple[str, str], Stack], key: tuple[str, str], alpha: float
) -> list[ApartFinding]:
    """Look through one neat set; what a file might hold is the bare substrate."""
    members = _members(study, raw[key])
    context = _context(members, {"substrate": raw[BARE].mean}, raw, key)
    return _findings(examine(members, context, study.settings.apart, alpha), members, key)


def _coated(
    study: Study,
    raw: Mapping[tuple[str, str], Stack],
    key: tuple[str, str],
    known: tuple[Variation, Mapping[str, Shape]],
    alpha: float,
) -> list[ApartFinding]:
    """Look through the spots of one sample, in the metric of the bare set."""
    (bare, shapes), apply = known, known[0].reduction.apply
    names = [name for name in study.samples[key[1]].coatings if name in shapes]
    responses = [shapes[name].response for name in names]
    thick = [apply(film(nm)) for film in responses if film is not None for nm in THICK_NM]
    films = Films(
        {name: apply(shapes[name].curve) for name in names},
        np.reshape(thick, (len(thick), bare.reduction.points.size)),
    )
    members = spots_of(raw[key], bare.reduction, _coarse(study))
    context = _context(members, {}, raw, key)
    found = examine_coated(members, bare, films, context, study.settings.apart, alpha)
    return _by_piece(found, members.stack, key, study)


def _by_piece(found: Examined, stack: Stack, key: tuple[str, str], study: Study) -> list[ApartFinding]:
    """Return what was found among spots; a specimen all of whose spots stand apart alike is named as one."""
    spots = {item.name: item for item in found.outsiders}
    named: list[ApartFinding] = []
    for piece in dict.fromkeys(stack.specimens):
        mine = [name for name, of in zip(stack.names, stack.specimens, strict=True) if of == piece]
        out = [spots[name] for name in mine if name in spots]
        if len(out) == len(mine) > 1 and len({item.like.kind for item in out}) == 1:
            worst = replace(out[0], name=piece, chance=max(item.chance for item in out))
            named.append(ApartFinding(*key, worst, tuple(mine), found.kind))
            continue
        named += [
            ApartFinding(*key, replace(i, name=_short(i.name, study)), (i.name,), found.kind) for i in out
        ]
    return named


def _short(name: str, study: Study) -> str:
    """Return a spot's name without the folder of the study."""
    path = PurePath(name)
    return path.relative_to(study.folder).as_posix() if path.is_relative_to(study.folder) else name


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
    neat = {
        name: apply(stack.mean) for (role, name), stack in raw.items() if role == "neat" and key[0] != "neat"
    }
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
