"""One group looked through: plain faults, then the forward search, then what stands apart described.

A bare set is judged with the coatings' shapes; a neat set with the bare mean as the shape it might hold.
Nothing is dropped: who stands apart is named, with what it costs, and the user decides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.apart.likeness import Context, LooksLike, describe
from spectra.apart.members import Members, plain_basis, subset
from spectra.apart.plain_faults import PlainFault, plain_faults
from spectra.apart.search import Step, first_apart, search
from spectra.apart.settings import ApartSettings
from spectra.apart.trusted import pair_distances
from spectra.detection.least_squares import leave_out
from spectra.units import FloatArray
from spectra.variation.model import Variation, project_out

ONE_KIND, APART, TWO_KINDS, WIDE, TOO_FEW = "one kind", "apart", "two kinds", "wide", "too few"
TIGHT = 0.25  # squared distance among the outsiders over that to the trusted: they are a kind of their own


@dataclass(frozen=True)
class Outsider:
    """One member that does not belong: its name, what it looks like, and the chance of saying so in vain."""

    name: str
    like: LooksLike
    chance: float


@dataclass(frozen=True)
class Examined:
    """What was found in one group.

    Attributes
    ----------
    kind
        ``one kind``; ``apart``: the outsiders do not belong; ``two kinds``: the spectra do not say which is
        meant; ``wide``: nobody stands alone, but the group differs along a coating's shape by more than its
        model expects; ``too few``.
    outsiders : tuple of Outsider
    trusted : tuple of str
    remarks : tuple of Outsider
        Gas lines: taken out by the model, harmless.
    widths : tuple of (coating, float)
        Of a wide group: left-out scatter along the shape over what the model expects.
    """

    kind: str
    outsiders: tuple[Outsider, ...]
    trusted: tuple[str, ...]
    remarks: tuple[Outsider, ...] = ()
    widths: tuple[tuple[str, float], ...] = ()


def examine(members: Members, context: Context, settings: ApartSettings, alpha: float) -> Examined:
    """Find the members of a bare or neat group that do not belong, and what they look like.

    Parameters
    ----------
    members : Members
    context : Context
        Its shapes are what a member might hold.
    settings : ApartSettings
    alpha : float
        Chance of naming anybody in a group where all belong: this group's share of the study's.

    Returns
    -------
    Examined
    """
    if len(members) < 3:
        return Examined(TOO_FEW, (), members.names)
    named, remarks = plainly_wrong(members)
    if not named:
        return replace(_searched(members, context, settings, alpha), remarks=remarks)
    kept = [i for i in range(len(members)) if i not in named]
    rest = examine(subset(members, kept), context, settings, alpha)
    outsiders = (*rest.outsiders, *named.values())
    kind = TWO_KINDS if rest.kind == TWO_KINDS else APART
    return Examined(kind, outsiders, rest.trusted, (*remarks, *rest.remarks), rest.widths)


def plainly_wrong(members: Members) -> tuple[dict[int, Outsider], tuple[Outsider, ...]]:
    """Return the members with plain faults by number, and those whose gas lines are a remark only."""
    faults = plain_faults(members)
    named = {fault.member: _outsider(members, fault) for fault in faults if fault.kind != "gas"}
    return named, tuple(_outsider(members, fault) for fault in faults if fault.kind == "gas")


def _outsider(members: Members, fault: PlainFault) -> Outsider:
    return Outsider(members.names[fault.member], LooksLike(fault.kind, value=fault.value), 0.0)


def _searched(members: Members, context: Context, settings: ApartSettings, alpha: float) -> Examined:
    """Search a group without plain faults."""
    if len(members) < 3:
        return Examined(TOO_FEW, (), members.names)
    steps = search(members, context.shapes, settings)
    hit = first_apart(steps, len(members), settings, alpha)
    if hit is None:
        return _together(members, context, settings)
    variation = members.learn(hit.trusted)
    outsiders = tuple(
        Outsider(
            members.names[item.member],
            describe(members.reduced[item.member], variation, context),
            item.chance,
        )
        for item in hit.evidence
    )
    return Examined(_kind(members, hit), outsiders, tuple(members.names[i] for i in hit.trusted))


def _kind(members: Members, hit: Step) -> str:
    """Tell strangers from a second kind: an even split, or outsiders much nearer to one another."""
    if 2 * hit.outside == len(members):
        return TWO_KINDS
    if hit.outside < 2:
        return APART
    variation = members.learn(hit.trusted)
    distance = pair_distances(project_out(plain_basis(variation), variation.whiten(members.reduced)))
    out = [item.member for item in hit.evidence]
    inner = float(distance[np.ix_(out, out)].sum()) / (len(out) * (len(out) - 1))
    outer = float(distance[np.ix_(out, hit.trusted)].mean())
    return TWO_KINDS if inner < TIGHT * outer else APART


def _together(members: Members, context: Context, settings: ApartSettings) -> Examined:
    """Nobody stands apart; say whether the group is wide by itself along a coating's shape."""
    from scipy.special import fdtri

    variation, count = members.learn(range(len(members))), len(members)
    limit = float(np.sqrt(fdtri(count, max(1, count - 1), 1.0 - settings.wide_alpha)))
    widths = {name: _width(variation.whiten(c[None, :]), variation) for name, c in context.shapes.items()}
    wide = tuple((name, width) for name, width in widths.items() if width > limit)
    return Examined(WIDE if wide else ONE_KIND, (), members.names, (), wide)


def _width(shape: FloatArray, variation: Variation) -> float:
    """Root mean square of left-out amounts in units of their modelled error."""
    return float(np.sqrt(np.mean(leave_out(variation, shape).z[:, 0] ** 2)))
