"""Ends of intervals in the less usual designs: one specimen, other specimens, a noisy bare mean.

Each is set against a slow and obvious computation: a grid of tests, drawn studies, a textbook formula.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import statsmodels.formula.api as smf
from hypothesis import given
from hypothesis import strategies as st
from pandas import DataFrame
from scipy import stats
from scipy.optimize import brentq

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import ends, relative_squares, split_scatter, spread_pivots
from spectra.comparison.conditions import CANNOT_TELL, GAINED, KEPT, LOST, Ratio, fieller, judge_kept
from spectra.comparison.design import Measuring, chance_of_deciding, plan_evenness
from spectra.comparison.evenness import amounts_by_specimen
from spectra.comparison.multiplicity import many_to_one_factor, modulus_factor, range_factor
from spectra.comparison.populations import count_populations, cut_ratios
from spectra.comparison.recipes import compare_recipes
from spectra.comparison.requirement import judge_requirement
from spectra.comparison.settings import ComparisonSettings, Requirement
from spectra.comparison.spread import judge_evenness
from spectra.comparison.trends import find_trends

SETTINGS = ComparisonSettings()


def amounts(*groups: list[float], names: Sequence[str] = "abcdefghij", **more: float) -> Amounts:
    pieces = [name for name, group in zip(names, groups, strict=False) for _ in group]
    return Amounts(np.concatenate([np.asarray(group, float) for group in groups]), tuple(pieces), **more)


# -- components ---------------------------------------------------------------------------------------


def test_spots_of_one_piece_have_their_own_variance_and_no_other() -> None:
    spots = [1.0, 1.2, 0.9, 1.4, 1.1]
    found = split_scatter(amounts(spots))
    assert (found.between, found.degrees_within, found.specimens) == (None, 4, 1)
    assert found.within == found.total == pytest.approx(np.var(spots, ddof=1))
    # The mean of five spots: Student's interval with four degrees of freedom.
    low, high = ends(spread_pivots(found).mean, 0.95)
    student = stats.t.interval(0.95, 4, np.mean(spots), stats.sem(spots))
    assert (low, high) == pytest.approx(student, rel=5e-3)


def test_two_uneven_pieces_are_those_of_the_mixed_model() -> None:
    groups = [1.0, 1.3, 0.9, 1.2], [2.0, 2.3]
    found = split_scatter(amounts(*groups))
    frame = DataFrame({"y": [*groups[0], *groups[1]], "piece": list("aaaabb")})
    fit = smf.mixedlm("y ~ 1", frame, groups=frame["piece"]).fit(reml=True)
    assert found.within == pytest.approx(fit.scale, rel=1e-3)
    assert found.between == pytest.approx(fit.cov_re.iloc[0, 0], rel=1e-2)
    # Not the plain variance within: with few specimens the restricted likelihood moves it.
    assert found.total == pytest.approx(found.between + found.within)


def test_one_spot_on_each_piece_is_scatter_between_them() -> None:
    found = split_scatter(amounts([1.0], [2.0], [4.0]))
    assert (found.between, found.within, found.degrees_within) == (None, None, 0)
    assert found.total == found.between_square == pytest.approx(np.var([1.0, 2.0, 4.0], ddof=1))
    low, high = ends(spread_pivots(found).mean, 0.9)
    student = stats.t.interval(0.9, 2, 7 / 3, stats.sem([1.0, 2.0, 4.0]))
    assert (low, high) == pytest.approx((max(0.0, student[0]), student[1]), rel=2e-2)


def test_alike_spots_of_unlike_pieces_leave_nothing_within() -> None:
    found = split_scatter(amounts([1.0, 1.0], [2.0, 2.0], [4.0, 4.0]))
    assert found.within == 0.0
    assert found.between == pytest.approx(np.var([1.0, 2.0, 4.0], ddof=1))


def test_the_bare_means_error_is_in_the_mean_and_in_nothing_else() -> None:
    found = split_scatter(amounts([1.0, 1.2], [1.1, 1.4], [0.9, 1.3]))
    plain, loose = spread_pivots(found), spread_pivots(found, 0.04, 9.0)
    # Two independent errors: their variances add, both with Student's tails.
    widths = [np.subtract(*ends(p.mean, 0.68)) for p in (plain, loose)]
    assert abs(widths[1]) > abs(widths[0])
    drawn = np.random.default_rng(1)
    own = found.mean + drawn.standard_t(2, 200_000) * np.sqrt(found.between_square / 6.0)
    both = own + drawn.standard_t(9, 200_000) * 0.2
    assert ends(loose.mean, 0.9) == pytest.approx(np.quantile(both, [0.05, 0.95]), rel=0.05)
    assert loose.within == pytest.approx(plain.within)
    assert loose.total == pytest.approx(plain.total)


@pytest.mark.parametrize("degrees", [1.0, 4.0, 30.0])
def test_relative_squares_are_chi_square_over_its_degrees(degrees: float) -> None:
    normals = stats.norm.ppf([0.01, 0.3, 0.5, 0.99])
    assert relative_squares(normals, degrees) == pytest.approx(
        stats.chi2.ppf([0.01, 0.3, 0.5, 0.99], degrees) / degrees
    )


def test_relative_squares_at_the_ends() -> None:
    normals = np.array([-2.0, 0.0, 9.0, -9.0])
    assert relative_squares(normals, np.inf).tolist() == [1.0] * 4
    assert np.isnan(relative_squares(normals, 0.5)).all()
    assert np.isfinite(relative_squares(normals, 3.0)).all()
    assert (relative_squares(normals, 1.0) > 0).all()


# -- the share kept -----------------------------------------------------------------------------------


def shares_not_excluded(test, low: float, high: float) -> tuple[float, float]:
    """Ends of the shares whose test of ``after - share before`` is not significant, by bisection."""
    return brentq(test, -5.0, low, xtol=1e-10), brentq(test, high, 8.0, xtol=1e-10)


def welch_excess(x: np.ndarray, y: np.ndarray, level: float, common: float, degrees: float):
    """How far the difference is beyond its critical value, at one share: Welch and Satterthwaite."""

    def excess(share: float) -> float:
        parts = np.array(
            [share**2 * np.var(x, ddof=1) / x.size, np.var(y, ddof=1) / y.size, (1 - share) ** 2 * common]
        )
        freedom = np.array([x.size - 1, y.size - 1, degrees])
        total = parts.sum()
        free = total**2 / (parts**2 / freedom).sum()
        return abs(y.mean() - share * x.mean()) / np.sqrt(total) - stats.t.isf((1 - level) / 2, free)

    return excess


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("common", [0.0, 0.003])
def test_other_specimens_share_kept_is_where_welchs_test_turns(seed: int, common: float) -> None:
    rng = np.random.default_rng(seed)
    x, y = rng.normal(1.0, 0.1, 5), rng.normal(rng.uniform(0.4, 1.2), 0.2, 4)
    before = amounts(*[[v] for v in x], names="abcde", bare_variance=common, degrees=7.0)
    after = amounts(*[[v] for v in y], names="vwxyz")
    found = judge_kept(before, after, SETTINGS)
    share = y.mean() / x.mean()
    turning = shares_not_excluded(welch_excess(x, y, 0.95, common, 7.0), share, share)
    assert (found.share_low, found.share_high) == pytest.approx(turning, abs=1e-6)
    assert (found.share, found.pairs) == (pytest.approx(share), 0)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("common", [0.0, 0.003])
def test_the_same_specimens_share_kept_is_where_the_paired_test_turns(seed: int, common: float) -> None:
    rng = np.random.default_rng(50 + seed)
    x = rng.normal(1.0, 0.2, 6)
    y = rng.uniform(0.4, 1.2) * x + rng.normal(0.0, 0.05, 6)
    groups = [[v] for v in x], [[v] for v in y]
    before = amounts(*groups[0], bare_variance=common, degrees=8.0)
    found = judge_kept(before, amounts(*groups[1]), SETTINGS)

    def excess(share: float) -> float:
        own, shared = np.var(y - share * x, ddof=1) / x.size, (1 - share) ** 2 * common
        total = own + shared
        free = total**2 / (own**2 / 5.0 + shared**2 / 8.0)
        return abs(np.mean(y - share * x)) / np.sqrt(total) - stats.t.isf(0.025, free)

    share = y.mean() / x.mean()
    turning = shares_not_excluded(excess, share, share)
    assert (found.share_low, found.share_high) == pytest.approx(turning, abs=1e-6)
    assert found.pairs == 6


def ratio(**changes: float) -> Ratio:
    given = {
        "before": 1.0, "after": 0.8, "of_before": 0.01, "of_after": 0.01, "between": 0.0,
        "degrees": (9.0, 9.0), "paired": False, "common": 0.0, "common_degrees": float("inf"),
    } | changes  # fmt: skip
    return Ratio(**given)


def test_what_is_not_shown_before_bounds_no_share() -> None:
    assert fieller(ratio(before=0.1), 0.95) == (None, None)
    assert fieller(ratio(before=-1.0), 0.95) == (None, None)
    assert None not in fieller(ratio(before=0.3), 0.95)


@given(st.floats(0.2, 3.0), st.floats(1e-4, 1e-2), st.floats(1e-4, 1e-2), st.floats(0.5, 0.99))
def test_a_higher_level_holds_a_lower_one(after: float, one: float, other: float, level: float) -> None:
    of = ratio(after=after, of_before=one, of_after=other)
    inner, outer = fieller(of, level), fieller(of, level + 0.5 * (1.0 - level))
    assert outer[0] <= inner[0] <= after <= inner[1] <= outer[1]


@given(st.floats(0.3, 3.0), st.floats(1e-4, 1e-2), st.floats(1e-4, 1e-2))
def test_before_and_after_exchanged_turn_the_share_over(after: float, one: float, other: float) -> None:
    low, high = fieller(ratio(after=after, of_before=one, of_after=other), 0.9)
    back = fieller(ratio(before=after, after=1.0, of_before=other, of_after=one), 0.9)
    if low > 0.0:
        assert back == pytest.approx((1.0 / high, 1.0 / low), rel=1e-5)


@pytest.mark.parametrize(
    ("scale", "spread", "verdict"),
    [(1.0, 0.001, KEPT), (0.6, 0.02, LOST), (1.5, 0.02, GAINED), (0.97, 0.3, CANNOT_TELL)],
)
def test_each_verdict_has_its_design(scale: float, spread: float, verdict: str) -> None:
    rng = np.random.default_rng(2)
    x = rng.normal(1.0, 0.2, 8)
    y = scale * x + spread * rng.normal(size=8)
    found = judge_kept(amounts(*[[v] for v in x]), amounts(*[[v] for v in y]), SETTINGS)
    assert found.verdict == verdict


def test_kept_is_asked_at_its_own_risk_and_margin() -> None:
    x = np.array([1.0, 1.1, 0.9, 1.2, 1.0, 0.8])
    y = x * np.array([0.93, 0.95, 0.96, 0.94, 0.97, 0.92])
    before, after = amounts(*[[v] for v in x]), amounts(*[[v] for v in y])
    edge = fieller(_of(before, after), 1.0 - 2.0 * 0.05)[0]
    inside = ComparisonSettings(kept_margin=1.0 - edge + 1e-3)
    outside = ComparisonSettings(kept_margin=1.0 - edge - 1e-3)
    assert judge_kept(before, after, inside).verdict == KEPT
    assert judge_kept(before, after, outside).verdict == LOST
    stricter = ComparisonSettings(kept_margin=1.0 - edge + 1e-3, kept_risk=0.01)
    assert judge_kept(before, after, stricter).verdict == LOST


def _of(before: Amounts, after: Amounts) -> Ratio:
    x, y = before.means, after.means
    cover = np.cov(np.vstack([x, y])) / x.size
    free = (x.size - 1.0, x.size - 1.0)
    return Ratio(
        x.mean(), y.mean(), cover[0, 0], cover[1, 1], cover[0, 1], free, True, 0.0, float("inf")
    )  # fmt: skip


# -- plans --------------------------------------------------------------------------------------------


def judged_studies(wanted: float, true: float, measuring: Measuring, design: tuple[int, int]) -> float:
    """Share of drawn studies whose interval ends below what is wanted, from the verdict itself."""
    rng, decided, count = np.random.default_rng(4), 0, 160
    specimens, spots = design
    for _ in range(count):
        between = true**2 / 2.0 + measuring.share * measuring.variance
        within = true**2 / 2.0 + (1.0 - measuring.share) * measuring.variance
        pieces = 1.0 + np.sqrt(between) * rng.normal(size=(specimens, 1))
        values = pieces + np.sqrt(within) * rng.normal(size=(specimens, spots))
        known = measuring.variance * rng.chisquare(measuring.degrees) / measuring.degrees
        study = amounts(
            *values.tolist(), names="abcdefghijklmnopqrst", spot_variance=known,
            specimen_share=measuring.share, degrees=measuring.degrees,
        )  # fmt: skip
        found = judge_evenness(study, ComparisonSettings(populations_spots=1000))  # no look at populations
        decided += found.variation_high is not None and found.variation_high <= wanted
    return decided / count


@pytest.mark.parametrize(
    ("design", "share"), [((12, 1), 0.5), ((5, 4), 0.5), ((8, 3), 0.0), ((8, 3), 1.0), ((4, 10), 0.2)]
)
def test_the_chance_of_deciding_is_that_of_the_verdict(design: tuple[int, int], share: float) -> None:
    measuring = Measuring(variance=0.004, share=share, degrees=12.0)
    chance = chance_of_deciding(0.3, 0.15, measuring, design, 0.95)
    # 160 studies: 0.04 is one standard error at one half.
    assert chance == pytest.approx(judged_studies(0.3, 0.15, measuring, design), abs=0.11)


def test_one_specimen_decides_nothing_and_an_even_coating_soon() -> None:
    measuring = Measuring(variance=1e-6, share=0.5, degrees=50.0)
    assert chance_of_deciding(0.3, 0.01, measuring, (1, 10), 0.95) == 0.0
    assert chance_of_deciding(0.3, 0.01, measuring, (4, 3), 0.95) == 1.0
    assert chance_of_deciding(0.3, 0.6, measuring, (8, 3), 0.95) == 0.0


def test_a_plan_asks_one_two_three_five_and_ten_spots() -> None:
    plan = plan_evenness(0.4, Measuring(0.001, 0.5, 20.0), (3, 2), SETTINGS)
    assert [design.spots for design in plan.enough] == [1, 2, 3, 5, 10]
    for design in plan.enough:
        assert design.power >= SETTINGS.evenness_power
        fewer = chance_of_deciding(
            0.4, 0.2, Measuring(0.001, 0.5, 20.0), (design.specimens - 1, design.spots), 0.95
        )
        assert fewer < SETTINGS.evenness_power
    assert plan.assumed == pytest.approx(0.2)
    assert (plan.at_hand.specimens, plan.at_hand.spots) == (3, 2)
    fewest = min(d.specimens * d.spots for d in plan.enough)
    assert plan.fewest.specimens * plan.fewest.spots == fewest


# -- specimens, recipes, populations, trends ------------------------------------------------------------


def test_every_specimen_has_students_interval_of_measuring() -> None:
    error = {"spot_variance": 0.04, "specimen_share": 0.25, "bare_variance": 0.01, "degrees": 6.0}
    known = amounts([1.0, 1.2], [2.0], **error)
    first, second = amounts_by_specimen(known, 0.9)
    t = stats.t.isf(0.05, 6.0)
    for found, mean, variance in ((first, 1.1, 0.04 * (0.25 + 0.75 / 2.0)), (second, 2.0, 0.04)):
        half = t * np.sqrt(variance + 0.01)
        assert (found.amount_low, found.amount, found.amount_high) == pytest.approx(
            (mean - half, mean, mean + half)
        )
    assert (first.spots, second.spots) == ((1.0, 1.2), (2.0,))


def test_pooled_scatter_is_that_of_one_analysis_of_variance() -> None:
    rng = np.random.default_rng(8)
    groups = [rng.normal(m, 0.1, n) for m, n in ((1.0, 4), (1.2, 5), (0.9, 3))]
    recipes = {name: amounts(*[[v] for v in group]) for name, group in zip("xyz", groups, strict=True)}
    pooled = ComparisonSettings(scatter="pooled")
    mse = sum(((g - g.mean()) ** 2).sum() for g in groups) / (12 - 3)
    q = stats.studentized_range.ppf(0.95, 3, 9)
    for found in compare_recipes(recipes, pooled):
        one, other = (groups["xyz".index(name)] for name in found.samples)
        half = q * np.sqrt(mse / 2.0 * (1 / one.size + 1 / other.size))
        assert (found.low, found.high) == pytest.approx(
            (one.mean() - other.mean() - half, one.mean() - other.mean() + half), rel=1e-6
        )
        assert (found.degrees, found.method) == (9.0, "tukey")


def test_factors_grow_with_what_is_compared_and_fall_with_what_is_known() -> None:
    for factor in (lambda k, f: range_factor(k + 1, f, 0.95), lambda k, f: modulus_factor(k, f, 0.95)):
        assert factor(1, 8.0) < factor(2, 8.0) < factor(4, 8.0)
        assert factor(3, 30.0) < factor(3, 8.0) < factor(3, 3.0)
    assert many_to_one_factor([0.9, 0.9], 9.0, 0.95) < many_to_one_factor([0.0, 0.0], 9.0, 0.95)
    assert many_to_one_factor([0.5], 9.0, 0.95) == pytest.approx(stats.t.isf(0.025, 9.0), rel=1e-4)


def test_two_populations_need_a_part_of_some_size() -> None:
    rng = np.random.default_rng(1)
    lone = np.concatenate([rng.normal(1.0, 0.02, 29), [0.2]])
    assert (
        count_populations(amounts(*[[v] for v in lone], names=[f"p{i}" for i in range(30)]), SETTINGS).count
        == 1
    )
    half = np.concatenate([rng.normal(1.0, 0.02, 15), rng.normal(0.2, 0.02, 15)])
    found = count_populations(amounts(*[[v] for v in half], names=[f"p{i}" for i in range(30)]), SETTINGS)
    assert (found.count, found.share_low) == (2, 0.5)
    assert (found.low, found.high) == pytest.approx((0.2, 1.0), abs=0.02)
    scatter = np.sqrt((np.var(half[:15]) * 15 + np.var(half[15:]) * 15) / 28)
    assert found.apart == pytest.approx((half[:15].mean() - half[15:].mean()) / scatter, rel=1e-9)


def test_cut_ratios_by_hand() -> None:
    row = np.sort(np.random.default_rng(3).normal(size=12))
    by_hand = []
    for cut in range(2, 11):
        a, b = row[:cut], row[cut:]
        within = ((a - a.mean()) ** 2).sum() + ((b - b.mean()) ** 2).sum()
        by_hand.append((((row - row.mean()) ** 2).sum() - within) / within)
    assert cut_ratios(row[None, :], 0.1)[0] == pytest.approx(by_hand)


@pytest.mark.parametrize("apart", [0.0, 100.0])
def test_pieces_side_by_side_on_one_stage_are_no_longer_than_they_are(apart: float) -> None:
    x = np.tile(np.linspace(0.0, 10.0, 6), 2)
    values = (1.0 + 0.01 * x + 1e-4 * np.random.default_rng(3).normal(size=12)).reshape(2, 6)
    places = [(v + apart * (i // 6), 0.0) for i, v in enumerate(x)]
    found = find_trends(amounts(*values.tolist()), places, 0.95)[0]
    assert found.change == pytest.approx(0.1 / values.mean(), rel=0.02)


def test_a_trends_chance_and_change_are_those_of_a_regression_within_pieces() -> None:
    rng = np.random.default_rng(9)
    x = np.tile(np.arange(5.0), 3)
    pieces = np.repeat([0.9, 1.0, 1.2], 5)
    values = pieces + 0.05 * x + 0.03 * rng.normal(size=15)
    found = find_trends(amounts(*values.reshape(3, 5).tolist()), [(v, 0.0) for v in x], 0.95)[0]
    frame = DataFrame({"y": values, "x": x, "piece": np.repeat(list("abc"), 5)})
    fit = smf.ols("y ~ x + C(piece)", frame).fit()
    low, high = fit.conf_int(0.05).loc["x"] * 4.0 / values.mean()
    assert found.p_value == pytest.approx(fit.pvalues["x"], rel=1e-6)
    assert (found.change_low, found.change, found.change_high) == pytest.approx(
        (low, fit.params["x"] * 4.0 / values.mean(), high), rel=1e-6
    )
    assert (found.direction_deg, found.degrees) == (pytest.approx(0.0), 11)


def test_a_slope_in_two_directions_is_one_question_with_two_degrees() -> None:
    rng = np.random.default_rng(12)
    x, y = rng.uniform(0, 10, 12), rng.uniform(0, 6, 12)
    values = 1.5 + 0.03 * x - 0.05 * y + 0.05 * rng.normal(size=12)
    found = find_trends(amounts(values.tolist()), list(zip(x, y, strict=True)), 0.95)[0]
    fit = smf.ols("v ~ x + y", DataFrame({"v": values, "x": x, "y": y})).fit()
    assert found.p_value == pytest.approx(fit.f_pvalue, rel=1e-6)
    slope = np.array([fit.params["x"], fit.params["y"]])
    steepest = slope / np.linalg.norm(slope)
    along = np.ptp(np.column_stack([x, y]) @ steepest)
    assert found.change == pytest.approx(along * np.linalg.norm(slope) / values.mean(), rel=1e-6)
    assert found.direction_deg == pytest.approx(np.degrees(np.arctan2(slope[1], slope[0])))
    assert (found.degrees, found.change_low < found.change < found.change_high) == (9, True)


def test_a_fall_towards_the_rim_is_a_fall() -> None:
    places = [(x, y) for x in (-2.0, -1.0, 0.0, 1.0, 2.0) for y in (-2.0, 0.0, 2.0)]
    radius = np.hypot(*np.array(places).T)
    values = 2.0 - 0.1 * radius + 1e-3 * np.random.default_rng(2).normal(size=15)
    radial = find_trends(amounts(values.tolist()), places, 0.95)[1]
    assert radial.kind == "radial"
    assert radial.change == pytest.approx(-0.1 * np.ptp(radius) / values.mean(), rel=0.02)
    assert radial.direction_deg is None
    assert radial.p_adjusted == pytest.approx(2.0 * radial.p_value)


# -- evenness -----------------------------------------------------------------------------------------


def test_what_measuring_adds_is_taken_off_and_of_one_piece_only_what_spots_do_alone() -> None:
    spots = [1.0, 1.3, 0.8, 1.1, 1.2, 0.7, 1.4, 0.9]
    known = {"spot_variance": 0.02, "specimen_share": 0.25, "degrees": 9.0}
    one = judge_evenness(amounts(spots, **known), SETTINGS)
    variance = np.var(spots, ddof=1)
    # What a specimen has in common does not scatter within it.
    assert one.variation == pytest.approx(np.sqrt(variance - 0.75 * 0.02) / np.mean(spots))
    several = amounts(*[[v] for v in spots], **known)
    found = judge_evenness(several, SETTINGS)
    assert found.variation == pytest.approx(np.sqrt(variance - 0.02) / np.mean(spots))
    assert (found.spots, found.specimens, one.specimens) == (8, 8, 1)


def test_two_spots_can_be_judged_and_one_cannot() -> None:
    assert judge_evenness(amounts([1.0, 1.001]), SETTINGS).variation is not None
    one = judge_evenness(amounts([1.0]), SETTINGS)
    assert (one.verdict, one.reasons[0].code) == (CANNOT_TELL, "evenness-one-spot")


@pytest.mark.parametrize(("variance", "degrees"), [(0.002, 9.0), (0.01, 30.0), (0.04, 50.0)])
def test_richest_over_poorest_is_fiellers_of_two_spots(variance: float, degrees: float) -> None:
    found = judge_evenness(
        amounts([0.6, 1.0], [1.5, 0.9], [1.1, 1.0], spot_variance=variance, degrees=degrees), SETTINGS
    )
    reach = stats.t.isf(0.025, degrees) ** 2 * variance

    def excess(ratio: float) -> float:
        return (1.5 - ratio * 0.6) ** 2 - reach * (1.0 + ratio**2)

    assert found.largest_to_least == pytest.approx(2.5)
    if reach >= 0.36:
        assert found.largest_to_least_high is None
        return
    assert found.largest_to_least_high == pytest.approx(brentq(excess, 2.5, 500.0), rel=1e-6)
    assert found.largest_to_least_low == pytest.approx(max(1.0, brentq(excess, 0.0, 2.5)), rel=1e-6)


def test_a_poorest_spot_that_may_be_nothing_bounds_no_ratio() -> None:
    wide = judge_evenness(
        amounts([0.2, 1.0], [1.5, 0.9], [1.1, 1.0], spot_variance=0.05, degrees=5.0), SETTINGS
    )
    assert (wide.largest_to_least, wide.largest_to_least_low, wide.largest_to_least_high) == (7.5, None, None)
    none = judge_evenness(amounts([-0.1, 1.0, 1.4], [1.5, 0.9, 1.1, 1.2], [1.0, 1.1]), SETTINGS)
    assert none.largest_to_least is None


# -- requirements -------------------------------------------------------------------------------------


def test_a_thickness_conforms_by_students_one_sided_limit() -> None:
    values = [100.0, 104.0, 98.0, 103.0, 101.0]
    film = amounts(*[[v / 50.0] for v in values], nm_per_amount=50.0)
    limit = np.mean(values) - stats.t.isf(0.05, 4) * stats.sem(values)
    upper = np.mean(values) + stats.t.isf(0.05, 4) * stats.sem(values)
    for wanted, verdict in (
        (limit - 0.3, "conforms"),
        (limit + 0.3, "cannot tell"),
        (upper + 0.3, "does not conform"),
    ):
        found = judge_requirement(film, Requirement(least_nm=wanted))
        assert found.verdict == verdict
        assert found.clauses[0].low == pytest.approx(limit, abs=0.15)


def test_what_optics_leave_open_widens_a_thickness() -> None:
    values = [[2.0], [2.1], [1.95], [2.05]]
    sure = judge_requirement(amounts(*values, nm_per_amount=50.0), Requirement(least_nm=10.0)).clauses[0]
    loose = judge_requirement(
        amounts(*values, nm_per_amount=50.0, nm_error=0.1), Requirement(least_nm=10.0)
    ).clauses[0]
    assert loose.low < sure.low - 5.0
    assert loose.value == sure.value == pytest.approx(101.25)


def test_one_specimen_or_no_scale_leaves_a_thickness_open() -> None:
    one = amounts([2.0, 2.1], nm_per_amount=50.0)
    assert judge_requirement(one, Requirement(least_nm=10.0)).verdict == "cannot tell"
    assert judge_requirement(amounts([2.0], [2.1]), Requirement(least_nm=10.0)).verdict == "cannot tell"
    assert (
        judge_requirement(amounts([2.0], nm_per_amount=9.0), Requirement(least_nm=1.0)).verdict
        == "cannot tell"
    )
