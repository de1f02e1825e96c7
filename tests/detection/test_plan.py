"""Designs before measuring, on a small known substrate: every design by hand, the fewest by trying all."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from spectra.decision import DecisionSettings
from spectra.detection.bands import rule_detectable
from spectra.detection.capability import average_sample, set_yardstick
from spectra.detection.design import Alternative, plan_measurement
from spectra.detection.film import specimen_scatter
from spectra.detection.least_squares import Widening
from spectra.detection.presence import decide_presence
from spectra.detection.rule import misfit_growth
from spectra.detection.settings import BandSettings, PlanSettings, PresenceSettings
from spectra.findings import NOT_SHOWN, PRESENT, Misfit, Presence
from spectra.optics.shape import Shape
from tests.smallbench import COATING, POINTS, bare_set, bump, draw, gls, stack

DECISION = DecisionSettings()
# One band is enough, at a lenient level: the joint test sets the limits, and they are Student's.
EASY = PresenceSettings(bands=BandSettings(needed=1, alpha=0.2), trust=1.0)
VARIATION = bare_set(6)
SHAPES = {"film": Shape(COATING, nm_per_amount=500.0)}


def planned(settings: PlanSettings | None = None, wanted: float | None = None, presence=EASY, **more):
    return plan_measurement(
        VARIATION, SHAPES, DECISION, presence, settings or PlanSettings(), wanted, **more
    )["film"]


def detectable(bare: int, specimens: int, presence: PresenceSettings = EASY) -> float:
    """Amount found by one design: the errors at hand, with the degrees of freedom of that many bare ones."""
    yardstick = set_yardstick(VARIATION, {"film": COATING}, presence)
    now = yardstick.widenings[0]
    degrees = now.degrees if bare == 6 else presence.trust * (bare - 1) + bare
    variance = 1.0 / specimens + 1.0 / bare  # of single spots nothing more is known: each counts as one
    error = yardstick.errors[0] * np.sqrt(variance)
    joint = error * now.factor * _needed(degrees)
    rule = rule_detectable(
        yardstick.bands[0], yardstick.basis, Widening(now.factor, degrees), float(error), variance,
        DECISION.alpha, DECISION.power, presence.bands,
    )  # fmt: skip
    return max(joint, rule)


def _needed(degrees: float) -> float:
    """Standard errors at which Student's t is passed with the stated power, by bisection."""
    from scipy.optimize import brentq

    critical = stats.t.isf(DECISION.alpha, degrees)
    return float(brentq(lambda d: stats.nct.sf(critical, degrees, d) - DECISION.power, 0.0, 60.0))


@pytest.mark.parametrize("specimens", [1, 3, 12])
def test_the_design_at_hand_is_students(specimens: int) -> None:
    plan = planned(PlanSettings(specimens=specimens))
    assert (plan.design.bare, plan.design.specimens, plan.design.spots) == (6, specimens, 1)
    assert plan.design.detectable == pytest.approx(detectable(6, specimens), rel=1e-4)
    assert plan.nm_per_amount == 500.0


def fewest(wanted: float, settings: PlanSettings) -> tuple[int, int] | None:
    """Of all designs with the bare ones at hand or more, the fewest specimens; of equals the best."""
    every = [
        (bare + coated, detectable(bare, coated), bare, coated)
        for bare in range(6, settings.most_bare + 1)
        for coated in range(1, settings.most_specimens + 1)
    ]
    enough = sorted(design for design in every if design[1] <= wanted)
    return (enough[0][2], enough[0][3]) if enough else None


@pytest.mark.parametrize("times", [0.75, 0.9, 1.001, 1.4, 3.0])
def test_the_fewest_specimens_are_those_found_by_trying_every_design(times: float) -> None:
    settings = PlanSettings(most_bare=9, most_specimens=6)
    wanted = times * detectable(6, 3)
    found = planned(settings, wanted).needed
    assert (None if found is None else (found.bare, found.specimens)) == fewest(wanted, settings)
    if found is not None:
        assert found.detectable == pytest.approx(detectable(found.bare, found.specimens), rel=1e-4)
        assert found.detectable <= wanted


def test_one_coated_specimen_and_the_bare_ones_at_hand_may_be_enough() -> None:
    found = planned(wanted=10.0 * detectable(6, 3)).needed
    assert (found.bare, found.specimens) == (6, 1)
    assert planned().needed is None


