"""What a member that stands apart looks like: the first description that fits, with its numbers, no words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from spectra.apart.search import SHARE_OF_SHAPE
from spectra.preprocessing.atmosphere import carbon_dioxide, water_vapour
from spectra.spectrum import Frozen
from spectra.stretches import number_stretches
from spectra.units import FloatArray
from spectra.variation.model import Variation, nuisance_basis, orthonormal, project_out

GAS_SHARE, LIKE_NEAT, NEAR_GROUP = 0.5, 0.9, 0.1
TINY = 1e-300


@dataclass(frozen=True)
class LooksLike:
    """Description of one member.

    Attributes
    ----------
    kind
        ``unit``, ``inverted``, ``scale``, ``noise``, ``gas``, ``neat``, ``coating``, ``lacks``, ``group`` or
        ``other``; of coated spots also ``bare`` (none of the coating) and ``without`` (none of one of them).
    name
        Coating or group it looks like; empty for the other kinds.
    value : float or None
        Amount held, height, noise, or share of the difference that is gas.
    share : float or None
        Share of the difference that the coating's shape explains.
    regions : tuple of (low, high)
        Where it differs, cm-1, for ``other``.
    """

    kind: str
    name: str = ""
    value: float | None = None
    share: float | None = None
    regions: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Context(Frozen):
    """What a member may look like; every curve on the model's points, shape (r,).

    Attributes
    ----------
    grid : ndarray, shape (n,), cm-1
    shapes : mapping of str to ndarray
        Expected shape of every coating per unit amount.
    neat : mapping of str to ndarray
        Neat spectra.
    others : mapping of str to ndarray
        Means of the other groups of the study.
    role
        ``bare``, ``neat`` or ``coated``: of the group looked at.
    """

    grid: FloatArray
    shapes: Mapping[str, FloatArray]
    neat: Mapping[str, FloatArray] = field(default_factory=dict)
    others: Mapping[str, FloatArray] = field(default_factory=dict)
    role: str = "bare"


def describe(row: FloatArray, variation: Variation, context: Context) -> LooksLike:
    """Describe one member, shape (r,), against the trusted ones' model."""
    gas = _gas_share(row, variation, context.grid)
    if gas > GAS_SHARE:
        return LooksLike("gas", value=gas)
    clean = project_out(nuisance_basis(variation), variation.whiten(row[None, :]))[0]
    share, name, amount = _best_shape(clean, variation, context)
    mean = variation.spots.mean(axis=0)
    if name in context.neat:
        points = variation.reduction.points
        fitted, _ = _plain_fit(row, points, mean, context.neat[name])
        if context.role == "bare" and neat_amount(row, points, context.neat[name], mean) is not None:
            return LooksLike("neat", name, float(fitted[1]), share)
        amount = float(fitted[1])
    if share > SHARE_OF_SHAPE and name:
        return LooksLike("coating" if amount > 0 else "lacks", name, abs(amount), share)
    group = _nearest_group(row, variation, context.others)
    if group:
        return LooksLike("group", group)
    return LooksLike("other", name if share > 0.1 else "", None, share, worst_regions(clean, variation))


def describe_coated(
    row: FloatArray, variation: Variation, context: Context, films: Mapping[str, FloatArray]
) -> LooksLike:
    """Describe one coated spot, shape (r,), against the trusted ones'; its amount is no matter.

    Parameters
    ----------
    row : ndarray, shape (r,)
    variation : Variation
        The bare set's metric about the trusted coated spots.
    context : Context
    films : mapping of str to ndarray, shape (r,)
        What a unit of each coating's amount brings.
    """
    gas = _gas_share(row, variation, context.grid)
    if gas > GAS_SHARE:
        return LooksLike("gas", value=gas)
    mean, points = variation.spots.mean(axis=0), variation.reduction.points
    for name, curve in context.neat.items():
        amount = neat_amount(row, points, curve, mean)
        if amount is not None:
            return LooksLike("neat", name, amount)
    group = _nearest_group(row, variation, context.others)
    if group:
        return LooksLike("group", group)
    free = np.vstack([nuisance_basis(variation), *(variation.whiten(f[None, :]) for f in films.values())])
    clean = project_out(orthonormal(free), variation.whiten(row[None, :]))[0]
    return LooksLike("other", regions=worst_regions(clean, variation))


