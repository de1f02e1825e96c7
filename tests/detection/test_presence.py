"""The decision: amounts, limits, bands, misfit, films, and a small trial with known truth."""

from dataclasses import replace

import numpy as np
import pytest

from spectra.detection.bands import rule_detectable
from spectra.detection.capability import set_yardstick, spot_amounts
from spectra.detection.presence import decide_presence
from spectra.detection.rule import REMEDIES, judge
from spectra.detection.settings import SpikeSettings
from spectra.detection.spiking import recover_spikes
from spectra.errors import SpectraError
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, BandSupport, Misfit, Presence
from spectra.optics.shape import Shape
from spectra.statistics import even_normals, even_scales, variance_ratio_exceedance
from spectra.variation.model import learn
from spectra.variation.settings import VariationSettings
from tests import trials
from tests.scenes import (
    GRID,
    PAIRS,
    WRONG,
    film_of,
    film_response,
    mean_substrate,
    reflection_absorbance,
    spots,
)
from tests.trials import DECISION, PRESENCE, VARIATION, covers, film_shape, scene_of, set_up, stack

PAIR = "protein on polylactide"
SCENE = scene_of(PAIR)


@pytest.fixture(scope="module")
def bench():
    return set_up(SCENE, np.random.default_rng(11), 6)


@pytest.fixture(scope="module")
def sample():
    return spots(SCENE, np.random.default_rng(12), 3)


def codes(reasons):
    return [reason.code for reason in reasons]


def decide(bench, rows, shapes):
    return decide_presence(stack(rows), bench.variation, shapes, DECISION, PRESENCE)


def test_nothing_is_not_shown_and_says_what_would_have_been_found(bench, sample):
    found = bench.decide(sample)
    assert found.verdict == NOT_SHOWN
    assert codes(found.reasons) == ["amount-below-critical"]
    assert 0 < found.critical_amount < found.detectable_amount < 2.0
    assert covers(found, 0.0)
    assert not found.remedies
    assert (found.spots, found.specimens) == (3, 3)


def test_two_nanometres_are_present_with_bands_and_pattern(bench):
    found = bench.decide(spots(SCENE, np.random.default_rng(13), 3, 2.0))
    assert found.verdict == PRESENT
    assert codes(found.reasons)[:3] == ["amount-above-critical", "bands-found", "pattern-agrees"]
    assert sum(band.supports for band in found.band_evidence) >= 2
    assert found.thickness_low_nm < 2.0 < found.thickness_high_nm
    assert 0.7 < found.chi_square < 1.5


def test_amount_is_linear_in_what_is_added(bench, sample):
    before, after = bench.decide(sample), bench.decide(sample + 0.5 * bench.shape.curve)
    assert after.amount - before.amount == pytest.approx(0.5, abs=1e-9)
    assert after.critical_amount == pytest.approx(before.critical_amount, rel=1e-12)


def test_every_spot_costs_one_product_and_gives_the_same_amount(bench, sample):
    each = spot_amounts(stack(sample), bench.variation, bench.yardstick)
    assert each.shape == (3, 1)
    assert each.mean() == pytest.approx(bench.decide(sample).amount, abs=1e-9)


def test_more_coated_spots_find_less(bench):
    rng = np.random.default_rng(14)
    one, six = (bench.decide(spots(SCENE, rng, count)) for count in (1, 6))
    assert six.detectable_amount < 0.8 * one.detectable_amount


def test_few_bare_spots_are_weak_and_say_so(bench, sample):
    few = set_up(SCENE, np.random.default_rng(15), 2).decide(sample)
    assert "few-bare" in codes(few.reasons)
    assert few.detectable_amount > 1.3 * bench.decide(sample).detectable_amount


def test_one_bare_spot_cannot_tell(sample):
    found = decide_presence(stack(sample), None, {"coating": film_shape(SCENE)}, DECISION, PRESENCE)[
        "coating"
    ]
    assert found.verdict == CANNOT_TELL
    assert codes(found.reasons) == ["too-few-bare"]
    assert codes(found.remedies) == ["measure-bare-spots"]
    assert found.amount is None


def test_subtracted_coating_is_a_finding(bench, sample):
    found = bench.decide(sample - 3.0 * bench.shape.curve)
    assert found.verdict == CANNOT_TELL
    assert "negative-amount" in codes(found.reasons)
    assert "measure-bare-alike" in codes(found.remedies)


@pytest.mark.parametrize("nm", [3.0, 30.0, 300.0])
def test_wrong_coating_is_not_present(bench, nm):
    found = bench.decide(spots(SCENE, np.random.default_rng(16), 3, nm, WRONG["protein"]))
    assert found.verdict != PRESENT


