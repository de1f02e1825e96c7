"""What comes and goes with the weather: water vapour, carbon dioxide, and the moisture of the sample.

The room between source and detector holds the gases, in other amounts for every spectrum. Their shapes are
known, so the variation model takes them out as directions of free height instead of learning them from a
few bare spots. Only the shape counts here: each curve is scaled to a greatest value of one.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import numpy as np

from spectra.units import FloatArray

# Rotational constant of CO2, cm-1, and its two strong bands in the mid-infrared (G. Herzberg, Infrared and
# Raman Spectra, 1945; from memory). The centrifugal terms are below the resolution used here.
CO2_ROTATION = 0.390

CO2_BENDING, CO2_STRETCHING = 667.4, 2349.1

BOLTZMANN = 0.695  # cm-1 per kelvin (CODATA)

ROOM_TEMPERATURE = 296.0  # of the line list


@lru_cache(maxsize=1)
def vapour_lines() -> tuple[FloatArray, FloatArray]:
    """Return positions (cm-1, increasing) and intensities of the water lines, shape (n,) each.

    References
    ----------
    L. S. Rothman et al., J. Quant. Spectrosc. Radiat. Transfer 130, 4 (2013),
    doi:10.1016/j.jqsrt.2013.07.002: HITRAN 2012, 296 K.
    """
    text = (files("spectra") / "data" / "water_vapour_lines.csv").read_text(encoding="utf-8")
    table = np.array([line.split(",") for line in text.splitlines()[2:]], dtype=np.float64)
    order = np.argsort(table[:, 0])
    return table[order, 0], table[order, 1]


def water_vapour(grid: FloatArray, resolution: float) -> FloatArray:
    """Absorption of water vapour seen at ``resolution``.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    resolution : float
        Full width at half height of the instrument's line, cm-1; taken as Gaussian.

    Returns
    -------
    ndarray, shape (n,)
        Greatest value one; zero throughout where no line is near the grid.

    Examples
    --------
    >>> grid = np.arange(1400.0, 1900.0, 2.0)
    >>> round(float(grid[np.argmax(water_vapour(grid, 4.0))]))
    1654
    """
    return _broadened(grid, *vapour_lines(), resolution)


def liquid_water(grid: FloatArray) -> FloatArray:
    """Absorption of liquid water: moisture that a sample takes up or gives off between measurements.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing

    Returns
    -------
    ndarray, shape (n,)
        Absorption index, greatest value one: that of the libration where the grid goes below 900 cm-1, else
        that of the stretching band. Nothing below 380 and above 4100 cm-1.

    References
    ----------
    D. J. Segelstein, thesis, University of Missouri-Kansas City (1981).

    Examples
    --------
    >>> grid = np.arange(3000.0, 3800.0, 10.0)
    >>> float(grid[np.argmax(liquid_water(grid))])
    3390.0
    """
    text = (files("spectra") / "data" / "liquid_water.csv").read_text(encoding="utf-8")
    table = np.array([line.split(",") for line in text.splitlines()[2:]], dtype=np.float64)
    table = table[np.argsort(table[:, 0])]
    curve = np.interp(grid, table[:, 0], table[:, 1], left=0.0, right=0.0)
    return np.asarray(curve / max(float(curve.max()), 1e-300))


def carbon_dioxide(grid: FloatArray, resolution: float) -> FloatArray:
    """Absorption of carbon dioxide seen at ``resolution``: its bending and its stretching band.

    A rigid rotor at room temperature: lines of even J only, the Q branch for the bending band alone.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    resolution : float
        Full width at half height, cm-1.

    Returns
    -------
    ndarray, shape (n,)
        Greatest value one on a grid that reaches a band, else zero.

    Examples
    --------
    >>> grid = np.arange(600.0, 740.0, 1.0)
    >>> float(grid[np.argmax(carbon_dioxide(grid, 4.0))])
    667.0
    """
    lower = np.arange(0, 80, 2)
    heights = (2 * lower + 1) * np.exp(-CO2_ROTATION * lower * (lower + 1) / (BOLTZMANN * ROOM_TEMPERATURE))
    heights = heights / heights.sum()
    positions, weights = [CO2_BENDING], [0.1]  # the bending band is about a tenth of the stretching one
    for centre, strength in ((CO2_BENDING, 0.05), (CO2_STRETCHING, 1.0)):
        positions += [*(centre + 2 * CO2_ROTATION * (lower + 1)), *(centre - 2 * CO2_ROTATION * lower)]
        weights += [*(strength * heights), *(strength * heights)]
    order = np.argsort(positions)
    return _broadened(grid, np.array(positions)[order], np.array(weights)[order], resolution)


def _broadened(grid: FloatArray, positions: FloatArray, heights: FloatArray, width: float) -> FloatArray:
    """Sum of Gaussian lines, cut off at five standard deviations, scaled to one."""
    sigma = width / 2.3548
    first, last = np.searchsorted(grid, [positions - 5 * sigma, positions + 5 * sigma])
    curve = np.zeros_like(grid)
    for low, high, position, height in zip(first, last, positions, heights, strict=True):
        if high > low:
            curve[low:high] += height * np.exp(-0.5 * ((grid[low:high] - position) / sigma) ** 2)
    peak = curve.max(initial=0.0)
    return curve / peak if peak > 0 else curve
