"""The coating band by band: what each says on its own, and whether together they show its pattern."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.detection.least_squares import Widening, fit_shapes, leave_out, widen
from spectra.detection.settings import BandSettings
from spectra.findings import BandSupport
from spectra.peaks.segmentation import Piece, split_bands
from spectra.spectrum import Frozen
from spectra.statistics import (
    critical_factor,
    detectable_factor,
    even_normals,
    even_scales,
    exceedance,
    holm,
    variance_ratio_exceedance,
)
from spectra.units import FloatArray
from spectra.variation.model import Variation
from spectra.variation.subspace import project_out

DRAWS = 512  # of the detection chance: its error is below half a per cent


@dataclass(frozen=True, eq=False)
class BandModel(Frozen):
    """The coating's bands as separate shapes, ready to be fitted.

    Attributes
    ----------
    pieces : tuple of Piece
        By falling usefulness.
    shapes : ndarray, shape (b + others, r)
        Whitened: the pieces, what they leave of the shape, the other coatings.
    errors : ndarray, shape (b,)
        Modelled standard error of each band's amount in one spot.
    masked : tuple of bool, length b
    widenings : tuple of Widening, length b
    """

    pieces: tuple[Piece, ...]
    shapes: FloatArray
    errors: FloatArray
    masked: tuple[bool, ...]
    widenings: tuple[Widening, ...]


def model_bands(
    variation: Variation,
    basis: FloatArray,
    curve: FloatArray,
    others: FloatArray,
    joint_error: float,
    prior_degrees: float,
    settings: BandSettings,
) -> BandModel:
    """Split a coating's shape into bands and find how well each can be seen, before any sample is looked at.

    Parameters
    ----------
    variation : Variation
    basis : ndarray, shape (p, r)
        Nuisances, whitened.
    curve : ndarray, shape (r,)
        The shape on the model's points, not whitened.
    others : ndarray, shape (o, r)
        Shapes of the other coatings, whitened.
    joint_error : float
        Widened standard error of the joint amount in one spot.
    prior_degrees : float
        See ``least_squares.widen``.
    settings : BandSettings

    Returns
    -------
    BandModel
        Without pieces where the shape has no band.
    """
    pieces = split_bands(variation.reduction.points, curve, settings.prominence)
    whole = variation.whiten(curve[None, :])
    shapes = _with_background(variation, basis, pieces, whole, others)
    count = len(pieces)
    errors = np.sqrt(np.diag(fit_shapes(basis, shapes, whole).covariance))[:count]
    pieces = tuple(pieces[i] for i in np.argsort(errors, kind="stable")[: settings.most])
    shapes = _with_background(variation, basis, pieces, whole, others)
    errors = np.sqrt(np.diag(fit_shapes(basis, shapes, whole).covariance))[: len(pieces)]
    left_out = leave_out(variation, shapes)
    widenings = tuple(widen(left_out.z[:, i], prior_degrees) for i in range(len(pieces)))
    masked = _masked(errors * np.array([w.factor for w in widenings]) / joint_error, settings)
    return BandModel(pieces, shapes, errors, masked, widenings)


def _masked(ratios: FloatArray, settings: BandSettings) -> tuple[bool, ...]:
    """Mask what is too uncertain beside the joint amount; the best few are kept while they are any use."""
    rank = np.argsort(np.argsort(ratios, kind="stable"))
    limits = np.where(rank <= settings.needed, settings.hopeless, settings.masked)
    return tuple(bool(ratio > limit) for ratio, limit in zip(ratios, limits, strict=True))


def _with_background(
    variation: Variation, basis: FloatArray, pieces: tuple[Piece, ...], whole: FloatArray, others: FloatArray
) -> FloatArray:
    """Whiten the pieces; add what they leave of the shape, where it is more than rounding, and the others."""
    bands = np.array([piece.curve for piece in pieces]).reshape(len(pieces), whole.shape[1])
    bands = variation.whiten(bands)
    background = whole - bands.sum(axis=0, keepdims=True)
    left = np.linalg.norm(project_out(basis, background)) / np.linalg.norm(project_out(basis, whole))
    rows = [bands, background, others] if left > 1e-3 else [bands, others]
    return np.vstack(rows)


def judge_bands(
    model: BandModel, basis: FloatArray, spectrum: FloatArray, variance: float, alpha: float, power: float
) -> tuple[BandSupport, ...]:
    """Test every band on its own in one joint fit.

    Parameters
    ----------
    model : BandModel
    basis : ndarray, shape (p, r)
    spectrum : ndarray, shape (1, r)
        Mean of the sample, whitened.
    variance : float
        Of the sample's mean against the bare mean, in units of one spot's.
    alpha, power : float

    Returns
    -------
    tuple of BandSupport
        By falling wavenumber.
    """
    if not model.pieces:
        return ()
    amounts = fit_shapes(basis, model.shapes, spectrum).amounts[0]
    errors = band_errors(model, variance)
    freedoms = [w.degrees for w in model.widenings]
    t = amounts[: len(errors)] / errors
    p_values = np.array([float(exceedance(value, f)) for value, f in zip(t, freedoms, strict=True)])
    adjusted = np.ones_like(p_values)
    seen = ~np.array(model.masked)
    adjusted[seen] = holm(p_values[seen])
    found = [
        BandSupport(
            piece.position, piece.low, piece.high, float(amounts[i]), float(errors[i]),
            float(errors[i] * critical_factor(alpha, freedoms[i])),
            float(errors[i] * detectable_factor(alpha, power, freedoms[i])),
            float(t[i]), float(p_values[i]), float(adjusted[i]), model.masked[i],
            bool(seen[i] and adjusted[i] < alpha),
        )
        for i, piece in enumerate(model.pieces)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda band: -band.position))


def band_errors(model: BandModel, variance: float) -> FloatArray:
    """Widened standard error of every band's amount, shape (b,)."""
    return np.asarray(model.errors * np.array([w.factor for w in model.widenings]) * np.sqrt(variance))


