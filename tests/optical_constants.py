"""Open optical constants as outside truth: reading them, and maxima of the absorption coefficient.

Data in ``tests/data/optical_constants`` with their sources; nothing here uses the code under test.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks, peak_widths

from tests.places import DATA

FOLDER = DATA / "optical_constants"

# page -> material of the band tables, state, key of the source. Left out: whole blood, whose maxima are those
# of its water and, above 3700 cm-1, noise; the other pages of PMMA and silicone, which say the same.
PAGES = {
    "poly_methyl_methacrylate__Tsuda-BB": ("poly(methyl methacrylate)", "", "tsuda2018"),
    "poly_methyl_methacrylate__Zhang-Tomson": ("poly(methyl methacrylate)", "", "zhang2020"),
    "polystyrene__Myers": ("polystyrene", "", "myers2018"),
    "polycarbonate__Zhang": ("polycarbonate", "", "zhang2020"),
    "polyethylene_terephthalate__Zhang": ("poly(ethylene terephthalate)", "", "zhang2020"),
    "polydimethylsiloxane__Zhang-10-1": ("silicone", "", "zhang2020"),
    "polyethylene__David": ("polyethylene", "", "david2022"),
    "polyetherimide__Zhang": ("polyetherimide", "", "zhang2020"),
    "ethanol__Myers": ("ethanol", "", "myers2018"),
    "toluene__Myers": ("toluene", "", "myers2018"),
    "oleic_acid__McGinty": ("oleic acid", "", "mcginty2009"),
    "H2O__Segelstein": ("water (liquid)", "", "segelstein1981"),
    "H2O__Rowe-273K": ("water (liquid)", "273 K", "rowe2020"),
    "SiO2__Franta": ("silica", "", "franta2016"),
    "SiO2__Kischkat": ("silica", "", "kischkat2012"),
    "TiO2__Kischkat": ("titania", "", "kischkat2012"),
    "Si-O__Herguedas-SiO0.31": ("silica", "suboxide SiO0.31", "herguedas2023"),
    "Si-O__Herguedas-SiO0.61": ("silica", "suboxide SiO0.61", "herguedas2023"),
    "Si-O__Herguedas-SiO1.10": ("silica", "suboxide SiO1.10", "herguedas2023"),
    "Si-O__Herguedas-SiO1.71": ("silica", "suboxide SiO1.71", "herguedas2023"),
    "Si-O__Herguedas-SiO1.89": ("silica", "suboxide SiO1.89", "herguedas2023"),
    "Si-O__Herguedas-SiO1.92": ("silica", "suboxide SiO1.92", "herguedas2023"),
}


@dataclass(frozen=True, eq=False)
class Maxima:
    """Maxima of an absorption spectrum, by rising wavenumber."""

    positions: NDArray[np.float64]
    heights: NDArray[np.float64]
    prominences: NDArray[np.float64]
    widths: NDArray[np.float64]


@cache
def read_constants(page: str) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return wavenumber (cm-1, increasing), n and k of a page."""
    with (FOLDER / f"{page}.csv").open(encoding="utf-8", newline="") as file:
        rows = [[float(cell) for cell in row] for row in list(csv.reader(file))[1:]]
    columns = np.array(sorted(rows)).T
    return columns[0], columns[1], columns[2]


@cache
def absorption(page: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return wavenumber and k times wavenumber: what transmission through a thin film is proportional to."""
    wavenumbers, _, k = read_constants(page)
    return wavenumbers, k * wavenumbers


def maxima(wavenumbers: NDArray[np.float64], signal: NDArray[np.float64], share: float = 0.01) -> Maxima:
    """Return the maxima whose prominence is at least a share of the highest value.

    Positions and heights by a parabola through the three highest points, with unequal spacing.
    """
    index, found = find_peaks(signal, prominence=share * signal.max())
    left, right = peak_widths(signal, index, rel_height=0.5)[2:]
    grid = np.arange(wavenumbers.size)
    edges = np.interp(left, grid, wavenumbers), np.interp(right, grid, wavenumbers)
    tops = [_vertex(wavenumbers[i - 1 : i + 2], signal[i - 1 : i + 2]) for i in index]
    return Maxima(
        np.array([top[0] for top in tops]),
        np.array([top[1] for top in tops]),
        found["prominences"],
        edges[1] - edges[0],
    )


def _vertex(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[float, float]:
    """Vertex of the parabola through three points."""
    a, b, c = np.polyfit(x - x[1], y, 2)
    at = -b / (2 * a)
    return float(x[1] + at), float(c + b * at / 2)
