"""The substrate's own bands under films: unchanged, moved, or hidden by a coating that is changed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spectra.findings import CANNOT_TELL, CHANGED, HIDDEN, UNCHANGED, Chemistry, Layer, Reason
from spectra.verification.films import Films, Measured, fit_films
from spectra.verification.preparation import level
from spectra.verification.result import CoatingFinding, SubstrateFinding
from spectra.verification.substrate import judge_substrate
from tests.filmcases import learned, scene_of
from tests.scenes import GRID, film_of, neat_spots, spots
from tests.studyspeed import stack, study

SCENE = scene_of()
ONE = study()
CHANGES = {UNCHANGED: "all-equivalent", CHANGED: "shifted", CANNOT_TELL: "presence-open"}


def measured(rows: np.ndarray) -> Measured:
    """Level the rows as the study of tests.filmcases would, beside its own bare and neat spots."""
    rng = np.random.default_rng(31)
    bare, neat = stack(spots(SCENE, rng, 6)), stack(neat_spots(SCENE, rng))
    at = ("coated", "sample")
    raw = {("bare", "substrate"): bare, ("neat", "film"): neat, at: stack(rows)}
    stages, _ = level(raw, ONE.settings)
    return Measured(ONE.samples["sample"], stages.raw[at], stages.levelled[at])


def judged(sample: Measured, films: Films, chemistry: str) -> SubstrateFinding:
    coating = CoatingFinding(
        "film", None, films.presence["film"], (), Chemistry(chemistry, (Reason(CHANGES[chemistry]),))
    )
    return judge_substrate(sample, films, {"film": coating}, ONE, learned())


@pytest.fixture(scope="module")
def coated() -> tuple[Measured, Films]:
    sample = measured(spots(SCENE, np.random.default_rng(41), 4, 60.0))
    return sample, fit_films(sample, ONE.settings, learned())


def test_under_an_unchanged_film_the_substrate_is_unchanged(coated: tuple[Measured, Films]) -> None:
    found = judged(*coated, UNCHANGED)
    assert found.chemistry.verdict == UNCHANGED
    places = [band.expected_position for band in found.bands]
    assert places == sorted(places, reverse=True)
    strongest = min(found.bands, key=lambda band: abs(band.expected_position - 1750.0))
    assert strongest.shift == pytest.approx(0.0, abs=1.0)
    assert strongest.verdict == UNCHANGED


def test_a_coating_not_shown_unchanged_hides_the_bands_it_covers(coated: tuple[Measured, Films]) -> None:
    plain, covered = (judged(*coated, verdict) for verdict in (UNCHANGED, CHANGED))
    hidden = {band.expected_position for band in covered.bands if band.masked}
    assert hidden > {band.expected_position for band in plain.bands if band.masked}
    assert {band.fate for band in covered.bands if band.masked} == {HIDDEN}
    assert covered.chemistry.verdict != CHANGED


def test_a_substrate_whose_bands_moved_is_changed() -> None:
    # Bare spots whose spectrum is stretched by 10 cm-1 at 1750: what heat may do to a polyester, exaggerated.
    rows = spots(SCENE, np.random.default_rng(42), 4)
    moved = np.array([np.interp(GRID - 10.0, GRID, row) for row in rows])
    sample = measured(moved)
    films = fit_films(sample, ONE.settings, learned())
    quiet = replace(films, layer=Layer("not shown", (Reason("layer-not-shown"),)))
    found = judged(sample, quiet, CANNOT_TELL)
    assert found.chemistry.verdict == CHANGED
    assert found.chemistry.reasons[0].values["shift"] == pytest.approx(10.0, abs=1.5)


def test_a_layer_that_was_not_recognised_may_be_what_moved_the_bands() -> None:
    rows = spots(SCENE, np.random.default_rng(42), 4, 150.0, film=film_of("polyether"))
    moved = np.array([np.interp(GRID - 10.0, GRID, row) for row in rows])
    sample = measured(moved)
    films = fit_films(sample, ONE.settings, learned())
    assert films.layer.verdict == "shown"
    assert films.named == ()
    found = judged(sample, films, CANNOT_TELL)
    assert found.chemistry.verdict == CANNOT_TELL
    assert [r.code for r in found.chemistry.reasons] == ["layer-over-substrate"]
