"""One coated sample looked through: which of its spots do not belong.

Coated spots differ in amount, and that is no fault. Three questions are asked. Does a spot hold (next to)
nothing of a coating that all others hold: was it left bare, or is it a bare spectrum? Does it hold far more
than any other and looks like the neat coating: is it a neat spectrum? And does it differ from the others in
anything else than the film's amount, contact and what bare spots do by themselves? The metric is the bare
set's. A difference must also stand out against the other spots' own scatter along it, so that what varies
over a sample by itself (a residue drying, a film changing) is not taken for a stranger.

Several spots at a time are sought as in :mod:`spectra.apart.search`: all of them must stand apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import comb

import numpy as np
from scipy.special import stdtr

from spectra.apart.evidence import Yard, energy_chances, lay_out
from spectra.apart.groups import APART, ONE_KIND, TOO_FEW, Examined, Outsider, plainly_wrong
from spectra.apart.likeness import Context, LooksLike, describe_coated, neat_amount
from spectra.apart.members import Members, subset
from spectra.apart.settings import ApartSettings
from spectra.apart.trusted import pair_distances, tightest
from spectra.detection.least_squares import fit_shapes, leave_out, widen
from spectra.spectrum import Frozen
from spectra.units import FloatArray
from spectra.variation.model import Variation, contact_response, nuisance_basis, orthonormal, project_out

FEWEST = 3
QUESTIONS = 3
TWICE = 2.0  # the most of the others' amounts: what a neat spectrum holds more than
THICK_NM = (200.0, 800.0)  # films that are not the thin one multiplied


@dataclass(frozen=True, eq=False)
class Films(Frozen):
    """What the spots of a sample may differ by through the amount of their coatings.

    Attributes
    ----------
    thin : mapping of str to ndarray, shape (r,)
        Change a unit of amount brings, on the bare model's points.
    thick : ndarray, shape (t, r)
        Changes by thicker films: they are not the thin ones multiplied.
    """

    thin: Mapping[str, FloatArray]
    thick: FloatArray


def examine_coated(
    members: Members, bare: Variation, films: Films, context: Context, settings: ApartSettings, alpha: float
) -> Examined:
    """Find the spots of a coated sample that do not belong, and what they look like.

    Parameters
    ----------
    members : Members
        The spots, on the points of ``bare``.
    bare : Variation
        Of the bare units that belong.
    films : Films
    context : Context
        What a spot may look like.
    settings : ApartSettings
    alpha : float
        Chance of naming anybody where all belong.

    Returns
    -------
    Examined
        ``one kind``, ``apart`` or ``too few`` (fewer than three spots).
    """
    if len(members) < FEWEST:
        return Examined(TOO_FEW, (), members.names)
    wrong, gas = plainly_wrong(members)
    each = alpha / QUESTIONS
    found = {} if wrong or not films.thin else _amounts(members, bare, films)
    empty = _empty(members, found, settings, each)
    neat = _neat(members, found, context, each)
    out = {**wrong, **empty, **neat}
    kept = [i for i in range(len(members)) if i not in out]
    strange = _strange(subset(members, kept), bare, films, context, settings, each)
    said = [*out.values(), *strange]
    names = {item.name for item in said}
    trusted = tuple(name for name in members.names if name not in names)
    return Examined(APART if said else ONE_KIND, tuple(said), trusted, gas)


# ------------------------------------------------------------------------------------ by amount alone


@dataclass(frozen=True, eq=False)
class _Held(Frozen):
    """Amount of one coating in every spot, its error and its degrees, in the bare set's metric."""

    amounts: FloatArray
    error: float
    degrees: float

    def chances(self, excess: FloatArray, share: float) -> FloatArray:
        """Chance of so much excess of ``share`` of one spot's amount over another's."""
        return np.asarray(stdtr(self.degrees, -excess / (self.error * np.sqrt(1.0 + share**2))))


def _amounts(members: Members, bare: Variation, films: Films) -> dict[str, _Held]:
    """Measure every coating in every spot."""
    shapes = bare.whiten(np.array(list(films.thin.values())))
    fit = fit_shapes(nuisance_basis(bare), shapes, bare.whiten(members.reduced))
    left_out = leave_out(bare, shapes).z
    found = {}
    for i, name in enumerate(films.thin):
        widening = widen(left_out[:, i], max(1.0, len(bare) - 1.0))
        error = widening.factor * float(np.sqrt(fit.covariance[i, i]))
        found[name] = _Held(fit.amounts[:, i], error, float(len(bare)))
    return found


def _empty(
    members: Members, found: Mapping[str, _Held], settings: ApartSettings, alpha: float
) -> dict[int, Outsider]:
    """Return the spots that hold far less of a coating than any of the others does."""
    below = {name: _far_below(held, settings.left_bare, alpha / len(found)) for name, held in found.items()}
    lacked = {name: chances for name, chances in below.items() if chances}
    named: dict[int, Outsider] = {}
    for i in sorted({i for chances in lacked.values() for i in chances}):
        mine = [name for name, chances in lacked.items() if i in chances]
        # Bare where it lacks every coating that the others hold, else without some of them.
        kind = "bare" if len(mine) == len(lacked) else "without"
        chance = max(lacked[name][i] for name in mine)
        named[i] = Outsider(members.names[i], LooksLike(kind, mine[0]), chance)
    return named


