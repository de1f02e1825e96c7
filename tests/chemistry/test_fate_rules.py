"""What the reasons and rows of a coating's bands say, value by value, and where each limit lies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import t

from spectra.chemistry.fates import follow_bands, judge_fates
from spectra.chemistry.rows import band_rows, expected_rows
from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    HIDDEN,
    NOT_JUDGED,
    UNCHANGED,
    Assigned,
    BandSupport,
    Reason,
)
from spectra.optics.prediction import Prediction
from spectra.optics.shape import Shape
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference
from tests.chemistry.test_fates import (
    DECISION,
    DEGREES,
    FOUR,
    MOVED_BAND,
    SETTINGS,
    MadeUp,
    T,
    band,
    followed,
    verdict,
    with_band,
)

NAMED = Assigned("C=O stretch", "a source", "read")


def reasons(**changes: Any) -> list[Reason]:
    return list(verdict(with_band(2, **changes)).reasons)


# -- what a reason says -------------------------------------------------------------------------------


def test_a_shift_is_told_with_its_interval() -> None:
    (moved,) = reasons(shift=12.0, shift_error=0.5, moved=True)
    assert moved.values == {
        "position": 1540.0, "shift": 12.0, "low": pytest.approx(12.0 - 0.5 * T),
        "high": pytest.approx(12.0 + 0.5 * T), "margin": 4.0,
    }  # fmt: skip


@pytest.mark.parametrize(("ratio", "code"), [(0.3, "lost-band"), (1.9, "grown-band")])
def test_a_height_is_told_with_its_interval(ratio: float, code: str) -> None:
    changed = band(1540.0, ratio=ratio, ratio_error=0.02, ratio_reach=0.02, resized=True)
    # Growth alone is no change: a band that moved stands beside it.
    fate, _ = followed((changed, band(1650.0, **MOVED_BAND)))
    ((_, found),) = fate.reasons
    assert found.code == code
    assert found.values == {
        "position": 1540.0, "ratio": ratio, "low": pytest.approx(ratio - 0.02 * T),
        "high": pytest.approx(ratio + 0.02 * T),
    }  # fmt: skip


def test_a_height_that_is_not_sharply_known_must_leave_the_margin_surely() -> None:
    # 0.55 is 0.45 from one: 0.1 beyond the margin of 0.35.
    known = {"ratio": 0.55, "resized": True, "ratio_error": 0.03}
    sharp, loose = ({**known, "ratio_reach": reach} for reach in (0.05, 0.07))
    assert verdict(with_band(2, **sharp)).verdict == CHANGED
    assert t.sf(0.1 / 0.03, DEGREES) < 0.025  # beyond the margin by more than three errors, flagged
    assert verdict(with_band(2, **loose)).verdict == CHANGED
    wide = {**loose, "ratio_error": 0.06}
    assert verdict(with_band(2, **wide)).verdict == CANNOT_TELL
    assert verdict(with_band(2, **{**wide, "ratio_reach": 0.05})).verdict == CHANGED


# -- what can be judged -------------------------------------------------------------------------------


def judged(**changes: Any) -> bool:
    (fate,) = followed((band(1540.0, **changes),))
    return fate.judged


def test_a_place_is_judged_where_half_the_margin_would_show_or_all_of_it_did() -> None:
    half, whole = 2.0 / T, 4.0 / T
    assert judged(shift_reach=half * 0.999, shift_error=half * 0.999, shift=3.9)
    # Between half and the whole margin only a band that proved to be at its place counts.
    assert judged(shift_reach=whole * 0.999, shift_error=0.1, shift=0.0)
    assert not judged(shift_reach=half * 1.001, shift_error=half, shift=3.9)
    assert not judged(shift_reach=whole * 1.001, shift_error=0.1, shift=0.0)


def test_a_height_is_judged_up_to_its_limit() -> None:
    edge = SETTINGS.judged_ratio / T
    assert judged(ratio_reach=edge * 0.999)
    assert not judged(ratio_reach=edge * 1.001)
    assert not judged(narrow=False)


def inside(**changes: Any) -> bool:
    (fate,) = followed((band(1540.0, **changes),))
    return fate.inside


def test_inside_is_the_whole_interval_of_the_place_and_the_middle_of_the_height() -> None:
    assert inside(shift=3.0, shift_error=0.999 / T)
    assert not inside(shift=3.0, shift_error=1.001 / T)
    assert not inside(shift=-3.0, shift_error=1.001 / T)
    assert inside(ratio=0.66)
    assert not inside(ratio=0.64)
    assert inside(ratio=1.34)
    assert not inside(ratio=1.36)


# -- optics that were not computed --------------------------------------------------------------------


def opened(bound: float, note: Reason | None) -> list[str]:
    account: Any = MadeUp(FOUR)
    fates = follow_bands(account, [bound] * 4, DECISION, SETTINGS)
    return [r.code for r in judge_fates(fates, True, note, (), DECISION, SETTINGS).reasons]


def test_a_note_leaves_it_open_only_where_bands_may_have_moved_for_it() -> None:
    note = Reason("optics-unknown-geometry", {"message": "no angle"})
    assert opened(6.0, note) == ["optics-unknown-geometry"]
    assert opened(0.0, note) == ["all-equivalent"]
    assert opened(6.0, None) == ["all-equivalent"]


def test_the_largest_bound_is_told() -> None:
    account: Any = MadeUp(FOUR)
    fates = follow_bands(account, [3.0, 9.0, 1.0, 0.0], DECISION, SETTINGS)
    note = Reason("optics-unknown-geometry", {"message": "no angle"})
    (reason,) = judge_fates(fates, True, note, (), DECISION, SETTINGS).reasons
    assert reason.values == {"message": "no angle", "bound": 9.0}


def test_strength_that_was_judged_is_told_beside_what_was_not() -> None:
    bands = (*FOUR, band(1400.0, share=0.0, ratio_reach=5.0, ratio_error=0.04))
    found = verdict(bands)
    assert [r.code for r in found.reasons] == ["all-equivalent", "not-judged"]
    assert found.reasons[1].values == {"bands": 1, "positions": [1400.0], "share": 1.0}


# -- rows -----------------------------------------------------------------------------------------------


def peak(position: float) -> Peak:
    return Peak(position, 0.4, 0.3, 0.01, 25.0, 0.5, 0.3, 0.3, "")


REFERENCE = Reference(np.zeros(3), (peak(1536.0),), (1540.0,), (0.2,))


def row(bound: float = 0.0, **changes: Any):
    account: Any = MadeUp((band(1540.0, **changes),))
    fates = follow_bands(account, [bound], DECISION, SETTINGS)
    (found,) = band_rows(fates, account, REFERENCE, DECISION, lambda _: NAMED)
    return found


def test_a_row_says_what_the_film_fit_found() -> None:
    found = row(shift=0.8, shift_error=0.3, shift_reach=0.4, ratio=1.1, ratio_error=0.05)
    assert (found.neat_position, found.neat_error) == (1536.0, 0.4)
    assert (found.neat_height, found.neat_width) == (0.3, 25.0)
    assert (found.expected_position, found.expected_error) == (1540.0, 0.4)
    assert (found.found_position, found.found_error, found.shift) == (1540.8, 0.3, 0.8)
    assert (found.shift_low, found.shift_high) == pytest.approx((0.8 - 0.3 * T, 0.8 + 0.3 * T))
    assert (found.ratio_low, found.ratio_high) == pytest.approx((1.1 - 0.05 * T, 1.1 + 0.05 * T))
    assert found.found_height == pytest.approx(1.1 * 0.02)
    critical = t.isf(DECISION.alpha, DEGREES)
    assert found.critical_height == pytest.approx(critical * 0.05 * 0.02)
    assert (found.evidence, found.p_value) == pytest.approx((22.0, t.sf(22.0, DEGREES)))
    assert (found.assignment, found.source, found.checked) == ("C=O stretch", "a source", "read")
    assert (found.verdict, found.optical_bound, found.margin) == (UNCHANGED, None, 4.0)


def test_a_bound_is_told_and_shows_nothing_unchanged() -> None:
    found = row(6.0)
    assert (found.optical_bound, found.margin, found.verdict) == (6.0, 10.0, CANNOT_TELL)


@pytest.mark.parametrize(
    ("changes", "placed"),
    [
        ({}, True),
        ({"ratio": 0.19, "ratio_error": 0.02}, False),  # a fifth of the height is no band to be placed
        ({"ratio": 0.21, "ratio_error": 0.02}, True),
        ({"ratio": 0.5, "ratio_error": 0.4}, False),  # not surely there
        ({"ratio": 0.9, "ratio_reach": 0.3, "ratio_error": 0.3, "shift_reach": 5.0}, False),  # hidden
    ],
)
def test_a_band_has_a_place_where_it_is_there_and_seen(changes: dict[str, Any], placed: bool) -> None:
    found = row(**changes)
    assert (found.found_position is not None) == placed
    assert (found.shift is not None) == placed
    assert (found.shift_low is None) == (found.shift_high is None) == (not placed)


# -- rows without an account ----------------------------------------------------------------------------


def support(position: float, **changes: Any) -> BandSupport:
    ends = position - 20.0, position + 20.0
    base = BandSupport(position, *ends, 0.08, 0.01, 0.03, 0.05, 8.0, 1e-5, 2e-5, False, True)
    return replace(base, **changes)


@dataclass(frozen=True)
class Asked:
    """As much of a presence as the rows look at."""

    band_evidence: tuple[BandSupport, ...]


def asked(*supports: BandSupport, bound: float = 0.0):
    reference = Reference(np.zeros(3), (peak(1536.0), peak(1240.0)), (1540.0, 1243.0), (0.2, 0.3))
    prediction = Prediction(
        np.zeros(3), Shape(np.ones(3)), reference, None, True, (bound, bound), None
    )  # fmt: skip
    presence: Any = Asked(supports)
    return expected_rows(prediction, presence, DECISION, lambda _: NAMED)


def test_what_the_joint_fit_asked_is_told_in_the_neat_bands_units() -> None:
    found = asked(support(1245.0), support(1541.0))
    assert [r.expected_position for r in found] == [1541.0, 1245.0]
    first = found[0]
    assert (first.neat_position, first.neat_height, first.neat_width) == (1536.0, 0.3, 25.0)
    assert first.expected_error == 0.2
    assert first.found_height == pytest.approx(0.08 * 0.3)
    assert first.critical_height == pytest.approx(0.03 * 0.3)
    assert (first.evidence, first.p_value, first.p_adjusted, first.detected) == (8.0, 1e-5, 2e-5, True)
    assert (first.verdict, first.fate) == (CANNOT_TELL, NOT_JUDGED)
    assert (first.shift, first.optical_bound) == (None, None)
    assert found[1].neat_position == 1240.0


def test_what_is_masked_is_hidden_and_a_bound_is_told() -> None:
    (found,) = asked(support(1541.0, masked=True, supports=False), bound=5.0)
    assert (found.fate, found.masked, found.detected) == (HIDDEN, True, False)
    assert (found.optical_bound, found.margin) == (5.0, 9.0)


def test_without_bands_in_the_neat_spectrum_there_are_no_rows() -> None:
    prediction = Prediction(
        np.zeros(3), Shape(np.ones(3)), Reference(np.zeros(3), (), (), ()), None, True, (), None
    )  # fmt: skip
    presence: Any = Asked((support(1541.0),))
    assert expected_rows(prediction, presence, DECISION, lambda _: NAMED) == ()
