"""Shapes whose height says nothing about a coating, known without looking at the spots."""

from __future__ import annotations

import numpy as np
from numpy.polynomial import legendre

from spectra.preprocessing.atmosphere import carbon_dioxide, liquid_water, water_vapour
from spectra.units import FloatArray
from spectra.variation.binning import Reduction

# A drifting source or a wet purge bends the baseline over the whole range; one bend in so many cm-1 says
# nothing of a coating. Found by trial: fewer let a bad day pass for a thin film, more cost thin films.
BEND, MOST_BENDS = 600.0, 5


def known_shapes(grid: FloatArray, reduction: Reduction, resolution: float) -> FloatArray:
    """Return baseline, gases and moisture on the model's points, shape (p, r).

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1
    reduction : Reduction
    resolution : float
        Of the instrument, cm-1; 0 for twice the data interval.
    """
    points = reduction.points
    degree = int(np.clip(round(float(points[-1] - points[0]) / BEND), 1, MOST_BENDS))
    shapes = list(legendre.legvander(np.interp(points, points[[0, -1]], [-1.0, 1.0]), degree).T)
    width = resolution or 2.0 * float(np.median(np.diff(grid)))
    # Two widths: an apodised line is wider than the nominal resolution by a factor that is not known.
    gases = (water_vapour(grid, width), water_vapour(grid, 1.6 * width), carbon_dioxide(grid, width))
    for curve in (*gases, liquid_water(grid)):
        reduced = reduction.apply(curve)
        if reduced.max() > 0.01:
            shapes.append(reduced)
    return np.array(shapes)


def contact_response(mean: FloatArray) -> FloatArray:
    """Return how ATR absorbance changes with the share of the crystal that is touched.

    A = -log10(1 - p (1 - R)), hence dA/dp is proportional to 10^A - 1.
    """
    return np.asarray(10.0**mean - 1.0)