def _far_below(held: _Held, share: float, alpha: float) -> dict[int, float]:
    """Spots shown to hold less than a share of the least of the others', with their chances."""
    order, count = np.argsort(held.amounts), held.amounts.size
    for few in range((count - 1) // 2, 0, -1):
        out, least = order[:few], float(held.amounts[order[few]])
        chances = comb(count, few) * held.chances(share * least - held.amounts[out], share)
        # Far below nothing is no bare spot: another kind of spectrum.
        nothing = least > 0.0 and bool(np.all(held.amounts[out] > -share * least))
        if nothing and np.all(chances < alpha):
            return {int(i): float(chance) for i, chance in zip(out, chances, strict=True)}
    return {}


def _neat(
    members: Members, found: Mapping[str, _Held], context: Context, alpha: float
) -> dict[int, Outsider]:
    """Return the spots that hold far more than any other does and look like the neat coating."""
    named: dict[int, Outsider] = {}
    for name, held in found.items():
        if name not in context.neat:
            continue
        for i, chance in _far_above(held, alpha / len(found)).items():
            others = np.median(np.delete(members.reduced, i, axis=0), axis=0)
            amount = neat_amount(members.reduced[i], members.reduction.points, context.neat[name], others)
            if amount is not None:
                named[i] = Outsider(members.names[i], LooksLike("neat", name, amount), chance)
    return named


def _far_above(held: _Held, alpha: float) -> dict[int, float]:
    """Spots shown to hold more than twice the most of the others', with their chances."""
    order, count = np.argsort(-held.amounts), held.amounts.size
    for few in range((count - 1) // 2, 0, -1):
        out, most = order[:few], max(float(held.amounts[order[few]]), 0.0)
        chances = comb(count, few) * held.chances(held.amounts[out] - TWICE * most, TWICE)
        if np.all(chances < alpha):
            return {int(i): float(chance) for i, chance in zip(out, chances, strict=True)}
    return {}


# -------------------------------------------------------------------------------- another kind of spectrum


def _strange(
    members: Members,
    bare: Variation,
    films: Films,
    context: Context,
    settings: ApartSettings,
    alpha: float,
) -> list[Outsider]:
    """Return the spots that differ in more than amount, contact and what bare spots do."""
    count = len(members)
    if count < FEWEST:
        return []
    yard = lay_out(bare, settings)
    white = _cleared(members, yard, films)
    trusted = list(tightest(pair_distances(white), max(2, (count + 1) // 2)))
    most = (count - 1) // 2
    while len(trusted) < count:
        outside = [i for i in range(count) if i not in trusted]
        chances = {i: _chance(white[i], white[trusted], yard, settings) for i in outside}
        choices = comb(count, len(outside))
        usual = {i: _along(white[i], white[trusted], members, trusted) for i in outside}
        apart = all(chances[i] * choices < alpha / most and usual[i] * choices < alpha for i in outside)
        if len(outside) <= most and apart:
            return [
                Outsider(
                    members.names[i],
                    describe_coated(members.reduced[i], _model(members, bare, trusted), context, films.thin),
                    min(1.0, chances[i] * choices * most),
                )
                for i in outside
            ]
        trusted = sorted([*trusted, max(outside, key=lambda i: (chances[i], -_distance(white, i, trusted)))])
    return []


def _cleared(members: Members, yard: Yard, films: Films) -> FloatArray:
    """Whitened spots without what they may differ by; shape (k, r)."""
    bare = yard.variation
    middle = np.median(members.reduced, axis=0)
    rows = [*films.thin.values(), *films.thick, middle, contact_response(middle)]
    extra = bare.whiten(np.array(rows))
    basis = orthonormal(np.vstack([yard.basis, extra]))
    return project_out(basis, bare.whiten(members.reduced))


def _chance(row: FloatArray, trusted: FloatArray, yard: Yard, settings: ApartSettings) -> float:
    """Chance of so much difference on a bare spot: the whole of it, and its worst stretch."""
    energy = (row - trusted.mean(axis=0)) ** 2 / (1.0 + 1.0 / len(trusted))
    whole, part = energy_chances(yard, energy, settings)
    return min(1.0, 2.0 * whole, 2.0 * part)


def _along(row: FloatArray, trusted: FloatArray, members: Members, chosen: Sequence[int]) -> float:
    """Chance that a spot is only further along a direction in which the trusted differ anyway.

    The spots of one specimen have their specimen in common: specimens count, where there are several.
    """
    away = row - trusted.mean(axis=0)
    length = max(float(np.linalg.norm(away)), 1e-300)
    scores = (trusted - trusted.mean(axis=0)) @ (away / length)
    pieces = len({members.stack.specimens[members.rows[i][0]] for i in chosen})
    degrees = float(pieces if pieces > 1 else len(trusted))
    # The bare set's own scatter counts as one more unit, as in the search among bare members.
    variance = (1.0 + float(scores @ scores) * degrees / max(len(trusted) - 1.0, 1.0)) / degrees
    return 2.0 * float(stdtr(degrees, -length / np.sqrt(variance * (1.0 + 1.0 / len(trusted)))))


def _distance(white: FloatArray, i: int, trusted: Sequence[int]) -> float:
    return float(np.sum((white[i] - white[list(trusted)].mean(axis=0)) ** 2))


def _model(members: Members, bare: Variation, trusted: Sequence[int]) -> Variation:
    """Return the bare set's metric about the mean of the trusted coated spots."""
    rows = members.reduced[list(trusted)]
    contact = bare.whiten(contact_response(rows.mean(axis=0))[None, :])
    return replace(
        bare,
        spots=rows,
        whitened=bare.whiten(rows),
        specimens=tuple(members.names[i] for i in trusted),
        contacts=np.repeat(contact, len(rows) + 1, axis=0),
        settings=replace(bare.settings, directions=0),
    )
