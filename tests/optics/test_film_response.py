"""Change of absorbance over film thickness: against exact layers, and fit to be sent to another process."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from spectra.errors import SpectraError
from spectra.optics.film import film_spectra
from spectra.optics.film_response import FilmResponse, FilmTable
from spectra.optics.geometry import Geometry
from spectra.optics.prediction import Prediction, at_thickness
from spectra.optics.shape import Shape
from tests.optics.test_prediction import CONSTANTS, DIAMOND, GRID, constants, predicted

NM = [0.4, 3.0, 17.0, 160.0, 900.0, 6000.0]
GEOMETRY = Geometry(crystal="diamond", angle_deg=45.0)


@pytest.fixture(scope="module")
def table() -> FilmTable:
    film, bed = constants("poly_methyl_methacrylate__Tsuda-BB"), constants("polystyrene__Myers")
    return FilmTable(GRID, GRID, film, bed, 1.45, GEOMETRY, 0.9)


@pytest.mark.parametrize("nm", NM)
def test_between_its_knots_it_is_the_exact_stack(table: FilmTable, nm: float) -> None:
    exact = film_spectra(GRID, table.film, table.substrate, [0.0, nm], GEOMETRY, 0.9, 1.45)
    whole = exact.coated[1] - exact.coated[0]
    assert FilmResponse(table)(nm) == pytest.approx(whole, abs=1e-4 * np.abs(whole).max())


def test_nothing_changes_nothing_and_little_changes_in_proportion(table: FilmTable) -> None:
    response = FilmResponse(table)
    assert not response(0.0).any()
    assert response(0.2) == pytest.approx(2.0 * response(0.1))


def test_a_thick_film_hides_the_substrate(table: FilmTable) -> None:
    # Bulk limit: crystal | film without end, from the same exact layers with a bed of the film itself.
    bulk = film_spectra(GRID, table.film, table.film, [1.0], GEOMETRY, 0.9, 1.45).coated[0]
    bare = film_spectra(GRID, table.film, table.substrate, [0.0], GEOMETRY, 0.9, 1.45).coated[0]
    assert FilmResponse(table)(15000.0) == pytest.approx(bulk - bare, abs=1e-3)


def test_a_table_sent_to_another_process_says_the_same(table: FilmTable) -> None:
    response = FilmResponse(table)
    there = pickle.loads(pickle.dumps(response))
    for nm in NM:
        assert there(nm).tobytes() == response(nm).tobytes()


@pytest.fixture(scope="module")
def prediction() -> Prediction:
    film, bed = constants("poly_methyl_methacrylate__Tsuda-BB"), constants("polystyrene__Myers")
    exact = film_spectra(GRID, film, bed, [0.0, 1.0], GEOMETRY)
    neat = film_spectra(GRID, film, film, [1.0], GEOMETRY)
    assert (CONSTANTS / "SOURCES.md").is_file()
    return predicted({"neat": neat.coated[0], "bare": exact.coated[0]}, DIAMOND)


def test_shape_and_prediction_can_be_sent_to_another_process(prediction: Prediction) -> None:
    there = pickle.loads(pickle.dumps(prediction))
    assert isinstance(there.shape, Shape)
    assert there.shape.curve.tobytes() == prediction.shape.curve.tobytes()
    assert not there.shape.curve.flags.writeable
    assert there.shape.response is not None
    assert prediction.shape.response is not None
    assert there.shape.response(80.0).tobytes() == prediction.shape.response(80.0).tobytes()
    assert (
        at_thickness(there, 80.0, 60.0, 100.0).expected
        == at_thickness(prediction, 80.0, 60.0, 100.0).expected
    )


@pytest.mark.parametrize("curve", [[[1.0, 2.0]], [np.nan, np.nan]])
def test_a_shape_is_one_row_of_numbers(curve: list[float]) -> None:
    with pytest.raises(SpectraError, match="expected one row of numbers"):
        Shape(np.array(curve))
