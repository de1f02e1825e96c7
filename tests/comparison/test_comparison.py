"""Spots, specimens, recipes and conditions against certified values, other libraries and exact identities."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multicomp import pairwise_tukeyhsd
from statsmodels.stats.weightstats import ttost_paired

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import ends, split_scatter, spread_pivots
from spectra.comparison.conditions import judge_kept
from spectra.comparison.multiplicity import many_to_one_factor, modulus_factor, range_factor
from spectra.comparison.populations import count_populations, cut_ratios
from spectra.comparison.recipes import compare_recipes, compare_sides
from spectra.comparison.requirement import Requirement, judge_requirement
from spectra.comparison.settings import ComparisonSettings
from spectra.comparison.specimens import SpecimenRule, judge_specimens
from spectra.comparison.spread import judge_evenness
from spectra.comparison.trends import find_trends
from spectra.errors import SettingError, SpectraError
from tests.places import DATA

NIST = DATA / "nist"
SETTINGS = ComparisonSettings()

# NIST Statistical Reference Datasets, analysis of variance (public domain); lines 41 to 47 of a file.
DATASETS = ("AtmWtAg", "SiRstv")


def amounts(groups, **more):
    """Amounts of groups, each a specimen with its spots."""
    names = [f"s{i}" for i, group in enumerate(groups) for _ in group]
    return Amounts(np.concatenate([np.asarray(group, float) for group in groups]), tuple(names), **more)


def certified(name):
    """Certified mean squares between and within groups."""
    lines = (NIST / f"{name}.dat").read_text().splitlines()[40:47]
    rows = [line.split() for line in lines if line.startswith(("Between", "Within"))]
    return tuple(float(row[4]) for row in rows)


def groups_of(name):
    data = np.loadtxt(NIST / f"{name}.dat", skiprows=60)
    return [data[data[:, 0] == label, 1] for label in np.unique(data[:, 0])]


@pytest.mark.parametrize("name", DATASETS)
def test_mean_squares_are_those_certified_by_nist(name):
    found = split_scatter(amounts(groups_of(name)))
    # The certified data of AtmWtAg agree in seven leading digits: twice as many cancel.
    relative = 1e-6 if name == "AtmWtAg" else 1e-11
    assert (found.between_square, found.within_square) == pytest.approx(certified(name), rel=relative)


@pytest.mark.parametrize("name", DATASETS)
def test_components_of_a_balanced_design_follow_from_the_certified_mean_squares(name):
    """Searle, Casella & McCulloch, Variance Components (1992), 3.8 (from memory): REML is the analysis of
    variance where that gives no negative variance."""
    groups = groups_of(name)
    found = split_scatter(amounts([group - groups[0][0] for group in groups]))
    between, within = certified(name)
    assert found.within == pytest.approx(within, rel=1e-5)
    assert found.between == pytest.approx((between - within) / groups[0].size, rel=1e-4)


@pytest.mark.parametrize("seed", range(3))
def test_components_of_an_unbalanced_design_are_those_of_a_mixed_model(seed):
    rng = np.random.default_rng(seed)
    counts = [2, 5, 3, 7, 4, 2]
    data = amounts([rng.normal(1.0 + 0.3 * rng.normal(), 0.1, count) for count in counts])
    frame = pd.DataFrame({"y": data.values, "piece": data.specimens})
    fit = smf.mixedlm("y ~ 1", frame, groups=frame["piece"]).fit(reml=True)
    found = split_scatter(data)
    assert found.between == pytest.approx(float(fit.cov_re.iloc[0, 0]), rel=1e-3)
    assert found.within == pytest.approx(float(fit.scale), rel=1e-3)


def test_alike_specimens_leave_no_variance_between_them():
    found = split_scatter(amounts([[1.0, 3.0], [3.0, 1.0], [1.1, 2.9]]))
    assert found.between == 0.0
    assert found.within == pytest.approx((4 * 1.0 + 2 * 0.81) / 5)  # all spots about one mean


def test_the_interval_within_specimens_is_that_of_chi_square():
    """Exact: the sum of squares over its variance is chi-square (any textbook)."""
    data = amounts([[1.0, 1.2, 0.9], [1.3, 1.1, 1.6], [0.8, 1.0, 0.7]])
    found = split_scatter(data)
    low, high = ends(spread_pivots(found).within, 0.95)
    sum_squares = found.within_square * 6
    assert low == pytest.approx(sum_squares / stats.chi2.ppf(0.975, 6), rel=0.01)
    assert high == pytest.approx(sum_squares / stats.chi2.ppf(0.025, 6), rel=0.01)


def test_the_interval_of_the_mean_is_that_of_student():
    data = amounts([[1.0], [1.3], [0.8], [1.6]])
    low, high = ends(spread_pivots(split_scatter(data)).mean, 0.95)
    expected = stats.t.interval(0.95, 3, loc=data.mean, scale=stats.sem(data.values))
    assert (low, high) == pytest.approx(expected, abs=0.01)


def test_the_interval_between_specimens_is_near_the_modified_large_sample_one():
    """Burdick & Graybill, Confidence Intervals on Variance Components (1992), 3.2: the upper and lower limits
    of the variance between groups of a balanced one-way design (formulas from memory); generalised
    intervals agree with them closely, not exactly (same book, and Weerahandi 1993)."""
    rng = np.random.default_rng(5)
    groups = 1.0 + 0.3 * rng.normal(size=(8, 1)) + 0.1 * rng.normal(size=(8, 4))
    found = split_scatter(amounts(list(groups)))
    low, high = ends(spread_pivots(found).between, 0.95)
    expected = modified_large_sample(found.between_square, found.within_square, 7, 24, 4)
    assert (low, high) == pytest.approx(expected, rel=0.03)


def modified_large_sample(s1, s2, n1, n2, spots, alpha=0.025):
    """Limits of (s1 - s2) / spots."""
    chi = stats.chi2.ppf
    f = stats.f.ppf
    g1, h1 = 1 - n1 / chi(1 - alpha, n1), n1 / chi(alpha, n1) - 1
    g2, h2 = 1 - n2 / chi(1 - alpha, n2), n2 / chi(alpha, n2) - 1
    upper, lower = f(1 - alpha, n1, n2), f(alpha, n1, n2)
    g12 = ((upper - 1) ** 2 - g1**2 * upper**2 - h2**2) / upper
    h12 = ((1 - lower) ** 2 - h1**2 * lower**2 - g2**2) / lower
    low = s1 - s2 - np.sqrt(g1**2 * s1**2 + h2**2 * s2**2 + g12 * s1 * s2)
    high = s1 - s2 + np.sqrt(h1**2 * s1**2 + g2**2 * s2**2 + h12 * s1 * s2)
    return max(0.0, low / spots), max(0.0, high / spots)


# ------------------------------------------------------------------------------------------- several at once


# Two-sided factors of Dunnett's comparisons with a control at 5 and 1 %, equal numbers: Dunnett 1955, exact
# values as tabled in 1964 (Biometrics 20, 482); from memory.
DUNNETT = {(2, 5): (3.03, 4.63), (3, 5): (3.29, 4.98), (2, 10): (2.57, 3.53), (4, 20): (2.65, 3.40)}


@pytest.mark.parametrize(("comparisons", "degrees"), DUNNETT)
def test_factors_against_one_are_those_of_the_table(comparisons, degrees):
    for level, expected in zip((0.95, 0.99), DUNNETT[comparisons, degrees], strict=True):
        found = many_to_one_factor([np.sqrt(0.5)] * comparisons, degrees, level)
        assert found == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize("degrees", [1.0, 1.7, 4.0, 30.0, np.inf])
def test_one_comparison_is_student(degrees):
    expected = stats.norm.ppf(0.975) if np.isinf(degrees) else stats.t.ppf(0.975, degrees)
    assert modulus_factor(1, degrees, 0.95) == pytest.approx(expected, rel=1e-6)
    assert many_to_one_factor([0.6], degrees, 0.95) == pytest.approx(expected, rel=1e-6)


def test_independent_comparisons_are_those_of_sidak_where_the_scatter_is_known():
    """Sidak, J. Am. Stat. Assoc. 62, 626 (1967)."""
    assert modulus_factor(6, np.inf, 0.95) == pytest.approx(
        stats.norm.ppf(0.5 + 0.95 ** (1 / 6) / 2), rel=1e-8
    )


@pytest.mark.parametrize("loading", [0.0, 0.7])
def test_several_comparisons_are_the_multivariate_t_of_scipy(loading):
    """scipy.stats.multivariate_t, independent (the studentised maximum modulus) and not."""
    shape = loading**2 + (1.0 - loading**2) * np.eye(3)
    factor = many_to_one_factor([loading] * 3, 10, 0.95)
    inside = stats.multivariate_t(shape=shape, df=10, seed=1).cdf([factor] * 3, lower_limit=[-factor] * 3)
    assert inside == pytest.approx(0.95, abs=3e-4)


def test_the_studentised_range_is_the_tabled_one():
    """5 % point for 3 groups and 10 degrees: 3.88 (any table of Tukey's q)."""
    assert range_factor(3, 10, 0.95) * np.sqrt(2) == pytest.approx(3.88, abs=0.005)


def recipes(seed=3, counts=(4, 5, 3), scatter=(0.1, 0.1, 0.1)):
    rng = np.random.default_rng(seed)
    return {
        f"r{i}": amounts(list(rng.normal(1.0 + 0.2 * i, s, (count, 1))))
        for i, (count, s) in enumerate(zip(counts, scatter, strict=True))
    }


def test_all_pairs_with_one_scatter_are_those_of_tukey():
    given = recipes()
    found = compare_recipes(given, replace(SETTINGS, scatter="pooled"))
    values = np.concatenate([a.values for a in given.values()])
    labels = np.repeat(list(given), [len(a) for a in given.values()])
    table = pairwise_tukeyhsd(values, labels)
    # statsmodels takes second minus first.
    assert [d.samples for d in found] == [("r0", "r1"), ("r0", "r2"), ("r1", "r2")]
    assert [-d.difference for d in found] == pytest.approx(list(table.meandiffs))
    assert [(-d.high, -d.low) for d in found] == [
        pytest.approx(tuple(row), rel=1e-3) for row in table.confint
    ]


def test_comparisons_with_one_are_those_of_scipy():
    given = recipes()
    found = compare_recipes(given, replace(SETTINGS, scatter="pooled"), "r0")
    table = stats.dunnett(given["r1"].values, given["r2"].values, control=given["r0"].values, rng=1)
    limits = table.confidence_interval(0.95)
    assert [d.samples for d in found] == [("r1", "r0"), ("r2", "r0")]
    assert [d.low for d in found] == pytest.approx(list(limits.low), abs=0.003)
    assert [d.high for d in found] == pytest.approx(list(limits.high), abs=0.003)


def test_two_recipes_of_unequal_scatter_are_compared_as_by_welch():
    given = recipes(counts=(4, 6), scatter=(0.05, 0.4))
    (found,) = compare_recipes(given, SETTINGS)
    welch = stats.ttest_ind(given["r0"].values, given["r1"].values, equal_var=False)
    limits = welch.confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((limits.low, limits.high), rel=1e-6)
    assert found.degrees == pytest.approx(float(welch.df), rel=1e-9)


def test_a_recipe_of_one_specimen_has_no_interval_and_says_so():
    given = recipes(counts=(1, 4), scatter=(0.1, 0.1))
    (found,) = compare_recipes(given, SETTINGS)
    assert (found.low, found.high) == (None, None)
    assert found.reasons[0].code == "comparison-one-specimen"
    assert found.reasons[0].values["samples"] == ("r0",)
    # One scatter for all recipes is known from the other.
    (found,) = compare_recipes(given, replace(SETTINGS, scatter="pooled"))
    assert found.low < found.difference < found.high


# -------------------------------------------------------------------------------- before and after


def test_the_share_kept_is_where_the_paired_test_turns():
    """Fieller by its definition: at an end of the interval, after - share before is tested at the level."""
    before = amounts([[1.0], [1.3], [0.9], [1.2]])
    after = amounts([[0.8], [1.0], [0.75], [0.9]])
    found = judge_kept(before, after, SETTINGS)
    for share in (found.share_low, found.share_high):
        test = stats.ttest_1samp(after.values - share * before.values, 0.0)
        assert test.pvalue == pytest.approx(0.05, rel=1e-5)
    assert (found.verdict, found.pairs) == ("lost", 4)


def test_the_bare_mean_enters_the_share_only_as_far_as_something_is_lost():
    before = amounts([[1.0], [1.3], [0.9], [1.2]], bare_variance=0.04, degrees=8.0)
    same = replace(before, values=before.values * np.array([1.001, 0.999, 1.0, 1.0]))
    half = replace(before, values=before.values * np.array([0.5005, 0.4995, 0.5, 0.5]))
    kept, lost = (judge_kept(before, after, SETTINGS) for after in (same, half))
    assert kept.share_high - kept.share_low < 0.01
    # (1 - r) times 0.2 of 1.1 at r = 0.5, Student's t about 2.3: the interval is nearly 0.5 wide.
    assert 0.3 < lost.share_high - lost.share_low < 0.6
    assert kept.verdict == "kept"


def test_nothing_lost_is_said_as_two_one_sided_tests_do():
    """Against the paired equivalence test of statsmodels on after - (1 -/+ margin) before."""
    rng = np.random.default_rng(2)
    said = set()
    for _ in range(40):
        before = amounts(list(rng.normal(1.0, 0.1, (6, 1))))
        after = replace(before, values=before.values * rng.normal(0.97, 0.08, 6))
        found = judge_kept(before, after, SETTINGS)
        low = ttost_paired(after.values, 0.9 * before.values, 0.0, 1e9)[0]
        high = ttost_paired(after.values, 1.1 * before.values, -1e9, 0.0)[0]
        assert (found.verdict == "kept") == (max(low, high) < 0.05)
        said.add(found.verdict)
    assert len(said) > 1


def test_nothing_lost_is_never_said_of_a_difference_that_is_merely_not_shown():
    before = amounts([[1.0], [2.0], [0.5]])
    after = amounts([[0.9], [0.4], [2.2]])
    assert judge_kept(before, after, SETTINGS).verdict == "cannot tell"


def test_nothing_before_leaves_no_share():
    before, after = amounts([[0.1], [-0.1], [0.02]]), amounts([[0.1], [0.0], [0.1]])
    found = judge_kept(before, after, SETTINGS)
    assert (found.verdict, found.share_low, found.reasons[0].code) == (
        "cannot tell",
        None,
        "kept-nothing-before",
    )


def test_other_specimens_are_not_paired_and_that_is_said():
    before = amounts([[1.0], [1.3], [0.9], [1.2]])
    after = replace(before, specimens=("a", "b", "c", "d"))
    found = judge_kept(before, after, SETTINGS)
    assert found.pairs == 0
    assert found.reasons[-1].code == "kept-not-paired"
    assert judge_kept(before, before, SETTINGS).pairs == 4


@given(st.floats(0.2, 3.0), st.integers(0, 1000))
def test_the_share_does_not_depend_on_the_unit(unit, seed):
    rng = np.random.default_rng(seed)
    before, after = (amounts(list(rng.normal(mean, 0.05, (4, 2)))) for mean in (1.0, 0.7))
    one = judge_kept(before, after, SETTINGS)
    other = judge_kept(*(replace(a, values=unit * a.values) for a in (before, after)), SETTINGS)
    assert (one.share_low, one.share_high) == pytest.approx((other.share_low, other.share_high), rel=1e-9)


# ------------------------------------------------------------------------------------------------- evenness


def test_what_bare_spots_do_is_no_unevenness_of_the_coating():
    rng = np.random.default_rng(1)
    data = amounts(list(rng.normal(1.0, 0.1, (6, 4))), spot_variance=0.01, degrees=20.0)
    found = judge_evenness(data, SETTINGS)
    assert found.verdict == "not shown"
    assert found.variation_low == 0.0
    assert 0.0 < found.variation_high < 0.1
    assert judge_evenness(replace(data, spot_variance=0.0001), SETTINGS).verdict == "uneven"


def test_one_spot_on_each_specimen_cannot_take_them_apart():
    found = judge_evenness(amounts([[1.0], [1.2], [0.8], [1.3]]), SETTINGS)
    assert (found.between_specimens, found.within_specimens, found.between_low) == (None, None, None)
    assert found.variation == pytest.approx(np.std([1.0, 1.2, 0.8, 1.3], ddof=1) / 1.075)
    assert [reason.code for reason in found.reasons] == ["evenness-varies", "evenness-one-spot-each"]


def test_a_mean_that_may_be_nothing_has_no_variation():
    found = judge_evenness(amounts([[0.1], [-0.1], [0.05]]), SETTINGS)
    assert (found.verdict, found.variation, found.reasons[0].code) == (
        "cannot tell",
        None,
        "evenness-no-mean",
    )
    assert judge_evenness(amounts([[1.0]]), SETTINGS).reasons[0].code == "evenness-one-spot"


def test_the_richest_spot_is_set_against_the_poorest_with_both_their_errors():
    data = amounts([[1.0, 2.0], [1.5, 1.6]], spot_variance=0.01, degrees=1e9)
    found = judge_evenness(data, SETTINGS)
    assert found.largest_to_least == pytest.approx(2.0)
    for ratio in (found.largest_to_least_low, found.largest_to_least_high):
        assert abs(2.0 - ratio) / (0.1 * np.hypot(1.0, ratio)) == pytest.approx(1.96, abs=0.001)


def test_two_populations_are_told_from_one():
    rng = np.random.default_rng(4)
    one = rng.normal(1.0, 0.08, 20)
    two = np.where(np.arange(20) % 2, one, one / 2)
    found = count_populations(amounts(two[:, None]), SETTINGS)
    assert (found.count, found.share_low) == (2, 0.5)
    assert (found.low, found.high) == pytest.approx((0.5, 1.0), abs=0.05)
    assert count_populations(amounts(one[:, None]), SETTINGS).count == 1
    assert count_populations(amounts(two[:4, None]), SETTINGS).count is None


def test_specimens_that_differ_are_not_taken_for_populations_of_spots():
    rng = np.random.default_rng(7)
    groups = 1 + 0.3 * rng.normal(size=(20, 4, 1)) + 0.01 * rng.normal(size=(20, 4, 5))
    found = [count_populations(amounts(list(rows)), SETTINGS).count for rows in groups]
    assert found.count(2) <= 1
    # Taken for spots without specimens, most would be.
    blind = [count_populations(amounts(rows.reshape(20, 1)), SETTINGS).count for rows in groups]
    assert blind.count(2) >= 5


def test_the_cut_is_the_best_of_all_cuts():
    rng = np.random.default_rng(0)
    values = np.sort(rng.normal(size=9))
    slow = []
    for cut in range(2, 8):
        parts = values[:cut], values[cut:]
        within = sum(((part - part.mean()) ** 2).sum() for part in parts)
        slow.append(((values - values.mean()) ** 2).sum() / within - 1.0)
    assert cut_ratios(values[None, :], 0.1)[0] == pytest.approx(slow)


# --------------------------------------------------------------------------------------------------- trends


def test_a_linear_trend_is_that_of_least_squares():
    rng = np.random.default_rng(3)
    places = rng.uniform(0, 10, (30, 2))
    values = 1.0 + 0.03 * places[:, 0] - 0.01 * places[:, 1] + rng.normal(0, 0.02, 30)
    data = Amounts(values, tuple("abc"[i % 3] for i in range(30)))
    found = find_trends(data, places, 0.95)[0]
    dummies = pd.get_dummies(list(data.specimens), dtype=float).to_numpy()
    fit = sm.OLS(values, np.column_stack([places, dummies])).fit()
    assert found.p_value == pytest.approx(float(fit.f_test(np.eye(5)[:2]).pvalue), rel=1e-6)
    assert found.direction_deg == pytest.approx(float(np.degrees(np.arctan2(*fit.params[1::-1]))))
    assert found.p_adjusted < 0.001


def test_a_radial_trend_is_told_from_a_linear_one():
    x, y = (axis.ravel() for axis in np.meshgrid(np.arange(5.0), np.arange(5.0)))
    rng = np.random.default_rng(1)
    values = 1.0 - 0.1 * np.hypot(x - 2, y - 2) + rng.normal(0, 0.02, 25)
    linear, radial = find_trends(Amounts(values, ("a",) * 25), list(zip(x, y, strict=True)), 0.95)
    assert (linear.kind, radial.kind) == ("linear", "radial")
    assert radial.p_adjusted < 1e-6 < 0.01 < linear.p_adjusted
    assert radial.change_low < -0.1 * np.hypot(2, 2) / values.mean() < radial.change_high


def test_specimens_that_differ_are_no_trend():
    values = np.array([1.0, 1.01, 0.99, 1.0, 2.0, 1.99, 2.01, 2.0])
    places = [
        (0.0, 0.0),
        (1.0, 0.0),
        (0.0, 1.0),
        (1.0, 1.0),
        (10.0, 0.0),
        (11.0, 0.0),
        (10.0, 1.0),
        (11.0, 1.0),
    ]
    linear = find_trends(Amounts(values, ("a",) * 4 + ("b",) * 4), places, 0.95)[0]
    assert linear.p_value > 0.5
    assert find_trends(Amounts(values, ("a",) * 8), [(0.0, 0.0)] * 8, 0.95) == ()


# ---------------------------------------------------------------------------------------------- requirement


def test_a_requirement_is_guarded_by_the_one_sided_limit():
    """JCGM 106:2012, 8.3.2 (from memory): acceptance begins one guard band inside the limit; at a risk of 5 %
    and a normal error of known size the band is 1.645 standard uncertainties."""
    rng = np.random.default_rng(0)
    values = rng.normal(size=400)
    values = 0.1 + 0.02 * (values - values.mean()) / values.std(ddof=1)
    data = amounts(list(values[:, None]), nm_per_amount=1000.0)
    guard = 1.645 * 0.02 / np.sqrt(400) * 1000.0
    for offset, expected in ((0.97, "cannot tell"), (1.03, "conforms")):
        assert judge_requirement(data, Requirement(least_nm=100.0 - offset * guard)).verdict == expected
    for offset, expected in ((0.97, "cannot tell"), (1.03, "does not conform")):
        assert judge_requirement(data, Requirement(least_nm=100.0 + offset * guard)).verdict == expected


@pytest.mark.parametrize(
    ("estimate", "error", "limit", "probability"),
    [
        # JCGM 106:2012, clause 7, breakdown of a Zener diode (from memory): -5.47 V with u = 0.05 V against
        # -5.40 V at most, pc = 92 %; here with the sign turned, as a least value.
        (5.47, 0.05, 5.40, 0.92),
        # The estimate at the limit: one half, whatever the uncertainty (same clause).
        (5.40, 0.05, 5.40, 0.50),
        # 1.645 standard uncertainties inside: 95 %, the guard band of 8.3.2 at a risk of 5 % (from memory).
        (5.40 + 1.645 * 0.02, 0.02, 5.40, 0.95),
    ],
)
def test_the_conformance_probability_is_that_of_jcgm_106(estimate, error, limit, probability):
    rng = np.random.default_rng(1)
    values = rng.normal(size=900)
    values = estimate + error * np.sqrt(900) * (values - values.mean()) / values.std(ddof=1)
    data = amounts(list(values[:, None]), nm_per_amount=1.0)
    (clause,) = judge_requirement(data, Requirement(least_nm=limit)).clauses
    assert clause.chance == pytest.approx(probability, abs=0.005)
    # One rule: conforms where the chance of not conforming is at most the risk.
    assert (clause.verdict == "conforms") == (clause.chance >= 0.95)


def test_what_cannot_be_measured_has_no_conformance_probability():
    nothing = amounts([[0.1], [-0.1], [0.05]])
    (clause,) = judge_requirement(nothing, Requirement(most_variation=0.2)).clauses
    assert (clause.verdict, clause.chance) == ("cannot tell", None)


def test_all_requirements_must_be_met_and_one_failure_decides():
    rng = np.random.default_rng(0)
    data = amounts(list(rng.normal(0.1, 0.004, (8, 3))), nm_per_amount=1000.0)
    both = judge_requirement(data, Requirement(least_nm=80.0, most_variation=0.2))
    assert (both.verdict, [clause.verdict for clause in both.clauses]) == ("conforms", ["conforms"] * 2)
    assert (
        judge_requirement(data, Requirement(least_nm=80.0, most_variation=0.001)).verdict
        == "does not conform"
    )
    # Without the geometry there is no thickness to judge.
    unknown = replace(data, nm_per_amount=None)
    assert judge_requirement(unknown, Requirement(least_nm=80.0, most_variation=0.2)).verdict == "cannot tell"


def test_a_requirement_out_of_range_is_refused():
    with pytest.raises(SettingError, match=r"setting 'least_nm' of Requirement is -1"):
        Requirement(least_nm=-1.0)


@pytest.mark.parametrize(
    ("values", "specimens", "message"),
    [
        ([], (), "expected one amount and one specimen for every spot"),
        ([1.0, 2.0], ("a",), r"found amounts of shape \(2,\) on 1 named specimens"),
        ([1.0, np.nan], ("a", "b"), "an amount on specimen 'b' is not a number"),
    ],
)
def test_amounts_that_do_not_fit_are_refused(values, specimens, message):
    with pytest.raises(SpectraError, match=message):
        Amounts(np.array(values), specimens)


# ------------------------------------------------------------------------------------------------ specimens


RULE = SpecimenRule(alpha=0.01, power=0.95, confidence=0.95, remark=0.02)


def test_a_specimen_is_present_where_its_own_amount_is_above_its_critical_value():
    data = amounts(
        [[1.0, 1.2], [0.02, 0.05], [0.9]], spot_variance=0.01, bare_variance=0.002, degrees=11.0, bare_units=6
    )
    found = judge_specimens(data, "present", RULE)
    assert [item.verdict for item in found.values()] == ["present", "not shown", "present"]
    assert [item.stands_out for item in found.values()] == [False, True, False]
    assert found["s0"].spots == (1.0, 1.2)
    error = np.sqrt(0.012)
    half = stats.t.ppf(0.975, 11) * error
    assert found["s0"].amount_high - found["s0"].amount == pytest.approx(half)


def test_the_detectable_amount_of_a_specimen_is_found_with_the_stated_power():
    data = amounts([[1.0], [1.0]], spot_variance=0.01, bare_variance=0.002, degrees=11.0)
    # ISO 11843-2 by the non-central t of scipy.
    limit = judge_specimens(data, "present", RULE)["s0"].detectable_amount
    shift = limit / np.sqrt(0.012)
    assert stats.nct.sf(stats.t.ppf(0.99, 11), 11, shift) == pytest.approx(0.95, abs=1e-4)


def test_uneven_is_not_missing_and_near_the_limit_no_remark_is_made():
    uneven = amounts([[1.0], [0.6], [1.4]], spot_variance=0.0001, degrees=11.0, bare_units=6)
    assert not any(item.stands_out for item in judge_specimens(uneven, "present", RULE).values())
    near = amounts([[0.4], [0.2], [0.35]], spot_variance=0.01, degrees=11.0, bare_units=6)
    found = judge_specimens(near, "present", RULE)
    assert "not shown" in {item.verdict for item in found.values()}
    assert not any(item.stands_out for item in found.values())


def test_the_only_coated_one_of_three_is_the_odd_one():
    data = amounts([[0.01], [1.0], [-0.02]], spot_variance=0.002, degrees=11.0, bare_units=6)
    found = judge_specimens(data, "present", RULE)
    assert [name for name, item in found.items() if item.stands_out] == ["s1"]


def test_what_cannot_be_told_of_the_sample_is_not_called_present_on_a_specimen():
    data = amounts([[1.0], [0.0]], spot_variance=0.01, degrees=11.0, bare_units=6)
    found = judge_specimens(data, "cannot tell", RULE)
    assert [item.verdict for item in found.values()] == ["cannot tell", "not shown"]


def test_sides_of_the_same_pieces_are_paired():
    front, back = amounts([[1.0], [1.2], [0.9]]), amounts([[0.8], [1.1], [0.6]])
    found = compare_sides(front, back, ("front", "back"))
    limits = stats.ttest_rel(front.values, back.values).confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((limits.low, limits.high), rel=1e-5)
    assert compare_sides(front, replace(back, specimens=("x", "y", "z")), ("front", "back")) is None


@pytest.mark.parametrize(("other", "scale"), [(5.2, 5.1), (6.7, None), (None, None)])
def test_a_difference_has_nanometres_only_on_one_scale(other, scale):
    """Five and 6.7 nm for a per cent: 93 nm less 83 nm is not 7.5 times either."""
    rng = np.random.default_rng(3)
    one = amounts(list(rng.normal(0.2, 0.004, (4, 3))), nm_per_amount=5.0)
    two = amounts(list(rng.normal(0.1, 0.004, (4, 3))), nm_per_amount=other)
    (found,) = compare_recipes({"one": one, "two": two}, ComparisonSettings())
    assert found.nm_per_amount == (None if scale is None else pytest.approx(scale))
    sides = compare_sides(one, two, ("front", "back"))
    assert sides is not None
    assert sides.nm_per_amount == found.nm_per_amount