def test_one_band_is_not_enough(bench, sample):
    found = bench.decide(sample + 0.003 * np.exp(-(((GRID - 1650) / 25) ** 2)))
    assert found.verdict == CANNOT_TELL
    assert set(codes(found.reasons)) & {"rests-on-one-band", "pattern-differs", "bare-set-differs"}


def test_substrate_as_its_own_coating_cannot_be_told(sample):
    bare = reflection_absorbance(mean_substrate(SCENE), contact=SCENE.touch)
    bench = set_up(SCENE, np.random.default_rng(11), 5, Shape(bare))
    found = bench.decide(sample)
    assert found.verdict != PRESENT
    assert found.detectable_amount > 0.05  # five hundredths of the substrate itself


def test_two_coatings_are_told_apart(bench, sample):
    other = replace(SCENE, coating="polyether")
    shapes = {"protein": film_shape(SCENE), "polyether": film_shape(other)}
    rows = sample + film_response(SCENE, 4.0) + film_response(other, 6.0)
    found = decide(bench, rows, shapes)
    assert [found[name].verdict for name in shapes] == [PRESENT, PRESENT]
    assert found["protein"].amount == pytest.approx(4.0, abs=0.5)
    assert found["polyether"].amount == pytest.approx(6.0, rel=0.2)
    assert found["protein"].separability["polyether"] < 0.6
    alone = decide(bench, sample + film_response(other, 6.0), shapes)
    assert alone["protein"].verdict != PRESENT


def test_twins_are_inseparable(bench, sample):
    curve = film_response(SCENE, 1.0)
    twin = curve * (1.0 + 0.01 * np.sin(GRID / 300.0))
    found = decide(bench, sample + 5 * curve, {"one": Shape(curve), "twin": Shape(twin)})
    for presence in found.values():
        assert presence.verdict == CANNOT_TELL
        assert "inseparable" in codes(presence.reasons)
        assert "leave-one-coating-out" in codes(presence.remedies)


def test_other_substrate_is_named_where_it_differs(bench):
    other = replace(SCENE, substrate=("polylactide", "polyether"), share=0.9, composition=0.0)
    found = bench.decide(spots(other, np.random.default_rng(17), 3))
    assert found.verdict == CANNOT_TELL
    assert "bare-set-differs" in codes(found.reasons)
    # The polyether's own bands: 2880, 1100, 960 and 842 cm-1.
    named = [(misfit.low - 20, misfit.high + 20) for misfit in found.misfits[:3]]
    assert any(low <= band <= high for low, high in named for band in (2880, 1100, 960, 842))


def test_spots_on_one_specimen_are_not_specimens(bench):
    rows = spots(SCENE, np.random.default_rng(18), 6)
    together = replace(stack(rows), specimens=("a",) * 3 + ("b",) * 3)
    found = decide_presence(together, bench.variation, {"c": bench.shape}, DECISION, PRESENCE)["c"]
    assert (found.spots, found.specimens) == (6, 2)


def test_spikes_are_recovered_on_held_out_spots(bench):
    bare = stack(spots(SCENE, np.random.default_rng(21), 5))
    settings = SpikeSettings(multiples=(0.0, 0.5, 1.0, 2.0), splits=3)
    first, again = (
        recover_spikes(
            bare, {"c": bench.shape}, DECISION, VARIATION, PRESENCE, settings, np.random.default_rng(1)
        )["c"]
        for _ in range(2)
    )
    assert first == again
    levels = first.levels
    assert [level.of for level in levels] == [3, 3, 3, 3]
    assert levels[0].found == 0
    assert levels[-1].found == 3
    assert levels[-1].recovery == pytest.approx(1.0, abs=0.25)
    assert first.learned_from == 4


def test_spikes_need_four_bare_specimens(bench):
    bare = stack(spots(SCENE, np.random.default_rng(22), 3))
    with pytest.raises(SpectraError, match="found 3 bare specimens; spike recovery needs 4"):
        recover_spikes(
            bare, {"c": bench.shape}, DECISION, VARIATION, PRESENCE, SpikeSettings(), np.random.default_rng(0)
        )


def band(position, amount, masked=False, supports=True):
    return BandSupport(
        position,
        position - 20,
        position + 20,
        amount,
        0.1,
        0.3,
        0.5,
        amount / 0.1,
        0.0,
        0.0,
        masked,
        supports,
    )


