"""Replicates: what repeats, and how far repeats of nothing lie apart.

The specimen is the unit of replication; spots on one specimen are averaged first. Where a group has one
specimen only, its spots stand in as units, and the verdict says so: its limits then describe that one piece.

For K bare units each is compared with the mean of the others. If one unit scatters with variance s**2, such a
difference has variance s**2 K / (K - 1), so from the K coefficients c of any linear estimate

    s**2 = (K - 1) / K**2 * sum(c**2),   K - 1 degrees of freedom,

and the mean of n sample units against the mean of the K bare units has the standard error
s sqrt(1/n + 1/K). Critical and detectable values follow from Student's t and from the non-central t (ISO
11843-2; Currie, Pure Appl. Chem. 67, 1699, 1995, doi:10.1351/pac199567101699).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.spectrum import Stack
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Units:
    """The units of replication of one group.

    Attributes
    ----------
    rows : ndarray, shape (k, n)
        Mean spectrum of each unit.
    names : tuple of str, length k
    are_specimens : bool
        False where spots stand in for specimens.
    """

    rows: FloatArray
    names: tuple[str, ...]
    are_specimens: bool

    def __len__(self) -> int:
        return len(self.names)


def units_of(stack: Stack) -> Units:
    """Average the spots of each specimen; one specimen alone gives its spots.

    Examples
    --------
    >>> pair = Stack([1.0, 2.0], [[1, 1], [3, 3], [5, 5]], ("a", "a", "b"), ("1", "2", "3"))
    >>> units_of(pair).rows[:, 0]
    array([2., 5.])
    """
    names = tuple(dict.fromkeys(stack.specimens))
    if len(names) == 1:
        return Units(stack.absorbance, stack.names, len(stack) == 1)
    rows = np.array([stack.absorbance[list(rows)].mean(axis=0) for rows in group_rows(stack.specimens)])
    return Units(rows, names, True)


def leave_one_out(units: Units) -> FloatArray:
    """Return each unit minus the mean of the others, shape (k, n).

    Examples
    --------
    >>> leave_one_out(Units(np.array([[1.0], [2.0], [6.0]]), ("a", "b", "c"), True))[:, 0]
    array([-3. , -1.5,  4.5])
    """
    k = len(units)
    return np.asarray((units.rows - units.rows.mean(axis=0)) * (k / (k - 1)))


def unit_scatter(coefficients: FloatArray) -> FloatArray:
    """Return the standard deviation of one unit from leave-one-out coefficients, axis 0 over units.

    Examples
    --------
    >>> import numpy as np
    >>> found = unit_scatter(leave_one_out(Units(np.array([[1.0], [2.0], [6.0]]), ("a", "b", "c"), True)))
    >>> bool(np.isclose(found[0], np.std([1.0, 2.0, 6.0], ddof=1)))
    True
    """
    k = coefficients.shape[0]
    return np.asarray(np.sqrt((k - 1) / k**2 * (coefficients**2).sum(axis=0)))


def group_rows(specimens: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """Rows of each specimen, in order of first appearance.

    Examples
    --------
    >>> group_rows(("a", "b", "a"))
    ((0, 2), (1,))
    """
    rows: dict[str, list[int]] = {}
    for row, name in enumerate(specimens):
        rows.setdefault(name, []).append(row)
    return tuple(map(tuple, rows.values()))
