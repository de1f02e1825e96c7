"""How a material's index moves with what the inversion of its spectrum left open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from spectra.optics.fresnel import ComplexArray
from spectra.optics.material import Crossed, Material
from spectra.spectrum import Frozen
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Moves(Frozen):
    """How a complex index moves with its unknowns: straight lines between the solved cases.

    Attributes
    ----------
    names : tuple of str, length u
    places : tuple of ndarray, each shape (m,)
        Solved places of each unknown, -1 to 1, the middle included.
    rows : tuple of ndarray, each shape (m, r), complex
        Index there minus that of the middle.
    """

    names: tuple[str, ...]
    places: tuple[FloatArray, ...]
    rows: tuple[ComplexArray, ...]

    def shift(self, z: FloatArray) -> ComplexArray | float:
        """Change of the index at places ``z``, carried on beyond the last solved case."""
        total: ComplexArray | float = 0.0
        for i, place in enumerate(z):
            j = self._segment(i, float(place))
            total = total + self.rows[i][j] + (float(place) - self.places[i][j]) * self.slope(i, z)
        return total

    def slope(self, unknown: int, z: FloatArray) -> ComplexArray:
        """Change of the index with one unknown at places ``z``."""
        j = self._segment(unknown, float(z[unknown]))
        x, rows = self.places[unknown], self.rows[unknown]
        return np.asarray((rows[j + 1] - rows[j]) / (x[j + 1] - x[j]))

    def _segment(self, unknown: int, place: float) -> int:
        """Return the number of the stretch between solved cases."""
        x = self.places[unknown]
        return int(np.clip(np.searchsorted(x, place) - 1, 0, x.size - 2))


def moves_of(material: Material, index: ComplexArray, variants: ComplexArray) -> Moves:
    """Sort a material's solved variants by unknown; ``index`` and ``variants`` on the points wanted."""
    names = tuple(dict.fromkeys(material.moved))
    places, rows = [], []
    for name in names:
        solved = [(0.0, np.zeros_like(index))] + [
            (move, variant - index)
            for moved, move, variant in zip(material.moved, material.moves, variants, strict=True)
            if moved == name
        ]
        solved.sort(key=lambda pair: pair[0])
        places.append(np.array([place for place, _ in solved]))
        rows.append(np.array([row for _, row in solved]))
    return Moves(names, tuple(places), tuple(rows))


@dataclass(frozen=True, eq=False)
class CrossedMoves(Frozen):
    """The same where contact and n_inf were solved together: what one does depends on the other.

    Smooth through the solved cases: a product of cubic splines (not-a-knot). The rest is added.

    Attributes
    ----------
    names : tuple of str, length u
        Crossed unknowns first.
    axes : tuple of CubicSpline
        For each crossed unknown the weights of its solved places.
    rows : ndarray, shape (c, m, r), complex
        Index there minus that of the middle; a size of one where an unknown is none.
    added : Moves
        What is not crossed.
    """

    names: tuple[str, ...]
    axes: tuple[CubicSpline[np.float64], ...]
    rows: ComplexArray
    added: Moves

    def shift(self, z: FloatArray) -> ComplexArray:
        """Change of the index at places ``z``."""
        return np.asarray(self._crossed(z, None) + self.added.shift(z[len(self.axes) :]))

    def slope(self, unknown: int, z: FloatArray) -> ComplexArray:
        """Change of the index with one unknown at places ``z``."""
        count = len(self.axes)
        if unknown >= count:
            return self.added.slope(unknown - count, z[count:])
        return self._crossed(z, unknown)

    def _crossed(self, z: FloatArray, sloped: int | None) -> ComplexArray:
        weights = [axis(float(z[i]), int(i == sloped)) for i, axis in enumerate(self.axes)]
        contact = weights[0] if len(weights) > 1 else np.ones(1)
        return np.asarray(np.einsum("c,m,cmr->r", contact, weights[-1], self.rows))


def cross(moves: Moves, crossed: Crossed, index: ComplexArray, rows: ComplexArray) -> CrossedMoves:
    """Put together what is crossed and what is not.

    Parameters
    ----------
    moves : Moves
        Every unknown by itself.
    crossed : Crossed
    index : ndarray, shape (r,), complex
        At the middle of all priors, on the points wanted.
    rows : ndarray, shape (c, m, r), complex
        The crossed solutions there.
    """
    names = ("contact", "n_inf") if crossed.contacts.size > 1 else ("n_inf",)
    places = (crossed.contacts, crossed.indices)[-len(names) :]
    axes = tuple(CubicSpline(place, np.eye(place.size)) for place in places)
    rest = [i for i, name in enumerate(moves.names) if name not in names]
    added = Moves(
        tuple(moves.names[i] for i in rest),
        tuple(moves.places[i] for i in rest),
        tuple(moves.rows[i] for i in rest),
    )
    return CrossedMoves((*names, *added.names), axes, rows - index, added)