def figures(**changes):
    bands = (band(1650, 5.0), band(1540, 5.0))
    base = Presence(
        CANNOT_TELL, (), 5.0, None, None, 1.0, 1.5, 1e-6, 3, 3, evidence=14.0, degrees=10.0, widening=1.0,
        chi_square=1.0, pattern_p=0.5, band_evidence=bands, confidence=0.95,
    )  # fmt: skip
    return replace(base, **changes)


def ruled(bare=(5, 5), **changes):
    return judge(figures(**changes), DECISION, PRESENCE, bare)


def test_rule_is_present_on_plain_figures():
    judgement = ruled()
    assert judgement.verdict == PRESENT
    assert codes(judgement.reasons) == ["amount-above-critical", "bands-found", "pattern-agrees"]
    assert judgement.remedies == ()


MISFIT = (Misfit(1200.0, 1240.0, 30.0, 1e-9, 0.004),)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"band_evidence": (band(1650, 5.0), band(1540, 5.0, masked=True, supports=False))}, "bands-masked"),
        ({"band_evidence": ()}, "no-bands"),
        ({"band_evidence": (band(1650, 5.0), band(1540, 0.1, supports=False))}, "rests-on-one-band"),
        (
            {"band_evidence": (band(1650, 0.1, supports=False), band(1540, 0.1, supports=False))},
            "no-band-alone",
        ),
        ({"pattern_p": 0.001}, "pattern-differs"),
        ({"evidence": -5.0, "amount": -2.0}, "negative-amount"),
        ({"misfits": MISFIT}, "bare-set-differs"),
        ({"separability": {"other": 0.99}}, "inseparable"),
        ({"evidence": 1.0, "amount": 0.3, "detectable_amount": 0.6}, "not-sensitive"),
    ],
)
def test_every_cause_of_cannot_tell_has_its_remedy(changes, code):
    judgement = ruled(**changes)
    assert judgement.verdict == CANNOT_TELL
    assert code in codes(judgement.reasons)
    assert REMEDIES[code] in codes(judgement.remedies)


def test_unmistakable_coating_outweighs_a_misfit():
    # The misfit's ratio of 30 counts as scatter over 4: 2.7 times the error, and 100 is far above it.
    judgement = ruled(evidence=100.0, misfits=MISFIT)
    assert judgement.verdict == PRESENT
    assert "unmistakable" in codes(judgement.reasons)


def test_below_critical_with_a_misfit_cannot_tell():
    low = {"evidence": 1.0, "amount": 0.1, "detectable_amount": 0.2}
    assert ruled(**low, misfits=MISFIT).verdict == CANNOT_TELL
    assert ruled(**low).verdict == NOT_SHOWN


def test_not_shown_needs_that_half_the_neat_spectrum_would_have_been_found():
    low = {"evidence": 1.0, "amount": 0.1}
    assert ruled(**low, detectable_amount=PRESENCE.worth).verdict == NOT_SHOWN
    assert ruled(**low, detectable_amount=1.01 * PRESENCE.worth).verdict == CANNOT_TELL
    found = ruled(detectable_amount=10.0)  # what is found is found
    assert found.verdict == PRESENT


def test_bands_that_disagree_explain_a_misfit_at_their_place_and_no_other():
    here = (Misfit(1640.0, 1660.0, 30.0, 1e-9, 0.004),)
    at_the_band, beside = (ruled(pattern_p=0.001, misfits=m) for m in (here, MISFIT))
    assert codes(at_the_band.reasons) == ["pattern-differs"]
    assert codes(beside.reasons) == ["bare-set-differs", "pattern-differs"]


def test_few_bare_spots_and_one_bare_specimen_are_said_with_every_verdict():
    for changes in ({}, {"evidence": 1.0, "amount": 0.1, "detectable_amount": 0.2}, {"pattern_p": 0.001}):
        assert codes(ruled((4, 1), **changes).reasons)[-2:] == ["few-bare", "one-bare-specimen"]
        assert not {"few-bare", "one-bare-specimen"} & set(codes(ruled((5, 5), **changes).reasons))


def test_rule_needs_at_least_the_joint_limit(bench):
    model = bench.yardstick.bands[0]
    limits = [
        rule_detectable(
            model, bench.yardstick.basis, bench.yardstick.widenings[0], 0.1, 0.5, 0.01, power, PRESENCE.bands
        )
        for power in (0.5, 0.95)
    ]
    assert 0 < limits[0] < limits[1]


