"""Stretches without a gap: of points marked usable, and of an axis with parts left out."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from spectra.units import FloatArray, IndexArray, Mask

# A distance of more than this many steps is a gap and not an uneven step.
GAP_STEPS = 2.5


def runs(inside: Mask) -> list[tuple[int, int]]:
    """Return every stretch of marked points as start and stop, half open.

    Parameters
    ----------
    inside : ndarray of bool, shape (n,)

    Examples
    --------
    >>> runs(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]


def number_stretches(points: FloatArray, width: float) -> IndexArray:
    """Give each point the number of its stretch: about equal widths, none across a gap.

    Parameters
    ----------
    points : ndarray, shape (n,), increasing
    width : float

    Examples
    --------
    >>> number_stretches(np.array([0.0, 4, 8, 12, 40, 44]), 6.0)
    array([0, 0, 1, 1, 2, 2])
    """
    labels, first = np.empty(points.size, dtype=np.intp), 0
    for start, stop in unbroken(points):
        size = stop - start
        pieces = max(1, round(float(points[stop - 1] - points[start]) / width))
        labels[start:stop] = first + np.minimum(pieces - 1, np.arange(size) * pieces // size)
        first += pieces
    return labels


def unbroken(points: FloatArray) -> list[tuple[int, int]]:
    """Return every stretch of an axis without a gap as start and stop, half open.

    Parameters
    ----------
    points : ndarray, shape (n,), increasing

    Examples
    --------
    >>> unbroken(np.array([1.0, 2.0, 3.0, 7.0, 8.0]))
    [(0, 3), (3, 5)]
    """
    steps = np.diff(points)
    breaks = np.flatnonzero(steps > GAP_STEPS * np.median(steps)) + 1 if steps.size else np.zeros(0, int)
    edges = [0, *breaks.tolist(), points.size]
    return list(pairwise(edges))
