"""Bands of a spectrum: position, height and width, each with its uncertainty.

A maximum is first located on the grid, then measured by a local fit of one band on a straight line, within
a window that ends at the neighbouring valleys. The position is that of the fitted curve's maximum, the
definition that published tables of infrared bands use. The band is a pseudo-Voigt (see ``line_shape``); where
the window holds too little of the wings to tell Gaussian from Lorentzian, it is a Gaussian. The raw highest
point is never used: at a signal-to-noise ratio of 100 and a width of 20 points it scatters twenty times
more than the fit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.noise import estimate_noise
from spectra.peaks.line_shape import FOUR_LN2, band, fit_bands
from spectra.peaks.settings import PeakSettings
from spectra.units import FloatArray, IndexArray


@dataclass(frozen=True)
class Peak:
    """One measured band; errors are standard errors.

    Attributes
    ----------
    position, position_error : float, cm-1
    height, height_error : float, absorbance above the local straight line
    width, width_error : float, cm-1, full width at half height
    level : float
        Absorbance at the maximum, the local line included.
    prominence : float
        Height over the higher of the two neighbouring valleys.
    note : str
        ``""``, ``"bounded"`` (a parameter of the fit ended at its bound), or ``"parabola"`` (too few
        points for a fit: top of a parabola).
    """

    position: float
    position_error: float
    height: float
    height_error: float
    width: float
    width_error: float
    level: float
    prominence: float
    note: str = ""


def find_peaks(grid: FloatArray, absorbance: FloatArray, settings: PeakSettings) -> tuple[Peak, ...]:
    """Find and measure the bands of one spectrum.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    absorbance : ndarray, shape (n,), decadic, baseline removed
    settings : PeakSettings

    Returns
    -------
    tuple of Peak
        By rising wavenumber.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(1000.0, 1200.0, 2.0)
    >>> y = 0.3 * np.exp(-4 * np.log(2) * ((x - 1101.3) / 20) ** 2)
    >>> (peak,) = find_peaks(x, y + 1e-4 * np.random.default_rng(2).normal(size=x.size), PeakSettings())
    >>> round(peak.position, 1), round(peak.width), round(peak.height, 2)
    (1101.3, 20, 0.3)
    """
    from scipy.signal import find_peaks as find_maxima

    floor = max(
        settings.prominence * float(absorbance.max()), settings.noise_factor * estimate_noise(absorbance)
    )
    tops, about = find_maxima(absorbance, prominence=floor, width=0)
    step = float(np.median(np.diff(grid)))
    found = [
        measure_peak(
            grid,
            absorbance,
            Maximum(
                int(top),
                float(about["widths"][i]) * step,
                _between_valleys(absorbance, int(top), tops, i),
                float(about["prominences"][i]),
            ),
            settings,
        )
        for i, top in enumerate(tops)
    ]
    return tuple(peak for peak in found if grid[0] <= peak.position <= grid[-1])


def _between_valleys(y: FloatArray, top: int, tops: IndexArray, i: int) -> tuple[int, int]:
    """Return the lowest points between this maximum and its neighbours, as half-open bounds."""
    start = int(tops[i - 1]) if i else 0
    stop = int(tops[i + 1]) if i + 1 < len(tops) else y.size - 1
    left = start + int(np.argmin(y[start : top + 1]))
    right = top + int(np.argmin(y[top : stop + 1]))
    return left, right + 1


@dataclass(frozen=True)
class Maximum:
    """A maximum of a spectrum, before it is measured.

    Attributes
    ----------
    top : int
        Index of the highest point.
    width : float
        First guess of the full width at half height, cm-1.
    bounds : (int, int)
        Half-open index range the window must not leave.
    prominence : float
        Height over the higher valley; where a band has too few points to be fitted, it stands for the height.
    """

    top: int
    width: float
    bounds: tuple[int, int]
    prominence: float = 0.0


def measure_peak(grid: FloatArray, absorbance: FloatArray, maximum: Maximum, settings: PeakSettings) -> Peak:
    """Measure one band by a local fit.

    Parameters
    ----------
    grid, absorbance : ndarray, shape (n,)
    maximum : Maximum
    settings : PeakSettings
    """
    top, bounds, prominence = maximum.top, maximum.bounds, maximum.prominence
    step = float(np.median(np.diff(grid)))
    width = max(maximum.width, 2 * step)
    reach = int(np.ceil(settings.window * width / step))
    start, stop = max(bounds[0], top - reach), min(bounds[1], top + reach + 1)
    x, y = grid[start:stop], absorbance[start:stop]
    if x.size < 7:
        return _parabola(grid, absorbance, top, width, prominence)
    # The wings tell Gaussian from Lorentzian only where the window reaches one width to both sides.
    mixed = x.size >= 10 and min(grid[top] - x[0], x[-1] - grid[top]) > width
    return _fit(x, y, float(grid[top]), width, mixed, prominence) or _parabola(
        grid, absorbance, top, width, prominence
    )


def _fit(
    x: FloatArray, y: FloatArray, top: float, width: float, mixed: bool, prominence: float
) -> Peak | None:
    """Fit one band on a straight line; None where the fit does not settle or its maximum is not there."""
    size = max(float(y.max() - min(y[0], y[-1])), 1e-12)
    fit = fit_bands(x, y, np.array([[top, size, width, 0.3 if mixed else 0.0]]), mixed=mixed)
    if fit is None:
        return None
    (centre, height, found, mix), errors = fit.bands[0], fit.errors[0]
    curvature = height * ((1 - mix) * 2 * FOUR_LN2 + mix * 8) / found**2
    if not curvature > 0 or abs(fit.tilt / curvature) > 0.5 * found:
        return None
    # The line's slope moves the maximum off the band's centre.
    position = float(centre + fit.tilt / curvature)
    there = band(np.array([position]), centre, height, found, mix)[0]
    level = float(there + fit.level + fit.tilt * (position - x.mean()))
    return Peak(
        position=position,
        position_error=float(errors[0]),
        height=float(height),
        height_error=float(errors[1]),
        width=float(found),
        width_error=float(errors[2]),
        level=level,
        prominence=prominence,
        note="bounded" if fit.bounded else "",
    )


def _parabola(grid: FloatArray, y: FloatArray, top: int, width: float, prominence: float) -> Peak:
    """Measure a band of few points by the parabola through its top; the error is half a step."""
    step = float(np.median(np.diff(grid)))
    if not 0 < top < y.size - 1:
        return Peak(
            float(grid[top]), step, float(y[top]), 0.0, width, width, float(y[top]), prominence, "parabola"
        )
    left, middle, right = y[top - 1], y[top], y[top + 1]
    bend = left - 2 * middle + right
    offset = 0.5 * (left - right) / bend if bend < 0 else 0.0
    level = float(middle - 0.25 * (left - right) * offset)
    position, height = float(grid[top] + offset * step), prominence or level
    return Peak(position, step / 2, height, estimate_noise(y), width, step, level, prominence, "parabola")
