"""Film against blend: curves against other optics, decisions on simulated films and blends."""

import numpy as np
import pytest

from spectra.comparison.layouts import FILM, MIXED
from spectra.optics.blend import blend_change, islands_change, own_part, top_near
from tests.layouttrial import TECHNIQUE, blend_spots, island_spots, judge_rows, judged, learned
from tests.scenes import CRYSTAL, GRID, mean_substrate, reflection_absorbance, spots
from tests.trials import scene_of, stack

SCENE = scene_of("protein on polylactide", noise=2e-4, scatter=0.03)


@pytest.fixture(scope="module")
def model():
    return learned(SCENE, np.random.default_rng(2))[1]


@pytest.fixture(scope="module")
def table(model):
    return model.predictions["coating", TECHNIQUE].table


def test_a_blend_is_the_bulk_of_the_sum_of_dielectric_functions(table):
    """Against the scenes' own Fresnel code at the same constants, crystal and contact."""
    substrate, film = (np.interp(GRID, table.wavenumbers, n**2) for n in (table.substrate, table.film))
    assert table.geometry.index == CRYSTAL
    plain = reflection_absorbance(substrate, contact=table.contact)
    mixed = reflection_absorbance(0.9 * substrate + 0.1 * film, contact=table.contact)
    assert blend_change(table, 0.1) == pytest.approx(mixed - plain, abs=1e-6)
    assert blend_change(table, 0.0) == pytest.approx(np.zeros(GRID.size), abs=1e-12)
    bulk = reflection_absorbance(film, contact=table.contact) - plain
    assert islands_change(table, 0.2) == pytest.approx(0.2 * bulk, abs=1e-6)
    assert blend_change(table, 1.0) == pytest.approx(bulk, abs=1e-6)


def test_the_coatings_own_part_has_its_bands_and_not_those_of_the_substrate(table):
    own = own_part(table)
    inert = reflection_absorbance(mean_substrate(SCENE), contact=table.contact)
    ester = np.abs(GRID - 1750.0) < 10.0
    amide = np.abs(GRID - 1650.0) < 20.0
    assert own[amide].max() > 10.0 * np.abs(own[ester]).mean()
    assert inert[ester].max() > 0.2


def test_a_maximum_is_placed_between_points_and_not_at_an_end():
    curve = -((GRID - 1001.3) ** 2)
    assert top_near(GRID, curve, 1004.0, 10.0) == pytest.approx(1001.3)
    assert top_near(GRID, curve, 1050.0, 10.0) == 1050.0


@pytest.mark.parametrize("stated", [FILM, MIXED])
def test_what_fits_does_not_hang_on_what_is_stated(model, stated):
    rng = np.random.default_rng(5)
    film = judged(model, spots(SCENE, rng, 3, 40.0), stated)
    blend = judged(model, blend_spots(SCENE, rng, 3, 0.08), stated)
    islands = judged(model, island_spots(SCENE, rng, 3, 0.08), stated)
    assert (film.fits, blend.fits, islands.fits) == (FILM, MIXED, MIXED)
    assert film.otherwise == (stated == MIXED)
    assert film.film_nm == pytest.approx(40.0, rel=0.15)
    assert blend.share == pytest.approx(0.08, rel=0.2)


def test_a_blend_called_a_film_is_not_called_changed():
    """Its bands stand where a film's do not: that is no change of the coating."""
    rng = np.random.default_rng(4)
    study, known = learned(SCENE, rng, layout=FILM)
    raw = {("bare", "substrate"): stack(spots(SCENE, rng, 6))}
    found = judge_rows(study, known, {**raw, ("coated", "sample"): stack(blend_spots(SCENE, rng, 3, 0.1))})
    assert found.layout.otherwise
    assert found.chemistry.verdict == "cannot tell"
    film = judge_rows(study, known, {**raw, ("coated", "sample"): stack(spots(SCENE, rng, 3, 60.0))})
    assert (film.layout.fits, film.chemistry.verdict) == (FILM, "unchanged")


def test_nothing_there_cannot_be_told(model):
    found = judged(model, spots(SCENE, np.random.default_rng(6), 3))
    assert (found.fits, found.otherwise) == ("cannot tell", False)


@pytest.mark.parametrize("by", [8.0, -22.0, 12.0])
def test_a_film_whose_bands_moved_is_no_blend(model, by):
    """Neither fits then, and the one that is a little nearer is not said to fit."""
    moved = judged(model, spots(SCENE, np.random.default_rng(7), 3, 60.0, moved=by))
    assert moved.fits != MIXED
    assert min(moved.film_misfit, moved.mixed_misfit) > 5.0
