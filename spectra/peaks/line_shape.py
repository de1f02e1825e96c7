"""The shape of a band, and fits of several bands at once.

A band is a pseudo-Voigt: a Gaussian and a Lorentzian of one centre and width, mixed. The fit uses the
analytic derivatives and returns standard errors scaled by its own residual, so that a band that the shape
does not fit is not claimed to be known well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.units import FloatArray, Mask

FOUR_LN2 = 4 * np.log(2.0)


def band(x: FloatArray, centre: float, height: float, width: float, mix: float) -> FloatArray:
    """Return a pseudo-Voigt band.

    ``height * ((1 - mix) * exp(-4 ln2 u**2) + mix / (1 + 4 u**2))`` with ``u = (x - centre) / width``;
    ``width`` is the full width at half height for every mix.

    Examples
    --------
    >>> import numpy as np
    >>> band(np.array([1000.0, 1010.0]), 1000.0, 1.0, 20.0, 0.4)
    array([1. , 0.5])
    """
    u2 = ((x - centre) / width) ** 2
    return np.asarray(height * ((1 - mix) * np.exp(-FOUR_LN2 * u2) + mix / (1 + 4 * u2)))


def band_slopes(x: FloatArray, centre: float, height: float, width: float, mix: float) -> FloatArray:
    """Return the derivatives of :func:`band` after centre, height, width and mix, shape (n, 4)."""
    u = (x - centre) / width
    gauss, lorentz = np.exp(-FOUR_LN2 * u**2), 1 / (1 + 4 * u**2)
    inner = height * ((1 - mix) * gauss * 2 * FOUR_LN2 * u + mix * lorentz**2 * 8 * u) / width
    return np.column_stack([inner, (1 - mix) * gauss + mix * lorentz, inner * u, height * (lorentz - gauss)])


@dataclass(frozen=True, eq=False)
class BandFit:
    """The result of a fit.

    Attributes
    ----------
    bands, errors : ndarray, shape (b, 4)
        Centre, height, width and mix of each band, and their standard errors (0 where held).
    level, tilt : float
        Of the straight line ``level + tilt * (x - mean of x)``; 0 without a line.
    bounded : bool
        A parameter ended at its bound: its error is not to be trusted.
    """

    bands: FloatArray
    errors: FloatArray
    level: float
    tilt: float
    bounded: bool


def fit_bands(
    x: FloatArray, y: FloatArray, start: FloatArray, *, mixed: bool = True, line: bool = True
) -> BandFit | None:
    """Fit bands on a straight line by least squares.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
    start : ndarray, shape (b, 4)
        First guess of centre, height, width, mix of each band.
    mixed
        Fit the mix; otherwise it is held at its start.
    line
        Fit a straight line too; otherwise the bands stand on zero.

    Returns
    -------
    BandFit or None
        None where the fit does not settle.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(1000.0, 1100.0, 2.0)
    >>> fit = fit_bands(x, band(x, 1051.3, 0.2, 18.0, 0.3) + 0.01, np.array([[1050.0, 0.1, 15.0, 0.5]]))
    >>> fit.bands.round(3)
    array([[1.0513e+03, 2.0000e-01, 1.8000e+01, 3.0000e-01]])
    """
    from scipy.optimize import least_squares

    start = np.asarray(start, dtype=np.float64)
    count, span = start.shape[0], float(np.ptp(x))
    base = float(min(y[0], y[-1])) if line else 0.0
    every = np.concatenate([start.ravel(), [base, 0.0]])
    low, high, scale = _bounds(start, x, every)
    free = _free(count, mixed, line)
    model = _Model(x, every, free)

    def miss(p: FloatArray) -> FloatArray:
        return model.drawn(p) - y

    found = least_squares(
        miss,
        np.clip(every, low, high)[free],
        model.slopes,
        bounds=(low[free], high[free]),
        x_scale=scale[free],
        xtol=1e-12,
        ftol=1e-13,
        gtol=1e-14,
        max_nfev=200,
    )
    if not found.success:
        return None
    errors = np.zeros(every.size)
    errors[free] = _errors(np.asarray(found.jac), found.fun, scale[free])
    q = model.full(found.x)
    shape = (count, 4)
    bounded = bool(np.any(found.active_mask != 0))
    return BandFit(
        q[:-2].reshape(shape), errors[:-2].reshape(shape), float(q[-2]), float(q[-1] / span), bounded
    )


@dataclass(frozen=True, eq=False)
class _Model:
    """Bands on a line with some of their parameters free, the others held at their start."""

    x: FloatArray
    every: FloatArray
    free: Mask

    @property
    def line(self) -> FloatArray:
        """Columns of level and tilt, shape (n, 2)."""
        return np.column_stack([np.ones(self.x.size), (self.x - self.x.mean()) / np.ptp(self.x)])

    def full(self, p: FloatArray) -> FloatArray:
        """Put the free parameters among those that are held."""
        whole = self.every.copy()
        whole[self.free] = p
        return whole

    def drawn(self, p: FloatArray) -> FloatArray:
        """Return the curve of the free parameters, shape (n,)."""
        q = self.full(p)
        return np.asarray(sum((band(self.x, *four) for four in q[:-2].reshape(-1, 4)), self.line @ q[-2:]))

    def slopes(self, p: FloatArray) -> FloatArray:
        """Return its derivatives after them, shape (n, free)."""
        bands = self.full(p)[:-2].reshape(-1, 4)
        return np.hstack([*(band_slopes(self.x, *four) for four in bands), self.line])[:, self.free]


def _free(count: int, mixed: bool, line: bool) -> Mask:
    """Mark the parameters that are fitted."""
    return np.array([True, True, True, mixed] * count + [line, line])


def _bounds(start: FloatArray, x: FloatArray, every: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return lower and upper bounds and typical sizes of all parameters."""
    low, high, scale = np.full(every.size, -np.inf), np.full(every.size, np.inf), np.ones(every.size)
    size = float(np.abs(start[:, 1]).max())
    for i, (_, _, width, _) in enumerate(start):
        at = 4 * i
        low[at : at + 4] = x[0], 0.0, 0.2 * width, 0.0
        high[at : at + 4] = x[-1], 20 * size, 5 * width, 1.0
        scale[at : at + 4] = width, size, width, 1.0
    scale[-2:] = size
    return low, high, scale


def _errors(jacobian: FloatArray, residual: FloatArray, scale: FloatArray) -> FloatArray:
    """Return standard errors, scaled by the residual."""
    scaled = jacobian * scale
    freedom = max(residual.size - scaled.shape[1], 1)
    covariance = np.linalg.pinv(scaled.T @ scaled) * float(residual @ residual) / freedom
    return np.asarray(np.sqrt(np.maximum(np.diag(covariance), 0.0)) * scale)
