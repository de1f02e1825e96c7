"""Models that follow from a learned one: on another crystal, and on coarser points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.linalg import cholesky

from spectra.units import FloatArray
from spectra.variation.binning import Reduction
from spectra.variation.covariance import describe_substrate
from spectra.variation.model import Variation, factor_of, whitened


def rescale(variation: Variation, ratio: FloatArray) -> Variation:
    """Predict the model for another crystal, which weakens the substrate's spectrum by ``ratio``.

    The relative scatter of the substrate is kept; the detector's noise stays as it is.

    Parameters
    ----------
    variation : Variation
    ratio : ndarray, shape (r,)
        Substrate's absorbance on the other crystal over that on the present one.

    Returns
    -------
    Variation
    """
    spots = variation.spots * ratio
    substrate = describe_substrate(variation.reduction.points, spots.mean(axis=0), variation.noise)
    factor = factor_of(substrate, variation.sizes, variation.settings)
    white, fixed, contacts = whitened(factor, spots, variation.fixed @ variation.factor.T)
    return replace(variation, spots=spots, factor=factor, whitened=white, fixed=fixed, contacts=contacts)


def coarsen(variation: Variation, step: float) -> Variation:
    """Return the same model on blocks of neighbouring points, about ``step`` cm-1 wide.

    Parameters
    ----------
    variation : Variation
    step : float, cm-1
        Where the points lie as far apart already, the model itself is returned.
    """
    points = variation.reduction.points
    block = int(step / float(np.median(np.diff(points))) + 0.05)
    if block < 2:
        return variation
    runs, rows, first = [], [], 0
    for start, stop, size in variation.reduction.runs:
        count = (stop - start) // size
        whole = count // block
        if whole:
            runs.append((start, start + whole * block * size, block * size))
        rows += [range(first + i * block, first + (i + 1) * block) for i in range(whole)]
        first += count
    average = np.zeros((len(rows), points.size))
    for i, row in enumerate(rows):
        average[i, list(row)] = 1.0 / block
    coarse = average @ variation.factor
    factor = cholesky(coarse @ coarse.T, lower=True)
    spots = variation.spots @ average.T
    white, fixed, contacts = whitened(factor, spots, variation.fixed @ variation.factor.T @ average.T)
    return replace(
        variation,
        reduction=Reduction(average @ points, tuple(runs)),
        spots=spots,
        noise=np.sqrt((variation.noise**2) @ (average.T) / block),
        factor=factor,
        whitened=white,
        fixed=fixed,
        contacts=contacts,
    )
