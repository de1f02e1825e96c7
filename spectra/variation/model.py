"""What bare spots do by themselves: the yardstick every verdict is measured with.

The detector is not the limit of a coating's proof; the substrate's own scatter is. It is learned from the
bare replicates (:mod:`spectra.variation.covariance`) and used in three ways:

- whitening: a spectrum is divided by the covariance's Cholesky factor, so that every stretch counts as much
  as the substrate leaves it meaning;
- nuisances: shapes whose height says nothing about a coating are projected out: the substrate itself and
  its response to contact, baseline, water vapour and carbon dioxide, and the principal directions
  in which the bare spots were seen to differ (at most two fewer than there are spots);
- leave-one-out: the same model is tried on each bare specimen in turn, as if it were a sample.

Specimens are the units of replication: where they hold several spots each, the model is learned from their
means. The spots of a single specimen stand in as units, and the verdict says so.

Raw absorbance goes in: no baseline is fitted to single spectra, the model holds its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from spectra.errors import SpectraError
from spectra.replicates import group_rows
from spectra.spectrum import Frozen, Stack, read_only
from spectra.units import FloatArray
from spectra.variation.binning import Reduction, reduce_grid, spread_pairs
from spectra.variation.covariance import Substrate, components, describe_substrate, noise_levels, total
from spectra.variation.nuisances import contact_response as contact_response
from spectra.variation.nuisances import known_shapes
from spectra.variation.settings import VariationSettings
from spectra.variation.subspace import contrasts_of, fit_in_steps
from spectra.variation.subspace import orthonormal as orthonormal
from spectra.variation.subspace import project_out as project_out


@dataclass(frozen=True, eq=False)
class Variation(Frozen):
    """The learned model of the bare spots.

    Attributes
    ----------
    reduction : Reduction
        From the common grid to the model's points.
    spots : ndarray, shape (k, r), absorbance
        The units of replication on the model's points: bare specimens, each the mean of its spots; or the
        spots of the only specimen there is.
    specimens : tuple of str, length k
    sizes : mapping of str to float
        Standard deviation of each term, in the units of ``covariance.START``.
    noise : ndarray, shape (r,), absorbance
        Detector noise of one spot.
    factor : ndarray, shape (r, r)
        Lower Cholesky factor of the covariance of one unit.
    whitened : ndarray, shape (k, r)
        ``spots`` in units of that factor.
    fixed : ndarray, shape (p, r)
        Baseline and gases, whitened.
    contacts : ndarray, shape (k + 1, r)
        Response to contact for the mean without spot i; the last row for the mean of all. Whitened.
    share : float or None
        Share of one spot's variance that its specimen brings; None where specimens hold one spot each.
    per_unit : float
        Spots averaged in one unit, on average.
    settings : VariationSettings
    """

    reduction: Reduction
    spots: FloatArray
    specimens: tuple[str, ...]
    sizes: Mapping[str, float]
    noise: FloatArray
    factor: FloatArray
    whitened: FloatArray
    fixed: FloatArray
    contacts: FloatArray
    share: float | None
    per_unit: float
    settings: VariationSettings

    def __post_init__(self) -> None:
        for name in ("spots", "noise", "factor", "whitened", "fixed", "contacts"):
            object.__setattr__(self, name, read_only(getattr(self, name)))

    def __len__(self) -> int:
        return len(self.specimens)

    @property
    def units(self) -> tuple[tuple[int, ...], ...]:
        """Rows left out at a time: each unit by itself."""
        return tuple((i,) for i in range(len(self)))

    @property
    def one_specimen(self) -> bool:
        """Whether the units are spots of one specimen, so that other specimens are not represented."""
        return len(set(self.specimens)) == 1

    def whiten(self, reduced: FloatArray) -> FloatArray:
        """Divide curves on the model's points, shape (m, r), by the covariance factor."""
        return np.asarray(solve_triangular(self.factor, reduced.T, lower=True, check_finite=False).T)


def learn(bare: Stack, settings: VariationSettings) -> Variation:
    """Learn from bare spots how the substrate varies.

    Parameters
    ----------
    bare : Stack
        Two spots or more, raw absorbance on the common grid.
    settings : VariationSettings

    Returns
    -------
    Variation

    Raises
    ------
    SpectraError
        With fewer than two spots, or fewer than 30 usable points.
    """
    if len(bare) < 2:
        raise SpectraError(
            f"found {len(bare)} bare spectrum; how the substrate varies takes two at least, better five: "
            "measure more bare spots"
        )
    reduction = reduce_grid(bare, settings.step)
    measured = reduction.apply(bare.absorbance)
    groups = group_rows(bare.specimens)
    if len(groups) in (1, len(bare)):
        return _learn_units(measured, bare.specimens, bare.grid, reduction, settings)
    means = np.array([measured[list(rows)].mean(axis=0) for rows in groups])
    found = _learn_units(means, tuple(dict.fromkeys(bare.specimens)), bare.grid, reduction, settings)
    within = np.vstack([measured[list(rows)] - mean for rows, mean in zip(groups, means, strict=True)])
    spots = len(bare) / len(groups)
    share = _specimen_share(found, within, len(bare) - len(groups), spots)
    return replace(found, share=share, per_unit=spots)


