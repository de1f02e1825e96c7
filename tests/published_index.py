"""Measured n + ik of real materials on the grid of a spectrometer, and ATR spectra simulated from them.

The data and their sources are in ``tests/data/optical_constants`` (CC0).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from spectra.optics.kramers_kronig import dispersion
from tests.dispersion import kramers_kronig
from tests.optical_constants import read_constants

FINE = 0.5


@cache
def page(name: str) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return wavenumbers (cm-1, increasing), n and k of one page, as published."""
    return read_constants(name)


def broadened(name: str, grid: NDArray[np.float64], resolution: float = 4.0) -> NDArray[np.complex128]:
    """Return n + ik as an instrument of ``resolution`` cm-1 (Gaussian, full width) would see them.

    n and k are broadened alike, so they stay Kramers-Kronig partners. The n of the polyethylene page is not
    the partner of its k (they differ by 0.015 rms); there n is computed from k, its level from the page.
    """
    nu, n, k = page(name)
    if name == "polyethylene__David":
        n = kramers_kronig(nu, k, anchor=(2000.0, float(np.interp(2000.0, nu, n))))
    fine = np.arange(max(nu[0], grid[0] - 50.0), min(nu[-1], grid[-1] + 50.0), FINE)
    width = resolution / np.sqrt(8.0 * np.log(2.0)) / FINE
    n, k = (gaussian_filter1d(np.interp(fine, nu, part), width) for part in (n, np.maximum(k, 0.0)))
    return np.asarray(np.interp(grid, fine, n) + 1j * np.interp(grid, fine, k))


def partnered(name: str, grid: NDArray[np.float64], resolution: float = 4.0) -> NDArray[np.complex128]:
    """Return the k of a page, broadened, with the n that belongs to it by Kramers-Kronig.

    Some pages sit on a grid of 7.7 cm-1 on which n and k cannot both be interpolated and stay partners.
    The level of n is the page's mean.
    """
    nu, n, k = page(name)
    fine = np.arange(nu[0], nu[-1], FINE)
    width = resolution / np.sqrt(8.0 * np.log(2.0)) / FINE
    blunt = gaussian_filter1d(np.interp(fine, nu, np.maximum(k, 0.0)), width)
    rise = dispersion(fine)(blunt)
    level = float(np.mean(np.interp(fine, nu, n) - rise))
    return np.asarray(np.interp(grid, fine, rise + level) + 1j * np.interp(grid, fine, blunt))


def far_index(grid: NDArray[np.float64], index: NDArray[np.complex128]) -> tuple[float, float]:
    """Return the n_inf and pull that fit n best, given k."""
    rest = index.real - dispersion(grid)(index.imag)
    design = np.stack([np.ones(grid.size), -((grid[0] / grid) ** 2)], axis=1)
    n_inf, pull = np.linalg.lstsq(design, rest, rcond=None)[0]
    return float(n_inf), float(pull)