def neat_amount(row: FloatArray, points: FloatArray, neat: FloatArray, group: FloatArray) -> float | None:
    """Return the share of the neat spectrum that a spectrum is, or None where it looks more like its group.

    Parameters
    ----------
    row, points, neat, group : ndarray, shape (r,)
        The spectrum, cm-1, the neat spectrum, and the mean of the spectrum's own group.
    """
    solved, explained = _plain_fit(row, points, neat)
    return float(solved[0]) if explained > max(LIKE_NEAT, _plain_fit(row, points, group)[1]) else None


def _plain_fit(row: FloatArray, points: FloatArray, *columns: FloatArray) -> tuple[FloatArray, float]:
    """Plain least squares with offset and slope: coefficients, and the share of the spectrum explained."""
    frame = [np.ones_like(points), (points - points.mean()) / 1000.0]
    design = np.array([*columns, *frame]).T
    solved = np.linalg.lstsq(design, row, rcond=None)[0]
    rest = row - design @ solved
    base = row - np.array(frame).T @ np.linalg.lstsq(np.array(frame).T, row, rcond=None)[0]
    return solved, 1.0 - float(rest @ rest) / max(float(base @ base), TINY)


def _gas_share(row: FloatArray, variation: Variation, grid: FloatArray) -> float:
    """Share of the whitened difference that gas lines explain, also at other resolutions."""
    width = 2.0 * float(np.median(np.diff(grid)))
    curves = [water_vapour(grid, times * width) for times in (1.0, 1.6, 3.0)]
    curves += [carbon_dioxide(grid, times * width) for times in (1.0, 2.0)]
    gases = [curve for curve in map(variation.reduction.apply, curves) if curve.max() > 0.01]
    if not gases:
        return 0.0
    usual = np.vstack([variation.whitened.mean(axis=0), variation.contacts[-1], variation.fixed[:2]])
    only = orthonormal(usual)
    own = project_out(only, variation.whiten(row[None, :]))
    explained = orthonormal(project_out(only, variation.whiten(np.array(gases))))
    return float(np.sum((own @ explained.T) ** 2) / max(float(np.sum(own**2)), TINY))


def _best_shape(clean: FloatArray, variation: Variation, context: Context) -> tuple[float, str, float]:
    """Coating whose film or neat spectrum explains most of it: share beyond noise, name, amount."""
    basis, best = nuisance_basis(variation), (0.0, "", 0.0)
    beyond = float(clean @ clean) - clean.size * (1.0 + 1.0 / len(variation))
    for name, curve in [*context.shapes.items(), *context.neat.items()]:
        shape = project_out(basis, variation.whiten(curve[None, :]))[0]
        size = max(float(shape @ shape), TINY)
        part = float((clean @ shape) ** 2) / size
        share = part / max(beyond, part, TINY)
        if share > best[0]:
            best = (share, name, float(clean @ shape) / size)
    return best


def _nearest_group(row: FloatArray, variation: Variation, others: Mapping[str, FloatArray]) -> str:
    """Other group of the study whose mean is far nearer than the own group's; empty if none is."""
    basis = orthonormal(variation.fixed)
    here, own = project_out(basis, variation.whiten(np.vstack([row, variation.spots.mean(axis=0)])))
    means = {name: project_out(basis, variation.whiten(curve[None, :]))[0] for name, curve in others.items()}
    far = {name: _distance(here, mean) for name, mean in means.items()}
    nearest = min(far, key=lambda name: far[name], default="")
    return nearest if nearest and far[nearest] < NEAR_GROUP * _distance(here, own) else ""


def _distance(row: FloatArray, mean: FloatArray) -> float:
    """Squared distance of a spectrum to a mean at any usual height."""
    size = float(np.clip(row @ mean / max(float(mean @ mean), TINY), 0.5, 2.0))
    return float(np.sum((row - size * mean) ** 2))


def worst_regions(clean: FloatArray, variation: Variation, most: int = 3) -> tuple[tuple[float, float], ...]:
    """Return the stretches with most of the difference, neighbours joined, cm-1."""
    points = variation.reduction.points
    labels = number_stretches(points, 40.0)
    energy = np.bincount(labels, clean**2)
    order = np.argsort(energy)[::-1]
    spans: list[tuple[float, float]] = []
    for i in sorted(int(i) for i in order[: most + 2] if energy[i] > 0.15 * energy[order[0]]):
        inside = points[labels == i]
        low, high = float(inside[0]), float(inside[-1])
        if spans and low - spans[-1][1] < 12.0:
            low = spans.pop()[0]
        spans.append((low, high))
    return tuple(spans[:most])
