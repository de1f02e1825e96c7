"""Bumps: the bands that are looked for where none is expected, and the pursuit that looks for them.

A bank of bumps of several widths is laid along the usable points once a study, and every left-out bare
specimen is asked for them, which tells how far each bump's error must be widened and how high a threshold
must be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.detection.least_squares import bare_variance
from spectra.peaks.line_shape import FOUR_LN2
from spectra.residues.settings import ResidueSettings
from spectra.spectrum import Frozen
from spectra.statistics import critical_factor
from spectra.units import FloatArray, IndexArray
from spectra.variation.model import Variation, nuisance_basis, orthonormal

# Bumps lie a third of their width apart: between two of them at most 5 % of a height is lost.
PLACES_A_WIDTH = 3


@dataclass(frozen=True, eq=False)
class BumpBank(Frozen):
    """The bumps that are looked for: made once a study.

    Attributes
    ----------
    positions, widths : ndarray, shape (b,), cm-1
    whitened : ndarray, shape (b, r)
        Bumps of height one, in the metric of the bare spots.
    scatter : ndarray, shape (b,)
        Factor by which left-out bare specimens widen the error of each bump.
    degrees : float
        Degrees of freedom of the errors.
    threshold : float
        In standard errors, for a finding anywhere in the spectrum.
    """

    positions: FloatArray
    widths: FloatArray
    whitened: FloatArray
    scatter: FloatArray
    degrees: float
    threshold: float


def make_bumps(variation: Variation, coatings: Sequence[FloatArray], settings: ResidueSettings) -> BumpBank:
    """Lay bumps of all widths along the usable points, and ask left-out bare specimens for them.

    Parameters
    ----------
    variation : Variation
    coatings : sequence of ndarray, shape (r,)
        Expected spectra of all coatings of the study, on the model's points.
    settings : ResidueSettings
    """
    points = variation.reduction.points
    positions, widths, shapes = [], [], []
    for width in settings.widths:
        for centre in np.arange(points[0] + width / 2, points[-1] - width / 2, width / PLACES_A_WIDTH):
            shape = np.exp(-FOUR_LN2 * ((points - centre) / width) ** 2)
            if _covered(points, shape, width):
                positions.append(centre)
                widths.append(width)
                shapes.append(shape)
    places, whitened = np.array(widths), variation.whiten(np.array(shapes))
    scatter, degrees, highest = _bare_scatter(variation, whitened, places, coatings, settings)
    tail = settings.alpha / (2 * _places(variation, settings))
    threshold = max(critical_factor(tail, degrees), highest)
    return BumpBank(np.array(positions), places, whitened, scatter, degrees, threshold)


def _covered(points: FloatArray, shape: FloatArray, width: float) -> bool:
    """Tell whether nearly all of a bump falls on points that are used."""
    step = float(np.median(np.diff(points)))
    whole = width / step * np.sqrt(np.pi / FOUR_LN2)
    return bool(shape.sum() > 0.9 * whole)


@dataclass(eq=False)
class Pursuit:
    """Heights of all bumps beside a growing set that is taken out (orthogonal matching pursuit).

    Pati, Rezaiifar & Krishnaprasad, Asilomar Conf. 1993, doi:10.1109/ACSSC.1993.342465. Taking out one more
    direction costs one product with the bank.
    """

    bumps: FloatArray
    basis: FloatArray
    rest: FloatArray
    products: FloatArray
    squares: FloatArray
    free: FloatArray

    def ask(self) -> tuple[FloatArray, FloatArray]:
        """Return the height of every bump and the length of its part that is still free."""
        # A bump of which all but a hundredth is explained says nothing by itself: no height, no limit.
        free = np.where(self.free > 1e-2 * self.squares, self.free, 0.0)
        heights = np.divide(self.products, free, out=np.zeros_like(free), where=free > 0)
        return heights, np.sqrt(np.maximum(free, 1e-300))

    def take_out(self, chosen: IndexArray) -> None:
        """Explain the chosen bumps by themselves."""
        for row in self.bumps[chosen]:
            direction = row - (row @ self.basis.T) @ self.basis
            length = float(np.linalg.norm(direction))
            if length**2 < 1e-6 * float(row @ row):
                continue
            direction /= length
            along = self.bumps @ direction
            share = float(self.rest @ direction)
            self.rest = self.rest - share * direction
            self.products = self.products - share * along
            self.free = self.free - along**2
            self.basis = np.vstack([self.basis, direction])


def start(bumps: FloatArray, basis: FloatArray, spectrum: FloatArray) -> Pursuit:
    """Begin with nothing taken out but the basis."""
    inside = bumps @ basis.T
    squares = np.einsum("br,br->b", bumps, bumps)
    rest = spectrum - (spectrum @ basis.T) @ basis
    return Pursuit(bumps, basis, rest, bumps @ rest, squares, squares - np.einsum("bp,bp->b", inside, inside))


def _bare_scatter(
    variation: Variation,
    bumps: FloatArray,
    widths: FloatArray,
    coatings: Sequence[FloatArray],
    settings: ResidueSettings,
) -> tuple[FloatArray, float, float]:
    """Return how left-out bare specimens widen each bump's error, its degrees, and their highest evidence."""
    curves = np.reshape(coatings, (len(coatings), variation.reduction.points.size))
    expected, z = variation.whiten(curves), []
    for unit in variation.units:
        others = [i for i in range(len(variation)) if i not in unit]
        basis = joined(nuisance_basis(variation, others), expected)
        heights, norms = start(bumps, basis, variation.whitened[list(unit)].mean(axis=0)).ask()
        spread = 1.0 + bare_variance(variation, unit)
        z.append(heights * norms / np.sqrt(spread))
    prior = settings.trust * (len(z) - 1)
    pooled = _pooled(np.array(z) ** 2, widths)
    scatter = np.sqrt(np.maximum((prior + len(z) * pooled) / (prior + len(z)), 1.0))
    return scatter, prior + len(z), float(np.max(np.abs(z) / scatter))


def _pooled(squares: FloatArray, widths: FloatArray) -> FloatArray:
    """Average squares over units and over the neighbouring bumps of the same width, shape (b,)."""
    mean = squares.mean(axis=0)
    pooled = np.empty_like(mean)
    for width in np.unique(widths):
        same = widths == width
        pooled[same] = np.convolve(np.pad(mean[same], 3, mode="edge"), np.ones(7) / 7, mode="valid")
    return np.asarray(np.maximum(pooled, mean))


def joined(basis: FloatArray, expected: FloatArray) -> FloatArray:
    """Return an orthonormal basis of nuisances and expected spectra."""
    return orthonormal(np.vstack([basis, expected])) if len(expected) else basis


def _places(variation: Variation, settings: ResidueSettings) -> float:
    """Return how many independent places are looked at."""
    points = variation.reduction.points
    span = points.size * float(np.median(np.diff(points)))
    return max(sum(span / width for width in settings.widths), 1.0)
