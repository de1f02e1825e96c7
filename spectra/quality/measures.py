"""How good one spectrum is: noise by region, resolution, gases, fringes.

Measures only; ``checks`` decides which of them are faults. All work on the spectrum as it was read, on an
even grid (an uneven one is interpolated linearly first), and ignore points without absorbance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from spectra.noise import estimate_noise, fine_structure
from spectra.preprocessing.atmosphere import carbon_dioxide, water_vapour
from spectra.spectrum import Spectrum
from spectra.units import FloatArray

# Where noise is looked at, cm-1. The regions cover the mid infrared apart from carbon dioxide.
NOISE_REGIONS = (
    (400.0, 700.0),
    (700.0, 1300.0),
    (1300.0, 1900.0),
    (1900.0, 2250.0),
    (2450.0, 2750.0),
    (2750.0, 3600.0),
    (3600.0, 4000.0),
)

# Sharp lines of water vapour stand in these ranges, the bands of carbon dioxide in that one, cm-1.
VAPOUR_RANGES = ((1400.0, 1900.0), (3550.0, 3900.0))

CARBON_DIOXIDE_RANGE = (2270.0, 2400.0)

# Transparent for most materials; fringes are looked for here, carbon dioxide left out.
QUIET_RANGES = ((1850.0, 2270.0), (2400.0, 2750.0))

_FEWEST = 24


@dataclass(frozen=True)
class Gas:
    """How strongly a gas shows.

    Attributes
    ----------
    strength
        Absorbance of its strongest line at the resolution of the spectrum; negative if the background
        held more of it than the sample.
    certainty
        The strength over its standard error.
    share
        Part of the fine structure of its range that the gas explains, 0 to 1.
    """

    strength: float
    certainty: float
    share: float


@dataclass(frozen=True)
class Fringes:
    """Interference of a plane film.

    Attributes
    ----------
    period
        Distance of two maxima, cm-1.
    amplitude
        Half the distance from crest to trough, absorbance.
    share
        Part of the variance of the quiet ranges that they explain, 0 to 1.
    """

    period: float
    amplitude: float
    share: float

    @property
    def optical_thickness_um(self) -> float:
        """Thickness times refractive index for light falling in at a right angle, um: 1 / (2 period)."""
        return 5000.0 / self.period


@dataclass(frozen=True)
class Quality:
    """Measures of one spectrum; None where its range does not allow the measure.

    Attributes
    ----------
    noise : tuple of (low, high, level)
        Standard deviation of the noise in absorbance, by region.
    zero_filling
        How many times more points there are than independent values: 1, 2, 4 or 8.
    resolution
        Estimate, cm-1: twice the distance of independent values.
    vapour, carbon_dioxide : Gas
    fringes : Fringes
        The strongest periodic pattern of the quiet ranges, whether it matters or not.
    """

    noise: tuple[tuple[float, float, float], ...]
    zero_filling: int
    resolution: float
    vapour: Gas | None
    carbon_dioxide: Gas | None
    fringes: Fringes | None

    @property
    def typical_noise(self) -> float:
        """Lower quartile over the regions, so that those with bands do not count; NaN if there is none."""
        return float(np.percentile([level for _, _, level in self.noise], 25)) if self.noise else float("nan")


def measure_quality(spectrum: Spectrum) -> Quality:
    """Measure noise, resolution, gases and fringes of one spectrum.

    Parameters
    ----------
    spectrum : Spectrum

    Returns
    -------
    Quality

    Examples
    --------
    >>> from spectra.spectrum import Origin
    >>> x = np.arange(400.0, 4000.0, 2.0)
    >>> noise = np.random.default_rng(1).normal(0.0, 1e-3, x.size)
    >>> quality = measure_quality(Spectrum(x, 0.1 + noise, Origin("film.csv")))
    >>> quality.zero_filling, quality.resolution, round(quality.typical_noise, 3)
    (1, 4.0, 0.001)
    """
    grid, values = even_points(spectrum)
    filling = _zero_filling(values)
    resolution = 2.0 * spectrum.step * filling
    return Quality(
        noise_levels(grid, values, filling),
        filling,
        resolution,
        _gas(grid, values, VAPOUR_RANGES, resolution, water_vapour),
        _gas(grid, values, (CARBON_DIOXIDE_RANGE,), resolution, carbon_dioxide),
        _fringes(grid, values),
    )


def even_points(spectrum: Spectrum) -> tuple[FloatArray, FloatArray]:
    """Return the spectrum on an even grid with as many points; gaps are NaN."""
    grid = np.linspace(spectrum.wavenumbers[0], spectrum.wavenumbers[-1], len(spectrum))
    if np.allclose(grid, spectrum.wavenumbers, rtol=0, atol=0.1 * spectrum.step):
        return grid, spectrum.absorbance
    return grid, np.interp(grid, spectrum.wavenumbers, spectrum.absorbance)


def noise_levels(
    grid: FloatArray, values: FloatArray, filling: int = 1
) -> tuple[tuple[float, float, float], ...]:
    """Noise by region, from fifth differences of independent points.

    Bands are smooth over six points and nearly vanish in a fifth difference, whose variance is 252 times
    that of white noise. Where narrow bands stand close together the level is an upper bound.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, even
    values : ndarray, shape (n,), absorbance
    filling : int
        Take every so manieth point.

    Returns
    -------
    tuple of (low, high, level)
        Regions of :data:`NOISE_REGIONS` that hold enough points.
    """
    found = []
    for low, high in NOISE_REGIONS:
        inside = (grid >= low) & (grid < high)
        part = values[inside][::filling]
        part = part[np.isfinite(part)]
        if part.size >= _FEWEST and np.count_nonzero(inside) * (grid[1] - grid[0]) > 0.6 * (high - low):
            found.append((low, high, estimate_noise(part, order=5)))
    return tuple(found)


def _zero_filling(values: FloatArray) -> int:
    """Part of the Fourier transform that is empty, as a power of two.

    Noise is flat up to the end of the interferogram and gone beyond; the transform of smooth bands falls
    steadily and shows no such edge.
    """
    if values.size < 128 or not np.all(np.isfinite(values)):
        return 1
    ramp = np.linspace(values[0], values[-1], values.size)
    power = np.abs(np.fft.rfft((values - ramp) * np.hanning(values.size))) ** 2
    top = power.size

    def level(low: float, high: float) -> float:
        return float(np.median(power[int(low * top) : max(int(high * top), int(low * top) + 1)]))

    for factor in (8, 4, 2):
        cut = 1.0 / factor
        nearer, held, lost = (
            level(0.4 * cut, 0.6 * cut),
            level(0.75 * cut, 0.95 * cut),
            level(1.1 * cut, 1.4 * cut),
        )
        if lost < 0.01 * held and nearer < 10 * held:
            return factor
    return 1


def _inside(grid: FloatArray, ranges: tuple[tuple[float, float], ...]) -> np.ndarray:
    """Mark the points of the ranges."""
    marked = np.zeros(grid.shape, dtype=bool)
    for low, high in ranges:
        marked |= (grid >= low) & (grid <= high)
    return marked


def _gas(
    grid: FloatArray,
    values: FloatArray,
    ranges: tuple[tuple[float, float], ...],
    resolution: float,
    shape: Callable[[FloatArray, float], FloatArray],
) -> Gas | None:
    """Fit the fine structure of a gas to that of the spectrum."""
    inside = _inside(grid, ranges) & np.isfinite(values)
    step = float(grid[1] - grid[0])
    if np.count_nonzero(inside) < _FEWEST or step > 8.0:
        return None
    half_width = max(2, round((resolution if len(ranges) > 1 else 40.0) / step))
    template = _template(shape, float(grid[0]), float(grid[-1]), grid.size, max(resolution, 1.5 * step))
    filled = np.where(np.isfinite(values), values, 0.0)
    fine = fine_structure(fine_structure(filled, half_width), half_width)[inside]
    wanted = fine_structure(fine_structure(template, half_width), half_width)[inside]
    return _fitted(wanted, fine)


def _fitted(wanted: FloatArray, fine: FloatArray) -> Gas | None:
    """Fit one shape, with little weight where something else is sharp too."""
    if not np.any(wanted) or not np.any(fine):
        return None
    weights = np.ones_like(fine)
    for _ in range(8):  # settles to three digits in as many steps
        norm = float(wanted @ (weights * wanted))
        amount = float(wanted @ (weights * fine)) / norm
        rest = fine - amount * wanted
        limit = 1.5 * max(float(np.median(np.abs(rest))) / 0.6745, 1e-12)
        weights = np.minimum(1.0, limit / np.maximum(np.abs(rest), 1e-300))
    left, total = float(rest @ (weights * rest)), float(fine @ (weights * fine))
    # neighbouring residuals hang together; a quarter of the points count as independent
    error = float(np.sqrt(left / max(fine.size - 2, 1) * 4.0 / norm))
    return Gas(amount, amount / error if error else float("inf"), 1.0 - left / total if total else 0.0)


@lru_cache(maxsize=16)
def _template(
    shape: Callable[[FloatArray, float], FloatArray], low: float, high: float, points: int, resolution: float
) -> FloatArray:
    """Shape of a gas on an even grid; spectra of one series share it."""
    curve = shape(np.linspace(low, high, points), resolution)
    curve.flags.writeable = False
    return curve


def _fringes(grid: FloatArray, values: FloatArray) -> Fringes | None:
    """Find the strongest sinusoid of the quiet ranges, beside a parabola."""
    inside = _inside(grid, QUIET_RANGES) & np.isfinite(values)
    x, y = grid[inside], values[inside]
    span = float(x[-1] - x[0]) if x.size else 0.0
    if x.size < 2 * _FEWEST or span < 500.0:
        return None
    unit = (x - x.mean()) / span
    smooth = np.linalg.qr(np.column_stack([np.ones_like(unit), unit, unit**2]))[0]
    rest = y - smooth @ (smooth.T @ y)
    total = float(rest @ rest)
    if total == 0:
        return None
    shortest = max(8.0, 6.0 * float(grid[1] - grid[0]))
    frequencies = np.arange(3.0 / span, 1.0 / shortest, 0.25 / span)
    phases = 2.0 * np.pi * np.outer(x - x[0], frequencies)
    cosines, sines = np.cos(phases), np.sin(phases)
    for waves in (cosines, sines):
        waves -= smooth @ (smooth.T @ waves)
    powers, amplitudes = _explained(rest, cosines, sines)
    best = int(np.argmax(powers))
    return Fringes(1.0 / float(frequencies[best]), float(amplitudes[best]), float(powers[best]) / total)


def _explained(rest: FloatArray, cosines: FloatArray, sines: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sum of squares that each sinusoid takes out of the residual, and its amplitude."""
    cc, ss = np.sum(cosines**2, axis=0), np.sum(sines**2, axis=0)
    cs = np.sum(cosines * sines, axis=0)
    c, s = rest @ cosines, rest @ sines
    determinant = np.maximum(cc * ss - cs**2, 1e-12 * cc * ss)
    a, b = (c * ss - s * cs) / determinant, (s * cc - c * cs) / determinant
    return np.asarray(a * c + b * s), np.asarray(np.hypot(a, b))
