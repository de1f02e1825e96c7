"""The way of a band from the neat spectrum to that of the sample, and what each unknown adds.

The middle case is followed step by step: the neat spectrum as measured; for ATR a film in the same
geometry that thins from bulk to nothing; then the curves of the sample. A case with one unknown moved is
followed from the middle case at the same thickness, so that it cannot end on another band.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.optics.film import film_spectra
from spectra.optics.material import Material
from spectra.optics.tracking import follow
from spectra.optics.uncertainty import Effects
from spectra.units import FloatArray

# Thicknesses through which a band is followed from the bulk to the thin film, nm.
DESCENT_NM = tuple(np.geomspace(8000.0, 10.0, 14).round(1).tolist())


def follow_from_neat(
    neat: Material, curves: FloatArray, starts: FloatArray, widths: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Follow the bands of the neat spectrum to curves of the sample.

    Parameters
    ----------
    curves : ndarray, shape (m, n)
        In order: each little changed from the one before, the first from a thin film of the neat material.
    starts, widths : ndarray, shape (b,), cm-1

    Returns
    -------
    neat : ndarray, shape (b,), cm-1
        Positions in the neat spectrum.
    sample : ndarray, shape (m, b), cm-1
    """
    nu = neat.wavenumbers
    path = [neat.absorbance[None] if neat.source != "constants" else (nu * neat.k)[None]]
    if neat.source == "ATR":
        path.append(
            film_spectra(nu, neat.index, neat.n_inf, DESCENT_NM, neat.geometry, n_inf=neat.n_inf).film
        )
    followed = follow(nu, np.concatenate([*path, curves]), starts, widths)
    return followed[0], followed[-len(curves) :]


def variant_effects(
    grid: FloatArray,
    material: Material,
    variants: Sequence[FloatArray],
    curves: FloatArray,
    middle: FloatArray,
    widths: FloatArray,
) -> dict[str, Effects]:
    """Return what each unknown of a material does to the positions.

    Parameters
    ----------
    variants : sequence of ndarray, shape (m, n)
        The curves of the sample for each variant of the material.
    curves : ndarray, shape (m, n)
        Those of the middle case.
    middle : ndarray, shape (m, b), cm-1
        Positions in the middle case.

    Returns
    -------
    dict of str to Effects
        By the name of the unknown; changes of shape (v, m, b).
    """
    grouped: dict[str, Effects] = {}
    for name in dict.fromkeys(material.moved):
        moves: list[float] = []
        changes: list[FloatArray] = []
        for sign in (-1.0, 1.0):
            rows = [
                row
                for row in np.argsort(np.abs(material.moves))
                if material.moved[row] == name and material.moves[row] * sign > 0
            ]
            if rows:
                steps = np.stack([curves, *(variants[row] for row in rows)], axis=1)
                places = follow(grid, steps, middle, widths)
                changes += [places[:, number + 1] - middle for number in range(len(rows))]
                moves += [material.moves[row] for row in rows]
        grouped[name] = Effects(tuple(moves), np.array(changes))
    return grouped


def signal_effects(
    material: Material, variants: Sequence[FloatArray], shape: FloatArray
) -> dict[str, Effects]:
    """Return what each unknown does to the signal of a thin film: the logarithm of its scale, (v, 1, 1).

    Parameters
    ----------
    variants : sequence of ndarray, shape (n,)
        Thin film per nm for each variant of the material.
    shape : ndarray, shape (n,)
        The same in the middle case.
    """
    scales = [max(float(one @ shape) / float(shape @ shape), 1e-6) for one in variants]
    grouped: dict[str, Effects] = {}
    for name in dict.fromkeys(material.moved):
        rows = [row for row, moved in enumerate(material.moved) if moved == name]
        changes = np.log([scales[row] for row in rows]).reshape(-1, 1, 1)
        grouped[name] = Effects(tuple(material.moves[row] for row in rows), changes)
    return grouped
