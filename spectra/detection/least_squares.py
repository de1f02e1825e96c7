"""Amounts of several shapes at once, and what left-out bare spots say about their errors.

Everything is in whitened coordinates (:mod:`spectra.variation.model`), where generalised least squares is
plain least squares after the nuisances are projected out. The weights do not depend on the sample, so any
number of spots costs one matrix product.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.replicates import group_rows
from spectra.spectrum import Frozen
from spectra.statistics import critical_factor
from spectra.units import FloatArray
from spectra.variation.model import Variation, nuisance_basis
from spectra.variation.subspace import project_out


@dataclass(frozen=True, eq=False)
class JointFit(Frozen):
    """Fit of shapes to whitened spectra.

    Attributes
    ----------
    amounts : ndarray, shape (m, j)
        Of each shape in each spectrum.
    covariance : ndarray, shape (j, j)
        Of the amounts in one spot, without the error of the bare mean.
    residuals : ndarray, shape (m, r)
        Whitened.
    """

    amounts: FloatArray
    covariance: FloatArray
    residuals: FloatArray


@dataclass(frozen=True, eq=False)
class LeftOut(Frozen):
    """Every bare specimen in turn as if it were a sample.

    Attributes
    ----------
    z : ndarray, shape (u, j)
        Amounts found in the left-out specimen in units of their modelled error; should be about one.
    squares : ndarray, shape (u, r)
        Squared whitened residual in units of its modelled variance.
    """

    z: FloatArray
    squares: FloatArray


@dataclass(frozen=True)
class Widening:
    """How far the model's error is to be trusted: a factor and the degrees of freedom behind it."""

    factor: float
    degrees: float

    def critical(self, alpha: float) -> float:
        """One-sided critical value in units of the modelled error."""
        return self.factor * critical_factor(alpha, self.degrees)


def fit_shapes(basis: FloatArray, shapes: FloatArray, spectra: FloatArray) -> JointFit:
    """Fit shapes (j, r) to spectra (m, r), both whitened, with the basis (p, r) projected out.

    A shape that the nuisances explain wholly gets an infinite variance and no amount.
    """
    free = project_out(basis, shapes)
    size = np.sqrt(np.maximum((free**2).sum(axis=1), 1e-300))
    unit = free / size[:, None]
    values, vectors = np.linalg.eigh(unit @ unit.T)
    inverse = (vectors / np.maximum(values, 1e-10)) @ vectors.T
    clean = project_out(basis, spectra)
    scaled = clean @ unit.T @ inverse
    return JointFit(scaled / size, inverse / np.outer(size, size), clean - scaled @ unit)


def specimen_means(rows: FloatArray, specimens: Sequence[str]) -> FloatArray:
    """Mean row of each specimen, in order of first appearance."""
    return np.array([rows[list(group)].mean(axis=0) for group in group_rows(specimens)])


def specimen_variance(spots: int, variation: Variation) -> float:
    """Variance of the mean of spots on one coated specimen, in units of a bare unit's.

    More spots than the bare specimens had do not count as less: how much the specimen itself varies is
    seldom known well enough.
    """
    if variation.one_specimen:
        return 1.0 / spots
    if variation.share is None:
        return 1.0
    mean_of = [variation.share + (1.0 - variation.share) / count for count in (spots, variation.per_unit)]
    return max(1.0, mean_of[0] / mean_of[1])


def bare_variance(variation: Variation, left_out: Sequence[int] = ()) -> float:
    """Variance of the mean of the bare units, without those left out, in units of one."""
    return 1.0 / (len(variation) - len(left_out))


def leave_out(variation: Variation, shapes: FloatArray) -> LeftOut:
    """Try the model on every bare specimen, learned from the others.

    Parameters
    ----------
    variation : Variation
    shapes : ndarray, shape (j, r)
        Whitened.

    Returns
    -------
    LeftOut
    """
    z, squares = [], []
    for unit in variation.units:
        others = [i for i in range(len(variation)) if i not in unit]
        basis = nuisance_basis(variation, others)
        fit = fit_shapes(basis, shapes, variation.whitened[list(unit)])
        variance = 1.0 + bare_variance(variation, unit)
        z.append(fit.amounts[0] / np.sqrt(variance * np.diag(fit.covariance)))
        squares.append(fit.residuals[0] ** 2 / variance)
    return LeftOut(np.array(z), np.array(squares))


def widen(z: FloatArray, prior_degrees: float) -> Widening:
    """Combine the model's own error with the scatter of left-out specimens.

    The model's error, which rests on every point of the spectra, counts as a prior of ``prior_degrees``
    about one; every left-out specimen adds one degree of freedom (a scaled inverse chi-square update). A
    few specimens can thus neither narrow the error much nor leave it far too small.

    Examples
    --------
    >>> widen(np.array([2.0, -2.0, 2.0, -2.0]), 4.0)
    Widening(factor=1.5811388300841898, degrees=8.0)
    """
    degrees = prior_degrees + z.size
    return Widening(float(np.sqrt((prior_degrees + np.sum(z**2)) / degrees)), degrees)
