"""Directions in which spots differ: contrasts, projections, and fitting the scatter beside them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from spectra.units import FloatArray
from spectra.variation.covariance import fit_sizes, total

ROUNDS = 3  # of setting directions apart and fitting again

STANDS_OUT = 1.5  # squared length of a direction, over the mean of the smaller ones


def contrasts_of(spots: FloatArray) -> FloatArray:
    """Orthonormal contrasts of k spots about their mean (Helmert), shape (k - 1, r).

    Examples
    --------
    >>> contrasts_of(np.array([[1.0], [3.0]])).round(3)
    array([[-1.414]])
    """
    count = len(spots)
    helmert = np.zeros((count - 1, count))
    for i in range(1, count):
        helmert[i - 1, :i] = 1.0
        helmert[i - 1, i] = -i
        helmert[i - 1] /= np.sqrt(i * (i + 1.0))
    return np.asarray(helmert @ spots)


def orthonormal(rows: FloatArray) -> FloatArray:
    """Orthonormal basis of the row space, leaving out what adds less than a part in a million."""
    scaled = rows / np.maximum(np.linalg.norm(rows, axis=1, keepdims=True), 1e-300)
    _, sizes, basis = np.linalg.svd(scaled, full_matrices=False)
    return np.asarray(basis[sizes > 1e-6 * sizes[0]])


def project_out(basis: FloatArray, rows: FloatArray) -> FloatArray:
    """Part of each row that is orthogonal to the basis."""
    return np.asarray(rows - (rows @ basis.T) @ basis)


def fit_in_steps(
    contrasts: FloatArray, nuisances: FloatArray, terms: Mapping[str, FloatArray]
) -> dict[str, float]:
    """Fit the sizes, set apart the directions that stand out, and fit again without them.

    A substrate of two components differs from spot to spot in one direction above all. It is projected out
    of every test; left in here, it would pass for independent scatter of every band and hide coatings.
    """
    sizes = fit_sizes(contrasts, nuisances, terms)
    for _ in range(ROUNDS):
        rest = _without_directions(contrasts, nuisances, total(terms, sizes))
        if len(rest) == len(contrasts):
            break
        sizes = fit_sizes(rest, nuisances, terms, sizes)
    return sizes


def _without_directions(contrasts: FloatArray, nuisances: FloatArray, covariance: FloatArray) -> FloatArray:
    """Rotate the contrasts so that directions that stand out come first, and leave those out.

    Two directions fewer than contrasts at most: leaving a spot out must still find them all.
    """
    factor = cholesky(covariance, lower=True)
    white = solve_triangular(factor, np.vstack([contrasts, nuisances]).T, lower=True).T
    count = len(contrasts)
    free = project_out(orthonormal(white[count:]), white[:count])
    rotation, sizes, _ = np.linalg.svd(free, full_matrices=False)
    squares, out = sizes**2, 0
    while out < count - 2 and squares[out] > STANDS_OUT * squares[out + 1 :].mean():
        out += 1
    return np.asarray((rotation.T @ contrasts)[out:])
