"""Verdicts on watched residues from made-up searches: what is seen, hidden, outside, doubtful."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from reference_bands import Band, BandTable, load
from reference_bands.records import Name
from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, Residue
from spectra.residues.filter_bank import BumpBank
from spectra.residues.search import Bump, Search, bump_between
from spectra.residues.settings import ResidueSettings
from spectra.residues.watched import judge_watched, residue_places

DECISION, SETTINGS = DecisionSettings(), ResidueSettings()
PLACES = np.arange(800.0, 1900.0, 2.0)
DEGREES = 18.0
ERROR = 1e-3


def row(low: float, centre: float | None, high: float, strength: str) -> Band:
    return Band(
        material="invented", low=low, typical=centre, high=high, strength=strength,
        vibration="C=O stretch", source="a", checked="read",
    )  # fmt: skip


def table(*rows: Band) -> BandTable:
    names = {"invented": Name("invented", "solvents")}
    return BandTable(rows, (), (), names, {}, {"invented": "invented"})


MADE_UP = table(
    row(1696, 1700, 1704, "vs"), row(1296, 1300, 1304, "s"), row(1096, 1100, 1104, "m"),
    row(896, 900, 904, "w"),
)  # fmt: skip


def bump(position: float, evidence: float = 12.0, error: float = ERROR) -> Bump:
    return Bump(position, evidence * error, 20.0, evidence, error)


def search(
    *found: Bump,
    hidden: tuple[float, ...] = (),
    heights: dict[float, float] | None = None,
    smallest: float = 0.0,
    places: np.ndarray = PLACES,
) -> Search:
    """A search that found some bumps; the rest is flat, with large errors around what is hidden."""
    bank = BumpBank(
        places, np.full(places.size, 20.0), np.zeros((places.size, 4)), np.ones(places.size), DEGREES, 5.0
    )
    errors = np.full(places.size, ERROR)
    for place in hidden:
        errors[np.abs(places - place) < 8.0] *= 50.0
    rest = np.zeros(places.size)
    for place, height in (heights or {}).items():
        rest[places == place] = height
    return Search(bank, found, rest, errors, smallest)


def judged(of: Search, name: str = "invented", doubt: str | None = None, **settings: float) -> Residue:
    rows = MADE_UP if name == "invented" else load()
    return judge_watched(name, of, DECISION, ResidueSettings(**settings), rows, doubt)


def code(residue: Residue) -> str:
    (reason,) = residue.reasons
    return reason.code


def test_two_bands_one_of_them_strong_are_present() -> None:
    found = judged(search(bump(1701.0), bump(1100.0)))
    assert (found.verdict, code(found), found.bands) == (PRESENT, "residue-bands", (1100.0, 1701.0))


def test_one_band_is_not_enough_and_is_named() -> None:
    found = judged(search(bump(1701.0)))
    assert (found.verdict, code(found)) == (CANNOT_TELL, "one-band")
    assert found.reasons[0].values == {"position": 1701.0}
    assert judged(search(bump(1701.0)), watched_bands=1).verdict == PRESENT


def test_without_a_strong_band_it_is_not_present() -> None:
    medium = table(row(1296, 1300, 1304, "m"), row(1096, 1100, 1104, "m"), row(1696, 1700, 1704, "vs"))
    of = search(bump(1300.0), bump(1100.0))
    found = judge_watched("invented", of, DECISION, SETTINGS, medium, None)
    assert (found.verdict, code(found)) == (CANNOT_TELL, "one-band")


def test_one_bump_in_two_rows_counts_once() -> None:
    close = table(row(1690, 1694, 1706, "vs"), row(1700, 1706, 1712, "s"))
    found = judge_watched("invented", search(bump(1702.0)), DECISION, SETTINGS, close, None)
    assert (found.verdict, found.bands) == (CANNOT_TELL, (1702.0,))


@pytest.mark.parametrize("doubt", ["residue-or-change", "residue-or-optics"])
def test_what_else_may_cause_bands_leaves_it_open(doubt: str) -> None:
    found = judged(search(bump(1701.0), bump(1300.0)), doubt=doubt)
    assert (found.verdict, code(found)) == (CANNOT_TELL, doubt)
    # Where nothing is seen there is nothing to doubt.
    assert judged(search(), doubt=doubt).verdict == NOT_SHOWN


def test_nothing_seen_is_not_shown_with_what_would_have_been() -> None:
    found = judged(search())
    assert (found.verdict, code(found)) == (NOT_SHOWN, "residue-not-seen")
    assert found.reasons[0].values == {"bands": (1100.0, 1300.0, 1700.0), "hidden": ()}
    # The best strong row, three rows sharing the error; the non-central t has the stated power there.
    critical = stats.t.isf(DECISION.alpha / 3.0, DEGREES)
    power = stats.nct.sf(critical, DEGREES, found.detectable_height / ERROR)
    assert power == pytest.approx(DECISION.power, abs=1e-3)
    assert found.detectable_at in (1700.0, 1300.0)


def test_the_limit_is_that_of_a_strong_row_though_a_weak_one_is_seen_better() -> None:
    of = search()
    errors = np.where(np.abs(PLACES - 1100.0) < 8.0, 1e-5, of.errors)
    better = Search(of.bank, (), of.heights, errors, 0.0)
    assert judged(better).detectable_at in (1700.0, 1300.0)
    assert judged(better).detectable_height == pytest.approx(judged(of).detectable_height)
    errors = np.where(np.abs(PLACES - 1300.0) < 8.0, 0.5 * ERROR, of.errors)
    best = judged(Search(of.bank, (), of.heights, errors, 0.0))
    assert best.detectable_at == 1300.0
    assert best.detectable_height == pytest.approx(0.5 * judged(of).detectable_height)


def test_hidden_bands_are_told_and_not_held_against_it() -> None:
    found = judged(search(hidden=(1300.0,)))
    assert (found.verdict, found.hidden) == (NOT_SHOWN, (1300.0,))
    assert found.reasons[0].values["bands"] == (1100.0, 1700.0)
    both = judged(search(hidden=(1300.0, 1700.0)))
    assert (both.verdict, code(both), both.hidden) == (CANNOT_TELL, "residue-hidden", (1300.0, 1700.0))
    every = judged(search(hidden=(1300.0, 1700.0, 1100.0)))
    assert (every.verdict, code(every)) == (CANNOT_TELL, "residue-outside")


def test_how_much_worse_is_hidden_is_a_setting() -> None:
    assert judged(search(hidden=(1300.0,)), hidden=60.0).hidden == ()
    assert judged(search(hidden=(1300.0,)), hidden=40.0).hidden == (1300.0,)


def test_a_bump_found_at_a_place_is_not_hidden_by_its_own_removal() -> None:
    # What was found is taken out, so that nothing of the same shape is left to be known there.
    found = judged(search(bump(1701.0), bump(1303.0), hidden=(1300.0,)))
    assert (found.verdict, found.hidden) == (PRESENT, ())


def test_a_material_outside_the_range_cannot_be_told() -> None:
    found = judged(search(places=np.arange(1400.0, 1600.0, 2.0)))
    assert (found.verdict, code(found)) == (CANNOT_TELL, "residue-outside")
    assert found.reasons[0].values == {"material": "invented"}


def test_weak_rows_and_regions_are_not_asked() -> None:
    assert residue_places("invented", search(), SETTINGS, MADE_UP) == [1700.0, 1300.0, 1100.0]
    wide = table(row(1270, 1300, 1331, "s"), row(1670, 1700, 1730, "s"))
    assert residue_places("invented", search(), SETTINGS, wide) == [1700.0]
    assert residue_places("invented", search(), ResidueSettings(widest_row=61.0), wide) == [1700.0, 1300.0]


def test_of_two_rows_at_one_place_the_stronger_is_asked() -> None:
    # Acetic acid in the tables: 1410 (medium) and 1420 (strong), ten apart.
    near = table(row(1406, 1410, 1414, "m"), row(1414, 1418, 1422, "s"), row(1400, 1405, 1409, "vs"))
    assert residue_places("invented", search(), SETTINGS, near) == [1405.0, 1418.0]
    assert residue_places("invented", search(), ResidueSettings(apart=4.0), near) == [1405.0, 1418.0, 1410.0]
    acid = residue_places("acetic acid", search(), SETTINGS, load())
    strong = [band.centre for band in load().of("acetic acid") if band.strong and 800 < band.centre < 1900]
    assert all(min(abs(place - kept) for kept in acid) <= 10.0 for place in strong)
    assert 1420.0 in acid


def chance_of(evidence: float, places: float) -> float:
    return min(1.0, places * float(stats.t.sf(evidence, DEGREES)))


def test_wide_rows_pay_for_their_places_and_rows_for_one_another() -> None:
    wide = table(row(1680, 1700, 1720, "vs"), row(1296, 1300, 1304, "s"), row(1096, 1100, 1104, "m"))
    # Row windows reach 6 cm-1 further to both sides; every 10 cm-1 is a place of its own.
    looks = [(40.0 + 12.0) / 10.0, (8.0 + 12.0) / 10.0, (8.0 + 12.0) / 10.0]

    def passes(first: float, second: float) -> list[bool]:
        p = [chance_of(first, looks[0]), chance_of(second, looks[1]), 1.0]
        return (multipletests(p, method="holm")[1] <= DECISION.alpha)[:2].tolist()

    for first in np.arange(2.6, 4.6, 0.1):
        for second in (3.2, 3.4, 3.8):
            heights = {1700.0: first * ERROR, 1300.0: second * ERROR}
            found = judge_watched("invented", search(heights=heights), DECISION, SETTINGS, wide, None)
            seen = [place in found.bands for place in (1700.0, 1300.0)]
            assert seen == passes(first, second), (first, second)


# -- the bump at a place ------------------------------------------------------------------------------


def test_a_bump_that_was_found_anywhere_comes_first() -> None:
    of = search(bump(1295.0, 6.0), bump(1302.0, 9.0), heights={1300.0: 0.02})
    assert bump_between(of, 1290.0, 1310.0).position == 1295.0
    assert bump_between(of, 1297.0, 1310.0).position == 1302.0


def test_a_falling_bump_is_no_residue() -> None:
    of = search(Bump(1300.0, -0.02, 20.0, -20.0, ERROR), heights={1302.0: 0.004})
    assert bump_between(of, 1290.0, 1310.0).position == 1302.0
    assert bump_between(search(heights={1300.0: -0.02}), 1299.0, 1301.0) is None


def test_the_flank_of_a_higher_bump_beside_the_window_is_none() -> None:
    flank = search(heights={1302.0: 0.004, 1316.0: 0.006})
    assert bump_between(flank, 1290.0, 1310.0) is None
    assert bump_between(flank, 1290.0, 1320.0).position == 1316.0
    # The same where what stands beside is missing absorption, and not where it is a width away.
    assert bump_between(search(heights={1302.0: 0.004, 1316.0: -0.006}), 1290.0, 1310.0) is None
    assert bump_between(search(heights={1302.0: 0.004, 1324.0: 0.006}), 1290.0, 1310.0).position == 1302.0


def test_what_is_small_beside_the_coating_is_no_bump() -> None:
    assert bump_between(search(heights={1300.0: 0.004}, smallest=0.005), 1290.0, 1310.0) is None
    assert bump_between(search(heights={1300.0: 0.004}, smallest=0.003), 1290.0, 1310.0).height == 0.004


def test_a_window_without_a_place_has_no_bump() -> None:
    assert bump_between(search(), 2000.0, 2100.0) is None


def test_a_bump_says_its_evidence_and_error() -> None:
    found = bump_between(search(heights={1300.0: 0.004}), 1290.0, 1310.0)
    assert (found.position, found.height, found.width, found.error) == (1300.0, 0.004, 20.0, ERROR)
    assert found.evidence == pytest.approx(4.0)
