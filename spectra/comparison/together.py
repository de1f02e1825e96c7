"""Several coatings on one sample: their amounts together, how the errors hang together, and their sum.

Amounts of coatings whose bands overlap are estimated at each other's cost: their errors are correlated, the
sum is better known than its parts. The amounts stand free; their shares are those of a sum fixed at one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.spectrum import Frozen
from spectra.units import FloatArray


@dataclass(frozen=True)
class Part:
    """Share of one coating in the sum of all, with its interval."""

    share: float
    share_low: float
    share_high: float


@dataclass(frozen=True, eq=False)
class Together(Frozen):
    """Several coatings of one sample.

    Attributes
    ----------
    coatings : tuple of str, length j
    correlation : ndarray, shape (j, j)
        Between the errors of the amounts.
    total, total_low, total_high : float
        Sum of the amounts, neat = 1.
    total_nm : float or None
        Sum of the thicknesses, where all are known.
    parts : tuple of Part, length j
        Empty where the sum is not shown to be above zero.
    alike : tuple of (coating, coating)
        Pairs that these spectra cannot tell apart: of them only the sum is known.
    as_the_sum : bool or None
        Whether the bands found are those of the sum: every coating unchanged and nothing left over. False
        where one changed or something is left; None where that is open.
    confidence : float
    """

    coatings: tuple[str, ...]
    correlation: FloatArray
    total: float
    total_low: float
    total_high: float
    total_nm: float | None
    parts: tuple[Part, ...]
    alike: tuple[tuple[str, str], ...]
    as_the_sum: bool | None
    confidence: float


def error_correlation(shapes: FloatArray) -> FloatArray:
    """Turn the correlation of shapes, shape (j, j), into that of the errors of their amounts.

    Examples
    --------
    >>> error_correlation(np.array([[1.0, 0.6], [0.6, 1.0]])).round(3)
    array([[ 1. , -0.6],
           [-0.6,  1. ]])
    """
    values, vectors = np.linalg.eigh(shapes)
    inverse = (vectors / np.maximum(values, 1e-10)) @ vectors.T
    size = np.sqrt(np.diag(inverse))
    return np.asarray(inverse / np.outer(size, size))


def sum_of(amounts: FloatArray, halves: FloatArray, correlation: FloatArray) -> tuple[float, float]:
    """Return the sum of amounts and the half-width of its interval."""
    covariance = correlation * np.outer(halves, halves)
    return float(amounts.sum()), float(np.sqrt(max(0.0, covariance.sum())))


def parts_of(amounts: FloatArray, halves: FloatArray, correlation: FloatArray) -> tuple[Part, ...]:
    """Return the share of each amount in their sum, by the slopes of a ratio (delta method).

    Empty where the sum's own interval reaches zero.
    """
    total, half = sum_of(amounts, halves, correlation)
    if total - half <= 0.0:
        return ()
    covariance = correlation * np.outer(halves, halves)
    shares = amounts / total
    found = []
    for i, share in enumerate(shares):
        slope = (np.eye(len(amounts))[i] - share) / total
        reach = float(np.sqrt(max(0.0, slope @ covariance @ slope)))
        found.append(Part(float(share), float(share) - reach, float(share) + reach))
    return tuple(found)


def alike_pairs(names: Sequence[str], shapes: FloatArray, inseparable: float) -> tuple[tuple[str, str], ...]:
    """Return pairs whose shapes are too alike to be told apart."""
    return tuple(
        (one, names[k])
        for i, one in enumerate(names)
        for k in range(i + 1, len(names))
        if abs(float(shapes[i, k])) > inseparable
    )
