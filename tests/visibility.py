"""Which bands of a film could be judged at all: bounds under the true covariance of a scene.

Nothing of ``spectra`` is used. The smallest standard errors (Gauss-Markov) of one band's shift and relative
height in the mean of the coated spots against the mean of the bare ones, if the scatter of spots were known
exactly; shift, height and the amount of film are free together, all else is known. No estimate from a handful
of bare spots reaches them, so "visible" is a wide net.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from tests.films import Film, film_in_bands, moved, with_residue
from tests.scenes import GRID, USABLE, Scene, _detector, mean_substrate, reflection_absorbance, spots

SHIFT_BOUND, HEIGHT_BOUND = 0.5, 0.1  # cm-1 and relative: a band known better than this is visible
BROAD = 120.0  # cm-1: wider bands are no part of the strength that has to be judged
NARROW = 60.0  # cm-1: wider bands of a residue are no evidence of their own
DRAWS = 600


@dataclass(frozen=True, eq=False)
class Visible:
    """What the bound allows for every band of a film at one thickness.

    Attributes
    ----------
    places : ndarray, shape (bands,), cm-1
        Where each band's own contribution to the difference stands.
    shift, height : ndarray, shape (bands,)
        Bounds: cm-1, and relative to the band.
    strength : ndarray, shape (bands,)
        Height in the difference times width, of the narrow bands, in sum one.
    """

    places: np.ndarray
    shift: np.ndarray
    height: np.ndarray
    strength: np.ndarray

    @property
    def share(self) -> float:
        """Share of the film's strength in bands whose shift and height are visible."""
        return float(self.strength[(self.shift <= SHIFT_BOUND) & (self.height <= HEIGHT_BOUND)].sum())


@cache
def visible(scene: Scene, nm: float, coated: int, bare: int) -> Visible:
    """Bounds for the scene's coating, ``coated`` and ``bare`` spots."""
    film = film_in_bands(scene.coating)
    shifts, heights, thicker = _derivatives(scene, film, nm)
    rows = np.vstack([shifts, heights, thicker[None]])
    information = _information(scene, rows[:, USABLE]) / (1.0 / coated + 1.0 / bare)
    count = len(film.parts)
    errors = np.array([_errors(information, [b, count + b, 2 * count]) for b in range(count)])
    reach = np.abs(heights) * USABLE
    area = reach.max(axis=1) * film.widths * (film.widths <= BROAD)
    return Visible(GRID[np.argmax(reach, axis=1)], errors[:, 0], errors[:, 1], area / max(area.sum(), 1e-300))


@cache
def thickness_bound(scene: Scene, nm: float, coated: int, bare: int) -> float:
    """Smallest standard error of the thickness, nm; nothing else is free."""
    change = _derivatives(scene, film_in_bands(scene.coating), nm)[2] / nm
    information = _information(scene, change[None, USABLE]) / (1.0 / coated + 1.0 / bare)
    return float(1.0 / np.sqrt(information[0, 0]))


@cache
def residue_bounds(scene: Scene, nm: float, residue: tuple[str, float], coated: int, bare: int) -> np.ndarray:
    """Bounds on the height of each narrow band of a residue, relative to what its share gives, film free."""
    name, share = residue
    left, film = film_in_bands(name), film_in_bands(scene.coating)
    mixed = with_residue(film.eps, name, share)
    bed = mean_substrate(scene)
    parts = [share * part for part in left.parts[left.widths <= NARROW]]
    rows = [
        reflection_absorbance(bed, mixed, nm, scene.touch)
        - reflection_absorbance(bed, mixed - p, nm, scene.touch)
        for p in parts
    ]
    rows.append(_derivatives(scene, film, nm)[2])
    information = _information(scene, np.array(rows)[:, USABLE]) / (1.0 / coated + 1.0 / bare)
    return np.array([_errors(information, [b, len(parts)])[0] for b in range(len(parts))])


def _errors(information: np.ndarray, at: list[int]) -> np.ndarray:
    """Standard errors of some parameters fitted together; infinite where they cannot be told apart."""
    block = information[np.ix_(at, at)]
    if np.linalg.cond(block / np.sqrt(np.outer(np.diag(block), np.diag(block)) + 1e-300)) > 1e10:
        return np.full(len(at), np.inf)
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(block))))


def _derivatives(scene: Scene, film: Film, nm: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Change of absorbance per cm-1 and per relative height of every band, and per relative thickness."""
    bed, eps = mean_substrate(scene), film.eps

    def absorb(extra: np.ndarray | float = 0.0, times: float = 1.0) -> np.ndarray:
        return reflection_absorbance(bed, eps + extra, times * nm, scene.touch)

    shifts = [absorb(moved(p, 0.5) - p) - absorb(moved(p, -0.5) - p) for p in film.parts]
    heights = [(absorb(0.05 * p) - absorb(-0.05 * p)) / 0.1 for p in film.parts]
    return np.array(shifts), np.array(heights), (absorb(times=1.05) - absorb(times=0.95)) / 0.1


def _information(scene: Scene, rows: np.ndarray) -> np.ndarray:
    """Fisher information of one spot about the sizes of ``rows``, shape (rows, rows)."""
    scaled, inner = _scatter(scene)
    rows = rows / (scene.noise * _detector()[USABLE])
    across = scaled @ rows.T
    return np.asarray(rows @ rows.T - across.T @ cho_solve(inner, across))


@cache
def _scatter(scene: Scene) -> tuple[np.ndarray, tuple[np.ndarray, bool]]:
    """Scatter of noiseless bare spots over the detector's noise, and what its inverse needs."""
    rows = spots(replace(scene, noise=0.0), np.random.default_rng(1), DRAWS)[:, USABLE]
    scaled = (rows - rows.mean(axis=0)) / np.sqrt(DRAWS - 1.0) / (scene.noise * _detector()[USABLE])
    return scaled, cho_factor(np.eye(DRAWS) + scaled @ scaled.T)
