"""Bands of the absorption index: where they are and how strong, freed from optics.

What the full correction undoes: shift, broadening and saturation by reflection, growth of depth with
wavelength, contact as far as known. What it does not undo: baseline, orientation, wrong n_inf, resolution.
The intervals hold what contact (or thickness), n_inf, pull and noise leave open.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from spectra.optics.material import Material
from spectra.optics.tracking import half_window, position_noise
from spectra.optics.tracking_paths import follow_from_neat, variant_effects
from spectra.optics.uncertainty import Effects, sample_effects
from spectra.units import FloatArray

SHARE = 0.95


@dataclass(frozen=True, eq=False)
class AbsorptionBands:
    """Bands of k; intervals are central 95 %.

    Attributes
    ----------
    neat_positions : ndarray, shape (b,), cm-1
        In the spectrum as measured.
    positions, low, high, error : ndarray, shape (b,), cm-1
        Of the maximum of k; NaN for a band that could not be followed.
    strengths, strength_low, strength_high : ndarray, shape (b,)
        k at the maximum.
    """

    neat_positions: FloatArray
    positions: FloatArray
    low: FloatArray
    high: FloatArray
    error: FloatArray
    strengths: FloatArray
    strength_low: FloatArray
    strength_high: FloatArray


def absorption_bands(
    material: Material, positions: ArrayLike, widths: ArrayLike | float = 20.0
) -> AbsorptionBands:
    """Find the bands of a measured spectrum in its absorption index.

    Parameters
    ----------
    positions : array_like, shape (b,), cm-1
        Bands of the measured spectrum, about.
    widths : array_like, shape (b,) or a number, cm-1
        Their full widths at half height, about.

    Examples
    --------
    >>> from spectra.optics.geometry import Geometry
    >>> from spectra.optics.inversion import invert_atr
    >>> grid = np.arange(1400.0, 2000.0, 2.0)
    >>> measured = 0.2 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> found = invert_atr(grid, measured, Geometry(index=2.4, angle_deg=45.0), contact=(0.85, 1.0))
    >>> bands = absorption_bands(found, [1700.0])
    >>> bands.positions.round(1), bands.strengths.round(2)
    (array([1701.8]), array([0.1]))
    """
    at = np.asarray(positions, dtype=np.float64)
    wide = np.broadcast_to(np.asarray(widths, dtype=np.float64), at.shape)
    nu, k = material.wavenumbers, material.k
    neat, places = follow_from_neat(material, k[None], at, wide)
    curves = [one.imag[None] for one in material.variants]
    moved = variant_effects("", nu, material, curves, k[None], places, wide)
    middle = np.stack([places[0], np.log(_tops(nu, k, places[0], wide))])
    effects = {
        name: Effects(effect.moves, _with_strengths(material, name.strip(), effect, middle, wide))
        for name, effect in moved.items()
    }
    noise = np.stack(
        [
            position_noise(nu, k, material.k_noise, places[0], wide),
            _tops(nu, material.k_noise, places[0], wide) / np.exp(middle[1]),
        ]
    )
    cases = sample_effects(middle, effects, noise)
    low, high = np.quantile(cases, [0.5 - SHARE / 2, 0.5 + SHARE / 2], axis=0)
    return AbsorptionBands(
        neat,
        middle[0],
        low[0],
        high[0],
        cases[:, 0].std(axis=0),
        np.exp(middle[1]),
        np.exp(low[1]),
        np.exp(high[1]),
    )


def _with_strengths(
    material: Material, name: str, effect: Effects, middle: FloatArray, widths: FloatArray
) -> FloatArray:
    """Give the changes of position and of ln k at the maximum, shape (v, 2, b)."""
    changes = []
    for move, change in zip(effect.moves, effect.changes, strict=True):
        row = next(i for i, moved in enumerate(material.moved) if moved == name and material.moves[i] == move)
        tops = _tops(material.wavenumbers, material.variants[row].imag, middle[0] + change[0], widths)
        changes.append(np.stack([change[0], np.log(tops) - middle[1]]))
    return np.array(changes)


def _tops(grid: FloatArray, curve: FloatArray, positions: FloatArray, widths: FloatArray) -> FloatArray:
    """Value of the local parabola at each position; NaN for a position that is NaN."""
    step = float(grid[1] - grid[0])
    tops = np.full(positions.shape, np.nan)
    for band, (at, width) in enumerate(zip(positions, widths, strict=True)):
        half = half_window(width, step)
        centre = round((at - grid[0]) / step) if np.isfinite(at) else -1
        if half <= centre < grid.size - half:
            near = slice(centre - half, centre + half + 1)
            fit = np.polynomial.Polynomial.fit(grid[near] - at, curve[near], 2)
            tops[band] = max(float(fit(0.0)), 1e-12)
    return tops
