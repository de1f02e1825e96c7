"""Left behind: bands that neither the substrate nor the expected coatings account for.

The sample's mean is set against bare substrate plus coatings in the metric of what bare spots do by
themselves (``spectra.variation``), and every place of the spectrum is asked whether a bump of one of several
widths improves the fit: a matched filter with the learned covariance. Small moves, broadening and a tilt of
the coatings' spectra are projected out, and what a coating's bands may differ by in height is added to the
error of a bump on them. The same bumps looked for on left-out bare specimens widen the error place by
place. Looking along the whole spectrum is paid for: the threshold is that of the highest of as many
independent places as fit into the range, and never below what left-out bare spots reach themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.jointfit import bare_variance, unit_variance
from spectra.replicates import critical_factor
from spectra.settings import require_in_range, setting
from spectra.shapes import split_bands
from spectra.spectrum import Frozen
from spectra.units import FloatArray, Mask
from spectra.variation import Variation, nuisance_basis, orthonormal, project_out

FOUR_LN2 = 4 * np.log(2.0)


@dataclass(frozen=True)
class ResidueSettings:
    """What counts as an unexplained band."""

    widths: tuple[float, ...] = setting(
        (10.0, 20.0, 40.0, 80.0), "full widths of the bumps looked for", unit="cm-1", low=4.0, high=300.0
    )
    alpha: float = setting(0.01, "chance of a false finding anywhere in one sample", low=1e-6, high=0.2)
    shape_tolerance: float = setting(
        0.15, "what a coating's band may differ by from the expected one, in height", low=0, high=1
    )
    substrate_tolerance: float = setting(
        0.01, "the same for the substrate's bands, beyond what bare spots show", low=0, high=1
    )
    trust: float = setting(2.0, "degrees of freedom of the model's error per bare specimen", low=0, high=20)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True, eq=False)
class BumpBank(Frozen):
    """The bumps that are looked for: made once a study.

    Attributes
    ----------
    positions, widths : ndarray, shape (b,), cm-1
    whitened : ndarray, shape (b, r)
        Bumps of height one, in the metric of the bare spots.
    """

    positions: FloatArray
    widths: FloatArray
    whitened: FloatArray


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
    heights, errors : ndarray, shape (b,), absorbance
        The error is infinite where substrate or coatings explain a bump wholly.
    degrees : float
        Degrees of freedom of the errors.
    threshold : float
        In standard errors, for a finding anywhere in the spectrum.
    """

    bank: BumpBank
    heights: FloatArray
    errors: FloatArray
    degrees: float
    threshold: float

    @property
    def evidence(self) -> FloatArray:
        """Height over error, shape (b,)."""
        return self.heights / self.errors


def make_bumps(variation: Variation, settings: ResidueSettings) -> BumpBank:
    """Lay bumps of all widths along the usable points, a quarter of a width apart.

    Parameters
    ----------
    variation : Variation
    settings : ResidueSettings
    """
    points = variation.reduction.points
    positions, widths, shapes = [], [], []
    for width in settings.widths:
        for centre in np.arange(points[0] + width / 2, points[-1] - width / 2, width / 4):
            shape = np.exp(-FOUR_LN2 * ((points - centre) / width) ** 2)
            if _covered(points, shape, width):
                positions.append(centre)
                widths.append(width)
                shapes.append(shape)
    return BumpBank(np.array(positions), np.array(widths), variation.whiten(np.array(shapes)))


def _covered(points: FloatArray, shape: FloatArray, width: float) -> bool:
    """Tell whether nearly all of a bump falls on points that are used."""
    step = float(np.median(np.diff(points)))
    whole = width / step * np.sqrt(np.pi / FOUR_LN2)
    return bool(shape.sum() > 0.9 * whole)


def search_residual(
    sample: FloatArray,
    variance: float,
    variation: Variation,
    coatings: Sequence[tuple[float, FloatArray]],
    bank: BumpBank,
    settings: ResidueSettings,
) -> Search:
    """Ask every place of a sample for a band that nothing expected explains.

    Parameters
    ----------
    sample : ndarray, shape (1, r)
        Whitened mean of the sample.
    variance : float
        Of that mean against the bare mean, in units of one spot's.
    variation : Variation
    coatings : sequence of (amount, ndarray of shape (r,))
        Amount found of each coating, and its expected spectrum per unit amount on the model's points.
    bank : BumpBank
    settings : ResidueSettings
    """
    expected = _expected(variation, coatings)
    basis = (
        orthonormal(np.vstack([nuisance_basis(variation), expected]))
        if len(expected)
        else nuisance_basis(variation)
    )
    heights, norms = _ask(bank, basis, sample[0])
    scatter, degrees, highest = _bare_scatter(variation, bank, expected, settings)
    errors = np.sqrt(np.maximum(variance, 1e-300)) * scatter / norms
    errors = np.hypot(errors, _tolerated(variation, coatings, bank, basis, norms, settings))
    tail = settings.alpha / (2 * _places(variation, settings))
    return Search(bank, heights, errors, degrees, max(critical_factor(tail, degrees), highest))


