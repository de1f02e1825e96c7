"""Which spots of a coated sample do not belong: named, described, and nobody else."""

import numpy as np
import pytest

from spectra.apart.coated import examine_coated
from spectra.apart.groups import ONE_KIND, TOO_FEW
from spectra.apart.members import spots_of
from tests.aparttrial import APART_SETTINGS, COARSE, clean_samples, look_at, strangers, uneven
from tests.scenes import spots
from tests.trials import scene_of, stack

SCENE = scene_of("protein on polylactide")
NM = 60.0


@pytest.fixture(scope="module")
def look():
    return look_at(SCENE, np.random.default_rng(3), 6)


@pytest.fixture(scope="module")
def rows():
    rng = np.random.default_rng(4)
    return np.vstack([spots(SCENE, rng, 1, nm)[0] for nm in uneven(rng, NM, 6)])


@pytest.mark.parametrize(
    "what",
    [
        "uneven by 30 %",
        "half at 0.4 of the amount",
        "all bands moved by 8 cm-1",
        "an acid, 0 to 10 % by spot",
    ],
)
def test_where_all_belong_nobody_is_named(look, what):
    assert look.outsiders(clean_samples(SCENE, np.random.default_rng(9), NM, 6)[what]) == ()


@pytest.mark.parametrize(
    ("what", "kinds"),
    [
        ("bare", {"bare"}),
        ("neat", {"neat"}),
        ("other substrate", {"other"}),
        ("other coating", {"other", "bare"}),
    ],
)
@pytest.mark.parametrize("many", [1, 2])
def test_strangers_are_named_with_what_they_look_like(look, rows, what, kinds, many):
    wrong = strangers(SCENE, np.random.default_rng(8), NM)[what][:many]
    found = look.outsiders(np.vstack([wrong, rows[many:]]))
    assert {item.name for item in found} == {f"spot {i}" for i in range(many)}
    assert {item.like.kind for item in found} <= kinds
    assert all(item.chance < 0.01 for item in found)


def test_a_neat_spectrum_is_named_with_how_much_of_it_it_is(look, rows):
    neat = strangers(SCENE, np.random.default_rng(8), NM)["neat"][:1]
    (item,) = look.outsiders(np.vstack([rows[:5], 0.5 * neat]))
    assert item.like.kind == "neat"
    assert item.like.value == pytest.approx(0.5, abs=0.05)


def test_a_plain_fault_comes_before_all_else(look, rows):
    (item,) = look.outsiders(np.vstack([rows[:5], -rows[5:]]))
    assert (item.name, item.like.kind) == ("spot 5", "inverted")


def test_an_uncoated_half_is_not_a_minority(look, rows):
    """Three of six bare: the spectra do not say which is meant; evenness says that there are two kinds."""
    found = look.outsiders(np.vstack([rows[:3], spots(SCENE, np.random.default_rng(5), 3)]))
    assert not any(item.like.kind == "bare" for item in found)


def test_two_spots_are_too_few(look, rows):
    for count, kind in ((2, TOO_FEW), (4, ONE_KIND)):
        members = spots_of(stack(rows[:count]), look.bare.reduction, COARSE)
        found = examine_coated(members, look.bare, look.films, look.context, APART_SETTINGS, 0.005)
        assert (found.kind, found.outsiders, found.trusted) == (kind, (), members.names)
