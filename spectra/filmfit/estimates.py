"""One band's place, height and width with its own prior removed, and how far its error must be widened."""

from __future__ import annotations

import numpy as np

from spectra.filmfit.posterior import FREE_PLACE, FREE_STRENGTH, Fit, linearise
from spectra.filmfit.state import unchanged
from spectra.optics.material import BoolArray
from spectra.units import FloatArray

WIDEST_MISFIT = 1e4  # chi-square up to which what is left over widens errors


def free_band(fit: Fit, band: int, misfit: float | None = None) -> tuple[FloatArray, FloatArray]:
    """Estimate and covariance of one band's shift, height and width with its own spike removed.

    Widened by how the same weights scatter over left-out bare units, and by what the fit leaves over.

    Parameters
    ----------
    fit : Fit
    band : int
    misfit : float, optional
        Chi-square a degree that counts as noise; the fit's own where the band stands if not given.

    Returns
    -------
    ndarray, shape (3,)
        cm-1, relative height, logarithm of the relative width.
    ndarray, shape (3, 3)
    """
    centre, sd = fit.prior
    rows = fit.row_of(band)
    free = sd.copy()
    free[rows] = FREE_PLACE, FREE_STRENGTH, fit.target.model.settings.loose_width
    # Three priors change: the inverse is brought up to date (Woodbury) instead of formed anew.
    change = np.diag(free[rows] ** -2.0 - sd[rows] ** -2.0)
    inner = fit.covariance[np.ix_(rows, rows)]
    weights: FloatArray = np.asarray(np.linalg.solve(np.eye(3) + inner @ change, fit.covariance[rows]))
    found = fit.values[rows] + weights @ (fit.products - (fit.values - centre) / free**2)
    left_over = fit.misfit_at(band) if misfit is None else misfit
    wide = widening(fit, weights) * np.sqrt(min(left_over, WIDEST_MISFIT))
    return np.asarray(found), weights[:, rows] * np.outer(wide, wide)


def widening(fit: Fit, weights: FloatArray) -> FloatArray:
    """How much wider than modelled estimates scatter over left-out bare units, at least one.

    The ratio of real to modelled variance is shrunk towards one with as many degrees of freedom as there are
    bare units beyond one.

    Parameters
    ----------
    fit : Fit
    weights : ndarray, shape (m, q)
        Weights of the estimates on the fit's rows.
    """
    ground = fit.target.model.ground
    on_points = weights @ fit.rows
    along = on_points - (on_points @ ground.mean_direction.T) @ ground.mean_direction
    squares = (along @ ground.left_out.T) ** 2 / np.maximum((along**2).sum(axis=1, keepdims=True), 1e-300)
    count = len(ground.left_out)
    ratio = (count - 1 + squares.sum(axis=1)) / (2 * count - 1)
    return np.asarray(np.sqrt(np.maximum(np.maximum(1.0, ratio) / ground.inflation, 1.0)))


def visible(fit: Fit) -> BoolArray:
    """Bands whose loss would show, were nothing changed: known before what became of them is looked at."""
    plain = linearise(fit.target, unchanged(fit.state))
    seen = fit.target.model.settings.seen
    errors = [free_band(plain, b, 1.0)[1][1, 1] ** 0.5 for b in range(fit.state.shift.size)]
    return np.array([error < seen for error in errors])
