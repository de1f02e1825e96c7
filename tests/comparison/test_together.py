"""Several coatings together: errors against statsmodels, shares by drawing, and a sample with two of them."""

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from spectra.comparison.together import alike_pairs, error_correlation, parts_of, sum_of
from spectra.groups import Group, Instrument, Specimen
from spectra.report.tables.comparing import together_table
from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.model import learn_study
from spectra.verification.preparation import level
from spectra.verification.sample import judge_sample
from tests import fakes
from tests.scenes import film_of, neat_spots, spots
from tests.trials import scene_of, stack


def test_errors_hang_together_as_in_least_squares():
    """Covariance of the parameters of statsmodels' ordinary least squares, on shapes that overlap."""
    rng = np.random.default_rng(2)
    shapes = rng.normal(size=(3, 40)) + rng.normal(size=40)
    fit = sm.OLS(rng.normal(size=40), shapes.T).fit()
    covariance = fit.cov_params()
    expected = covariance / np.outer(*[np.sqrt(np.diag(covariance))] * 2)
    size = np.linalg.norm(shapes, axis=1)
    assert error_correlation(shapes @ shapes.T / np.outer(size, size)) == pytest.approx(expected)


def test_a_sum_is_better_known_than_its_parts_where_they_are_alike():
    halves, correlation = np.array([0.1, 0.1]), np.array([[1.0, -0.95], [-0.95, 1.0]])
    total, half = sum_of(np.array([0.3, 0.5]), halves, correlation)
    assert (total, half) == pytest.approx((0.8, 0.1 * np.sqrt(2.0 - 1.9)))
    assert half < 0.5 * halves[0]


def test_shares_scatter_as_drawn_amounts_do():
    rng = np.random.default_rng(1)
    amounts, halves = np.array([0.3, 0.5, 0.2]), 1.96 * np.array([0.01, 0.02, 0.01])
    correlation = np.array([[1.0, -0.5, 0.2], [-0.5, 1.0, -0.3], [0.2, -0.3, 1.0]])
    covariance = correlation * np.outer(halves, halves) / 1.96**2
    drawn = rng.multivariate_normal(amounts, covariance, 20000)
    shares = drawn / drawn.sum(axis=1, keepdims=True)
    found = parts_of(amounts, halves, correlation)
    assert sum(part.share for part in found) == pytest.approx(1.0)
    for i, part in enumerate(found):
        assert (part.share_low, part.share_high) == pytest.approx(
            np.quantile(shares[:, i], [0.025, 0.975]), abs=0.003
        )
    assert parts_of(np.array([0.01, -0.02]), halves[:2], np.eye(2)) == ()


def test_what_cannot_be_told_apart_is_named():
    shapes = np.array([[1.0, 0.99, 0.1], [0.99, 1.0, -0.2], [0.1, -0.2, 1.0]])
    assert alike_pairs(("a", "b", "c"), shapes, 0.98) == (("a", "b"),)


@pytest.fixture(scope="module")
def both():
    """Half of each of two materials in one film of 80 nm."""
    rng = np.random.default_rng(3)
    scene = replace(scene_of("lignin on polyolefin", noise=2e-4, scatter=0.03), coating="lignin")
    raw = {
        ("bare", "substrate"): stack(spots(scene, rng, 6)),
        ("neat", "one"): stack(neat_spots(scene, rng)),
        ("neat", "two"): stack(neat_spots(replace(scene, coating="polyether"), rng)),
        ("coated", "sample"): stack(
            spots(scene, rng, 3, 80.0, film=0.5 * film_of("lignin") + 0.5 * film_of("polyether"))
        ),
    }
    pieces = tuple(Specimen(f"spot {i}", ()) for i in range(6))
    coatings = {name: Group("neat", name, "ATR", pieces[:3]) for name in ("one", "two")}
    sample = Group("coated", "sample", "ATR", pieces[:3], coatings=("one", "two"))
    substrate = Group("bare", "substrate", "ATR", pieces)
    instrument = Instrument(index=2.4, angle_deg=45.0)
    study = Study("invented", None, "", instrument, substrate, coatings, {"sample": sample})
    stages, _ = level(raw, study.settings)
    key = ("coated", "sample")
    measured = Measured(sample, stages.raw[key], stages.levelled[key])
    return judge_sample(measured, study, learn_study(study, stages))


def test_two_coatings_of_one_sample_are_put_together(both):
    found = both.together
    amounts = [both.coatings[name].presence.amount for name in found.coatings]
    assert found.total == pytest.approx(sum(amounts))
    assert found.total_low < found.total < found.total_high
    assert np.diag(found.correlation) == pytest.approx([1.0, 1.0])
    assert abs(found.correlation[0, 1]) < 0.5
    assert found.alike == ()
    if found.parts:
        assert sum(part.share for part in found.parts) == pytest.approx(1.0)


def test_the_table_has_a_line_for_every_sample_with_several(both):
    result = fakes.verification(fakes.good_sample())
    assert together_table(result).rows == ()
    (row,) = together_table(replace(result, samples={"sample": both})).rows
    assert row[:2] == ("sample", "one + two")