def _ask(bank: BumpBank, basis: FloatArray, residual: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the height of every bump and the length of its part outside the basis."""
    inside = bank.whitened @ basis.T
    squares = (bank.whitened**2).sum(axis=1)
    free = squares - (inside**2).sum(axis=1)
    # A bump of which the basis explains all but a hundredth says nothing by itself.
    norms = np.where(free > 1e-2 * squares, np.sqrt(np.maximum(free, 1e-300)), 1e-150)
    rest = residual - (residual @ basis.T) @ basis
    return (bank.whitened @ rest) / norms**2, norms


def _expected(variation: Variation, coatings: Sequence[tuple[float, FloatArray]]) -> FloatArray:
    """Return the coatings' spectra, their slopes and tilts, whitened."""
    points = variation.reduction.points
    tilt = (points - points.mean()) / np.ptp(points)
    rows = [row for _, curve in coatings for row in (curve, np.gradient(curve, points), tilt * curve)]
    return variation.whiten(np.array(rows)) if rows else np.zeros((0, points.size))


def _bare_scatter(
    variation: Variation, bank: BumpBank, expected: FloatArray, settings: ResidueSettings
) -> tuple[FloatArray, float, float]:
    """Return how left-out bare specimens widen each bump's error, its degrees, and their highest evidence."""
    z = []
    for unit in variation.units:
        others = [i for i in range(len(variation)) if i not in unit]
        basis = orthonormal(np.vstack([nuisance_basis(variation, others), expected]))
        left_out = variation.whitened[list(unit)].mean(axis=0)
        heights, norms = _ask(bank, basis, left_out)
        spread = unit_variance(len(unit), variation.share) + bare_variance(variation, unit)
        z.append(heights * norms / np.sqrt(spread))
    prior = settings.trust * (len(z) - 1)
    pooled = _pooled(np.array(z) ** 2, bank)
    scatter = np.sqrt(np.maximum((prior + len(z) * pooled) / (prior + len(z)), 1.0))
    highest = float(np.max(np.abs(z) / scatter)) if z else 0.0
    return scatter, prior + len(z), highest


def _pooled(squares: FloatArray, bank: BumpBank) -> FloatArray:
    """Average squares over units and over the neighbouring bumps of the same width, shape (b,)."""
    mean = squares.mean(axis=0)
    pooled = np.empty_like(mean)
    for width in np.unique(bank.widths):
        same = bank.widths == width
        pooled[same] = np.convolve(np.pad(mean[same], 4, mode="edge"), np.ones(9) / 9, mode="valid")
    return np.asarray(np.maximum(pooled, mean))


def _tolerated(
    variation: Variation,
    coatings: Sequence[tuple[float, FloatArray]],
    bank: BumpBank,
    basis: FloatArray,
    norms: FloatArray,
    settings: ResidueSettings,
) -> FloatArray:
    """Return what the tolerated misfit of single bands contributes to each bump, absorbance."""
    points = variation.reduction.points
    rows = [
        settings.shape_tolerance * amount * piece.curve
        for amount, curve in coatings
        for piece in split_bands(points, curve, 0.02)
    ]
    mean = variation.spots.mean(axis=0)
    rows += [settings.substrate_tolerance * piece.curve for piece in split_bands(points, mean, 0.02)]
    if not rows:
        return np.zeros_like(norms)
    free = project_out(basis, variation.whiten(np.array(rows)))
    return np.asarray(np.sqrt(((bank.whitened @ free.T) ** 2).sum(axis=1)) / norms**2)


def _places(variation: Variation, settings: ResidueSettings) -> float:
    """Return how many independent places are looked at."""
    points = variation.reduction.points
    span = points.size * float(np.median(np.diff(points)))
    return max(sum(span / width for width in settings.widths), 1.0)


def find_bumps(search: Search) -> tuple[Bump, ...]:
    """Return the findings above the threshold, most evident first, one for each place."""
    return _distinct(search, np.abs(search.evidence) > search.threshold)


def bump_between(search: Search, low: float, high: float) -> Bump | None:
    """Return the most evident rising bump whose maximum lies between two wavenumbers.

    A place where an even more evident bump lies beside the window, overlapping it, holds no bump of its own.
    """
    bank, evidence = search.bank, search.evidence
    near = (bank.positions >= low) & (bank.positions <= high)
    if not near.any():
        return None
    best = int(np.flatnonzero(near)[np.argmax(evidence[near])])
    beside = (np.abs(bank.positions - bank.positions[best]) < bank.widths[best]) & ~near
    if np.any(np.abs(evidence[beside]) > abs(evidence[best])):
        return None
    return _bump(search, best)


def _bump(search: Search, i: int) -> Bump:
    """Describe one bump of the bank."""
    bank = search.bank
    return Bump(
        float(bank.positions[i]),
        float(search.heights[i]),
        float(bank.widths[i]),
        float(search.evidence[i]),
        float(search.errors[i]),
    )


def _distinct(search: Search, chosen: Mask) -> tuple[Bump, ...]:
    """Keep the most evident of bumps that overlap, the filter's own side lobes included."""
    kept: list[Bump] = []
    for i in sorted(np.flatnonzero(chosen), key=lambda i: -abs(search.evidence[i])):
        bump = _bump(search, int(i))
        if all(abs(bump.position - k.position) > 1.2 * max(bump.width, k.width) for k in kept):
            kept.append(bump)
    return tuple(kept)
