"""How well each coating can be seen on this substrate: all that is known before a sample is looked at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular

from spectra.detection.bands import BandModel, model_bands
from spectra.detection.least_squares import (
    LeftOut,
    Widening,
    bare_variance,
    fit_shapes,
    leave_out,
    specimen_means,
    specimen_variance,
    widen,
)
from spectra.detection.settings import PresenceSettings
from spectra.replicates import group_rows
from spectra.spectrum import Frozen, Stack
from spectra.units import FloatArray
from spectra.variation.model import Variation, nuisance_basis
from spectra.variation.subspace import orthonormal, project_out


@dataclass(frozen=True, eq=False)
class Yardstick(Frozen):
    """What can be said before a sample is looked at: shapes, errors and bands on this substrate.

    Attributes
    ----------
    names : tuple of str, length j
    basis : ndarray, shape (p, r)
        Nuisances, whitened.
    shapes : ndarray, shape (j, r)
        Whitened.
    errors : ndarray, shape (j,)
        Modelled standard error of each amount in one spot, the other coatings fitted along.
    correlation : ndarray, shape (j, j)
        Between the amounts' shapes: one, in size, if they cannot be told apart.
    left_out : LeftOut
    widenings : tuple of Widening, length j
    bands : tuple of BandModel, length j
    prior_degrees : float
    contact_scatter : float
        Relative scatter of contact between bare spots.
    """

    names: tuple[str, ...]
    basis: FloatArray
    shapes: FloatArray
    errors: FloatArray
    correlation: FloatArray
    left_out: LeftOut
    widenings: tuple[Widening, ...]
    bands: tuple[BandModel, ...]
    prior_degrees: float
    contact_scatter: float


def set_yardstick(
    variation: Variation, curves: Mapping[str, FloatArray], settings: PresenceSettings
) -> Yardstick:
    """Find how well each coating can be seen on this substrate, from bare spots and shapes alone.

    Parameters
    ----------
    variation : Variation
    curves : mapping of str to ndarray, shape (r,)
        Expected shapes on the model's points, absorbance per unit amount.
    settings : PresenceSettings

    Returns
    -------
    Yardstick
    """
    reduced = np.array(list(curves.values()))
    basis = nuisance_basis(variation)
    shapes = variation.whiten(reduced)
    covariance = fit_shapes(basis, shapes, shapes[:1]).covariance
    errors = np.sqrt(np.diag(covariance))
    free = project_out(basis, shapes)
    length = np.maximum(np.linalg.norm(free, axis=1), 1e-300)
    prior = settings.trust * (len(variation.units) - 1)
    left_out = leave_out(variation, shapes)
    widenings = tuple(widen(left_out.z[:, i], prior) for i in range(len(reduced)))
    bands = tuple(
        model_bands(
            variation, basis, curve, np.delete(shapes, i, axis=0),
            errors[i] * widenings[i].factor, prior, settings.bands,
        )
        for i, curve in enumerate(reduced)
    )  # fmt: skip
    correlation = (free @ free.T) / np.outer(length, length)
    return Yardstick(
        tuple(curves),
        basis,
        shapes,
        errors,
        correlation,
        left_out,
        widenings,
        bands,
        prior,
        _contact_scatter(variation),
    )


def spot_amounts(coated: Stack, variation: Variation, yardstick: Yardstick) -> FloatArray:
    """Return the amount of every coating in every spot, shape (m, j): one matrix product for any number."""
    return np.asarray(variation.reduction.apply(coated.absorbance) @ amount_weights(variation, yardstick).T)


def amount_weights(variation: Variation, yardstick: Yardstick) -> FloatArray:
    """Return weight vectors on raw absorbance, shape (j, r): amount = weights @ spectrum."""
    free = project_out(yardstick.basis, yardstick.shapes)
    inner = np.linalg.pinv(free @ free.T, rcond=1e-10, hermitian=True) @ free
    return np.asarray(solve_triangular(variation.factor, inner.T, lower=True, trans="T").T)


def _contact_scatter(variation: Variation) -> float:
    """Relative scatter of the bare spots' heights, which is their contact's above all."""
    mean = variation.whitened.mean(axis=0, keepdims=True)
    heights = fit_shapes(orthonormal(variation.fixed), mean, variation.whitened).amounts[:, 0]
    return float(np.std(heights, ddof=1))


@dataclass(frozen=True, eq=False)
class Sample(Frozen):
    """Spots of one sample, averaged on their specimens.

    Attributes
    ----------
    reduced : ndarray, shape (s, r), absorbance
        Mean of each specimen on the model's points.
    mean : ndarray, shape (1, r)
        Mean of the specimens, whitened.
    spots : int
    own, bare : float
        Variance of the sample's mean and of the bare mean, in units of one spot's.
    """

    reduced: FloatArray
    mean: FloatArray
    spots: int
    own: float
    bare: float

    @property
    def variance(self) -> float:
        """Variance of the difference of the two means, in units of one spot's."""
        return self.own + self.bare


def average_sample(coated: Stack, variation: Variation) -> Sample:
    """Average spots on specimens and specimens in the sample."""
    reduced = variation.reduction.apply(coated.absorbance)
    groups = group_rows(coated.specimens)
    means = specimen_means(reduced, coated.specimens)
    own = sum(specimen_variance(len(group), variation) for group in groups) / len(groups) ** 2
    mean = variation.whiten(means.mean(axis=0, keepdims=True))
    return Sample(means, mean, len(coated), own, bare_variance(variation))
