"""Amounts by spot with their errors, on a small known substrate; specimens beside each other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from spectra.comparison.amounts import Amounts
from spectra.comparison.forming import form_amounts, level_contact, spot_error
from spectra.comparison.recipes import compare_recipes, compare_sides
from spectra.comparison.requirement import judge_requirement
from spectra.comparison.settings import ComparisonSettings, Requirement
from spectra.comparison.specimens import SpecimenRule, judge_specimens
from spectra.detection.capability import set_yardstick, spot_amounts
from spectra.detection.settings import PresenceSettings
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, Presence
from spectra.optics.shape import Shape
from tests.smallbench import COATING, SUBSTRATE, bare_set, draw, stack

RULE = SpecimenRule(alpha=0.01, power=0.95, confidence=0.95, remark=0.02)


def bench(**changes: Any):
    variation = bare_set(**changes)
    return variation, set_yardstick(variation, {"coating": COATING}, PresenceSettings())


def presence(**changes: Any) -> Presence:
    base = Presence(PRESENT, (), 0.02, 0.01, 0.03, 0.005, 0.01, 1e-5, 3, 3)
    return replace(base, **changes)


def formed(shape: Shape, of: Presence, **changes: Any) -> Amounts:
    variation, yardstick = bench(**changes)
    return form_amounts(np.array([0.01, 0.03]), ("a", "b"), 0, variation, yardstick, (shape, of))


def test_a_spots_error_is_that_of_a_bare_unit() -> None:
    variation, yardstick = bench()
    error = spot_error(0, variation, yardstick)
    unit = (yardstick.errors[0] * yardstick.widenings[0].factor) ** 2
    assert (error.unit, error.variance, error.share) == (pytest.approx(unit), pytest.approx(unit), None)
    assert error.degrees == yardstick.widenings[0].degrees


def test_a_spot_scatters_more_than_the_mean_of_a_units_spots() -> None:
    variation, yardstick = bench(share=0.4, per_unit=3.0)
    error = spot_error(0, variation, yardstick)
    # A unit's mean has the specimen's share and a third of the rest.
    assert error.variance == pytest.approx(error.unit / (0.4 + 0.6 / 3.0))
    assert error.share == 0.4
    one = bench(specimens=("b",) * 6)
    assert spot_error(0, *one).share == 0.0


def test_the_samples_own_thickness_is_the_scale_of_its_amounts() -> None:
    shape = Shape(COATING, nm_per_amount=900.0)
    assert formed(shape, presence(thickness_nm=25.0)).nm_per_amount == pytest.approx(25.0 / 0.02)
    assert formed(shape, presence()).nm_per_amount == 900.0
    assert formed(shape, presence(thickness_nm=25.0, amount=-0.02)).nm_per_amount == 900.0
    assert formed(shape, presence(thickness_nm=25.0, amount=None)).nm_per_amount == 900.0
    assert formed(Shape(COATING), presence()).nm_per_amount is None


def test_what_is_common_to_all_spots_is_kept_apart() -> None:
    variation, yardstick = bench()
    found = formed(Shape(COATING, nm_per_amount=900.0, contact_error=0.1), presence())
    unit = spot_error(0, variation, yardstick).unit
    assert found.bare_variance == pytest.approx(unit / 6.0)
    assert (found.bare_units, found.least_variance) == (6, 0.0)
    assert found.nm_error == pytest.approx(np.hypot(0.1, yardstick.contact_scatter / np.sqrt(6.0)))
    several = formed(Shape(COATING), presence(), share=0.4, per_unit=3.0)
    assert several.least_variance > 0.0


@pytest.mark.parametrize("touch", [0.7, 1.0, 1.4])
def test_contact_is_taken_out_of_every_spot_and_not_out_of_the_sample(touch: float) -> None:
    variation, yardstick = bench()
    mean = variation.spots.mean(axis=0)
    # The first spot touches more or less; to first order its spectrum is scaled as contact scales it.
    response = (10.0**mean - 1.0) / np.log(10.0)
    rows = np.array([mean + (touch - 1.0) * response, mean, mean]) + 0.02 * COATING
    raw = stack(rows)
    plain = spot_amounts(raw, variation, yardstick)
    levelled = level_contact(plain * np.array([[touch], [1.0], [1.0]]), raw, variation, yardstick, 0.2)
    assert levelled[:, 0] / levelled[0, 0] == pytest.approx([1.0, 1.0, 1.0], rel=0.02)
    assert levelled.mean() == pytest.approx((plain * np.array([[touch], [1.0], [1.0]])).mean())


def test_a_spot_that_hardly_touches_is_not_levelled_without_end() -> None:
    variation, yardstick = bench()
    mean = variation.spots.mean(axis=0)
    response = (10.0**mean - 1.0) / np.log(10.0)
    raw = stack(np.array([mean - 0.99 * response, mean, mean]))
    found = level_contact(np.full((3, 1), 0.02), raw, variation, yardstick, 0.2)
    assert found[0, 0] / found[1, 0] == pytest.approx(5.0, rel=0.01)  # not a hundred


def test_nothing_there_is_left_as_it_is() -> None:
    variation, yardstick = bench()
    raw = stack(draw(3, 4))
    nothing = np.array([[0.001], [-0.001], [0.0]])
    assert level_contact(nothing, raw, variation, yardstick, 0.2) == pytest.approx(nothing)
    assert SUBSTRATE.max() > 0.1


# -- specimens ----------------------------------------------------------------------------------------


def pieces(*means: float, **more: Any) -> Amounts:
    given = {"spot_variance": 0.01, "degrees": 8.0, "bare_units": 6, "bare_variance": 0.002} | more
    return Amounts(np.array(means), tuple("abcdefgh"[: len(means)]), **given)


def test_a_specimens_verdict_interval_and_limit_are_students() -> None:
    error = np.sqrt(0.01 + 0.002)
    edge = error * stats.t.isf(0.01, 8.0)
    found = judge_specimens(pieces(edge * 1.01, edge * 0.99, nm_per_amount=50.0), PRESENT, RULE)
    assert [item.verdict for item in found.values()] == [PRESENT, NOT_SHOWN]
    first = found["a"]
    half = error * stats.t.isf(0.025, 8.0)
    assert (first.amount_low, first.amount_high) == pytest.approx((edge * 1.01 - half, edge * 1.01 + half))
    power = stats.nct.sf(stats.t.isf(0.01, 8.0), 8.0, first.detectable_amount / error)
    assert power == pytest.approx(0.95, abs=1e-3)
    assert (first.thickness_nm, first.detectable_nm) == pytest.approx(
        (50.0 * first.amount, 50.0 * first.detectable_amount)
    )
    assert found["b"].spots == (pytest.approx(edge * 0.99),)


def test_what_cannot_be_told_of_the_sample_is_not_present_on_a_piece() -> None:
    found = judge_specimens(pieces(1.0, 0.0), CANNOT_TELL, RULE)
    assert [item.verdict for item in found.values()] == [CANNOT_TELL, NOT_SHOWN]


def half_of(rest: float, count: int, own: float, sides: str) -> float:
    """Amount at which a piece's test against half, or twice, the others' just passes, by bisection."""
    from scipy.optimize import brentq

    others = own / count

    def excess(amount: float) -> float:
        if sides == "below":
            t = (0.5 * rest - amount) / np.sqrt(own + 0.25 * others)
        else:
            t = (0.5 * amount - rest) / np.sqrt(0.25 * own + others)
        return float(t - stats.t.isf(0.02 / (count + 1), 6.0))

    return brentq(excess, -5.0, 50.0)


@pytest.mark.parametrize("count", [2, 3])
def test_a_piece_surely_below_half_of_the_others_is_remarked_on(count: int) -> None:
    variance = 0.01
    edge = half_of(2.0, count, variance, "below")
    for amount, out in ((edge - 0.01, True), (edge + 0.01, False)):
        of = pieces(amount, *[2.0] * count, spot_variance=variance, bare_variance=0.05)
        found = judge_specimens(of, PRESENT, replace(RULE, alpha=0.001))
        # The bare mean's error is common to all: it is in the verdict and not in the remark.
        assert found["a"].verdict == NOT_SHOWN
        assert found["a"].stands_out == out
        assert not any(found[name].stands_out for name in "bcd"[: count - 1])


def test_the_only_coated_one_of_three_is_the_odd_one_where_it_is_surely_above_twice() -> None:
    edge = half_of(0.1, 2, 0.01, "above")
    for amount, out in ((edge + 0.01, True), (edge - 0.01, False)):
        found = judge_specimens(pieces(amount, 0.1, 0.1), PRESENT, RULE)
        assert [item.verdict for item in found.values()] == [PRESENT, NOT_SHOWN, NOT_SHOWN]
        assert found["a"].stands_out == out
    # Of two pieces the one without is named.
    two = judge_specimens(pieces(3.0, 0.05), PRESENT, RULE)
    assert [item.stands_out for item in two.values()] == [False, True]


def test_how_many_times_less_is_remarked_on_is_a_setting() -> None:
    of = pieces(0.5, 2.0, 2.0, spot_variance=1e-4, bare_variance=0.05)
    for times, out in ((1.5, True), (3.5, True), (4.3, False)):
        found = judge_specimens(of, PRESENT, replace(RULE, alpha=0.001, times=times))
        assert (found["a"].verdict, found["a"].stands_out) == (NOT_SHOWN, out)


def test_nobody_stands_out_of_one_or_where_nothing_is_present() -> None:
    assert not judge_specimens(pieces(2.0), PRESENT, RULE)["a"].stands_out
    found = judge_specimens(pieces(0.0, 0.1, -3.0), NOT_SHOWN, RULE)
    assert not any(item.stands_out for item in found.values())


# -- recipes ------------------------------------------------------------------------------------------


def recipe(*means: float, nm: float | None = None) -> Amounts:
    return Amounts(np.array(means), tuple("abcdefgh"[: len(means)]), nm_per_amount=nm)


@pytest.mark.parametrize(
    ("scatter", "against", "method"),
    [("own", None, "t3"), ("own", "x", "dunnett_own"), ("pooled", None, "tukey"), ("pooled", "x", "dunnett")],
)
def test_every_comparison_names_its_method(scatter: str, against: str | None, method: str) -> None:
    recipes = {"x": recipe(1.0, 1.1, 0.9), "y": recipe(1.2, 1.4), "z": recipe(0.8, 0.7, 0.9)}
    found = compare_recipes(recipes, ComparisonSettings(scatter=scatter), against)
    assert {item.method for item in found} == {method}
    wanted = [("y", "x"), ("z", "x")] if against else [("x", "y"), ("x", "z"), ("y", "z")]
    assert [item.samples for item in found] == wanted
    assert found[0].difference == pytest.approx((1.3 - 1.0) * (1.0 if against else -1.0))


def test_one_pair_of_recipes_with_own_scatter_is_welchs_test() -> None:
    x, y = [1.0, 1.1, 0.9, 1.05], [1.2, 1.6, 1.3]
    (found,) = compare_recipes({"x": recipe(*x), "y": recipe(*y)}, ComparisonSettings())
    welch = stats.ttest_ind(x, y, equal_var=False)
    low, high = welch.confidence_interval(0.95)
    assert (found.low, found.high, found.degrees) == pytest.approx((low, high, welch.df), rel=1e-5)


def test_recipes_without_any_scatter_differ_by_exactly_that() -> None:
    recipes = {"x": recipe(1.0, 1.0), "y": recipe(2.0, 2.0), "z": recipe(4.0, 4.0)}
    for item in compare_recipes(recipes, ComparisonSettings(), "x"):
        assert item.low == item.high == item.difference


def test_nanometres_are_the_mean_scale_of_two_that_agree() -> None:
    def scale(one: float | None, other: float | None) -> float | None:
        recipes = {"x": recipe(1.0, 1.1, nm=one), "y": recipe(1.2, 1.3, nm=other)}
        return compare_recipes(recipes, ComparisonSettings(same_scale=0.1))[0].nm_per_amount

    assert scale(100.0, 108.0) == pytest.approx(104.0)
    assert scale(100.0, 112.0) is None
    assert scale(112.0, 100.0) is None
    assert scale(None, 100.0) is None


def test_two_sides_are_compared_piece_by_piece() -> None:
    front, back = recipe(1.0, 1.5, 2.0), recipe(0.8, 1.4, 1.7)
    found = compare_sides(front, back, ("front", "back"))
    paired = stats.ttest_rel(front.values, back.values)
    low, high = paired.confidence_interval(0.95)
    assert (found.difference, found.low, found.high, found.degrees) == pytest.approx((0.2, low, high, 2.0))
    other = Amounts(np.array([1.0, 2.0]), ("a", "z"))
    assert compare_sides(front, other, ("front", "back")) is None


def test_two_specimens_can_show_a_thickness() -> None:
    film = recipe(2.0, 2.001, nm=50.0)
    assert judge_requirement(film, Requirement(least_nm=50.0)).verdict == "conforms"


def test_a_spread_needs_a_mean_above_nothing() -> None:
    none = recipe(0.1, -0.2, 0.15, -0.1)
    found = judge_requirement(none, Requirement(most_variation=9.0))
    assert found.verdict == "cannot tell"
    even = recipe(1.0, 1.01, 0.99, 1.0, 1.005, 0.995)
    assert judge_requirement(even, Requirement(most_variation=0.1)).verdict == "conforms"
    uneven = recipe(1.0, 0.4, 1.6, 0.7, 1.3, 1.1)
    assert judge_requirement(uneven, Requirement(most_variation=0.05)).verdict == "does not conform"


def test_several_requirements_share_the_risk_of_failing_one() -> None:
    film = recipe(2.0, 2.1, 1.95, 2.05, 2.02, nm=50.0)
    both = judge_requirement(film, Requirement(least_nm=90.0, most_variation=0.5))
    alone = judge_requirement(film, Requirement(least_nm=90.0))
    assert (both.verdict, alone.verdict) == ("conforms", "conforms")
    assert both.clauses[0].low == pytest.approx(alone.clauses[0].low)
    assert both.clauses[0].high > alone.clauses[0].high
    mixed = judge_requirement(film, Requirement(least_nm=300.0, most_variation=0.5))
    assert (mixed.verdict, [c.verdict for c in mixed.clauses]) == (
        "does not conform",
        ["does not conform", "conforms"],
    )