def test_even_points_are_normal_and_scales_have_their_spread():
    points = even_normals(4096, 3)
    assert points.mean(axis=0) == pytest.approx(np.zeros(3), abs=0.01)
    assert np.cov(points.T) == pytest.approx(np.eye(3), abs=0.05)
    # Mean square of an estimated over a true standard deviation is one whatever the degrees of freedom.
    assert np.mean(even_scales(points[:, 0], 5.0) ** 2) == pytest.approx(1.0, abs=0.01)


def test_variance_ratio_is_the_tabulated_one():
    # F(0.95; 3, 10) = 3.708, any table of the F distribution.
    assert float(variance_ratio_exceedance(3.708, 3, 10)) == pytest.approx(0.05, abs=1e-4)


def test_binomial_interval_is_the_exact_one():
    # 0 of 59 bounds 5 % one-sided; two-sided 95 %, 0 of 10 is bounded by 1 - 0.025**0.1 = 0.3085.
    assert trials.binomial_interval(0, 59, 0.9)[1] == pytest.approx(0.0495, abs=1e-4)
    assert trials.binomial_interval(0, 10)[1] == pytest.approx(1 - 0.025**0.1)


def test_scenes_obey_an_exact_identity():
    # At 45 degrees Rp = Rs**2 for any semi-infinite sample (Fresnel); n 1.5, k 0.2 on diamond: 0.28470327.
    from tests.scenes import ANGLE, CRYSTAL, _normal, _step

    eps = np.array([(1.5 + 0.2j) ** 2])
    sine, z = CRYSTAL * np.sin(ANGLE), CRYSTAL * np.cos(ANGLE)
    rs, rp = (abs(_step(CRYSTAL**2, z, eps, _normal(eps, sine), p)[0]) ** 2 for p in (False, True))
    assert rp == pytest.approx(rs**2, rel=1e-12)
    assert rp == pytest.approx(0.28470327, abs=1e-8)


def test_scene_films_agree_with_a_public_thin_film_package():
    tmm = pytest.importorskip("tmm")
    i, nm = int(np.argmin(np.abs(GRID - 1650))), 80.0
    film, substrate = np.sqrt(film_of("protein")[i]), np.sqrt(mean_substrate(SCENE)[i])
    reflect = [
        tmm.coh_tmm(pol, [2.4, film, substrate], [np.inf, nm, np.inf], np.pi / 4, 1e7 / GRID[i])["R"]
        for pol in "sp"
    ]
    ours = reflection_absorbance(mean_substrate(SCENE), film_of("protein"), nm)[i]
    assert ours == pytest.approx(-np.log10(np.mean(reflect)), rel=1e-9)


def test_small_trial_has_no_false_alarm():
    tally = trials.Tally()
    trials.error_rates(tally, np.random.default_rng(2025), 1)
    count, of = tally.counts["null called present: all cells"]
    assert (count, of) == (0, 36)
    found, tried = tally.counts["found at the stated detectable amount: all cells"]
    assert found >= 0.75 * tried
    wrong, of = tally.counts["wrong coating called present: all"]
    assert wrong <= 1


def test_small_trial_of_other_substrates_and_films():
    tally = trials.Tally()
    trials.other_substrate(tally, np.random.default_rng(1), 1)
    assert sum(c[0] for row, c in tally.counts.items() if "called present" in row) == 0
    named = [c for row, c in tally.counts.items() if "right region" in row]
    assert sum(c[0] for c in named) >= 0.8 * sum(c[1] for c in named)


def test_trial_table_prints_counts_and_intervals():
    tally = trials.Tally()
    tally.add("nothing called present", False)
    tally.note("nm", 2.0)
    lines = list(tally.lines())
    assert "0 /     1" in lines[0]
    assert "[  0.0%,  97.5%]" in lines[0]
    assert "n    1" in lines[1]


def test_settings_of_the_chain_are_used(sample):
    strict = replace(DECISION, alpha=1e-4)
    bare = stack(spots(SCENE, np.random.default_rng(11), 5))
    variation = learn(bare, VariationSettings())
    shape = film_shape(SCENE)
    plain = decide_presence(stack(sample), variation, {"c": shape}, DECISION, PRESENCE)["c"]
    found = decide_presence(stack(sample), variation, {"c": shape}, strict, PRESENCE)["c"]
    assert found.critical_amount > 1.3 * plain.critical_amount
    yardstick = set_yardstick(variation, {"c": variation.reduction.apply(shape.curve)}, PRESENCE)
    assert (
        decide_presence(stack(sample), variation, {"c": shape}, DECISION, PRESENCE, yardstick)["c"] == plain
    )
    assert set(PAIRS) >= {PAIR}
