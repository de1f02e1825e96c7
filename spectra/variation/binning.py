"""Which points of the common grid the model works on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spectra.errors import SpectraError
from spectra.spectrum import Frozen, Stack, read_only
from spectra.stretches import runs
from spectra.units import FloatArray

FEWEST_POINTS = 30


@dataclass(frozen=True, eq=False)
class Reduction(Frozen):
    """Which points of the common grid the model uses: a linear map, the same for every spectrum.

    Attributes
    ----------
    points : ndarray, shape (r,), cm-1, increasing
    runs : tuple of (start, stop, size)
        Stretches of usable grid points, cut into blocks of ``size`` that are averaged.
    """

    points: FloatArray
    runs: tuple[tuple[int, int, int], ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", read_only(self.points))

    def apply(self, curves: FloatArray) -> FloatArray:
        """Reduce curves on the common grid, shape (..., n), to shape (..., r)."""
        lead = curves.shape[:-1]
        parts = [curves[..., a:b].reshape(*lead, -1, size).mean(axis=-1) for a, b, size in self.runs]
        return np.concatenate(parts, axis=-1)


def reduce_grid(stack: Stack, step: float) -> Reduction:
    """Cut the usable points into runs of blocks about ``step`` cm-1 wide.

    Raises
    ------
    SpectraError
        If fewer than 30 points are left.
    """
    size = max(1, int(step / stack.step + 0.05))
    whole = [(start, start + (stop - start) // size * size, size) for start, stop in runs(stack.usable)]
    blocks = tuple(run for run in whole if run[0] < run[1])
    count = sum((stop - start) // size for start, stop, _ in blocks)
    if count < FEWEST_POINTS:
        raise SpectraError(
            f"found {count} usable points between {stack.grid[0]:g} and {stack.grid[-1]:g} cm-1; expected "
            f"{FEWEST_POINTS} at least: measure a wider range or leave out less"
        )
    return Reduction(Reduction(np.zeros(0), blocks).apply(stack.grid), blocks)


def spread_pairs(count: int, wanted: int) -> NDArray[np.intp]:
    """Choose pairs of neighbours spread over the axis: they keep what neighbours share."""
    if count <= wanted:
        return np.arange(count)
    stride = max(3, round(2 * count / wanted))
    return np.unique(np.concatenate([np.arange(0, count, stride), np.arange(1, count, stride)]))
