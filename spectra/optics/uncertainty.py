"""Carrying unknowns on: from a few solved cases to many equally likely ones.

Each unknown was moved alone, to a few places of its prior. Between them its effect is taken as linear, and
effects of different unknowns add. Scenarios are a fixed lattice (fractional parts of multiples of square
roots of primes; Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, 1992, section 3.1),
not random numbers: the same input gives the same answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spectra.units import FloatArray

SCENARIOS = 512

# Unknowns do not quite add, and the grid and the ends of the range leave a little more: intervals widened by
# this hold the truth in 95 % of 500 simulated cases (``python -m tests.opticstrial``).
WIDENING = 1.02

PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89, 97)


@dataclass(frozen=True, eq=False)
class Effects:
    """What one unknown does.

    Attributes
    ----------
    moves : tuple of float, length v
        Places in its prior, as a share of the half-width; 0 is not among them.
    changes : ndarray, shape (v, ...)
        What changes against the middle; NaN where a case gave no answer.
    """

    moves: tuple[float, ...]
    changes: FloatArray

    def at(self, places: FloatArray) -> FloatArray:
        """Change at other places of the prior, shape (len(places), ...).

        Linear between the cases solved; beyond the last of them (or past one without an answer) the line from
        the middle is carried on.
        """
        order = np.argsort(np.append(self.moves, 0.0))
        moves = np.append(self.moves, 0.0)[order]
        changes = np.concatenate([self.changes, np.zeros_like(self.changes[:1])])[order]
        flat = changes.reshape(moves.size, -1)
        found = np.zeros((len(places), flat.shape[1]))
        for column in range(flat.shape[1]):
            found[:, column] = _between(places, moves, flat[:, column])
        return found.reshape(len(places), *self.changes.shape[1:])


def sample_effects(middle: FloatArray, effects: Mapping[str, Effects], noise: FloatArray) -> FloatArray:
    """Return equally likely positions.

    Parameters
    ----------
    middle : ndarray, shape (t, b)
        Positions with every unknown at the middle of its prior.
    effects
        By unknown; changes of shape (v, t, b).
    noise : ndarray, shape (b,) or (t, b)
        Standard deviation of each position from noise: independent from band to band.

    Returns
    -------
    ndarray, shape (m, t, b)

    Examples
    --------
    >>> one = Effects((-1.0, 1.0), np.array([[[-2.0]], [[2.0]]]))
    >>> cases = sample_effects(np.array([[1700.0]]), {"contact": one}, np.array([0.0]))
    >>> cases.mean().round(1), np.quantile(cases, 0.975).round(1)
    (np.float64(1700.0), np.float64(1701.9))
    """
    from scipy.special import ndtri

    count = np.arange(SCENARIOS) + 0.5
    roots = np.sqrt(np.resize(PRIMES, len(effects) + middle.shape[-1]))
    lattice = np.mod(count[:, None] * roots, 1.0)
    moved = np.zeros((SCENARIOS, *middle.shape))
    for column, effect in enumerate(effects.values()):
        moved += effect.at(2.0 * lattice[:, column] - 1.0)
    jitter = ndtri(np.clip(lattice[:, len(effects) :], 1e-9, 1.0 - 1e-9))
    return np.asarray(middle + WIDENING * (moved + jitter[:, None, :] * noise))


def _between(places: FloatArray, moves: FloatArray, values: FloatArray) -> FloatArray:
    """Straight lines between finite values, carried on from the middle beyond the last of them."""
    good = np.isfinite(values)
    moves, values = moves[good], values[good]
    inside = np.interp(places, moves, values)
    for end, beyond in ((0, places < moves[0]), (-1, places > moves[-1])):
        if moves[end] != 0.0:
            inside = np.where(beyond, values[end] * places / moves[end], inside)
    return np.asarray(inside)
