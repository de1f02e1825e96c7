"""From what became of every band to the verdict: made-up bands with known truth, one cause at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import t
from statsmodels.stats.multitest import multipletests

from spectra.chemistry.fates import Fated, follow_bands, judge_fates, judged_share
from spectra.chemistry.rows import band_rows
from spectra.chemistry.settings import FateSettings
from spectra.decision import DecisionSettings
from spectra.filmfit.account import BandFate
from spectra.findings import (
    AT_ITS_PLACE,
    CANNOT_TELL,
    CHANGED,
    HIDDEN,
    LOST,
    MOVED,
    NOT_JUDGED,
    STRONGER,
    UNCHANGED,
    WEAKER,
    Assigned,
    Chemistry,
    Reason,
)
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference

DECISION, SETTINGS = DecisionSettings(), FateSettings()
DEGREES = 10.0
# Half of 1 - confidence, one-sided, for Student's t: the level of every single statement.
LEVEL = 0.5 * (1.0 - DECISION.confidence)
T = float(t.isf(LEVEL, DEGREES))


@dataclass(frozen=True)
class MadeUp:
    """As much of an account as the decision looks at."""

    bands: tuple[BandFate, ...]
    degrees: float = DEGREES
    chi_square: float = 1.0
    at_limit: bool = False
    strongest: float = 0.4

    @property
    def listed(self) -> tuple[BandFate, ...]:
        return self.bands


def band(expected: float, **changes: Any) -> BandFate:
    """A well known band at its place, with a quarter of the strength."""
    base = BandFate(
        position=expected - 5.0, width=40.0, expected=expected, shift=0.1, shift_error=0.3,
        place_error=0.3, ratio=1.0,
        ratio_error=0.04, shift_reach=0.3, ratio_reach=0.04, share=0.25, strength=1.0, narrow=True,
        moved=False, resized=False, height=0.02, own=1.0,
    )  # fmt: skip
    return replace(base, **changes)


FOUR = (band(1080.0), band(1240.0), band(1540.0, strength=2.0), band(1650.0, strength=3.0))
MOVED_BAND: dict[str, Any] = {"shift": 12.0, "moved": True}
LOST_BAND: dict[str, Any] = {"ratio": 0.02, "resized": True}
WEAK: dict[str, Any] = {"shift_error": 3.0, "shift_reach": 3.0, "ratio_error": 0.15, "ratio_reach": 0.15}
UNSEEN: dict[str, Any] = {"shift_error": 9.0, "shift_reach": 9.0, "ratio_error": 0.6, "ratio_reach": 0.6}


def with_band(at: int, **changes: Any) -> tuple[BandFate, ...]:
    return tuple(replace(b, **changes) if i == at else b for i, b in enumerate(FOUR))


def followed(bands: tuple[BandFate, ...], **changes: Any) -> tuple[Fated, ...]:
    account: Any = MadeUp(bands, **changes)
    return follow_bands(account, [0.0] * len(bands), DECISION, SETTINGS)


def verdict(bands: tuple[BandFate, ...], **how: Any) -> Chemistry:
    given = {"named": True, "note": None, "beside": ()} | how
    return judge_fates(followed(bands), given["named"], given["note"], given["beside"], DECISION, SETTINGS)


def codes(chemistry: Chemistry) -> list[str]:
    return [reason.code for reason in chemistry.reasons]


# -- verdicts -----------------------------------------------------------------------------------------


def test_bands_at_their_places_are_unchanged() -> None:
    found = verdict(FOUR)
    assert (found.verdict, codes(found)) == (UNCHANGED, ["all-equivalent"])
    assert found.reasons[0].values["bands"] == [1080.0, 1240.0, 1540.0, 1650.0]


@pytest.mark.parametrize("at", range(4))
@pytest.mark.parametrize(
    ("changes", "code"),
    [
        (MOVED_BAND, "shifted"),
        ({"shift": -12.0, "moved": True}, "shifted"),
        (LOST_BAND, "lost-band"),
        ({"ratio": 0.5, "resized": True}, "lost-band"),
    ],
)
def test_one_changed_band_is_enough_and_is_named(at: int, changes: dict[str, Any], code: str) -> None:
    found = verdict(with_band(at, **changes))
    assert (found.verdict, codes(found)) == (CHANGED, [code])
    assert found.reasons[0].values["position"] == FOUR[at].expected


def test_growth_alone_leaves_it_open_and_beside_another_change_is_named() -> None:
    # What only adds to a band may be water, or a residue.
    grown = {"ratio": 1.8, "resized": True}
    found = verdict(with_band(1, **grown))
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["band-open"])
    both = (FOUR[0], replace(FOUR[1], **grown), FOUR[2], replace(FOUR[3], **MOVED_BAND))
    assert verdict(both).verdict == CHANGED
    assert set(codes(verdict(both))) == {"grown-band", "shifted"}


def test_the_strongest_evidence_comes_first() -> None:
    bands = (*with_band(0, shift=9.0, moved=True)[:2], replace(FOUR[2], **MOVED_BAND), FOUR[3])
    found = verdict(bands)
    assert [r.values["position"] for r in found.reasons] == [1540.0, 1080.0]
    # 5 cm-1 beyond the margin known to 0.9, and 8 known to 2: 5.6 standard errors against 4.
    first, third = {"shift_error": 0.9, "place_error": 0.9}, {"shift_error": 2.0, "place_error": 2.0}
    better_known = (replace(bands[0], **first), bands[1], replace(bands[2], **third), bands[3])
    assert [r.values["position"] for r in verdict(better_known).reasons] == [1080.0, 1540.0]


def test_of_changes_beyond_doubt_the_stronger_band_is_named_first() -> None:
    bands = (replace(FOUR[0], **LOST_BAND), *FOUR[1:3], replace(FOUR[3], **MOVED_BAND))
    assert [r.values["position"] for r in verdict(bands).reasons] == [1650.0, 1080.0]


def test_what_is_not_this_coating_has_no_chemistry() -> None:
    found = verdict(with_band(3, **MOVED_BAND), named=False)
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["presence-open"])


def test_a_flag_without_proof_leaves_it_open() -> None:
    # Moved by 5 with a margin of 4: outside, but not surely so.
    found = verdict(with_band(2, shift=5.0, moved=True, shift_error=1.0))
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["band-open"])
    assert found.reasons[0].values["position"] == 1540.0


def test_a_judged_band_that_is_not_surely_inside_leaves_it_open() -> None:
    inside, across = (with_band(2, shift=s, shift_error=0.5, shift_reach=0.5) for s in (2.5, 3.5))
    assert verdict(inside).verdict == UNCHANGED
    assert codes(verdict(across)) == ["band-open"]


def test_half_of_the_strength_must_be_judged() -> None:
    one_weak = (replace(FOUR[0], **WEAK), *FOUR[1:])
    three_weak = (*(replace(b, **WEAK) for b in FOUR[:3]), FOUR[3])
    found = verdict(one_weak)
    assert (found.verdict, codes(found)) == (UNCHANGED, ["all-equivalent", "not-judged"])
    assert found.reasons[1].values["share"] == pytest.approx(0.75)
    found = verdict(three_weak)
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["too-little-judged"])
    assert found.reasons[0].values["share"] == pytest.approx(0.25)
    assert list(found.reasons[0].values["positions"]) == [1080.0, 1240.0, 1540.0]
    edge = (*(replace(b, **WEAK) for b in FOUR[:2]), *FOUR[2:])
    assert verdict(edge).verdict == UNCHANGED  # exactly half


def test_the_strongest_band_must_be_judged() -> None:
    found = verdict((*FOUR[:3], replace(FOUR[3], **WEAK)))
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["strongest-not-judged"])
    assert found.reasons[0].values["position"] == 1650.0
    broad = (*FOUR, band(3290.0, strength=9.0, narrow=False, share=0.0, width=200.0))
    assert verdict(broad).verdict == UNCHANGED  # the strongest narrow one


def test_something_left_over_beside_a_band_leaves_it_open() -> None:
    found = verdict(FOUR, beside=(1540.0,))
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["left-over-beside-band"])


def test_optics_that_were_not_computed_leave_it_open_but_do_not_hide_a_change() -> None:
    note, account = Reason("optics-unknown-geometry"), MadeUp(FOUR)
    fates = follow_bands(account, [6.0, 0.0, 9.0, 2.0], DECISION, SETTINGS)  # type: ignore[arg-type]
    found = judge_fates(fates, True, note, (), DECISION, SETTINGS)
    assert (found.verdict, codes(found)) == (CANNOT_TELL, ["optics-unknown-geometry"])
    assert found.reasons[0].values["bound"] == 9.0
    far = MadeUp(with_band(3, shift=20.0, moved=True))
    fates = follow_bands(far, [6.0] * 4, DECISION, SETTINGS)  # type: ignore[arg-type]
    found = judge_fates(fates, True, note, (), DECISION, SETTINGS)
    assert found.verdict == CHANGED
    assert found.reasons[0].values["margin"] == DECISION.margin + 6.0
    near = MadeUp(with_band(3, shift=8.0, moved=True))
    fates = follow_bands(near, [6.0] * 4, DECISION, SETTINGS)  # type: ignore[arg-type]
    assert judge_fates(fates, True, note, (), DECISION, SETTINGS).verdict == CANNOT_TELL


def test_a_hidden_band_is_neither_proof_of_change_nor_of_none() -> None:
    hidden = (replace(FOUR[0], **UNSEEN, shift=15.0, ratio=0.1), *FOUR[1:])
    assert verdict(hidden).verdict == UNCHANGED
    assert judged_share(followed(hidden)) == pytest.approx(0.75)


def test_a_broad_band_adrift_leaves_it_open_and_one_near_its_place_does_not() -> None:
    broad = band(3290.0, narrow=False, share=0.0, width=200.0, shift_error=2.0)
    assert verdict((*FOUR, broad)).verdict == UNCHANGED
    half = T * 2.0
    for shift, expected in (
        (30.0, ["band-open"]),
        (-half - 4.1, ["band-open"]),
        (half + 3.9, ["all-equivalent"]),
    ):
        assert codes(verdict((*FOUR, replace(broad, shift=shift)))) == expected


def test_heights_are_not_judged_where_the_optics_miss_the_spectrum() -> None:
    lost = with_band(2, **LOST_BAND)
    assert followed(lost)[2].reasons
    assert not followed(lost, chi_square=SETTINGS.misfit + 1.0)[2].reasons
    moved = with_band(2, **MOVED_BAND)
    assert followed(moved, chi_square=SETTINGS.misfit + 1.0)[2].reasons


@pytest.mark.parametrize("how", [{"at_limit": True}, {"strongest": SETTINGS.strongest + 0.1}])
def test_no_band_surely_changed_where_the_neat_spectrum_gives_no_constants(how: dict[str, Any]) -> None:
    for change in (LOST_BAND, MOVED_BAND):
        bands = with_band(1, **change)
        assert verdict(bands).verdict == CHANGED
        assert not any(fate.reasons for fate in followed(bands, **how))


@pytest.mark.parametrize(
    ("ratio", "own", "sure"),
    # Half of what absorbs there belongs to a broad band below: growth by 0.5 is one of 0.25.
    [(0.5, 1.0, True), (0.5, 0.5, True), (1.5, 1.0, True), (1.5, 0.5, False), (1.9, 0.5, True)],
)
def test_growth_counts_against_all_that_absorbs_there(ratio: float, own: float, sure: bool) -> None:
    bands = (replace(FOUR[0], **MOVED_BAND), replace(FOUR[1], ratio=ratio, resized=True, own=own), *FOUR[2:])
    assert bool(followed(bands)[1].reasons) is sure


def test_a_lost_band_has_no_place() -> None:
    gone = with_band(2, ratio=0.02, ratio_error=0.04, shift=20.0, moved=True, resized=True)
    assert [r.code for _, r in followed(gone)[2].reasons] == ["lost-band"]


# -- the error that all tests share -------------------------------------------------------------------


def test_tests_share_the_error_as_holm_says() -> None:
    # statsmodels' Holm on the same p values: a shift beyond the margin and a height a band, none flagged.
    rng = np.random.default_rng(2)
    many = tuple(
        band(900.0 + 60.0 * i, shift=s, shift_error=1.0, ratio=1.0 + r, ratio_error=0.1, ratio_reach=0.1)
        for i, (s, r) in enumerate(zip(rng.uniform(3.0, 20.0, 12), rng.uniform(-0.9, 0.9, 12), strict=True))
    )
    p_values = [t.sf((abs(b.shift) - DECISION.margin) / b.shift_error, DEGREES) for b in many] + [
        t.sf((abs(b.ratio - 1.0) - DECISION.ratio_margin) / b.ratio_error, DEGREES) for b in many
    ]
    there = [b.ratio > SETTINGS.least_ratio and b.ratio > SETTINGS.found * b.ratio_error for b in many]
    asked = np.array([*there, *([True] * len(many))])
    rejected = np.zeros(len(p_values), bool)
    rejected[asked] = multipletests(np.array(p_values)[asked], alpha=LEVEL, method="holm")[0]
    found = followed(many)
    codes_of = [{r.code for _, r in fate.reasons} for fate in found]
    assert ["shifted" in c for c in codes_of] == rejected[: len(many)].tolist()
    assert [bool(c - {"shifted"}) for c in codes_of] == rejected[len(many) :].tolist()
    assert 0 < rejected.sum() < asked.sum()


def test_many_bands_without_a_change_give_no_more_false_alarms_than_one() -> None:
    # Truth at the very edge of the margin, where the error is greatest; 400 coatings of 8 bands.
    rng = np.random.default_rng(3)
    alarms = 0
    for _ in range(400):
        noise = rng.standard_t(DEGREES, size=8)
        many = tuple(
            band(900.0 + 60.0 * i, shift=DECISION.margin + 0.3 * n, ratio_error=0.04)
            for i, n in enumerate(noise)
        )
        alarms += any(fate.reasons for fate in followed(many))
    assert alarms <= 400 * LEVEL + 3.0 * np.sqrt(400 * LEVEL)


def test_a_flag_has_paid_already() -> None:
    # Just below the level alone: found if flagged, not found among thirty unflagged ones.
    size = DECISION.margin + 0.3 * float(t.isf(0.5 * LEVEL, DEGREES))
    rest = tuple(band(700.0 + 20.0 * i) for i in range(30))
    assert not any(f.reasons for f in followed((*rest, band(1650.0, shift=size))))
    assert any(f.reasons for f in followed((*rest, band(1650.0, shift=size, moved=True))))


# -- the rows of the table ----------------------------------------------------------------------------


def peak(position: float) -> Peak:
    return Peak(position, 0.2, 0.5, 0.01, 42.0, 0.5, 0.5, 0.5)


def rows(bands: tuple[BandFate, ...], peaks: tuple[float, ...] = (1645.0, 1535.0, 1235.0, 1075.0)):
    found: Any = tuple(peak(p) for p in peaks)
    reference = Reference(np.zeros(3), found, tuple(p + 5.0 for p in peaks), tuple(0.5 for _ in peaks))
    account: Any = MadeUp(bands)
    assign = lambda p: Assigned(f"band at {p.position:.0f}", "a handbook", "read")  # noqa: E731
    return band_rows(followed(bands), account, reference, DECISION, assign)


@pytest.mark.parametrize(
    ("changes", "fate", "said"),
    [
        ({}, AT_ITS_PLACE, UNCHANGED),
        (MOVED_BAND, MOVED, CHANGED),
        ({"ratio": 1.8, "resized": True}, STRONGER, CHANGED),
        ({"ratio": 0.5, "resized": True}, WEAKER, CHANGED),
        (LOST_BAND, LOST, CHANGED),
        (WEAK, NOT_JUDGED, CANNOT_TELL),
        (UNSEEN, HIDDEN, CANNOT_TELL),
    ],
)
def test_every_fate_has_its_word_and_its_verdict(changes: dict[str, Any], fate: str, said: str) -> None:
    # Beside a band that moved: growth alone is no change.
    bands = (*with_band(2, **changes)[:3], replace(FOUR[3], **MOVED_BAND))
    row = next(row for row in rows(bands) if row.expected_position == 1540.0)
    assert (row.fate, row.verdict) == (fate, said)
    assert row.masked == (fate == HIDDEN)
    assert row.ratio_low < row.ratio < row.ratio_high


def test_rows_fall_and_belong_to_the_neat_bands_they_stand_for() -> None:
    found = rows(FOUR)
    assert [row.expected_position for row in found] == [1650.0, 1540.0, 1240.0, 1080.0]
    assert [row.neat_position for row in found] == [1645.0, 1535.0, 1235.0, 1075.0]
    assert [row.assignment for row in found] == [f"band at {p}" for p in (1645, 1535, 1235, 1075)]
    assert all(row.found_position == pytest.approx(row.expected_position + row.shift) for row in found)
    assert found[0].shift_high - found[0].shift == pytest.approx(T * 0.3)
    assert found[0].ratio_high - found[0].ratio == pytest.approx(T * 0.04)


def test_two_bands_never_stand_for_one_neat_band_and_one_without_has_no_name() -> None:
    close = (*FOUR, band(1662.0, strength=0.2))
    found = {row.expected_position: row for row in rows(close)}
    assert found[1650.0].neat_position == 1645.0
    assert found[1662.0].neat_position == 1657.0  # its own resonance
    assert found[1662.0].assignment == ""


def test_a_band_that_is_gone_is_given_no_place() -> None:
    row = next(row for row in rows(with_band(2, **LOST_BAND)) if row.expected_position == 1540.0)
    assert (row.found_position, row.shift, row.shift_low) == (None, None, None)
    assert not row.detected
    assert row.found_height < row.critical_height
