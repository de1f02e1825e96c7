"""Baselines: one rule for every spectrum of the study, fixed before the data are judged.

The smoothness is set as a period in cm-1, not as the penalty weight of the method: the weight that
belongs to a period grows with the fourth power of the number of points,
``weight = (period / (2 pi step))**4``, so the same period means the same baseline on any grid
(half-amplitude period of the Whittaker smoother with second differences; Eilers, Anal. Chem. 75, 3631,
2003, doi:10.1021/ac034173t).
"""

from __future__ import annotations

import warnings

import numpy as np

from spectra.errors import SpectraError
from spectra.preprocessing.settings import BaselineSettings
from spectra.spectrum import Stack
from spectra.units import FloatArray


def penalty_weight(period: float, step: float) -> float:
    """Return the smoothness penalty whose half-amplitude period is ``period`` on a grid of ``step``.

    Parameters
    ----------
    period, step
        Both in cm-1.

    Examples
    --------
    >>> round(penalty_weight(112.0, 1.0), -3)
    101000.0
    """
    return (period / (2 * np.pi * step)) ** 4


def fit_baselines(stack: Stack, settings: BaselineSettings) -> FloatArray:
    """Fit the baseline of every spot.

    Points that are not usable are bridged by a straight line before fitting.

    Returns
    -------
    ndarray, shape (m, n), decadic absorbance
        Zero for the method ``"none"``.

    Raises
    ------
    SpectraError
        If the fit of a spot does not settle.
    """
    if settings.method == "none":
        return np.zeros_like(stack.absorbance)
    from pybaselines import Baseline
    from pybaselines.utils import ParameterWarning

    fitter = Baseline(stack.grid, check_finite=False)
    weight = penalty_weight(settings.period, stack.step)
    bridged = bridge(stack)
    found = np.empty_like(stack.absorbance)
    for i, row in enumerate(bridged):
        with warnings.catch_warnings():
            # Said of noise-free spectra, whose baseline ends as their lower envelope: what is wanted.
            warnings.filterwarnings("ignore", "almost all baseline points", category=ParameterWarning)
            # A cold start from weights of one: a warm start moves the result by up to 0.04 absorbance.
            found[i], _ = fitter.arpls(row, lam=weight, max_iter=100, tol=1e-3)
        if not np.isfinite(found[i]).all():
            raise SpectraError(f"{stack.names[i]}: no baseline found; try another [settings.baseline] period")
    return found


def bridge(stack: Stack) -> FloatArray:
    """Return the ordinates with unusable points replaced by straight lines, shape (m, n)."""
    usable = stack.usable
    if usable.all():
        return stack.absorbance
    return np.array([np.interp(stack.grid, stack.grid[usable], row[usable]) for row in stack.absorbance])


def subtract_baselines(stack: Stack, settings: BaselineSettings) -> Stack:
    """Return the stack without its baselines.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(900.0, 1900.0, 2.0)
    >>> band = np.exp(-(((x - 1730) / 9) ** 2))
    >>> drifting = Stack(x, [band + 1e-4 * (x - 900)], ("a",), ("a.csv",))
    >>> flat = subtract_baselines(drifting, BaselineSettings())
    >>> bool(abs(flat.absorbance[0] - band).max() < 0.01)
    True
    """
    return stack.with_absorbance(stack.absorbance - fit_baselines(stack, settings))
