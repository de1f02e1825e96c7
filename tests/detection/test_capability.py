"""What a substrate lets be seen, before a sample is looked at: against least squares on the raw spectra."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.detection.capability import (
    amount_weights,
    average_sample,
    set_yardstick,
    spot_amounts,
)
from spectra.detection.settings import PresenceSettings
from spectra.variation.model import Variation
from tests.smallbench import COATING, SUBSTRATE, bare_set, bump, draw, gls, stack

VARIATION = bare_set()
OTHER = bump(1085.0, 12.0)
CURVES = {"first": COATING, "second": OTHER}


@pytest.fixture(scope="module")
def yardstick():
    return set_yardstick(VARIATION, CURVES, PresenceSettings(trust=2.0))


def test_errors_are_those_of_a_fit_of_both(yardstick) -> None:
    covariance = gls(np.array([COATING, OTHER]), SUBSTRATE, VARIATION.spots)[1]
    assert yardstick.names == ("first", "second")
    assert yardstick.errors == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-5)


def test_the_models_error_counts_for_the_stated_degrees(yardstick) -> None:
    assert yardstick.prior_degrees == 2.0 * (6 - 1)
    assert [w.degrees for w in yardstick.widenings] == [16.0, 16.0]
    z = yardstick.left_out.z
    assert [w.factor for w in yardstick.widenings] == pytest.approx(
        np.sqrt((10.0 + (z**2).sum(axis=0)) / 16.0)
    )


def test_correlation_tells_twins_from_strangers(yardstick) -> None:
    twin = set_yardstick(VARIATION, {"a": COATING, "b": 3.0 * COATING}, PresenceSettings()).correlation
    assert twin == pytest.approx(np.ones((2, 2)), abs=1e-9)
    opposite = set_yardstick(VARIATION, {"a": COATING, "b": -COATING}, PresenceSettings()).correlation
    assert opposite[0, 1] == pytest.approx(-1.0)
    assert np.diag(yardstick.correlation) == pytest.approx([1.0, 1.0])
    assert abs(yardstick.correlation[0, 1]) < 0.9
    # Between estimates of two shapes the correlation has the other sign and the same size.
    covariance = gls(np.array([COATING, OTHER]), SUBSTRATE, VARIATION.spots)[1]
    size = np.sqrt(np.diag(covariance))
    assert yardstick.correlation[0, 1] == pytest.approx(-covariance[0, 1] / (size[0] * size[1]), rel=1e-4)


def test_amounts_of_spots_are_those_of_a_fit_spot_by_spot(yardstick) -> None:
    rows = draw(3, 8, 0.02 * COATING + 0.01 * OTHER)
    found = spot_amounts(stack(rows), VARIATION, yardstick)
    for row, amounts in zip(rows, found, strict=True):
        assert amounts == pytest.approx(gls(np.array([COATING, OTHER]), row, VARIATION.spots)[0], rel=1e-5)


def test_weights_read_their_own_coating_and_nothing_else(yardstick) -> None:
    weights = amount_weights(VARIATION, yardstick)
    assert weights @ np.array([COATING, OTHER]).T == pytest.approx(np.eye(2), abs=1e-7)
    nuisances = np.array([np.ones(60), np.linspace(-1, 1, 60), VARIATION.spots.mean(axis=0)])
    assert np.abs(weights @ nuisances.T).max() < 1e-6


def test_contact_scatter_is_the_relative_scatter_of_the_bare_heights() -> None:
    factors = np.array([0.9, 1.0, 1.1, 1.05, 0.95])
    bare = bare_set(spots=factors[:, None] * SUBSTRATE + 0.3)  # offset and slope are no height
    found = set_yardstick(bare, {"a": COATING}, PresenceSettings()).contact_scatter
    assert found == pytest.approx(np.std(factors, ddof=1) / factors.mean(), rel=1e-6)


def test_sample_is_the_mean_of_its_specimens_however_many_spots_each_has() -> None:
    rows = draw(4, 9)
    sample = average_sample(stack(rows, ("a", "a", "a", "b")), VARIATION)
    by_hand = (rows[:3].mean(axis=0) + rows[3]) / 2.0
    assert sample.spots == 4
    assert sample.reduced == pytest.approx(np.array([rows[:3].mean(axis=0), rows[3]]))
    assert sample.mean[0] == pytest.approx(np.linalg.solve(VARIATION.factor, by_hand), rel=1e-9)


def sample_of(specimens: tuple[str, ...], variation: Variation):
    return average_sample(stack(draw(len(specimens), 9), specimens), variation)


def test_variance_of_a_sample_is_its_own_and_that_of_the_bare_mean() -> None:
    # Nothing is known of spots on one specimen: each specimen counts as one bare specimen.
    plain = sample_of(("a", "a", "a", "b"), VARIATION)
    assert (plain.own, plain.bare) == pytest.approx((0.5, 1.0 / 6.0))
    assert plain.variance == pytest.approx(0.5 + 1.0 / 6.0)
    # Three tenths of a spot's variance are the specimen's, bare units were single spots of two each.
    known = bare_set(share=0.3, per_unit=2.0)
    unit = 0.3 + 0.7 / 2.0
    one, two = max(1.0, (0.3 + 0.7 / 3.0) / unit), (0.3 + 0.7) / unit
    assert sample_of(("a", "a", "a", "b"), known).own == pytest.approx((one + two) / 4.0)
