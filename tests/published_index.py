"""Measured n + ik of real materials on the grid of a spectrometer, and ATR spectra simulated from them.

The data and their sources are in ``tests/data/optical_constants`` (CC0).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from spectra.optics.kramers_kronig import kramers_kronig
from tests.optical_constants import read_constants

FINE = 0.5


@cache
def page(name: str) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return wavenumbers (cm-1, increasing), n and k of one page, as published."""
    return read_constants(name)


def broadened(name: str, grid: NDArray[np.float64], resolution: float = 4.0) -> NDArray[np.complex128]:
    """Return n + ik as an instrument of ``resolution`` cm-1 (Gaussian, full width) would see them.

    n and k are broadened alike, so they stay Kramers-Kronig partners. The n of the polyethylene page is not the
    partner of its k (they differ by 0.015 rms); there n is computed from k and takes only its level from the page.
    """
    nu, n, k = page(name)
    if name == "polyethylene__David":
        n = kramers_kronig(nu, k, anchor=(2000.0, float(np.interp(2000.0, nu, n))))
    fine = np.arange(max(nu[0], grid[0] - 50.0), min(nu[-1], grid[-1] + 50.0), FINE)
    width = resolution / np.sqrt(8.0 * np.log(2.0)) / FINE
    n, k = (gaussian_filter1d(np.interp(fine, nu, part), width) for part in (n, np.maximum(k, 0.0)))
    return np.asarray(np.interp(grid, fine, n) + 1j * np.interp(grid, fine, k))
