"""Films whose chemistry changed in a known way: single bands moved, lost, split, new bands, residues.

Truth for the trials, beside :mod:`tests.scenes`; it imports nothing of ``spectra``. A film's dielectric
function is divided into bands, each with its own Kramers-Kronig partner, so that a band that moves or weakens
takes its dispersion along. Oscillator materials come in bands; measured constants are cut at the valleys.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import find_peaks, peak_widths

from tests.scenes import BACKGROUND, GRID, MATERIALS, bands_of, film_of, kramers_kronig, oscillator

STANDS_OUT = 0.02  # of the greatest Im eps: a maximum of measured constants this prominent is a band
ALONE = 0.5  # a band stands by itself if this much of its height is above both valleys
RAMP = 8.0  # cm-1: one band fades into the next over this much to either side of a valley


@dataclass(frozen=True, eq=False)
class Film:
    """A film in bands.

    Attributes
    ----------
    positions, widths : ndarray, shape (bands,), cm-1
        Where Im eps has its maximum, and its full width there.
    heights : ndarray, shape (bands,)
        Greatest Im eps of each band.
    parts : ndarray, shape (bands, points)
        Complex dielectric contribution of each band.
    clear : ndarray of bool, shape (bands,)
        Stands by itself: a shoulder cut out of measured constants is no band that could move alone.
    rest : ndarray, shape (points,)
        What no band accounts for; stays where it is.
    """

    positions: np.ndarray
    widths: np.ndarray
    heights: np.ndarray
    clear: np.ndarray
    parts: np.ndarray
    rest: np.ndarray

    @property
    def eps(self) -> np.ndarray:
        """Dielectric function of the unchanged film."""
        return self.rest + self.parts.sum(axis=0)

    def strongest(self, usable: np.ndarray) -> int:
        """Return the band of greatest Im eps among those ``usable``, shape (bands,)."""
        return int(np.argmax(np.where(usable, self.heights, 0.0)))


@cache
def film_in_bands(material: str) -> Film:
    """Divide a material into bands."""
    if material in MATERIALS:
        rows = np.array([[float(v) for v in row.split()] for row in MATERIALS[material].split(",")])
        parts = bands_of(material)
        rest = np.full(GRID.size, BACKGROUND + 0j)
        alone = np.ones(len(rows), bool)
        return Film(rows[:, 0], rows[:, 1], parts.imag.max(axis=1), alone, parts, rest)
    eps = film_of(material)
    tops, found = find_peaks(eps.imag, prominence=STANDS_OUT * eps.imag.max())
    widths = peak_widths(eps.imag, tops, rel_height=0.5)[0] * (GRID[1] - GRID[0])
    valleys = [a + int(np.argmin(eps.imag[a:b])) for a, b in pairwise(tops)]
    imag = _windows(GRID[valleys]) * eps.imag
    parts = kramers_kronig(imag) + 1j * imag
    clear = found["prominences"] >= ALONE * eps.imag[tops]
    return Film(GRID[tops], widths, eps.imag[tops], clear, parts, eps - parts.sum(axis=0))


def _windows(valleys: np.ndarray) -> np.ndarray:
    """Weights that add to one, shape (bands, points), fading linearly over the valleys."""
    steps = np.clip(0.5 + (GRID - valleys[:, None]) / (2.0 * RAMP), 0.0, 1.0)
    edges = np.vstack([np.ones(GRID.size), steps, np.zeros(GRID.size)])
    return edges[:-1] - edges[1:]


def moved(part: np.ndarray, by: float) -> np.ndarray:
    """Shift bands along the axis by ``by`` cm-1; a Hilbert pair stays one."""
    if not by:
        return part
    x = np.clip(GRID - by, GRID[0], GRID[-1])
    return np.asarray(CubicSpline(GRID, part, axis=-1)(x))


def edited(film: Film, shift: np.ndarray, height: np.ndarray) -> np.ndarray:
    """Dielectric function with every band moved by ``shift`` cm-1 and ``height`` times as strong."""
    changed = sum(
        h * moved(part, s) - part
        for part, s, h in zip(film.parts, shift, height, strict=True)
        if (s, h) != (0.0, 1.0)
    )
    return np.asarray(film.eps + changed)


def split(film: Film, which: int, share: float, by: float) -> np.ndarray:
    """Change of eps when a share of one band stands ``by`` cm-1 away: another conformer."""
    return share * (moved(film.parts[which], by) - film.parts[which])


def new_band(position: float, width: float, height: float) -> np.ndarray:
    """Return a further band, ``height`` of Im eps."""
    return oscillator(position, width, height / (2.0 * np.sqrt(BACKGROUND)))


def with_residue(eps: np.ndarray, residue: str, share: float) -> np.ndarray:
    """Film of which a share by volume is another material, mixed finely."""
    return (1.0 - share) * eps + share * film_of(residue)