def test_what_no_design_reaches_is_said() -> None:
    assert planned(PlanSettings(most_bare=8, most_specimens=4), 1e-9).needed is None


def test_bands_find_with_the_stated_power_and_margin() -> None:
    plan = planned(PlanSettings(specimens=3))
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    model, size = yardstick.bands[0], np.sqrt(1 / 3 + 1 / 6)
    assert [band.position for band in plan.bands] == sorted((p.position for p in model.pieces), reverse=True)
    for band in plan.bands:
        k = next(i for i, piece in enumerate(model.pieces) if piece.position == band.position)
        error, widening = model.errors[k] * model.widenings[k].factor * size, model.widenings[k]
        critical = stats.t.isf(EASY.bands.alpha, widening.degrees)
        power = stats.nct.sf(critical, widening.degrees, band.detectable / error)
        assert power == pytest.approx(0.95, abs=2e-3)
        # Where a band stands is the height of its slope; two one-sided tests at alpha, power on both sides.
        pieces = [piece.curve for piece in model.pieces]
        slope = np.gradient(model.pieces[k].curve, POINTS)
        position = np.sqrt(gls(np.array([slope, *pieces]), COATING, VARIATION.spots)[1][0, 0])
        reach = stats.t.isf(DECISION.alpha, widening.degrees) + stats.t.isf(0.025, widening.degrees)
        assert band.margin_amount == pytest.approx(
            reach * position * widening.factor * size / DECISION.margin, rel=1e-3
        )
        assert (band.low, band.high) == (model.pieces[k].low, model.pieces[k].high)


def test_a_crystal_that_shows_a_quarter_of_everything_needs_about_four_times_the_film() -> None:
    quarter = Alternative(Shape(0.25 * COATING, nm_per_amount=500.0), np.full(POINTS.size, 0.25))
    same = Alternative(Shape(COATING, nm_per_amount=500.0), np.ones(POINTS.size))
    found = planned(alternatives={"film": {"quarter": quarter, "same": same}}).alternatives
    # The detector's noise does not shrink with the light path; the substrate's scatter does.
    assert found["same"] < found["quarter"] < 4.5 * found["same"]
    assert found["same"] / 500.0 > 0.0
    unknown = Alternative(Shape(COATING), np.ones(POINTS.size))
    assert np.isnan(planned(alternatives={"film": {"x": unknown}}).alternatives["x"])


@pytest.mark.parametrize("seed", range(3))
def test_what_a_plan_says_is_found_is_found(seed: int) -> None:
    amount = planned(PlanSettings(specimens=3), presence=PresenceSettings()).design.detectable
    shapes = {"film": Shape(COATING)}
    there = decide_presence(
        stack(draw(3, 100 + seed, 1.5 * amount * COATING)), VARIATION, shapes, DECISION, PresenceSettings()
    )
    nothing = decide_presence(stack(draw(3, 200 + seed)), VARIATION, shapes, DECISION, PresenceSettings())
    assert (there["film"].verdict, nothing["film"].verdict) == (PRESENT, NOT_SHOWN)


# -- from the amount to lengths -------------------------------------------------------------------------


def decided(film: float, shape: Shape, specimens: tuple[str, ...] | None = None, seed: int = 31):
    rows = draw(4, seed, film * COATING)
    return decide_presence(stack(rows, specimens), VARIATION, {"film": shape}, DECISION, EASY)["film"]


def test_a_length_has_the_amounts_interval_and_what_contact_and_optics_leave_open() -> None:
    shape = Shape(COATING, nm_per_amount=500.0, contact_error=0.05)
    found = decided(0.05, shape)
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    degrees = yardstick.widenings[0].degrees
    nm = found.amount * 500.0
    contact = yardstick.contact_scatter * np.sqrt(1 / 4 + 1 / 6)
    # The middle 95 % of an even prior end at 0.95 times its half-width, the root of three deviations.
    unknown = nm * np.hypot(stats.t.isf(0.025, degrees) * contact, 0.95 * np.sqrt(3.0) * 0.05)
    assert found.thickness_nm == pytest.approx(nm)
    for end, sign, of in (
        (found.thickness_low_nm, -1.0, found.amount - found.amount_low),
        (found.thickness_high_nm, 1.0, found.amount_high - found.amount),
    ):
        assert end == pytest.approx(nm + sign * np.hypot(500.0 * of, unknown), rel=1e-9)
    assert found.critical_nm == pytest.approx(500.0 * found.critical_amount)
    assert found.detectable_nm == pytest.approx(500.0 * found.detectable_amount)


