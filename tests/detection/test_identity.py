"""Is anything there, and is it the named coating: truth tables on made-up accounts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import pytest

from spectra.detection.identity import Identity, foreign, identify, judge_layer
from spectra.detection.rule import REMEDIES
from spectra.detection.settings import IdentitySettings
from spectra.filmfit.account import BandFate, Excess
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, SHOWN, Presence, Reason

SETTINGS = IdentitySettings()


@dataclass(frozen=True)
class MadeUp:
    """As much of an account as identity looks at."""

    bands: tuple[BandFate, ...]
    explained: float = 0.99
    chi_square: float = 1.0


def band(expected: float, **changes: Any) -> BandFate:
    base = BandFate(
        position=expected, width=40.0, expected=expected, shift=0.0, shift_error=0.3,
        place_error=0.3, ratio=1.0,
        ratio_error=0.04, shift_reach=0.3, ratio_reach=0.04, share=0.25, strength=1.0, narrow=True,
        moved=False, resized=False, height=0.02, own=1.0,
    )  # fmt: skip
    return replace(base, **changes)


FOUR = tuple(band(place) for place in (1080.0, 1240.0, 1540.0, 1650.0))
GONE: dict[str, Any] = {"ratio": 0.02, "resized": True}
HIDDEN: dict[str, Any] = {"ratio": 0.3, "ratio_error": 0.5, "ratio_reach": 0.5}


def named(*bands: BandFate, **changes: Any) -> bool:
    account: Any = MadeUp(bands or FOUR, **changes)
    return identify(account, SETTINGS).named


def test_a_coating_that_is_found_and_explains_what_is_there_is_named() -> None:
    account: Any = MadeUp(FOUR)
    found = identify(account, SETTINGS)
    assert found == Identity(True, 0.99, (1080.0, 1240.0, 1540.0, 1650.0), 1.0)


def test_moved_bands_are_still_the_coatings() -> None:
    assert named(*(replace(b, shift=-22.0, moved=True) for b in FOUR))


def test_a_lost_band_leaves_it_the_coating_and_most_lost_do_not() -> None:
    assert named(replace(FOUR[0], **GONE), *FOUR[1:])
    assert named(*(replace(b, **GONE) for b in FOUR[:2]), *FOUR[2:])  # exactly half
    assert not named(*(replace(b, **GONE) for b in FOUR[:3]), FOUR[3])


def test_hidden_bands_are_not_asked_for() -> None:
    assert named(*(replace(b, **HIDDEN) for b in FOUR[:2]), *FOUR[2:])
    assert not named(*(replace(b, **HIDDEN) for b in FOUR[:3]), FOUR[3])  # one band alone names nothing
    assert not named(*(replace(b, **HIDDEN) for b in FOUR))


def test_a_band_elsewhere_and_of_another_strength_may_be_any_materials() -> None:
    strange = {"moved": True, "resized": True, "shift": 15.0}
    for ratio, expected in ((0.4, False), (2.2, False), (0.6, True), (1.8, True)):
        assert named(*(replace(b, **strange, ratio=ratio) for b in FOUR)) is expected, ratio
    only_weaker = {"resized": True, "ratio": 0.4}
    assert named(*(replace(b, **only_weaker) for b in FOUR))


def test_bands_that_each_went_their_own_way_are_another_materials() -> None:
    # As a fatty acid was taken for an acrylate: every band found somewhere, none where it belongs.
    scattered = [
        replace(b, shift=s, moved=True) for b, s in zip(FOUR, (-26.0, 14.0, -8.0, 30.0), strict=True)
    ]
    assert not named(*scattered)
    assert named(FOUR[0], *scattered[1:])  # a quarter of the strength in place
    assert not named(replace(FOUR[0], share=0.1), *(replace(b, share=0.3) for b in scattered[1:]))
    alike = [replace(b, shift=s, moved=True) for b, s in zip(FOUR, (12.0, 15.0, 13.0, -9.0), strict=True)]
    assert named(*alike)  # most of them together


def test_broad_bands_name_nothing() -> None:
    assert not named(FOUR[0], *(replace(b, narrow=False, share=0.0) for b in FOUR[1:]))


@pytest.mark.parametrize(
    ("explained", "chi_square", "expected"),
    [
        (0.91, 1.0, True),
        (0.89, 1.0, True),  # little more than noise is left
        (0.45, 1.0, False),  # less than half of it
        (0.89, 4.0, False),  # too much is something else
        (0.91, 6.0, False),  # misfit, and not surely
        (0.98, 6.0, True),  # misfit of the optics of a strong film
        (0.98, 200.0, True),
        (0.89, 200.0, False),
    ],
)
def test_how_much_must_be_explained_depends_on_the_misfit(
    explained: float, chi_square: float, expected: bool
) -> None:
    assert named(explained=explained, chi_square=chi_square) is expected


def test_where_little_is_left_most_bands_must_be_as_strong_as_they_must() -> None:
    weaker = tuple(replace(b, resized=True, ratio=0.6) for b in FOUR)
    assert not named(*weaker, explained=0.89)
    assert named(*weaker, explained=0.91)
    assert named(*weaker[:2], *FOUR[2:], explained=0.89)  # half of the strength


def presence(verdict: str) -> Presence:
    found = Reason("amount-above-critical", {})
    return Presence(verdict, (found,), 0.02, 0.01, 0.03, 0.005, 0.01, 1e-9, 3, 3)


@pytest.mark.parametrize(
    ("verdict", "explained", "chi_square", "after"),
    [
        (PRESENT, 0.3, 9.0, CANNOT_TELL),  # mostly something else
        (PRESENT, 0.7, 9.0, PRESENT),
        (PRESENT, 0.3, 2.0, CANNOT_TELL),  # whatever the misfit
        (PRESENT, 0.5, 9.0, PRESENT),  # exactly half
        (NOT_SHOWN, 0.3, 9.0, NOT_SHOWN),
        (CANNOT_TELL, 0.3, 9.0, CANNOT_TELL),
    ],
)
def test_a_presence_is_taken_back_where_the_layer_is_mostly_another(
    verdict: str, explained: float, chi_square: float, after: str
) -> None:
    account: Any = MadeUp(FOUR, explained, chi_square)
    before = presence(verdict)
    found = foreign(before, account, SETTINGS)
    assert found.verdict == after
    if after == verdict:
        assert found is before
    else:
        assert [r.code for r in found.reasons] == ["layer-differs", "amount-above-critical"]
        assert [r.code for r in found.remedies] == [REMEDIES["layer-differs"]]


@pytest.mark.parametrize(
    ("chance", "verdicts", "expected", "alike"),
    [
        (1e-9, {}, SHOWN, ()),
        (0.5, {}, NOT_SHOWN, ()),
        (0.5, {"a": PRESENT, "b": NOT_SHOWN}, SHOWN, ("a",)),
        (1e-9, {"a": CANNOT_TELL}, SHOWN, ()),
        (0.009, {}, SHOWN, ()),
        (0.011, {}, NOT_SHOWN, ()),
    ],
)
def test_a_layer_is_shown_by_the_whole_spectrum_or_by_a_present_coating(
    chance: float, verdicts: dict[str, str], expected: str, alike: tuple[str, ...]
) -> None:
    found = judge_layer(Excess(100.0, 50.0, chance), {n: presence(v) for n, v in verdicts.items()}, SETTINGS)
    assert (found.verdict, found.looks_like, found.p_value) == (expected, alike, chance)
    assert found.reasons[0].code == ("layer-shown" if expected == SHOWN else "layer-not-shown")
