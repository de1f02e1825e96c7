"""Measured n + ik of real materials; sources in ``tests/data/optical_constants/SOURCES.md`` (CC0)."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FOLDER = Path(__file__).parent / "data" / "optical_constants"


@cache
def page(name: str) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return wavenumbers (increasing), n and k of one page, as published."""
    table = np.loadtxt(FOLDER / f"{name}.csv", delimiter=",", skiprows=1)
    return table[:, 0], table[:, 1], table[:, 2]


def sampled(name: str, grid: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return n + ik of one page at the points of ``grid`` (linear between its points)."""
    wavenumbers, n, k = page(name)
    return np.interp(grid, wavenumbers, n) + 1j * np.interp(grid, wavenumbers, k)