def test_nothing_has_an_upper_length_only() -> None:
    found = decided(0.0, Shape(COATING, nm_per_amount=500.0))
    assert (found.verdict, found.thickness_nm, found.thickness_low_nm) == (NOT_SHOWN, None, None)
    assert found.thickness_high_nm > 0.0
    below = decided(-0.2, Shape(COATING, nm_per_amount=500.0))
    assert below.thickness_high_nm == pytest.approx(1e-3 * below.critical_nm)


def test_an_unknown_geometry_has_no_lengths() -> None:
    found = decided(0.05, Shape(COATING))
    assert (found.thickness_nm, found.thickness_high_nm, found.critical_nm) == (None, None, None)


def test_the_interval_is_the_bare_specimens_or_the_samples_own() -> None:
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    unit, degrees = yardstick.errors[0] * yardstick.widenings[0].factor, yardstick.widenings[0].degrees
    calm = decided(0.05, Shape(COATING))
    half = stats.t.isf(0.025, degrees) * unit * np.sqrt(1 / 4 + 1 / 6)
    assert (calm.amount_low, calm.amount_high) == pytest.approx((calm.amount - half, calm.amount + half))
    # Specimens that hold 2, 4, 6 and 8 % scatter far more than bare ones: their own scatter counts.
    rows = draw(4, 31) + np.array([[0.02], [0.04], [0.06], [0.08]]) * COATING
    uneven = decide_presence(stack(rows), VARIATION, {"film": Shape(COATING)}, DECISION, EASY)["film"]
    amounts = [gls(COATING[None, :], row, VARIATION.spots)[0][0] for row in rows]
    own = np.var(amounts, ddof=1) / 4.0
    half = stats.t.isf(0.025, 3.0) * np.sqrt(own + unit**2 / 6.0)
    low, high = uneven.amount - half, uneven.amount + half
    if low <= 0.0:
        factor = np.exp((high - uneven.amount) / uneven.amount)
        low, high = uneven.amount / factor, uneven.amount * factor
    assert (uneven.amount_low, uneven.amount_high) == pytest.approx((low, high), rel=1e-5)


@pytest.mark.parametrize("holds", [(0.02, 0.06), (0.02, 0.04, 0.08), (0.05, 0.05, 0.0501), (-0.02, -0.06)])
def test_specimens_own_scatter_is_what_bare_ones_do_not_explain(holds: tuple[float, ...]) -> None:
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    rows = VARIATION.spots.mean(axis=0) + np.array(holds)[:, None] * COATING
    count, sample = len(holds), average_sample(stack(rows), VARIATION)
    own = (yardstick.errors[0] * yardstick.widenings[0].factor) ** 2 / count
    scatter = np.var(holds, ddof=1) / count
    chance = stats.f.sf(scatter / own, count - 1, yardstick.widenings[0].degrees)
    found = specimen_scatter(0, sample, VARIATION, yardstick, 0.05)
    if np.mean(holds) > 0.0 and chance < 0.05:
        expected = ((scatter - own) / np.mean(holds) ** 2, count - 1.0)
        assert found == pytest.approx(expected, rel=1e-4)
    else:
        assert found == (0.0, 1.0)
    # The chance that counts as uneven is the setting.
    assert specimen_scatter(0, sample, VARIATION, yardstick, chance * 0.999) == (0.0, 1.0)


def test_one_specimen_is_said() -> None:
    found = decided(0.05, Shape(COATING), ("a",) * 4)
    assert [r.code for r in found.reasons][-1] == "few-specimens"
    assert (found.spots, found.specimens) == (4, 1)


def test_bands_are_masked_against_the_widened_joint_error() -> None:
    for masked in (2.0, 3.0, 6.0):
        settings = PresenceSettings(bands=BandSettings(masked=masked, hopeless=masked, needed=1))
        yardstick = set_yardstick(VARIATION, {"film": COATING}, settings)
        model = yardstick.bands[0]
        joint = yardstick.errors[0] * yardstick.widenings[0].factor
        ratios = model.errors * [w.factor for w in model.widenings] / joint
        assert list(model.masked) == (ratios > masked).tolist()


