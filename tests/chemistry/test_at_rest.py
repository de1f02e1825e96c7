"""The substrate's verdict from its rows: each cause alone, and the error shared between the bands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from spectra.chemistry.band_tests import BandEvidence
from spectra.chemistry.shifts import Shift
from spectra.chemistry.verdict import Judged, band_finding, judge_bands_at_rest, judge_position
from spectra.decision import DecisionSettings
from spectra.findings import (
    AT_ITS_PLACE,
    CANNOT_TELL,
    CHANGED,
    HIDDEN,
    MOVED,
    NOT_JUDGED,
    UNCHANGED,
    Assigned,
    BandFinding,
    Chemistry,
)
from spectra.peaks.finding import Peak
from spectra.peaks.window_fit import Window

DECISION = DecisionSettings()  # margin 4 cm-1, intervals of 95 %
PEAK = Peak(
    position=1730.0, position_error=0.2, height=0.3, height_error=0.002, width=22.0, width_error=0.5,
    level=0.31, prominence=0.3, note="",
)  # fmt: skip


def evidence(**changes: Any) -> BandEvidence:
    base = BandEvidence(
        peak=PEAK, expected=1731.0, expected_error=0.1, height=0.25,
        window=Window(np.arange(20), 1731.0), bare=np.zeros((6, 3)), sample=np.zeros((3, 3)),
        amount=0.04, error=0.01, detectable=0.05, statistic=4.0, p_value=0.005, p_adjusted=0.01,
        correlation=0.9, masked=False, detected=False,
    )  # fmt: skip
    return replace(base, **changes)


def shift(value: float, half: float = 0.5) -> Shift:
    return Shift(value, value - half, value + half, half / 2.0)


def row(value: float = 0.0, half: float = 0.5, optical: float = 0.0, **changes: Any) -> BandFinding:
    judged = Judged(evidence(**changes), shift(value, half), Assigned(), 1.0, optical)
    return band_finding(judged, DECISION)


def verdict(*rows: BandFinding) -> Chemistry:
    return judge_bands_at_rest(rows, DECISION)


def codes(chemistry: Chemistry) -> list[str]:
    return [reason.code for reason in chemistry.reasons]


# -- one band -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-4.0, 4.0, UNCHANGED),
        (-3.9, 4.1, CANNOT_TELL),
        (-4.1, 3.9, CANNOT_TELL),
        (3.9, 9.0, CANNOT_TELL),
        (4.1, 9.0, CHANGED),
        (-9.0, -4.1, CHANGED),
        (-9.0, -3.9, CANNOT_TELL),
        (4.0, 9.0, CANNOT_TELL),  # touching the margin is not beyond it
    ],
)
def test_the_whole_interval_decides(low: float, high: float, said: str) -> None:
    assert judge_position(Shift((low + high) / 2, low, high, 1.0), 4.0) == said


def test_no_shift_is_no_verdict() -> None:
    assert judge_position(None, 4.0) == CANNOT_TELL


@given(st.floats(-30, 30), st.floats(0.01, 10), st.floats(0.5, 10))
def test_the_mirrored_shift_has_the_same_verdict(value: float, half: float, margin: float) -> None:
    there, back = (judge_position(shift(sign * value, half), margin) for sign in (1.0, -1.0))
    assert there == back


@given(st.floats(-30, 30), st.floats(0.01, 10), st.floats(0.5, 10), st.floats(1.0, 3.0))
def test_a_wider_margin_never_makes_a_change_and_a_wider_interval_never_a_verdict(
    value: float, half: float, margin: float, times: float
) -> None:
    if judge_position(shift(value, half), margin) != CHANGED:
        assert judge_position(shift(value, half), times * margin) != CHANGED
    if judge_position(shift(value, half), margin) == CANNOT_TELL:
        assert judge_position(shift(value, times * half), margin) == CANNOT_TELL


def test_a_row_says_what_was_measured() -> None:
    found = row(1.5, 0.4)
    assert (found.neat_position, found.neat_error, found.neat_height, found.neat_width) == (
        1730,
        0.2,
        0.3,
        22,
    )
    assert (found.expected_position, found.expected_error) == (1731.0, 0.1)
    assert (found.found_position, found.found_error) == (1732.5, 0.2)
    assert (found.shift, found.shift_low, found.shift_high) == pytest.approx((1.5, 1.1, 1.9))
    assert (found.margin, found.confidence) == (4.0, 0.95)
    # The substrate rests at one: 4 % more than bare, of a band 0.25 high in its window.
    assert found.found_height == pytest.approx(1.04 * 0.25)
    # Student's t at 5 degrees and 1 %, one-sided: 3.365 (tables), of an error of 1 % of the band.
    assert found.critical_height == pytest.approx(3.365 * 0.01 * 0.25, rel=1e-3)
    assert (found.evidence, found.p_value, found.p_adjusted) == (4.0, 0.005, 0.01)
    assert (found.verdict, found.fate) == (UNCHANGED, AT_ITS_PLACE)
    assert row(9.0).fate == MOVED
    assert row(4.0).fate == NOT_JUDGED


def test_a_substrates_band_is_there_without_a_test_and_a_coatings_is_not() -> None:
    assert row().detected
    coating = band_finding(Judged(evidence(), shift(0.0), Assigned()), DECISION)
    assert (coating.detected, coating.shift, coating.verdict) == (False, None, CANNOT_TELL)
    assert coating.found_height == pytest.approx(0.04 * 0.25)
    seen = band_finding(Judged(evidence(detected=True), shift(0.0), Assigned()), DECISION)
    assert (seen.detected, seen.verdict) == (True, UNCHANGED)


def test_a_band_without_a_window_is_not_there() -> None:
    assert not row(window=None).detected


def test_a_masked_band_has_no_place() -> None:
    found = row(9.0, masked=True)
    assert (found.shift, found.found_position, found.verdict, found.fate) == (None, None, CANNOT_TELL, HIDDEN)


def test_optics_that_were_not_computed_widen_the_margin_and_show_no_rest() -> None:
    found = row(0.0, optical=6.0)
    assert (found.margin, found.optical_bound, found.verdict) == (10.0, 6.0, CANNOT_TELL)
    assert row(12.0, optical=6.0).verdict == CHANGED
    # A band without any bound: ten widths, so that no shift of it is a change.
    loose = row(150.0, optical=float("nan"))
    assert (loose.margin, loose.verdict) == (4.0 + 220.0, CANNOT_TELL)
    assert row().optical_bound is None


def test_one_bare_unit_has_one_degree_of_freedom() -> None:
    found = row(bare=np.zeros((1, 3)))
    # Student's t at one degree and 1 %: 31.82 (tables).
    assert found.critical_height == pytest.approx(31.82 * 0.01 * 0.25, rel=1e-3)


# -- all bands together -------------------------------------------------------------------------------


def test_two_bands_at_rest_are_enough_and_are_named() -> None:
    found = verdict(row(0.3), row(-0.4))
    assert (found.verdict, codes(found)) == (UNCHANGED, ["all-equivalent"])
    assert found.reasons[0].values == {"bands": [1731.0, 1731.0], "margin": 4.0}


def test_one_band_at_rest_is_enough_only_where_there_is_one() -> None:
    assert verdict(row(0.3)).verdict == UNCHANGED
    wide = row(0.0, 9.0)
    assert (verdict(row(0.3), wide).verdict, codes(verdict(row(0.3), wide))) == (
        CANNOT_TELL,
        ["interval-too-wide"],
    )


def test_bands_that_say_nothing_are_counted_beside_two_that_do() -> None:
    found = verdict(row(0.3), row(0.1), row(0.0, 9.0), row(0.0, 12.0))
    assert (found.verdict, codes(found)) == (UNCHANGED, ["all-equivalent", "not-judged"])
    assert found.reasons[1].values == {"bands": 2, "positions": (1731.0, 1731.0)}


def test_a_band_that_could_decide_and_does_not_leaves_it_open() -> None:
    # Known to 1.9 cm-1 (less than half the margin) and across the edge of it.
    assert verdict(row(0.3), row(0.1), row(3.0, 1.9)).verdict == CANNOT_TELL
    # Known no better than 2.1, and zero inside: says nothing either way.
    assert verdict(row(0.3), row(0.1), row(2.05, 2.1)).verdict == UNCHANGED
    # The same, and zero outside: it moved, if not surely beyond the margin.
    open_ = verdict(row(0.3), row(0.1), row(3.0, 2.1))
    assert (open_.verdict, codes(open_)) == (CANNOT_TELL, ["interval-too-wide"])
    assert open_.reasons[0].values["low"] == pytest.approx(0.9)


def test_a_band_that_moved_is_named_with_its_interval() -> None:
    found = verdict(row(0.3), row(0.1), row(9.0, 0.7))
    assert (found.verdict, codes(found)) == (CHANGED, ["shifted"])
    assert found.reasons[0].values == {
        "position": 1731.0, "shift": 9.0, "low": 8.3, "high": 9.7, "margin": 4.0,
    }  # fmt: skip


def test_many_bands_share_the_error() -> None:
    # One band of eight just beyond its margin: sure alone, not among eight (Bonferroni).
    single, shared = (stats.t.isf(0.025 / looks, 30.0) for looks in (1, 8))
    edge = 4.0 + 1.0 * shared / single
    rest = [row(0.1)] * 7
    assert verdict(row(edge - 0.02, 1.0)).verdict == CHANGED
    assert verdict(row(edge - 0.02, 1.0), *rest).verdict == CANNOT_TELL
    assert verdict(row(edge + 0.02, 1.0), *rest).verdict == CHANGED


def test_a_masked_band_takes_no_part() -> None:
    moved = row(9.0, masked=True)
    assert verdict(row(0.3), row(0.1), moved).verdict == UNCHANGED
    assert codes(verdict(moved)) == ["no-detected-band"]
    assert codes(verdict()) == ["no-detected-band"]


def test_nothing_judged_at_all_says_which_intervals_were_too_wide() -> None:
    found = verdict(row(0.0, 9.0), row(0.0, 7.0))
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["interval-too-wide"] * 2)
    assert [r.values["high"] for r in found.reasons] == [9.0, 7.0]
