"""What is left beside fitted films: nothing on clean samples, an acid where one was left."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from spectra.findings import CANNOT_TELL, CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, Chemistry, Reason
from spectra.residues.search import Search
from spectra.verification.films import Films, Measured, fit_films
from spectra.verification.left_behind import judge_residues, search_left_over, suspected_rows
from spectra.verification.result import CoatingFinding
from tests.fatecells import ACID
from tests.filmcases import learned, scene_of
from tests.films import film_in_bands, moved, with_residue
from tests.scenes import spots
from tests.studyspeed import stack, study

SCENE = scene_of()
ONE = study(watch=(ACID, "ethanol"))
PROTEIN = film_in_bands("protein").eps


def searched(nm: float, film: np.ndarray, seed: int = 51) -> tuple[Films, Search]:
    rows = stack(spots(SCENE, np.random.default_rng(seed), 4, nm, film=film))
    measured = Measured(ONE.samples["sample"], rows, rows)  # levelled spectra are not looked at here
    films = fit_films(measured, ONE.settings, learned())
    return films, search_left_over(films, ONE.settings, learned())


@cache
def case(name: str) -> tuple[Films, Search]:
    films = {"clean": PROTEIN, "acid": with_residue(PROTEIN, ACID, 0.2), "moved": moved(PROTEIN - 2.25, 12.0)}
    return searched(80.0, films[name] + (2.25 if name == "moved" else 0.0))


def residues(name: str, chemistry: str = UNCHANGED):
    films, search = case(name)
    coating = CoatingFinding(
        "film", None, films.presence["film"], (), Chemistry(chemistry, (Reason("shifted"),))
    )
    return judge_residues(films, search, {"film": coating}, ONE, learned())


def test_nothing_is_left_over_beside_an_unchanged_film_or_on_a_bare_sample() -> None:
    assert case("clean")[0].named == ("film",)
    assert case("clean")[1].found == ()
    assert searched(0.0, PROTEIN)[1].found == ()


def test_moved_bands_are_the_coatings_and_not_left_over() -> None:
    films, search = case("moved")
    assert films.named == ("film",)
    own = [band.expected + band.shift for band in films.accounts["film"].bands if band.narrow]
    near = [bump for bump in search.found if min(abs(bump.position - place) for place in own) < 15.0]
    assert near == []


def test_an_acid_is_found_where_it_was_left_and_ethanol_nowhere() -> None:
    # Acetic acid as tests.scenes has it: C=O 1710, C-O 1290 (solvent literature, from memory).
    left = [bump.position for bump in case("acid")[1].found]
    assert min(abs(place - 1710.0) for place in left) < 12.0
    found = residues("acid")
    assert found[ACID].verdict == PRESENT
    assert found["ethanol"].verdict != PRESENT
    clean = residues("clean")
    assert {name: item.verdict for name, item in clean.items()} == {ACID: NOT_SHOWN, "ethanol": NOT_SHOWN}


def test_beside_a_changed_coating_a_residue_is_only_possible() -> None:
    found = residues("acid", CHANGED)[ACID]
    assert found.verdict == CANNOT_TELL
    assert found.reasons[0].code == "residue-or-change"


def test_a_suspected_residue_brings_all_its_bands_along() -> None:
    films, search = case("acid")
    rows = suspected_rows(search, films, ONE, learned())
    assert len(rows) >= 2
    tops = films.points[np.argmax(rows, axis=1)]
    assert np.abs(tops - 1710.0).min() < 15.0
    np.testing.assert_allclose(rows.max(axis=1), 1.0, atol=0.01)
    clean_films, clean = case("clean")
    assert len(suspected_rows(clean, clean_films, ONE, learned())) == 0


def test_the_search_needs_a_bank() -> None:
    films, _ = case("clean")
    with pytest.raises(TypeError, match="needs a bank"):
        search_left_over(films, ONE.settings, replace(learned(), bank=None))