def pattern_chance(
    model: BandModel, basis: FloatArray, spectrum: FloatArray, variance: float, tolerance: float
) -> float | None:
    """Chance of band amounts as unequal as the sample's if the coating's pattern is right.

    Parameters
    ----------
    model : BandModel
    basis : ndarray, shape (p, r)
    spectrum : ndarray, shape (1, r)
    variance : float
        As for :func:`judge_bands`.
    tolerance : float
        Relative amount by which a band of the right coating may differ from the expected shape.

    Returns
    -------
    float or None
        None with fewer than two bands.
    """
    count = len(model.pieces)
    if count < 2:
        return None
    fit = fit_shapes(basis, model.shapes, spectrum)
    amounts = fit.amounts[0, :count]
    factors = np.array([w.factor for w in model.widenings]) * np.sqrt(variance)
    covariance = fit.covariance[:count, :count] * np.outer(factors, factors)
    common = _common(amounts, covariance)
    covariance = covariance + np.eye(count) * (tolerance * common) ** 2
    common = _common(amounts, covariance)
    spread = (amounts - common) @ np.linalg.solve(covariance, amounts - common)
    degrees = float(np.mean([w.degrees for w in model.widenings]))
    return float(variance_ratio_exceedance(spread / (count - 1), count - 1, degrees))


def _common(amounts: FloatArray, covariance: FloatArray) -> float:
    """Best common value of correlated amounts."""
    weights = np.linalg.solve(covariance, np.ones_like(amounts))
    return float(weights @ amounts / weights.sum())


def rule_detectable(
    model: BandModel,
    basis: FloatArray,
    joint: Widening,
    joint_error: float,
    variance: float,
    alpha: float,
    power: float,
    settings: BandSettings,
) -> float:
    """Smallest amount the whole rule finds with the wanted power: joint test and enough bands.

    For evenly spread errors of the band amounts, with their correlations, and of the error estimate itself,
    the amount is found from which on both parts of the rule are met; its quantile is the answer.

    Parameters
    ----------
    model : BandModel
    basis : ndarray, shape (p, r)
    joint : Widening
    joint_error : float
        Modelled standard error of the joint amount of the sample.
    variance : float
    alpha, power : float
        Of the joint test, and of the rule.
    settings : BandSettings

    Returns
    -------
    float
        Infinite where too few bands are unmasked.
    """
    seen = np.flatnonzero(~np.array(model.masked, dtype=bool))
    if seen.size < settings.needed:
        return float("inf")
    covariance = fit_shapes(basis, model.shapes, model.shapes[:1]).covariance[np.ix_(seen, seen)]
    size = np.sqrt(np.diag(covariance))
    factor = np.linalg.cholesky(covariance / np.outer(size, size) + 1e-9 * np.eye(seen.size))
    draws = even_normals(DRAWS, seen.size + 1)
    noise = draws[:, :-1] @ factor.T
    errors = band_errors(model, variance)[seen]
    degrees = float(np.mean([model.widenings[i].degrees for i in seen]))
    scales = even_scales(draws[:, -1], degrees)
    need = _band_need(noise, scales, errors, degrees, settings.alpha, settings.needed)
    shared = noise @ (1.0 / errors)
    joint_noise = shared / shared.std()
    limit = critical_factor(alpha, joint.degrees)
    joint_need = joint_error * joint.factor * (limit * scales - joint_noise)
    return float(np.quantile(np.maximum(need, joint_need), power))


def _band_need(
    noise: FloatArray, scales: FloatArray, errors: FloatArray, degrees: float, alpha: float, needed: int
) -> FloatArray:
    """Amount from which on enough bands pass after Holm, for every draw, shape (draws,)."""
    need = np.full(len(noise), -np.inf)
    for passed in range(needed):
        limit = critical_factor(alpha / (errors.size - passed), degrees)
        amounts = errors * (limit * scales[:, None] - noise)
        need = np.maximum(need, np.sort(amounts, axis=1)[:, passed])
    return np.asarray(need)
