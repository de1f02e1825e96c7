"""The index of a material where contact and index of its layer move together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spectra.filmfit.model import model_stack
from spectra.filmfit.moves import cross, moves_of
from spectra.optics.crossing import cross_unknowns
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr
from spectra.optics.material import Crossed, Material
from spectra.optics.settings import InversionSettings
from tests.filmcases import film_model
from tests.scenes import GRID, film_of, reflection_absorbance

GEOMETRY = Geometry(index=2.4, angle_deg=45.0)


def inverted(material: str, contact: float | tuple[float, float], n_inf: float = 1.5, error: float = 0.05):
    """Constants found behind the spectrum of a layer that touches 0.88 of the crystal."""
    spectrum = reflection_absorbance(film_of(material), contact=0.88)
    settings = InversionSettings(n_inf=n_inf, n_inf_error=error)
    found = invert_atr(GRID, spectrum, GEOMETRY, contact, settings)
    assert isinstance(found, Material)
    assert found.crossed is None  # only where a film is to be fitted
    return cross_unknowns(found, settings, contact if isinstance(contact, float) else contact[0])


def crossed_moves(found: Material):
    assert found.crossed is not None
    return cross(moves_of(found, found.index, found.variants), found.crossed, found.index, found.crossed.rows)


@pytest.mark.parametrize("material", ["protein", "PC"])
def test_contact_and_index_moved_together_are_what_solving_for_both_gives(material: str) -> None:
    # Two places off the solved cases; the strong absorber is where adding single moves goes wrong.
    moves = crossed_moves(found := inverted(material, (0.85, 1.0)))
    assert moves.names == ("contact", "n_inf", "pull")
    added = moves_of(found, found.index, found.variants)
    worst = {"together": 0.0, "added": 0.0}
    for contact, n_inf in ((0.88, 1.56), (0.96, 1.43)):
        z = np.array([(contact - 0.925) / 0.075, (n_inf - 1.5) / 0.05, 0.0])
        exact = inverted(material, contact, n_inf, error=0.0).index
        for name, way in (("together", moves), ("added", added)):
            away = float(np.abs(found.index + way.shift(z) - exact).max() / exact.imag.max())
            worst[name] = max(worst[name], away)
    assert worst["together"] < 0.02
    assert worst["added"] > 3.0 * worst["together"]


def test_the_solved_cases_themselves_are_met() -> None:
    found = inverted("protein", (0.85, 1.0))
    moves, crossed = crossed_moves(found), found.crossed
    for i, contact in enumerate(crossed.contacts):
        for j, place in enumerate(crossed.indices):
            index = found.index + moves.shift(np.array([contact, place, 0.0]))
            np.testing.assert_allclose(index, crossed.rows[i, j], atol=1e-9)


def test_every_slope_is_that_of_the_index() -> None:
    moves = crossed_moves(inverted("protein", (0.85, 1.0)))
    z = np.array([-0.4, 1.1, 0.3])
    for unknown in range(3):
        step = np.zeros(3)
        step[unknown] = 1e-4
        central = (moves.shift(z + step) - moves.shift(z - step)) / 2e-4
        np.testing.assert_allclose(moves.slope(unknown, z), central, atol=1e-6)


def test_where_contact_is_known_the_index_moves_alone() -> None:
    found = inverted("protein", 0.88)
    moves = crossed_moves(found)
    assert moves.names == ("n_inf", "pull")
    exact = inverted("protein", 0.88, 1.55, error=0.0).index
    index = found.index + moves.shift(np.array([1.0, 0.0]))
    assert float(np.abs(index - exact).max()) < 0.01 * exact.imag.max()


def test_a_known_index_has_nothing_to_cross() -> None:
    assert inverted("protein", (0.85, 1.0), error=0.0).crossed is None


def test_unknowns_that_are_not_crossed_are_added() -> None:
    row = np.zeros((1, 2, 3), dtype=complex)
    row[0, 1] = [1.0, 2.0, 3.0]
    found = inverted("protein", 0.88)
    few = replace(
        found,
        moved=("pull", "pull"),
        moves=(-1.0, 1.0),
        variants=np.array([found.index - 1, found.index + 2]),
    )
    moves = moves_of(few, np.zeros(3, complex), np.array([[-1.0 + 0j] * 3, [2.0 + 0j] * 3]))
    together = cross(moves, Crossed(np.zeros(1), np.array([0.0, 1.0]), row), np.zeros(3, complex), row)
    assert together.names == ("n_inf", "pull")
    np.testing.assert_allclose(together.shift(np.array([0.5, 0.5])), [1.5, 2.0, 2.5])


def test_a_film_model_uses_what_was_solved_together() -> None:
    model = film_model()
    again = model_stack(model.ground, replace(model.source, crossed=None), None, GEOMETRY, model.settings)
    z = np.zeros(len(model.response.unknowns))
    z[:2] = -0.7, 1.4
    one, other = model.response.function(z), again.response.function(z[:3])
    assert float(np.abs(one - other).max()) > 0.02 * float(np.abs(one.imag).max())
