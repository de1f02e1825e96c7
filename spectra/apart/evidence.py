"""How far one member stands from those trusted: three questions, each with small-sample tails.

Along each coating's shape (Student's t of its amount, widened by the trusted members left out in turn); as a
whole, and stretch by stretch (F of the residual over the trusted members' own). Degrees of freedom in the
tail are the trusted members alone: they were chosen for being near one another, so the model's own weight
must not make the tail lighter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, stdtr

from spectra.apart.members import left_out_squares, plain_basis
from spectra.apart.settings import ApartSettings
from spectra.detection.least_squares import fit_shapes, leave_out
from spectra.stretches import number_stretches
from spectra.units import FloatArray
from spectra.variation.model import Variation, nuisance_basis, project_out

TINY = 1e-300


@dataclass(frozen=True)
class Evidence:
    """One member against the trusted ones.

    Attributes
    ----------
    member : int
    chance : float
        Of the most extreme of the three questions, corrected for asking them.
    shape, amount
        Coating whose shape stands out most, and its amount.
    share : float
        Share of the difference beyond noise that this shape explains.
    ratio : float
        Residual over the trusted members' own.
    along : float
        Chance of lying so far out along its own difference, given the trusted members' scatter there.
    """

    member: int
    chance: float
    shape: str
    amount: float
    share: float
    ratio: float
    along: float


@dataclass(frozen=True, eq=False)
class Yard:
    """The trusted members' own residuals: what an outsider is measured by."""

    variation: Variation
    basis: FloatArray
    labels: np.ndarray
    number: np.ndarray
    whole: float
    parts: FloatArray

    @property
    def variance(self) -> float:
        """Of an outsider against the trusted mean, in units of one member's."""
        return 1.0 + 1.0 / len(self.variation)

    @property
    def prior(self) -> float:
        """Degrees of freedom that the model's own error counts for."""
        return float(max(1, len(self.variation) - 1))


def lay_out(variation: Variation, settings: ApartSettings) -> Yard:
    """Measure the trusted members by one another."""
    labels = number_stretches(variation.reduction.points, settings.stretch)
    number = np.bincount(labels)
    rest = left_out_squares(variation)
    prior = float(max(1, len(variation) - 1))
    degrees = prior + len(variation)
    parts = np.array([np.bincount(labels, row) / number for row in rest])
    return Yard(
        variation,
        nuisance_basis(variation),
        labels,
        number,
        float((prior + rest.mean(axis=1).sum()) / degrees),
        (prior + parts.sum(axis=0)) / degrees,
    )


def weigh(
    yard: Yard,
    curves: Mapping[str, FloatArray],
    reduced: FloatArray,
    outside: Sequence[int],
    settings: ApartSettings,
) -> list[Evidence]:
    """Test every outsider as if it were a sample.

    Parameters
    ----------
    yard : Yard
        Of the trusted members.
    curves : mapping of str to ndarray, shape (r,)
        Shapes of the coatings on the model's points.
    reduced : ndarray, shape (k, r)
        All members.
    outside : sequence of int
        Those to be tested.
    settings : ApartSettings
    """
    variation = yard.variation
    white = variation.whiten(reduced[list(outside)])
    # Without the shapes fitted: what a shape explains is part of not belonging.
    clean = project_out(yard.basis, white)
    along = _along(variation, white)
    shapes = {name: variation.whiten(curve[None, :]) for name, curve in curves.items()}
    own = {name: float(np.sum(leave_out(variation, shape).z[:, 0] ** 2)) for name, shape in shapes.items()}
    return [
        _evidence(member, yard, shapes, own, (white[row], clean[row], along[row]), settings)
        for row, member in enumerate(outside)
    ]


def _evidence(
    member: int,
    yard: Yard,
    shapes: Mapping[str, FloatArray],
    own: Mapping[str, float],
    rows: tuple[FloatArray, FloatArray, float],
    settings: ApartSettings,
) -> Evidence:
    """Ask the three questions of one outsider."""
    white, clean, along = rows
    energy = clean**2 / yard.variance
    chance, shape, amount = _by_shape(yard, shapes, own, white)
    whole, part = energy_chances(yard, energy, settings)
    smallest = min(1.0, 2.0 * chance, 4.0 * whole, 4.0 * part)
    share = _share(yard, shapes[shape], clean, energy) if shape else 0.0
    return Evidence(
        member, max(smallest, TINY), shape, amount, share, float(energy.mean() / yard.whole), along
    )


def energy_chances(yard: Yard, energy: FloatArray, settings: ApartSettings) -> tuple[float, float]:
    """Chance that a member's energy is as large by chance: of the whole, and of its worst stretch.

    Parameters
    ----------
    yard : Yard
    energy : ndarray, shape (r,)
        Squared whitened residual, in units of its variance.
    settings : ApartSettings
    """
    tail = float(len(yard.variation))
    whole = float(fdtrc(energy.size / settings.dilution, tail, float(energy.mean() / yard.whole)))
    stretch = np.bincount(yard.labels, energy) / yard.number / yard.parts
    upper = np.maximum(2.0, yard.number / settings.dilution)
    return whole, float(np.min(fdtrc(upper, tail, stretch))) * yard.number.size


def _by_shape(
    yard: Yard, shapes: Mapping[str, FloatArray], own: Mapping[str, float], white: FloatArray
) -> tuple[float, str, float]:
    """Chance, name and amount of the shape that stands out most."""
    best = (1.0, "", 0.0)
    degrees = yard.prior + len(yard.variation)
    for name, shape in shapes.items():
        fit = fit_shapes(yard.basis, shape, white[None, :])
        error = np.sqrt(yard.variance * fit.covariance[0, 0] * (yard.prior + own[name]) / degrees)
        amount = float(fit.amounts[0, 0])
        chance = 2.0 * float(stdtr(float(len(yard.variation)), -abs(amount) / error)) * len(shapes)
        if chance < best[0] or not best[1]:
            best = (min(1.0, chance), name, amount)
    return best


def _share(yard: Yard, shape: FloatArray, clean: FloatArray, energy: FloatArray) -> float:
    """Share of the difference beyond noise that one shape explains."""
    free = project_out(yard.basis, shape)[0]
    part = float((clean @ free) ** 2 / max(float(free @ free), TINY)) / yard.variance
    return part / max(float(energy.sum()) - energy.size, part, TINY)


def _along(variation: Variation, white: FloatArray) -> FloatArray:
    """Chance that each outsider is only further along a direction in which the trusted differ anyway."""
    size, basis = len(variation), plain_basis(variation)
    inner = project_out(basis, variation.whitened)
    away = project_out(basis, white) - inner.mean(axis=0)
    length = np.maximum(np.linalg.norm(away, axis=1), TINY)
    lone = (inner - inner.mean(axis=0)) * np.sqrt(size / (size - 1.0))
    scores = lone @ (away / length[:, None]).T
    scale = np.sqrt((1.0 + np.sum(scores**2, axis=0)) / size)
    return np.asarray(2.0 * stdtr(float(size), -length / np.sqrt(1.0 + 1.0 / size) / scale))
