"""What does not belong to its group: named, described, and nobody else."""

import numpy as np
import pytest

from spectra.apart.groups import APART, ONE_KIND, TOO_FEW, TWO_KINDS, examine
from spectra.apart.likeness import Context
from spectra.apart.members import left_out_squares, members_of
from spectra.apart.search import most_outside
from spectra.apart.settings import ApartSettings
from spectra.apart.trusted import pair_distances, tightest, trusted_half
from spectra.detection.least_squares import leave_out
from spectra.spectrum import Stack
from spectra.stretches import number_stretches
from spectra.variation.settings import VariationSettings
from tests.scenes import GRID, USABLE, film_response, spots
from tests.trials import scene_of, stack

SETTINGS, VARIATION = ApartSettings(), VariationSettings()
SCENE = scene_of("protein on polylactide")
ALPHA = 0.005


@pytest.fixture(scope="module")
def bare():
    return spots(SCENE, np.random.default_rng(11), 6)


def look(rows, **more):
    members = members_of(stack(np.asarray(rows)), VARIATION, SETTINGS.step)
    apply = members.reduction.apply
    bulk = {"protein": apply(film_response(SCENE, 5000.0))}
    context = Context(GRID, {"protein": apply(film_response(SCENE, 1.0))}, bulk, **more)
    return examine(members, context, SETTINGS, ALPHA)


def test_where_all_belong_nobody_is_named(bare):
    found = look(bare)
    assert (found.kind, found.outsiders) == (ONE_KIND, ())
    assert len(found.trusted) == 6


@pytest.mark.parametrize("nm", [10.0, 100.0])
def test_a_coated_file_among_the_bare_is_named_with_what_it_holds(bare, nm):
    coated = spots(SCENE, np.random.default_rng(5), 1, nm)
    found = look([*bare[:3], *coated, *bare[3:5]])
    assert found.kind == APART
    (item,) = found.outsiders
    assert (item.name, item.like.kind, item.like.name) == ("spot 3", "coating", "protein")
    assert item.chance < ALPHA / 3
    assert item.like.share > 0.8


def test_two_coated_files_do_not_hide_each_other(bare):
    coated = spots(SCENE, np.random.default_rng(6), 2, 50.0)
    found = look([*bare[:5], *coated])
    assert {item.name for item in found.outsiders} == {"spot 5", "spot 6"}
    # An even split: the spectra do not say which is meant.
    more = spots(SCENE, np.random.default_rng(7), 3, 50.0)
    assert look([*bare[:3], *more]).kind == TWO_KINDS


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("unit", lambda row, _: 10.0**-row),
        ("inverted", lambda row, _: -row),
        ("scale", lambda row, _: 100.0 * row),
        ("scale", lambda row, _: 0.1 * row),
        ("noise", lambda row, rng: row + 0.01 * rng.normal(size=row.size)),
    ],
)
def test_plain_faults_are_named(bare, kind, wrong):
    rows = [*bare[:5], wrong(bare[5], np.random.default_rng(1))]
    found = look(rows)
    assert [(item.name, item.like.kind) for item in found.outsiders] == [("spot 5", kind)]


def test_another_substrate_is_described_by_where_it_differs(bare):
    other = spots(scene_of("polysaccharide on polycaprolactone"), np.random.default_rng(2), 1)
    found = look([*bare[:5], *other])
    (item,) = found.outsiders
    assert item.name == "spot 5"
    assert item.like.kind in ("other", "coating", "lacks")


def test_fewer_than_three_are_too_few(bare):
    assert look(bare[:2]).kind == TOO_FEW


def test_spots_of_several_specimens_are_judged_as_specimens(bare):
    coated = spots(SCENE, np.random.default_rng(5), 2, 100.0)
    rows = np.vstack([bare, bare[:2], coated])
    names = ("A", "B", "C", "D", "E", "F", "A", "B", "G", "G")
    group = Stack(GRID, rows, names, tuple(f"{n}{i}" for i, n in enumerate(names)), USABLE)
    members = members_of(group, VARIATION, 4.0)
    assert members.names == ("A", "B", "C", "D", "E", "F", "G")
    curve = members.reduction.apply(film_response(SCENE, 1.0))
    found = examine(members, Context(GRID, {"protein": curve}), SETTINGS, ALPHA)
    assert [item.name for item in found.outsiders] == ["G"]


# -- the parts ---------------------------------------------------------------------------------------


def test_the_trusted_half_leaves_the_strangers_out(bare):
    coated = spots(SCENE, np.random.default_rng(6), 2, 50.0)
    half = trusted_half(members_of(stack(np.vstack([bare[:4], coated])), VARIATION, 4.0))
    assert set(half) < {0, 1, 2, 3}


def test_grown_subsets_find_what_trying_all_finds(monkeypatch):
    rng = np.random.default_rng(3)
    white = rng.normal(size=(9, 40))
    white[5:] += 3.0
    distance = pair_distances(white)
    best = tightest(distance, 5)
    monkeypatch.setattr("spectra.apart.trusted.MOST_EXHAUSTIVE", 3)
    assert tightest(distance, 5) == best == (0, 1, 2, 3, 4)


def test_distances_are_half_the_squared_ones_per_point():
    white = np.random.default_rng(0).normal(size=(3, 7))
    assert pair_distances(white)[0, 2] == pytest.approx(np.mean((white[0] - white[2]) ** 2) / 2.0)


def test_residuals_without_a_shape_hold_those_with_one(bare):
    """A shape fitted along takes at most its own direction out of the residual."""
    members = members_of(stack(bare), VARIATION, 4.0)
    variation = members.learn(range(6))
    shape = variation.whiten(members.reduction.apply(film_response(SCENE, 1.0))[None, :])
    free, fitted = left_out_squares(variation).sum(axis=1), leave_out(variation, shape).squares.sum(axis=1)
    assert np.all(fitted <= free * (1.0 + 1e-9))


def test_stretches_are_about_as_wide_as_asked_and_never_span_a_gap():
    points = np.concatenate([np.arange(400.0, 1000.0, 4.0), np.arange(1200.0, 1300.0, 4.0)])
    labels = number_stretches(points, 40.0)
    assert labels[149] != labels[150]
    assert np.all(np.diff(labels) >= 0)
    assert np.ptp(points[labels == 3]) == pytest.approx(40.0, abs=8.0)


def test_only_a_minority_can_stand_apart():
    assert [most_outside(count) for count in (3, 4, 5, 6, 9)] == [1, 2, 2, 3, 4]
