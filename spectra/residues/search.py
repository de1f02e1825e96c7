"""Left behind: bands that neither the substrate nor the expected coatings account for.

The sample's mean is set against bare substrate plus coatings in the metric of what bare spots do by
themselves (``spectra.variation.model``), and every place of the spectrum is asked whether a bump of one of
several widths improves the fit: a matched filter with the learned covariance, to which is added what a
coating's bands may differ by in height, place and width, and the substrate's beyond what bare spots show.
The same bumps looked for on left-out bare specimens widen the error place by place. Looking along the whole
spectrum is paid for: the threshold is that of the highest of as many independent places as fit into the
range, and never below what left-out bare spots reach themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from spectra.peaks.segmentation import split_bands
from spectra.residues.filter_bank import PLACES_A_WIDTH, BumpBank, joined, start
from spectra.residues.settings import ResidueSettings
from spectra.spectrum import Frozen
from spectra.units import FloatArray, IndexArray
from spectra.variation.model import Variation, nuisance_basis, project_out


@dataclass(frozen=True)
class Bump:
    """An unexplained band; a negative height is absorption that is missing. Evidence in standard errors."""

    position: float
    height: float
    width: float
    evidence: float
    error: float


@dataclass(frozen=True, eq=False)
class Search(Frozen):
    """What every bump of the bank says about one sample.

    Attributes
    ----------
    bank : BumpBank
    found : tuple of Bump
        Above the threshold, most evident first; each taken out, with its neighbours in place and width,
        before the next is sought, so that one band is not found again in what it does to the drift.
    heights, errors : ndarray, shape (b,), absorbance
        Of what is left after those; the error is huge where everything before explains a bump.
    smallest : float, absorbance
        Height below which a bump is taken for misfit of the coating.
    """

    bank: BumpBank
    found: tuple[Bump, ...]
    heights: FloatArray
    errors: FloatArray
    smallest: float

    @property
    def evidence(self) -> FloatArray:
        """Height over error, shape (b,)."""
        return self.heights / self.errors


@dataclass(frozen=True, eq=False)
class Sought(Frozen):
    """What is looked through for bumps, whitened.

    Attributes
    ----------
    sample : ndarray, shape (1, r)
    basis : ndarray, shape (p, r)
        Orthonormal; what is taken out at any size.
    tolerated : ndarray, shape (t, r)
        What goes along with a bump under a prior of one, a row each.
    variance : float
        Of the sample's mean against the bare mean, in units of one unit's.
    smallest : float, absorbance
        Height below which a bump is taken for misfit of the coating.
    """

    sample: FloatArray
    basis: FloatArray
    tolerated: FloatArray
    variance: float
    smallest: float


def sought_beside(
    sample: FloatArray,
    variance: float,
    variation: Variation,
    coatings: Sequence[tuple[float, FloatArray]],
    settings: ResidueSettings,
) -> Sought:
    """Look beside expected shapes that take whatever amount they take.

    Parameters
    ----------
    sample : ndarray, shape (1, r)
        Whitened mean of the sample.
    variance : float
        Of that mean against the bare mean, in units of one spot's.
    variation : Variation
    coatings : sequence of (amount, ndarray of shape (r,))
        Amount found of each coating, and its expected spectrum per unit amount on the model's points.
    settings : ResidueSettings
    """
    curves = np.reshape([curve for _, curve in coatings], (len(coatings), variation.reduction.points.size))
    basis = joined(nuisance_basis(variation), variation.whiten(curves))
    smallest = settings.smallest * max((a * float(np.ptp(c)) for a, c in coatings), default=0.0)
    return Sought(sample, basis, _tolerated(variation, coatings, basis, settings), variance, smallest)


def search_residual(sought: Sought, bank: BumpBank, most: int = 40) -> Search:
    """Ask every place of a sample for a band that nothing expected explains.

    Parameters
    ----------
    sought : Sought
    bank : BumpBank
    most : int
        Bands after which the search stops.
    """
    soften = _softener(sought.tolerated, sought.variance)
    pursuit = start(soften(bank.whitened), sought.basis, soften(sought.sample)[0])
    found: list[Bump] = []
    while len(found) < most:
        heights, norms = pursuit.ask()
        errors = np.sqrt(sought.variance) * bank.scatter / norms
        evidence = np.where(np.abs(heights) >= sought.smallest, np.abs(heights) / errors, 0.0)
        best = int(np.argmax(evidence))
        if evidence[best] <= bank.threshold:
            break
        found.append(_bump(bank, heights, errors, best))
        pursuit.take_out(_alike(bank, best))
    return Search(bank, tuple(found), heights, errors, sought.smallest)


def _softener(tolerated: FloatArray, variance: float) -> Callable[[FloatArray], FloatArray]:
    """Return the map that whitens rows for the covariance ``variance + tolerated' tolerated``.

    Directions in which the tolerated misfit is large against the noise shrink; none is lost wholly.
    """
    if not len(tolerated):
        return lambda rows: rows
    _, sizes, directions = np.linalg.svd(tolerated, full_matrices=False)
    share = 1.0 - np.sqrt(variance / (sizes**2 + variance))
    kept = share > 1e-3
    directions, share = directions[kept], share[kept]
    return lambda rows: np.asarray(rows - ((rows @ directions.T) * share) @ directions)


def _alike(bank: BumpBank, best: int) -> IndexArray:
    """Return a bump, its neighbours in place, and the bumps of other widths at its place."""
    near = np.abs(bank.positions - bank.positions[best])
    same = (bank.widths == bank.widths[best]) & (near < 0.5 * bank.widths[best])
    step = np.where(bank.widths < bank.widths[best], bank.widths, bank.widths[best]) / PLACES_A_WIDTH
    other = (bank.widths != bank.widths[best]) & (near <= 0.5 * step + 1e-9)
    within = other & (bank.widths >= 0.4 * bank.widths[best]) & (bank.widths <= 2.5 * bank.widths[best])
    return np.flatnonzero(same | within)


def _tolerated(
    variation: Variation,
    coatings: Sequence[tuple[float, FloatArray]],
    basis: FloatArray,
    settings: ResidueSettings,
) -> FloatArray:
    """Return what single bands may differ by in height, place and width, one deviation a row, whitened."""
    points = variation.reduction.points
    rows = []
    for amount, curve in coatings:
        slope = np.gradient(curve, points)
        for piece in split_bands(points, curve, 0.02):
            inside = (points >= piece.low) & (points <= piece.high)
            rows.append(settings.shape_tolerance * amount * piece.curve)
            rows.append(settings.place_tolerance * amount * slope * inside)
            away = points - piece.position  # widening by a share s adds s * (position - nu) * slope
            rows.append(settings.width_tolerance * amount * away * slope * inside)
    mean = variation.spots.mean(axis=0)
    rows += [settings.substrate_tolerance * piece.curve for piece in split_bands(points, mean, 0.02)]
    if not rows:
        return np.zeros((0, points.size))
    return project_out(basis, variation.whiten(np.array(rows)))


def bump_between(search: Search, low: float, high: float) -> Bump | None:
    """Return the most evident rising bump whose maximum lies between two wavenumbers.

    One that was found anywhere counts; else the highest of what is left, unless it is the flank of an even
    more evident one beside the window.
    """
    for bump in search.found:
        if low <= bump.position <= high and bump.height > 0:
            return bump
    bank, evidence = search.bank, search.evidence
    near = (bank.positions >= low) & (bank.positions <= high)
    if not near.any():
        return None
    best = int(np.flatnonzero(near)[np.argmax(evidence[near])])
    beside = (np.abs(bank.positions - bank.positions[best]) < bank.widths[best]) & ~near
    if search.heights[best] < search.smallest or np.any(np.abs(evidence[beside]) > abs(evidence[best])):
        return None
    return _bump(bank, search.heights, search.errors, best)


def _bump(bank: BumpBank, heights: FloatArray, errors: FloatArray, i: int) -> Bump:
    """Describe one bump of the bank."""
    return Bump(
        float(bank.positions[i]),
        float(heights[i]),
        float(bank.widths[i]),
        float(heights[i] / errors[i]),
        float(errors[i]),
    )
