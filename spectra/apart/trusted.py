"""The half of a group that agrees best: found before any of its members is trusted.

Distances are first taken in a metric that no single member can spoil (median spectrum, median noise, the
usual sizes of scatter), then in the metric learned from the half itself, until the half stays. The
idea is that of the minimum covariance determinant and the forward search (Rousseeuw & Van Driessen,
Technometrics 41, 212, 1999; Atkinson, Riani & Cerioli, Exploring Multivariate Data with the Forward Search,
2004).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from scipy.linalg import solve_triangular

from spectra.apart.members import Members, plain_basis
from spectra.units import FloatArray
from spectra.variation.covariance import START, describe_substrate, noise_levels
from spectra.variation.model import contact_response, factor_of, orthonormal, project_out
from spectra.variation.nuisances import known_shapes

MOST_EXHAUSTIVE = 15  # members up to which every half is tried
ROUNDS = 3


def trusted_half(members: Members) -> tuple[int, ...]:
    """Return the members of the half that agrees best, by rising number."""
    size = max(2, (len(members) + 1) // 2)
    core = tightest(pair_distances(_start_metric(members)), size)
    for _ in range(ROUNDS):
        variation = members.learn(core)
        white = project_out(plain_basis(variation), variation.whiten(members.reduced))
        again = tightest(pair_distances(white), size)
        if set(again) == set(core):
            break
        core = again
    return core


def pair_distances(white: FloatArray) -> FloatArray:
    """Return half the squared distance of every pair, per point; shape (k, k)."""
    gram = white @ white.T
    size = np.diag(gram)
    return np.asarray((size[:, None] + size[None, :] - 2.0 * gram) / (2.0 * white.shape[1]))


def _start_metric(members: Members) -> FloatArray:
    """Whiten the members in a metric that none of them could spoil; shape (k, r)."""
    points, settings = members.reduction.points, members.settings
    noise = noise_levels(points, members.reduced, settings.window)
    middle = np.median(members.reduced, axis=0)
    factor = factor_of(describe_substrate(points, middle, noise), START, settings)
    fixed = known_shapes(members.stack.grid, members.reduction, settings.resolution)
    rows = np.vstack([members.reduced, middle, contact_response(middle), fixed])
    white = solve_triangular(factor, rows.T, lower=True).T
    return project_out(orthonormal(white[len(members) :]), white[: len(members)])


def tightest(distance: FloatArray, size: int) -> tuple[int, ...]:
    """Return the subset of ``size`` with the least sum of pair distances.

    All subsets are tried; of large groups, those grown from every member.

    Examples
    --------
    >>> place = np.array([0.0, 0.1, 5.0, 0.2])
    >>> tightest((place[:, None] - place) ** 2, 3)
    (0, 1, 3)
    """
    if len(distance) > MOST_EXHAUSTIVE:
        grown = [_grown(distance, size, seed) for seed in range(len(distance))]
        return min(grown, key=lambda chosen: float(distance[np.ix_(chosen, chosen)].sum()))
    subsets = np.array(list(combinations(range(len(distance)), size)))
    sums = np.zeros(len(subsets))
    for a, b in combinations(range(size), 2):
        sums += distance[subsets[:, a], subsets[:, b]]
    return tuple(int(i) for i in subsets[int(np.argmin(sums))])


def _grown(distance: FloatArray, size: int, seed: int) -> tuple[int, ...]:
    """Grow a tight subset from one member until it stays."""
    chosen: Sequence[int] = sorted(int(i) for i in np.argsort(distance[seed], kind="stable")[:size])
    for _ in range(20):
        nearest = np.argsort(distance[:, list(chosen)].sum(axis=1), kind="stable")[:size]
        again = sorted(int(i) for i in nearest)
        if again == chosen:
            break
        chosen = again
    return tuple(chosen)
