"""Stated materials: right ones are left alone, wrong ones are told; a small share of ``tests.statements``."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from reference_bands import load
from spectra.assignment.coherence import FoundBands
from spectra.assignment.settings import MatchingSettings, MaterialSettings
from spectra.assignment.statement import bands_of, check_material
from spectra.findings import AGREES, CANNOT_TELL, DOUBTFUL, MaterialCheck
from spectra.groups import Group
from spectra.peaks.finding import Peak
from spectra.spectrum import Stack
from tests import statements

TABLE = load()
NEAT = Group("neat", "film", "ATR", ())


def check(stated: str, found: FoundBands, **settings: float) -> MaterialCheck:
    return check_material(NEAT, stated, found, TABLE, MaterialSettings(**settings), MatchingSettings())


@cache
def measured(page: str, mode: str = "diamond") -> FoundBands:
    found = statements.measured(page, mode, 5e-4, 1)
    assert found is not None
    return found


def test_right_statements_are_left_alone() -> None:
    """Every measured page and every invented material by ATR, at three noise levels."""
    for names in (statements.MEASURED, statements.INVENTED):
        tallies = statements.count(names, TABLE, modes=("diamond",), every=1000)
        assert sum(tally.right for tally in tallies.values()) >= 25
        assert sum(tally.doubted for tally in tallies.values()) == 0


def test_wrong_statements_are_told() -> None:
    pages = {
        name: statements.MEASURED[name]
        for name in ("polystyrene__Myers", "polycarbonate__Zhang", "polyethylene_terephthalate__Zhang")
    }
    tally = statements.count(pages, TABLE, modes=("diamond",), every=9)["three bands or more"]
    assert tally.wrong >= 60
    assert tally.told >= 0.93 * tally.wrong


@pytest.mark.parametrize(
    ("page", "stated", "better"),
    [
        ("polystyrene__Myers", "PLA", "polystyrene"),
        ("polycarbonate__Zhang", "polystyrene", "polycarbonate"),
        ("poly_methyl_methacrylate__Tsuda-BB", "chitosan", "poly(methyl methacrylate)"),
        ("polyethylene_terephthalate__Zhang", "gelatin", "poly(ethylene terephthalate)"),
    ],
)
def test_the_material_that_fits_is_named(page: str, stated: str, better: str) -> None:
    found = check(stated, measured(page))
    assert found.verdict == DOUBTFUL
    assert [fit.material for fit in found.better][:1] == [better]
    assert all(fit.bands and fit.sources for fit in found.better)
    codes = [reason.code for reason in found.reasons]
    assert "another-material-fits" in codes
    assert found.reasons[-1].values["material"] == better


def test_a_right_statement_lists_what_was_found() -> None:
    found = check("PS", measured("polystyrene__Myers"))
    assert (found.stated, found.material, found.verdict) == ("PS", "polystyrene", AGREES)
    assert {round(place) for place in found.found} >= {1493, 1452, 697}
    assert (found.missing, found.better, found.reasons) == ((), (), ())


def test_what_the_tables_do_not_know_is_left_open() -> None:
    found = check("unobtainium", measured("polystyrene__Myers"))
    assert (found.material, found.verdict, found.reasons) == (None, CANNOT_TELL, ())


def test_silica_on_a_crystal_is_no_silica_of_the_tables_and_not_doubted() -> None:
    """Its band is so strong that bulk ATR moves it by more than 100 cm-1; one band is too few to doubt."""
    assert check("silica", measured("SiO2__Franta")).verdict != DOUBTFUL


def bands(*positions: float, covered: tuple[float, float] = (500.0, 4000.0), masked=()) -> FoundBands:
    n = len(positions)
    return FoundBands(positions, np.ones(n), np.ones(n), np.full(n, 15.0), covered, masked)


def test_only_bands_that_could_be_seen_can_be_missing() -> None:
    """Polycaprolactone without its C=O band, the strongest: not there, masked, or outside the range."""
    seen = (2949.0, 2865.0, 1240.0, 1190.0, 1170.0, 1047.0)
    whole = check("polycaprolactone", bands(*seen), complete=0.85)
    assert whole.verdict == DOUBTFUL
    assert any(1715.0 < place < 1745.0 for place in whole.missing)
    assert whole.reasons[0].code == "material-bands-missing"
    for found in (bands(*seen, covered=(900.0, 1650.0)), bands(*seen, masked=((1650.0, 1800.0),))):
        assert check("polycaprolactone", found, complete=0.85).verdict == AGREES


def test_few_bands_doubt_only_where_nothing_fits() -> None:
    """One of two strong bands of a spectrum of two is no reason, none of them is."""
    assert check("polystyrene", bands(697.0, 1493.0)).verdict == AGREES
    assert check("polystyrene", bands(1650.0, 3300.0)).verdict == DOUBTFUL


def test_the_limits_are_the_settings() -> None:
    seen = bands(1601.0, 1493.0, 1452.0, 1028.0, 757.0, 698.0)
    assert check("polystyrene", seen, complete=0.5).verdict == AGREES
    moved = bands(*(place + 17.0 for place in (2923.0, 1601.0, 1493.0, 1452.0, 757.0, 697.0)))
    assert check("polystyrene", moved).verdict == AGREES
    assert check("polystyrene", moved, spread=1.0).verdict == DOUBTFUL


def test_bands_carry_the_parts_left_out() -> None:
    grid = np.arange(1000.0, 1100.0, 2.0)
    usable = ~((grid >= 1020.0) & (grid <= 1030.0))
    stack = Stack(grid, np.ones((2, grid.size)), ("a", "b"), ("1", "2"), usable)
    found = bands_of(stack, [Peak(1050.0, 0.1, 1.0, 0.1, 12.0, 0.2, 1.1, 0.9)])
    assert (found.covered, found.masked) == ((1000.0, 1098.0), ((1020.0, 1030.0),))
    assert (found.positions.tolist(), found.heights.tolist()) == ([1050.0], [0.9])
    assert (found.errors.tolist(), found.widths.tolist()) == ([0.1], [12.0])
