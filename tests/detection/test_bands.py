"""Band by band: statsmodels' fits and corrections, and the whole rule played out with drawn errors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from spectra.detection.bands import (
    BandModel,
    band_errors,
    judge_bands,
    model_bands,
    pattern_chance,
    rule_detectable,
)
from spectra.detection.least_squares import Widening, fit_shapes
from spectra.detection.settings import BandSettings
from spectra.variation.model import nuisance_basis
from tests.smallbench import COATING, POINTS, bare_set, bump, draw, gls

VARIATION = bare_set()
BASIS = nuisance_basis(VARIATION)
NONE = np.zeros((0, POINTS.size))
SETTINGS = BandSettings()
PRIOR = 5.0


def model(curve=COATING, others=NONE, joint_error=None, settings=SETTINGS) -> BandModel:
    whole = VARIATION.whiten(curve[None, :])
    if joint_error is None:
        joint_error = float(np.sqrt(fit_shapes(BASIS, whole, whole).covariance[0, 0]))
    return model_bands(VARIATION, BASIS, curve, others, joint_error, PRIOR, settings)


def judged(found: BandModel, spectrum: np.ndarray, variance: float = 1.5, alpha=0.05, power=0.95):
    return judge_bands(found, BASIS, VARIATION.whiten(spectrum[None, :]), variance, alpha, power)


def columns(found: BandModel, curve: np.ndarray) -> np.ndarray:
    """The bands, and what they leave of the shape where that is more than rounding, as absorbance."""
    pieces = np.array([piece.curve for piece in found.pieces])
    rest = curve - pieces.sum(axis=0)
    return np.vstack([pieces, rest]) if np.abs(rest).max() > 1e-3 else pieces


def test_bands_are_those_of_the_shape_by_falling_usefulness() -> None:
    found = model()
    assert sorted(piece.position for piece in found.pieces) == [1028.0, 1108.0, 1212.0]
    errors = np.array(
        [
            np.sqrt(gls(columns(found, COATING), COATING, VARIATION.spots)[1][i, i])
            for i in range(3)
        ]
    )  # fmt: skip
    assert found.errors == pytest.approx(errors, rel=1e-5)
    assert list(found.errors) == sorted(found.errors)


def test_amounts_tests_and_corrections_are_those_of_statsmodels() -> None:
    found, spectrum = model(), draw(1, 4, 0.006 * COATING)[0]
    bands = judged(found, spectrum)
    amounts, covariance, _ = gls(columns(found, COATING), spectrum, VARIATION.spots)
    errors = np.sqrt(np.diag(covariance))[:3] * np.sqrt(1.5) * [w.factor for w in found.widenings]
    degrees = np.array([w.degrees for w in found.widenings])
    p = stats.t.sf(amounts[:3] / errors, degrees)
    adjusted = multipletests(p, method="holm")[1]
    order = np.argsort([-piece.position for piece in found.pieces])
    for band, i in zip(bands, order, strict=True):
        assert band.position == found.pieces[i].position
        assert band.amount == pytest.approx(amounts[i], rel=1e-4)
        assert band.error == pytest.approx(errors[i], rel=1e-4)
        assert band.t == pytest.approx(amounts[i] / errors[i], rel=1e-4)
        assert band.p_value == pytest.approx(p[i], rel=1e-3)
        assert band.p_adjusted == pytest.approx(adjusted[i], rel=1e-3)
        assert band.critical_amount == pytest.approx(errors[i] * stats.t.isf(0.05, degrees[i]), rel=1e-4)
        # The detectable amount is found with the stated power: the non-central t says so.
        reached = stats.nct.sf(stats.t.isf(0.05, degrees[i]), degrees[i], band.detectable_amount / errors[i])
        assert reached == pytest.approx(0.95, abs=1e-3)
        assert band.supports == (not band.masked and band.p_adjusted < 0.05)


def test_left_out_specimens_widen_a_bands_error() -> None:
    found = model()
    curves = columns(found, COATING)
    for i in range(3):
        z = []
        for k, spot in enumerate(VARIATION.spots):
            amounts, covariance, _ = gls(curves, spot, np.delete(VARIATION.spots, k, axis=0))
            z.append(amounts[i] / np.sqrt(1.2 * covariance[i, i]))
        assert found.widenings[i].degrees == PRIOR + 6
        assert found.widenings[i].factor == pytest.approx(
            np.sqrt((PRIOR + np.sum(np.square(z))) / (PRIOR + 6)), rel=1e-4
        )


def test_a_masked_band_neither_supports_nor_costs_the_others() -> None:
    plain = model()
    masked = BandModel(plain.pieces, plain.shapes, plain.errors, (False, False, True), plain.widenings)
    spectrum = draw(1, 9, 0.05 * COATING)[0]
    hidden = next(b for b in judged(masked, spectrum) if b.masked)
    assert hidden.position == plain.pieces[2].position
    assert (hidden.supports, hidden.p_adjusted) == (False, 1.0)
    seen = [b for b in judged(masked, spectrum) if not b.masked]
    p = multipletests([b.p_value for b in seen], method="holm")[1]
    assert [b.p_adjusted for b in seen] == pytest.approx(list(p), rel=1e-9)


def test_bands_far_worse_than_the_joint_amount_are_masked_but_not_the_best_few() -> None:
    errors = model().errors * np.array([w.factor for w in model().widenings])

    def masked(joint_error: float, **changes) -> tuple[bool, ...]:
        return model(joint_error=joint_error, settings=BandSettings(**changes)).masked

    assert masked(float(errors.max())) == (False, False, False)
    # One band is needed: two are judged by the lenient limit, the third by the strict one.
    tight = float(errors.min()) / 10.0
    assert masked(tight, needed=1, masked=2.0, hopeless=1000.0).count(True) == 1
    assert masked(tight, needed=2, masked=2.0, hopeless=1000.0) == (False, False, False)
    assert masked(tight, needed=2, masked=2.0, hopeless=2.0) == (True, True, True)
    worst = int(np.argmax(errors))
    assert masked(tight, needed=1, masked=2.0, hopeless=1000.0)[worst]


def test_only_the_most_useful_bands_are_looked_at() -> None:
    every, few = model(), model(settings=BandSettings(most=2))
    assert [p.position for p in few.pieces] == [p.position for p in every.pieces[:2]]
    # The band left out is still fitted along, as background: it does not end up in the others.
    bands = judged(few, draw(1, 2)[0] + 0.5 * COATING)
    assert [band.amount for band in bands] == pytest.approx([0.5, 0.5], abs=0.05)


def test_other_coatings_are_fitted_along() -> None:
    other = bump(1085.0, 14.0)
    found = model(others=VARIATION.whiten(other[None, :]))
    spectrum = VARIATION.spots.mean(axis=0) + 0.3 * COATING + 2.0 * other
    assert [band.amount for band in judged(found, spectrum)] == pytest.approx([0.3] * 3, abs=1e-6)


def test_what_bands_leave_of_a_shape_is_fitted_along() -> None:
    # A hump below the bands: taken for band height it would make them too large by half.
    hump = COATING + 0.5 * bump(1120.0, 60.0)
    found = model(hump)
    assert len(found.shapes) == len(found.pieces) + 1
    spectrum = VARIATION.spots.mean(axis=0) + 0.2 * np.sum([p.curve for p in found.pieces], axis=0)
    spectrum += 0.6 * (hump - np.sum([p.curve for p in found.pieces], axis=0))
    assert [band.amount for band in judged(found, spectrum)] == pytest.approx([0.2] * 3, abs=1e-6)


def test_a_shape_without_a_band_has_none_to_judge() -> None:
    flat = np.linspace(0.0, 1.0, POINTS.size)
    found = model(flat, joint_error=1.0)
    assert found.pieces == ()
    assert judged(found, flat) == ()
    white = VARIATION.whiten(flat[None, :])
    assert pattern_chance(found, BASIS, white, 1.0, 0.1) is None
    assert rule_detectable(found, BASIS, Widening(1.0, 11.0), 1.0, 1.0, 0.01, 0.95, SETTINGS) == np.inf


def slow_pattern(found: BandModel, spectrum: np.ndarray, variance: float, tolerance: float) -> float:
    """Chance of band amounts as unequal as these: weighted squares about their best common value."""
    amounts, covariance, _ = gls(columns(found, COATING), spectrum, VARIATION.spots)
    factors = np.diag([w.factor for w in found.widenings]) * np.sqrt(variance)
    inner, amounts = factors @ covariance[:3, :3] @ factors, amounts[:3]

    def spread(about: float, of: np.ndarray) -> float:
        return float((amounts - about) @ np.linalg.inv(of) @ (amounts - about))

    from scipy.optimize import minimize_scalar

    common = minimize_scalar(lambda at: spread(at, inner), bracket=(-1.0, 1.0), tol=1e-12).x
    whole = inner + np.eye(3) * (tolerance * common) ** 2
    best = minimize_scalar(lambda at: spread(at, whole), bracket=(-1.0, 1.0), tol=1e-12).fun
    degrees = np.mean([w.degrees for w in found.widenings])
    return float(stats.f.sf(best / 2.0, 2.0, degrees))


@pytest.mark.parametrize("tolerance", [0.0, 0.1, 0.5])
def test_the_patterns_chance_is_that_of_the_spread_about_a_common_amount(tolerance: float) -> None:
    found = model()
    odd = 0.03 * (COATING + 0.25 * bump(1110.0, 10.0))
    spectrum = draw(1, 12, odd)[0]
    chance = pattern_chance(found, BASIS, VARIATION.whiten(spectrum[None, :]), 1.3, tolerance)
    assert chance == pytest.approx(slow_pattern(found, spectrum, 1.3, tolerance), rel=1e-3)


def test_a_wrong_pattern_is_unlikely_and_a_right_one_is_not() -> None:
    found = model()
    right = VARIATION.whiten(draw(1, 5, 0.2 * COATING))
    wrong = VARIATION.whiten(draw(1, 5, 0.2 * (COATING - 1.4 * bump(1110.0, 10.0))))
    assert pattern_chance(found, BASIS, right, 1.2, 0.1) > 0.05
    assert pattern_chance(found, BASIS, wrong, 1.2, 0.1) < 1e-6


def played(found: BandModel, amount: float, joint: Widening, joint_error: float, variance: float) -> float:
    """Share of drawn samples that pass both parts of the rule at one amount."""
    rng = np.random.default_rng(77)
    draws = 4000
    errors = band_errors(found, variance)
    covariance = fit_shapes(BASIS, found.shapes, found.shapes[:1]).covariance[:3, :3]
    size = np.sqrt(np.diag(covariance))
    noise = rng.multivariate_normal(np.zeros(3), covariance / np.outer(size, size), draws)
    degrees = float(np.mean([w.degrees for w in found.widenings]))
    scale = np.sqrt(rng.chisquare(degrees, draws) / degrees)
    together = noise @ (1.0 / errors)
    t_joint = (amount / (joint_error * joint.factor) + together / together.std()) / scale
    p = stats.t.sf((amount / errors + noise) / scale[:, None], degrees)
    order = np.sort(p, axis=1)
    alone = (order[:, 0] * 3 < SETTINGS.alpha) & (order[:, 1] * 2 < SETTINGS.alpha)
    return float(np.mean(alone & (t_joint > stats.t.isf(0.01, joint.degrees))))


@pytest.mark.parametrize("power", [0.8, 0.95])
def test_the_rules_detectable_amount_has_its_power_when_played_out(power: float) -> None:
    found, joint, variance = model(), Widening(1.1, 11.0), 0.5
    joint_error = float(found.errors.min()) * 0.8 * np.sqrt(variance)
    amount = rule_detectable(found, BASIS, joint, joint_error, variance, 0.01, power, SETTINGS)
    assert played(found, amount, joint, joint_error, variance) == pytest.approx(power, abs=0.025)


def test_the_rules_detectable_amount_where_the_joint_test_decides() -> None:
    # Bands that are each far better than the joint amount: the joint test alone sets the limit.
    found, joint = model(), Widening(1.0, 1e6)
    joint_error = 50.0 * float(found.errors.max())
    amount = rule_detectable(found, BASIS, joint, joint_error, 1.0, 0.01, 0.95, SETTINGS)
    # Power 0.95 at a one-sided 1 %: 2.326 + 1.645 standard errors (tables of the normal).
    assert amount / joint_error == pytest.approx(2.326 + 1.645, rel=0.2)


def test_too_few_bands_detect_nothing() -> None:
    plain = model()
    masked = BandModel(plain.pieces, plain.shapes, plain.errors, (False, True, True), plain.widenings)
    assert rule_detectable(masked, BASIS, Widening(1.0, 9.0), 1.0, 1.0, 0.01, 0.95, SETTINGS) == np.inf
    two = BandModel(plain.pieces, plain.shapes, plain.errors, (False, False, True), plain.widenings)
    assert np.isfinite(rule_detectable(two, BASIS, Widening(1.0, 9.0), 1.0, 1.0, 0.01, 0.95, SETTINGS))


def test_errors_of_bands_grow_with_the_variance_and_the_widening() -> None:
    found = model()
    assert band_errors(found, 4.0) == pytest.approx(2.0 * band_errors(found, 1.0))
    factors = [w.factor for w in found.widenings]
    assert band_errors(found, 1.0) == pytest.approx(found.errors * factors)
