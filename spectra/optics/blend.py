"""A coating mixed into the substrate instead of lying on it: its spectrum by the share of the volume.

The dielectric functions of both are added by volume, and the bulk spectrum is computed from the sum. Bands
stand where they do in a weakly absorbing bulk, and heights fall with the light's depth; a film's do not.
"""

from __future__ import annotations

import numpy as np

from spectra.optics.atr import atr_absorbance
from spectra.optics.film_response import FilmTable
from spectra.optics.fresnel import ComplexArray
from spectra.units import FloatArray

THIN_SHARE = 0.02  # of the volume: little enough for the change to be in proportion


def blend_change(table: FilmTable, share: float) -> FloatArray:
    """Return the change of absorbance by a share of coating in the substrate, shape (n,).

    Parameters
    ----------
    table : FilmTable
        Constants of coating and substrate, geometry and contact.
    share : float
        Of the volume, 0 to 1.
    """
    return _on_grid(table, (1.0 - share) * table.substrate**2 + share * table.film**2)


def islands_change(table: FilmTable, share: float) -> FloatArray:
    """Return the change by a share of the area under bulk coating, bare substrate beside it, shape (n,)."""
    return share * _on_grid(table, table.film**2)


def own_part(table: FilmTable) -> FloatArray:
    """Return what the coating's own bands add, per unit share of the volume, of a share that is small.

    The substrate that gives way is not taken off: less of the substrate is what less contact looks like.
    """
    eps = table.substrate**2 + THIN_SHARE * (table.film**2 - table.n_inf**2)
    return _on_grid(table, eps) / THIN_SHARE


def lost_part(table: FilmTable) -> FloatArray:
    """Return what the substrate loses by giving way, per unit share of the volume, of a share that is small.

    About what less contact does, but not quite: strong bands of the substrate fall by less.
    """
    eps = table.substrate**2 + THIN_SHARE * (table.n_inf**2 - table.substrate**2)
    return _on_grid(table, eps) / THIN_SHARE


def _on_grid(table: FilmTable, eps: ComplexArray) -> FloatArray:
    """Bulk spectrum of a dielectric function minus that of the substrate, on the common grid."""
    nu = table.wavenumbers
    mixed, plain = (
        atr_absorbance(nu, [index], [], table.geometry, table.contact)
        for index in (np.sqrt(eps), table.substrate)
    )
    return np.asarray(np.interp(table.grid, nu, mixed - plain))


def top_near(grid: FloatArray, curve: FloatArray, near: float, width: float) -> float:
    """Return where a curve has its maximum within ``width`` of a place, by a parabola; that place if none.

    Examples
    --------
    >>> grid = np.arange(100.0, 120.0, 2.0)
    >>> round(top_near(grid, -((grid - 109.4) ** 2), 110.0, 6.0), 6)
    109.4
    """
    inside = np.flatnonzero(np.abs(grid - near) <= width)
    i = int(inside[np.argmax(curve[inside])]) if inside.size else 0
    if not inside.size or i in (inside[0], inside[-1]):
        return near
    left, here, right = curve[i - 1 : i + 2]
    bend = left - 2.0 * here + right
    return float(grid[i] + 0.5 * (left - right) / bend * (grid[i + 1] - grid[i])) if bend < 0.0 else near
