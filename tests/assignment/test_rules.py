"""Every rule of naming on invented tables: features, coherence, candidates, causes and names of bands."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.assignment.assignment import assign
from spectra.assignment.candidates import candidates, explain_change
from spectra.assignment.causes import possible_causes
from spectra.assignment.coherence import (
    FOUND,
    HIDDEN,
    MISSING,
    FoundBands,
    is_coherent,
    match_material,
    nominal,
    uncertainty,
)
from spectra.assignment.features import features_of, is_region
from spectra.assignment.matching import propose
from spectra.assignment.settings import (
    FeatureSettings,
    MatchingSettings,
    MaterialSettings,
    SuggestionSettings,
)
from spectra.assignment.statement import check_material
from spectra.findings import AGREES, CANNOT_TELL, DOUBTFUL, Reason, Unexplained
from spectra.groups import Group
from spectra.peaks.finding import Peak
from tests.madeuptables import band, change, group, table

MATCHING, FEATURES = MatchingSettings(), FeatureSettings()
# Invented: glass beads' coat "alba" with four bands, its rival "bruna" with two of them and one more.
ALBA = (
    band("alba", 1700, "vs"), band("alba", 1300, "s"), band("alba", 1100, "s"), band("alba", 900, "w"),
)  # fmt: skip
BRUNA = (band("bruna", 1700, "s"), band("bruna", 1500, "vs"), band("bruna", 1300, "m"))


def seen(*positions: float, heights: tuple[float, ...] | None = None, width: float = 12.0, **more: Any):
    count = len(positions)
    given = {"covered": (400.0, 4000.0)} | more
    return FoundBands(positions, np.ones(count), heights or np.ones(count), np.full(count, width), **given)


def positions(*rows) -> list[float]:
    name = rows[0].material
    return [feature.position for feature in features_of(name, table(*rows), FEATURES)]


# -- features -----------------------------------------------------------------------------------------


def test_rows_that_are_not_resolved_are_one_band_led_by_the_strongest() -> None:
    assert positions(band("x", 1700, "m"), band("x", 1711, "vs")) == [1711.0]
    assert positions(band("x", 1700, "m"), band("x", 1713, "vs")) == [1713.0, 1700.0]
    (joined,) = features_of("x", table(band("x", 1700, "m"), band("x", 1711, "vs")), FEATURES)
    assert [row.centre for row in joined.rows] == [1711.0, 1700.0]
    assert joined.nominal == 1.0


def test_a_chain_of_close_rows_is_one_band() -> None:
    assert positions(band("x", 1700), band("x", 1722), band("x", 1711, "vs")) == [1711.0]


def test_one_vibration_in_two_techniques_or_states_may_lie_further_apart() -> None:
    atr, through = band("x", 1700, technique="ATR"), band("x", 1725, technique="transmission")
    assert len(positions(atr, through)) == 1
    assert len(positions(atr, band("x", 1725, technique="ATR"))) == 2
    assert len(positions(band("x", 1700, state="dry"), band("x", 1731, state="wet"))) == 2
    assert len(positions(band("x", 1700, state="dry"), band("x", 1725, state="wet"))) == 1
    other = band("x", 1725, technique="transmission", vibration="C-O stretch")
    assert len(positions(atr, other)) == 2


def test_windows_of_one_broad_band_are_joined_by_their_gap() -> None:
    low, high = band("x", 3200, half=100, shape="broad"), band("x", 3420, half=100, shape="broad")
    assert len(positions(low, high)) == 1  # 20 between them
    assert len(positions(low, band("x", 3440, half=100, shape="broad"))) == 2  # 40


def test_a_wide_row_is_a_region_unless_the_band_is_broad() -> None:
    assert is_region(band("x", 1700, half=31), FEATURES)
    assert not is_region(band("x", 1700, half=30), FEATURES)
    assert not is_region(band("x", 1700, half=200, shape="broad"), FEATURES)
    assert positions(band("x", 1700), band("x", 1000, half=50)) == [1700.0]


def test_a_band_of_one_state_only_is_not_required() -> None:
    def required(*rows) -> list[bool]:
        return [f.required for f in features_of("x", table(*rows), FEATURES)]

    assert required(band("x", 1700), band("x", 1300, "m")) == [True, False]
    assert required(band("x", 1700, state="salt")) == [False]
    assert required(band("x", 1700, state="salt"), band("x", 1705, state="acid")) == [True]
    assert required(band("x", 1700, state="salt"), band("x", 1705)) == [True]


# -- coherence ----------------------------------------------------------------------------------------


@given(st.floats(1690.0, 1710.0), st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_uncertainty_is_window_error_and_spread_in_quadrature(
    position: float, error: float, spread: float
) -> None:
    row = band("x", 1700, half=4)
    lopsided = type(row)(**{**vars(row), "high": 1716.0})
    half = 16.0 if position >= 1700.0 else 4.0
    found = uncertainty(lopsided, position, error, MatchingSettings(spread=spread))
    # A rectangular window of half-width a has the standard uncertainty a / sqrt(3): JCGM 100:2008, 4.3.7.
    assert found == pytest.approx(np.sqrt(half**2 / 3.0 + error**2 + spread**2))


def test_the_nearest_band_in_combined_uncertainties_is_the_match() -> None:
    (match,) = match_material("x", seen(1695.0, 1702.0, 1710.0), table(band("x", 1700)), MATCHING)
    assert (match.state, match.index, match.distance) == (FOUND, 1, 2.0)
    wide = np.sqrt(16.0 / 3.0 + 1.0 + 9.0)
    assert match.uncertainty == pytest.approx(wide)
    edge = 1700.0 + 2.0 * wide
    for at, there in ((edge - 0.01, True), (edge + 0.01, False)):
        (match,) = match_material("x", seen(at), table(band("x", 1700)), MATCHING)
        assert (match.state == FOUND) == there


def test_a_broad_row_takes_no_narrow_band_and_a_sharp_one_no_wide_one() -> None:
    def fits(shape: str, width: float) -> bool:
        (match,) = match_material(
            "x", seen(1700.0, width=width), table(band("x", 1700, shape=shape)), MATCHING
        )
        return match.state == FOUND

    assert [fits("broad", w) for w in (29.0, 30.0)] == [False, True]
    assert [fits("sharp", w) for w in (15.0, 16.0)] == [True, False]
    assert [fits("", w) for w in (2.0, 90.0)] == [True, True]


def test_a_missing_band_under_a_higher_one_is_hidden() -> None:
    rows = table(band("x", 1700, "vs"), band("x", 1300, "s"))

    def state(*bands: float, heights: tuple[float, ...], width: float = 30.0) -> str:
        return match_material("x", seen(*bands, heights=heights, width=width), rows, MATCHING)[1].state

    # Its strong sister is 1 high, so that half of that is expected at 1300.
    assert state(1700.0, 1325.0, heights=(1.0, 0.6)) == HIDDEN
    assert state(1700.0, 1325.0, heights=(1.0, 0.4)) == MISSING
    assert state(1700.0, 1340.0, heights=(1.0, 5.0)) == MISSING


def test_strengths_are_told_against_the_materials_own_bands() -> None:
    matches = match_material("alba", seen(1700, 1300, 1100, heights=(1.0, 0.5, 1.5)), table(*ALBA), MATCHING)
    # "vs" counts 1, "s" half: the three say 1, 1 and 3 for a very strong band; the middle one is the scale.
    assert [m.strength_ratio for m in matches[:3]] == pytest.approx([1.0, 1.0, 3.0])
    assert matches[3].strength_ratio is None


def test_what_could_not_be_seen_is_not_expected() -> None:
    masked = seen(1700, 1300, masked=((1050.0, 1150.0),), covered=(1000.0, 4000.0))
    assert [m.feature.position for m in match_material("alba", masked, table(*ALBA), MATCHING)] == [
        1700,
        1300,
    ]


def coherent(*bands: float, heights: tuple[float, ...] | None = None, **settings: float) -> bool:
    how = MatchingSettings(**settings)
    return is_coherent(match_material("alba", seen(*bands, heights=heights), table(*ALBA), how), how)


def test_enough_of_the_strong_bands_must_be_there() -> None:
    assert coherent(1700, 1300, 1100)
    # Without 1100 three quarters of the expected height are there: 1.5 of 2; eight tenths are asked.
    assert not coherent(1700, 1300)
    assert coherent(1700, 1300, coherence=0.75)
    assert not coherent(1700, 1300, coherence=0.76)
    assert not coherent(1300, 1100)
    assert not coherent(1700, coherence=0.3, seen=0.0)  # one band alone
    assert coherent(1700, coherence=0.3, seen=0.0, least=1)
    assert not coherent()


def test_hidden_bands_speak_neither_way_but_not_too_many_may_be() -> None:
    # 1100 lies under a higher band at 1110: of three strong bands two are there, which is enough.
    hidden = seen(1700, 1300, 1118, heights=(1.0, 0.5, 3.0), width=25.0)
    matches = match_material("alba", hidden, table(*ALBA), MATCHING)
    assert [m.state for m in matches[:3]] == [FOUND, FOUND, HIDDEN]
    assert is_coherent(matches, MATCHING)
    assert not is_coherent(matches, MatchingSettings(seen=0.7))
    assert nominal(matches[:3]) == pytest.approx(2.0)


# -- proposals ----------------------------------------------------------------------------------------


def test_a_proposal_says_what_it_explains_and_who_competes() -> None:
    first, *rest = propose(seen(1700, 1300, 1100), table(*ALBA, *BRUNA), MATCHING)
    assert (first.material, first.explained, first.adds, rest) == ("alba", (0, 1, 2), (0, 1, 2), [])
    assert first.competitors == ()  # bruna's strongest band is not there
    both = propose(seen(1700, 1500, 1300, 1100), table(*ALBA, *BRUNA), MATCHING)
    assert [p.material for p in both] == ["alba", "bruna"]
    assert both[1].adds == (1,)
    (rival,) = both[0].competitors
    assert (rival.material, rival.shared, rival.look_for, rival.there) == (
        "bruna", (0, 2), (1500.0,), (True,),
    )  # fmt: skip


def test_what_adds_too_little_is_a_competitor_only() -> None:
    heights = (1.0, 0.02, 0.5, 0.5)
    found = propose(seen(1700, 1500, 1300, 1100, heights=heights), table(*ALBA, *BRUNA), MATCHING)
    assert [p.material for p in found] == ["alba"]
    assert [c.material for c in found[0].competitors] == ["bruna"]
    more = MatchingSettings(adds=0.005)
    found = propose(seen(1700, 1500, 1300, 1100, heights=heights), table(*ALBA, *BRUNA), more)
    assert [p.material for p in found] == ["alba", "bruna"]


def test_of_equal_gains_the_more_complete_material_is_proposed() -> None:
    poor = (
        band("nigra", 1700, "vs"),
        band("nigra", 1300, "s"),
        band("nigra", 1100, "s"),
        band("nigra", 800, "s"),
    )
    rows = table(*ALBA, *poor)
    found = propose(seen(1700, 1300, 1100), rows, MATCHING)
    assert [p.material for p in found] == ["alba"]


# -- candidates ---------------------------------------------------------------------------------------


def names(found) -> list[str]:
    return [candidate.material for candidate in found]


ROWS = table(
    *ALBA, *BRUNA, band("acetum", 1702, "s"), band("acetum", 1250, "vs"),
    group("carbonyl", 1660, 1760, (1200.0,)),
    families={"acetum": "solvents"},
)  # fmt: skip
AT = (1701.0, 1.0)


def test_watched_then_proposed_then_groups_then_the_rest_solvents_first() -> None:
    assert names(candidates(AT, ROWS)) == ["carbonyl", "acetum", "alba", "bruna"]
    assert names(candidates(AT, ROWS, watch=["bruna"])) == ["bruna", "carbonyl", "acetum", "alba"]
    assert names(candidates(AT, ROWS, ["bruna"], ["alba"])) == ["bruna", "alba", "carbonyl", "acetum"]


def test_a_candidate_whose_companions_are_there_stands_before_one_whose_are_not() -> None:
    assert names(candidates(AT, ROWS, others=[1500.0]))[-1] == "alba"
    assert names(candidates(AT, ROWS, others=[1100.0]))[-2:] == ["alba", "bruna"]
    # A companion counts within twice the limit of two spreads: 12 cm-1.
    assert names(candidates(AT, ROWS, others=[1512.0]))[-1] == "alba"
    assert names(candidates(AT, ROWS, others=[1512.5]))[-1] == "bruna"


def test_each_says_what_to_look_for_the_strongest_first() -> None:
    found = {c.material: c for c in candidates(AT, ROWS)}
    assert found["alba"].look_for == (1300.0, 1100.0, 900.0)
    assert found["bruna"].look_for == (1500.0, 1300.0)
    assert found["carbonyl"].look_for == (1200.0,)
    few = {c.material: c for c in candidates(AT, ROWS, settings=SuggestionSettings(companions=1))}
    assert few["alba"].look_for == (1300.0,)


def test_a_range_is_told_as_a_range_and_a_position_as_one() -> None:
    found = {c.material: c for c in candidates(AT, ROWS)}
    assert (found["carbonyl"].low, found["carbonyl"].high, found["carbonyl"].position) == (1660, 1760, 1710)
    assert (found["alba"].low, found["alba"].position, found["alba"].checked) == (None, 1700.0, "read")
    assert "Invented for the tests" in found["alba"].source


def test_as_many_as_the_settings_say() -> None:
    assert names(candidates(AT, ROWS, settings=SuggestionSettings(materials=1, groups=0))) == ["acetum"]
    assert names(candidates(AT, ROWS, ["alba"], settings=SuggestionSettings(materials=0))) == [
        "alba",
        "carbonyl",
    ]


# -- changes ------------------------------------------------------------------------------------------

PROCESSES = table(
    *ALBA,
    change("drying", 1700, "shifts", ("alba",), shift_low=-6.0, shift_high=-2.0, shift_checked="read"),
    change("wetting", 1702, "shifts", ("any",)),
    change("burning", 1704, "disappears", ("alba",)),
    change("ageing", 1700, "appears", ("bruna",)),
    change("heating", 1698, "grows", ("alba",)),
    change("anything", 1712, "varies", ("any",)),
)


def processes(direction: str, position: float = 1700.0, **more: float) -> list[str]:
    return [e.change.process for e in explain_change("alba", position, direction, PROCESSES, **more)]


@pytest.mark.parametrize(
    ("direction", "expected"),
    [
        ("down", ["drying", "wetting"]),
        ("up", ["wetting"]),
        ("lost", ["burning", "anything"]),
        ("lower", ["burning", "anything"]),
        ("higher", ["heating", "anything"]),
        ("new", ["heating", "anything"]),
    ],
)
def test_each_direction_has_its_processes_the_materials_own_first(
    direction: str, expected: list[str]
) -> None:
    assert processes(direction) == expected


def test_a_process_is_looked_for_near_its_window() -> None:
    assert "burning" in processes("lost", 1720.0)
    assert "burning" not in processes("lost", 1720.1)
    assert "burning" in processes("lost", 1724.0, tolerance=10.0)
    (found,) = [e for e in explain_change("alba", 1718.0, "lost", PROCESSES) if e.change.process == "burning"]
    assert found.distance == 4.0


def test_the_size_of_a_shift_fits_or_does_not() -> None:
    def fits(shift: float | None) -> bool | None:
        return explain_change("alba", 1700.0, "down", PROCESSES, shift=shift)[0].size_fits

    assert [fits(s) for s in (-4.0, -12.0, -12.1, 4.0, 4.1, None)] == [True, True, False, True, False, None]
    unknown = explain_change("alba", 1700.0, "up", PROCESSES, shift=3.0)[0]
    assert (unknown.specific, unknown.size_fits) == (False, None)


def test_causes_stand_beside_what_changed_and_only_those_of_the_material() -> None:
    moved = Reason("shifted", {"position": 1700.0, "shift": -4.0})
    up = Reason("shifted", {"position": 1700.0, "shift": 4.0})
    gone, more = Reason("lost-band", {"position": 1700.0}), Reason("grown-band", {"position": 1700.0})
    other = Reason("band-open", {"position": 1700.0})
    new = [Unexplained(1700.0, h, 10.0, 8.0, ()) for h in (0.01, -0.01)]

    def told(reasons, unexplained=()) -> list[tuple[str, str]]:
        return [(c.process, c.direction) for c in possible_causes(reasons, unexplained, "alba", PROCESSES)]

    assert told([moved]) == [("drying", "down")]
    assert told([up]) == []
    assert told([gone, more]) == [("burning", "lower"), ("heating", "higher")]
    assert told([other]) == []
    assert told([], new) == [("heating", "new")]
    assert possible_causes([moved], (), "unheard of", PROCESSES) == ()


# -- names of bands -----------------------------------------------------------------------------------


def peak(position: float, error: float = 0.5) -> Peak:
    return Peak(position, error, 0.1, 0.01, 20.0, 0.5, 0.1, 0.1, "")


def test_a_band_is_named_by_the_nearest_row_of_its_material() -> None:
    rows = table(
        band("alba", 1700, vibration="C=O stretch"), band("alba", 1712, "m", vibration="C=C stretch"),
        band("bruna", 1705, vibration="C-N stretch"),
    )  # fmt: skip
    assert assign(peak(1703.0), "alba", rows).assignment == "C=O stretch"
    assert assign(peak(1708.0), "alba", rows).assignment == "C=C stretch"
    assert assign(peak(1703.0), "unheard of", rows).assignment == ""
    # The window, 6 cm-1 between laboratories, and two of the band's own errors.
    assert assign(peak(1722.9), "alba", rows).assignment == "C=C stretch"
    assert assign(peak(1723.1), "alba", rows).assignment == ""
    assert assign(peak(1723.9, 1.0), "alba", rows).assignment == "C=C stretch"


def test_of_two_rows_as_near_the_strong_one_names_the_band() -> None:
    rows = table(
        band("alba", 1700, "w", vibration="C=C stretch"), band("alba", 1710, "s", vibration="C=O stretch")
    )
    assert assign(peak(1705.0), "alba", rows).assignment == "C=O stretch"


# -- stated materials ---------------------------------------------------------------------------------

FILM = Group("neat", "film", "ATR", ())


def stated(name: str, found: FoundBands, rows=None, **settings: float):
    lenient = MaterialSettings(**settings)
    return check_material(FILM, name, found, rows or table(*ALBA, *BRUNA), lenient, MATCHING)


def test_a_statement_agrees_where_its_bands_are() -> None:
    check = stated("alba", seen(1700, 1300, 1100))
    assert (check.verdict, check.found, check.missing, check.better) == (AGREES, (1700, 1300, 1100), (), ())


def test_a_statement_is_doubted_where_too_much_is_missing() -> None:
    rows = table(*ALBA)
    # 1.5 of 2 are there: just enough at three quarters.
    assert stated("alba", seen(1700, 1300, 2000), rows).verdict == AGREES
    doubtful = stated("alba", seen(1700, 1300, 2000), rows, complete=0.76)
    assert (doubtful.verdict, [r.code for r in doubtful.reasons]) == (DOUBTFUL, ["material-bands-missing"])
    assert doubtful.reasons[0].values == {"missing": (1100.0,), "strong": 3}
    # With two bands only a complete miss counts.
    assert stated("alba", seen(1700, 2000), rows).verdict == AGREES
    assert stated("alba", seen(2500, 2000), rows).verdict == DOUBTFUL
    assert stated("alba", seen(2500, 2000), rows, visible=4).verdict == AGREES


def test_another_material_is_named_where_it_explains_clearly_more() -> None:
    found = seen(1700, 1500, 1300, heights=(0.4, 1.0, 0.3))
    rows = table(*BRUNA, band("flava", 1700, "vs"))
    better = stated("flava", found, rows)
    assert (better.verdict, [fit.material for fit in better.better]) == (DOUBTFUL, ["bruna"])
    assert better.better[0].bands == (1700.0, 1500.0)
    # bruna explains all, flava 0.4 of 1.7: the difference is 0.76.
    assert stated("flava", found, rows, better=0.77).verdict == AGREES
    assert stated("flava", found, rows, bands=4).verdict == AGREES


def test_what_is_unknown_or_unseen_is_left_open() -> None:
    assert stated("unheard of", seen(1700)).verdict == CANNOT_TELL
    nothing = stated("alba", seen(3000, 3100, 3200, covered=(2500.0, 4000.0)), table(*ALBA))
    assert (nothing.verdict, nothing.found, nothing.missing) == (CANNOT_TELL, (), ())