def _learn_units(
    spots: FloatArray,
    specimens: tuple[str, ...],
    grid: FloatArray,
    reduction: Reduction,
    settings: VariationSettings,
) -> Variation:
    """Learn from units of replication, shape (k, r)."""
    noise = noise_levels(reduction.points, spots, settings.window)
    substrate = describe_substrate(reduction.points, spots.mean(axis=0), noise)
    fixed = known_shapes(grid, reduction, settings.resolution)
    nuisances = np.vstack([substrate.mean, contact_response(substrate.mean), fixed])
    few = spread_pairs(reduction.points.size, settings.points)
    terms = components(substrate.take(few), lengths_of(settings))
    sizes = fit_in_steps(contrasts_of(spots)[:, few], orthonormal(nuisances[:, few]), terms)
    factor = factor_of(substrate, sizes, settings)
    white = whitened(factor, spots, fixed)
    return Variation(reduction, spots, specimens, sizes, noise, factor, *white, None, 1.0, settings)


def lengths_of(settings: VariationSettings) -> dict[str, float]:
    """Return the correlation lengths of the terms, cm-1."""
    return {name: getattr(settings, name) for name in ("narrow", "wide", "position", "drift")}


def factor_of(substrate: Substrate, sizes: Mapping[str, float], settings: VariationSettings) -> FloatArray:
    """Return the lower Cholesky factor of one unit's covariance on all points, shape (r, r)."""
    return cholesky(total(components(substrate, lengths_of(settings)), sizes), lower=True)


def nuisance_basis(variation: Variation, rows: Sequence[int] | None = None) -> FloatArray:
    """Orthonormal basis of what is projected out, learned from the bare spots ``rows``.

    Parameters
    ----------
    variation : Variation
    rows : sequence of int, optional
        Bare spots that may be used; all if not given.

    Returns
    -------
    ndarray, shape (p, r)
        In whitened coordinates.
    """
    chosen = list(range(len(variation))) if rows is None else list(rows)
    missing = [i for i in range(len(variation)) if i not in chosen]
    contact = variation.contacts[missing[0] if len(missing) == 1 else -1]
    spots = variation.whitened[chosen]
    basis = orthonormal(np.vstack([spots.mean(axis=0), contact, variation.fixed]))
    count = count_directions(variation, len(chosen))
    if not count:
        return basis
    deviations = project_out(basis, contrasts_of(spots))
    directions = np.linalg.svd(deviations, full_matrices=False)[2][:count]
    return np.vstack([basis, directions])


def count_directions(variation: Variation, spots: int | None = None) -> int:
    """Count the directions of difference learned from so many spots (all, if not given).

    They are the last rows of :func:`nuisance_basis`.
    """
    known = len(variation) if spots is None else spots
    return min(variation.settings.directions, max(0, known - 2))


def whitened(
    factor: FloatArray, spots: FloatArray, fixed: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return spots, fixed nuisances and contact responses in whitened coordinates, with one solve."""
    count = len(spots)
    means = [np.delete(spots, i, axis=0).mean(axis=0) for i in range(count)] + [spots.mean(axis=0)]
    contacts = np.array([contact_response(mean) for mean in means])
    rows = np.vstack([spots, fixed, contacts])
    solved = solve_triangular(factor, rows.T, lower=True, check_finite=False).T
    return solved[:count], solved[count : count + len(fixed)], solved[count + len(fixed) :]


def _specimen_share(variation: Variation, within: FloatArray, freedom: int, spots: float) -> float:
    """Share of one spot's variance that its specimen brings.

    Parameters
    ----------
    variation : Variation
        Learned from specimen means.
    within : ndarray, shape (m, r), absorbance
        Spots minus the mean of their specimen.
    freedom : int
        Spots less specimens.
    spots : float
        On each specimen, on average.
    """
    basis = orthonormal(np.vstack([variation.whitened.mean(axis=0), variation.contacts[-1], variation.fixed]))
    spot = float(np.sum(project_out(basis, variation.whiten(within)) ** 2)) / freedom
    means = project_out(basis, contrasts_of(variation.whitened))
    specimen = max(0.0, float(np.sum(means**2)) / len(means) - spot / spots)
    return specimen / (specimen + spot)
