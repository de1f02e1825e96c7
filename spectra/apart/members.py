"""The members of a group: specimens, or the spots of the only specimen, on the model's points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spectra.replicates import group_rows
from spectra.spectrum import Frozen, Stack
from spectra.units import FloatArray
from spectra.variation.binning import Reduction, reduce_grid
from spectra.variation.model import Variation, learn, nuisance_basis, orthonormal, project_out
from spectra.variation.settings import VariationSettings


@dataclass(frozen=True, eq=False)
class Members(Frozen):
    """What is judged in one group.

    Attributes
    ----------
    stack : Stack
    rows : tuple of tuple of int, length k
        Rows of each member in the stack.
    names : tuple of str, length k
    reduction : Reduction
    reduced : ndarray, shape (k, r), absorbance
        Mean of every member on the model's points.
    settings : VariationSettings
        Of the model learned from them.
    """

    stack: Stack
    rows: tuple[tuple[int, ...], ...]
    names: tuple[str, ...]
    reduction: Reduction
    reduced: FloatArray
    settings: VariationSettings

    def __len__(self) -> int:
        return len(self.names)

    def learn(self, chosen: Sequence[int]) -> Variation:
        """Learn how the members ``chosen`` vary."""
        return learn(self.take(chosen), self.settings)

    def take(self, chosen: Sequence[int]) -> Stack:
        """Return the spots of the members ``chosen``, in the order of the group."""
        return self.stack.take([row for i in sorted(chosen) for row in self.rows[i]])


def members_of(stack: Stack, settings: VariationSettings, step: float) -> Members:
    """Return the members of a group.

    Examples
    --------
    >>> grid = np.arange(400.0, 800.0, 2.0)
    >>> pair = Stack(grid, np.ones((3, 200)), ("a", "a", "b"), ("a1", "a2", "b1"))
    >>> members_of(pair, VariationSettings(), 4.0).names
    ('a', 'b')
    """
    groups = group_rows(stack.specimens)
    alone = len(groups) == 1
    rows = tuple((i,) for i in range(len(stack))) if alone else groups
    names = stack.names if alone else tuple(dict.fromkeys(stack.specimens))
    reduction = reduce_grid(stack, step)
    measured = reduction.apply(stack.absorbance)
    reduced = np.array([measured[list(row)].mean(axis=0) for row in rows])
    return Members(stack, rows, names, reduction, reduced, replace(settings, step=step))


def spots_of(stack: Stack, reduction: Reduction, settings: VariationSettings) -> Members:
    """Return every spot of a group as a member, on the points of a model learned elsewhere."""
    rows = tuple((i,) for i in range(len(stack)))
    return Members(stack, rows, stack.names, reduction, reduction.apply(stack.absorbance), settings)


def subset(members: Members, chosen: Sequence[int]) -> Members:
    """Return some members as a group of their own."""
    spots = [row for i in chosen for row in members.rows[i]]
    place = {row: k for k, row in enumerate(spots)}
    return replace(
        members,
        stack=members.stack.take(spots),
        rows=tuple(tuple(place[row] for row in members.rows[i]) for i in chosen),
        names=tuple(members.names[i] for i in chosen),
        reduced=members.reduced[list(chosen)],
    )


def plain_basis(variation: Variation) -> FloatArray:
    """Return mean, contact, baseline and gases, without the learned directions; shape (p, r)."""
    return orthonormal(np.vstack([variation.whitened.mean(axis=0), variation.contacts[-1], variation.fixed]))


def left_out_squares(variation: Variation) -> FloatArray:
    """Squared whitened residual of every left-out unit over its variance, no shape fitted; shape (k, r)."""
    count, rows = len(variation), []
    for i in range(count):
        others = [j for j in range(count) if j != i]
        clean = project_out(nuisance_basis(variation, others), variation.whitened[i : i + 1])[0]
        rows.append(clean**2 / (1.0 + 1.0 / (count - 1)))
    return np.array(rows)