# -- what does not fit ----------------------------------------------------------------------------------


def test_chi_square_is_that_of_the_whole_residual_per_point() -> None:
    rows = draw(3, 8, 0.03 * COATING)
    found = decide_presence(stack(rows), VARIATION, {"film": Shape(COATING)}, DECISION, EASY)["film"]
    residual = gls(COATING[None, :], rows.mean(axis=0), VARIATION.spots)[2]
    white = np.linalg.solve(VARIATION.factor, residual)
    assert found.chi_square == pytest.approx(np.mean(white**2) / (1 / 3 + 1 / 6), rel=1e-5)


def test_a_misfit_counts_as_scatter_of_the_amount() -> None:
    foreign = bump(1160.0, 9.0, 0.02)
    rows = draw(3, 8, 0.03 * COATING + foreign)
    found = decide_presence(stack(rows), VARIATION, {"film": Shape(COATING)}, DECISION, EASY)["film"]
    assert found.misfits
    worst = max(misfit.ratio for misfit in found.misfits)
    growth = np.sqrt(max(1.0, found.chi_square, worst / 4.0))
    assert growth > 1.5
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    unit = yardstick.errors[0] * yardstick.widenings[0].factor * growth
    half = stats.t.isf(0.025, yardstick.widenings[0].degrees) * unit * np.sqrt(1 / 3 + 1 / 6)
    assert found.amount_high == pytest.approx(found.amount + half, rel=1e-6)


@pytest.mark.parametrize(
    ("chi", "ratios", "growth"),
    [(0.5, (), 1.0), (9.0, (), 3.0), (2.0, (64.0, 5.0), 4.0), (25.0, (64.0,), 5.0), (1.0, (3.0,), 1.0)],
)
def test_growth_is_that_of_the_whole_or_of_a_quarter_of_the_worst_stretch(
    chi: float, ratios: tuple[float, ...], growth: float
) -> None:
    misfits = tuple(Misfit(1000.0, 1040.0, ratio, 1e-6, 0.01) for ratio in ratios)
    figures = Presence(NOT_SHOWN, (), 0.0, 0.0, 0.0, 0.1, 0.2, 0.5, 1, 1, chi_square=chi, misfits=misfits)
    assert misfit_growth(figures) == pytest.approx(growth)


def test_what_is_there_is_never_nothing_however_unevenly_it_lies() -> None:
    rows = VARIATION.spots.mean(axis=0) + np.array([[0.02], [0.3]]) * COATING
    shape = Shape(COATING, nm_per_amount=500.0)
    found = decide_presence(stack(rows), VARIATION, {"film": shape}, DECISION, EASY)["film"]
    yardstick = set_yardstick(VARIATION, {"film": COATING}, EASY)
    unit = yardstick.errors[0] * yardstick.widenings[0].factor
    own = np.var([0.02, 0.3], ddof=1) / 2.0
    half = stats.t.isf(0.025, 1.0) * np.sqrt(own + unit**2 / 6.0)
    assert found.verdict == PRESENT
    assert half > found.amount == pytest.approx(0.16, rel=1e-4)
    # On the logarithm: as many times less as more.
    factor = np.exp(half / 0.16)
    assert (found.amount_low, found.amount_high) == pytest.approx((0.16 / factor, 0.16 * factor), rel=1e-3)
    # The same of the length, whose upper reach says how many times.
    nm, above = found.thickness_nm, found.thickness_high_nm - found.thickness_nm
    assert nm == pytest.approx(80.0, rel=1e-3)
    assert found.thickness_low_nm == pytest.approx(nm * nm / (nm + above), rel=1e-6)
    assert 0.0 < found.thickness_low_nm < nm


@pytest.mark.parametrize(("pieces", "said"), [(1, True), (2, False)])
def test_only_a_single_specimen_is_remarked_on(pieces: int, said: bool) -> None:
    found = decided(0.05, Shape(COATING), tuple("ab"[i % pieces] for i in range(4)))
    assert ("few-specimens" in [reason.code for reason in found.reasons]) == said
