"""What a film does to a spectrum: stacks against other formulas, slopes against finite differences."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from spectra.filmfit.neat import NeatResponse
from spectra.filmfit.response import LEAST, Moves, StackResponse
from spectra.optics.geometry import Geometry
from tests import scenes
from tests.filmcases import film_model

POINTS = scenes.GRID[scenes.USABLE][::5]
GEOMETRY = Geometry(index=2.4, angle_deg=45.0)
STILL = Moves((), (), ())
NO_Z = np.zeros(0)


def on_points(values: np.ndarray) -> np.ndarray:
    return values[scenes.USABLE][::5]


FILM = on_points(scenes.film_of("protein"))
BED = on_points(scenes.mean_substrate(scenes.Scene("protein", ("polylactide",))))


def exact(contact: float = 0.8) -> StackResponse:
    return StackResponse(POINTS, GEOMETRY, np.sqrt(FILM), STILL, np.sqrt(BED), STILL, (contact, contact))


@pytest.mark.parametrize("nm", [2.0, 60.0, 400.0])
def test_the_stack_is_that_of_other_formulas(nm: float) -> None:
    # tests.scenes: Fresnel coefficients from normal components of the wave vector, no code of ours.
    film, bed = scenes.film_of("protein"), scenes.mean_substrate(scenes.Scene("protein", ("polylactide",)))
    coated = scenes.reflection_absorbance(bed, film, nm, 0.8)
    expected = coated - scenes.reflection_absorbance(bed, contact=0.8)
    nothing = np.zeros(POINTS.size, dtype=complex)
    found = exact().change(nm, NO_Z, nothing)
    np.testing.assert_allclose(found, on_points(expected), atol=1e-6 * np.abs(expected).max())


def test_the_stack_is_that_of_a_public_thin_film_package() -> None:
    tmm = pytest.importorskip("tmm")
    i = int(np.argmin(np.abs(POINTS - 1650)))

    def absorbance(layers: list[complex], depths: list[float]) -> float:
        light = 1e7 / POINTS[i]
        return -np.log10(
            np.mean([tmm.coh_tmm(p, [2.4, *layers], depths, np.pi / 4, light)["R"] for p in "sp"])
        )

    film, bed = np.sqrt(FILM[i]), np.sqrt(BED[i])
    expected = absorbance([film, bed], [np.inf, 80.0, np.inf]) - absorbance([bed], [np.inf, np.inf])
    found = exact(1.0).change(80.0, NO_Z, np.zeros(POINTS.size, dtype=complex))[i]
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("nm", [5.0, 150.0])
def test_a_change_of_the_films_function_goes_through_the_gain(nm: float) -> None:
    # A = A0 + Re(g d): both parts of g, for a real, an imaginary and a mixed change.
    one, nothing = exact(), np.zeros(POINTS.size, dtype=complex)
    gain = one.linear(nm, NO_Z, nothing, np.zeros((0, POINTS.size), dtype=complex)).gain
    for step in (1e-4, 1e-4j, 1e-4 * np.exp(0.7j)):
        ends = [one.change(nm, NO_Z, nothing + s * step) for s in (1.0, -1.0)]
        numeric = (ends[0] - ends[1]) / 2.0
        np.testing.assert_allclose((gain * step).real, numeric, atol=2e-3 * np.abs(gain).max() * 1e-4)


def test_a_film_that_absorbs_nothing_has_no_part_of_its_own_but_weakens_the_substrate() -> None:
    clear = StackResponse(
        POINTS, GEOMETRY, np.full(POINTS.size, 1.5 + 0j), STILL, np.sqrt(BED), STILL, (0.8, 0.8)
    )
    nothing = np.zeros(POINTS.size, dtype=complex)
    np.testing.assert_allclose(clear.own(200.0, NO_Z, nothing), 0.0, atol=1e-12)
    strong = int(np.argmin(np.abs(POINTS - 1750)))
    assert clear.change(200.0, NO_Z, nothing)[strong] < -0.01
    own = exact().own(50.0, NO_Z, nothing)
    band = (POINTS > 1500) & (POINTS < 1700)
    assert own[band].min() > 0.0


def test_lines_go_through_the_solved_cases_and_on() -> None:
    rows = np.array([[-2.0 + 0j], [0.0], [1.0], [5.0]])
    moves = Moves(("contact",), (np.array([-1.0, 0.0, 0.5, 1.0]),), (rows,))
    found = [
        complex(moves.shift(np.array([z]))[0]).real for z in (-1.0, -0.5, 0.0, 0.25, 0.5, 1.0, 1.6, -1.2)
    ]
    assert found == pytest.approx([-2.0, -1.0, 0.0, 0.5, 1.0, 5.0, 9.8, -2.4])
    assert [complex(moves.slope(0, np.array([z]))[0]).real for z in (-0.7, 0.3, 0.9)] == pytest.approx(
        [2.0, 2.0, 8.0]
    )


def slopes_of(response, amount: float, z: np.ndarray, extra: np.ndarray, size: float = 1e-3):
    """Central differences of the exact response: with the logarithm of the amount, then each unknown."""
    ends = [response.change(amount * np.exp(s * size), z, extra) for s in (1.0, -1.0)]
    rows = [(ends[0] - ends[1]) / (2.0 * size)]
    for i in range(z.size):
        step = np.zeros(z.size)
        step[i] = size
        rows.append(
            (response.change(amount, z + step, extra) - response.change(amount, z - step, extra))
            / (2.0 * size)
        )
    return rows


@pytest.mark.parametrize("nm", [8.0, 120.0])
def test_every_slope_of_a_learned_stack_is_that_of_the_exact_response(nm: float) -> None:
    response = film_model().response
    u = len(response.unknowns)
    assert u >= 4
    assert {name.split(" ")[0] for name in response.unknowns} == {"coating", "substrate"}
    # Off the solved cases, where straight lines have corners.
    z = np.array([0.31, -0.22, 0.17, 0.42, -0.35, 0.13, 0.27, -0.18])[:u]
    nothing = np.zeros(response.points.size, dtype=complex)
    linear = response.linear(nm, z, nothing, np.zeros((u, response.points.size), dtype=complex))
    np.testing.assert_allclose(linear.change, response.change(nm, z, nothing), atol=1e-14)
    for name, found, numeric in zip(
        ("log amount", *response.unknowns),
        (linear.log_slope, *linear.slopes),
        slopes_of(response, nm, z, nothing),
        strict=True,
    ):
        np.testing.assert_allclose(found, numeric, atol=5e-3 * np.abs(numeric).max(), err_msg=name)


def test_an_index_that_nobody_stated_has_more_room() -> None:
    response = film_model().response
    room = dict(zip(response.unknowns, response.room, strict=True))
    assert all((size > 1.0) == name.endswith("n_inf") for name, size in room.items())
    assert response.bounds[0] == LEAST > 0.0


@pytest.mark.parametrize("by_depth", [True, False])
def test_a_neat_spectrum_is_scaled_and_its_slopes_are_exact(by_depth: bool) -> None:
    neat = on_points(scenes.reflection_absorbance(scenes.film_of("protein")))
    response = NeatResponse(POINTS, neat, by_depth)
    u = len(response.unknowns)
    assert u == by_depth
    z, extra = np.full(u, 0.2), 0.01 * np.exp(-(((POINTS - 1650) / 30) ** 2)) + 0j
    np.testing.assert_allclose(
        response.change(0.6, z, extra), 3.0 * response.change(0.2, z, extra), rtol=1e-12
    )
    linear = response.linear(0.3, z, extra, np.zeros((u, POINTS.size), dtype=complex))
    for found, numeric in zip(
        (linear.log_slope, *linear.slopes), slopes_of(response, 0.3, z, extra), strict=True
    ):
        np.testing.assert_allclose(found, numeric, rtol=1e-4, atol=1e-9)
    more = response.change(0.3, z, extra + 0.001) - response.change(0.3, z, extra)
    np.testing.assert_allclose(more, (linear.gain * 0.001).real, rtol=1e-6)


def test_the_depth_of_light_lies_between_none_and_all_of_it() -> None:
    # Depth of penetration goes with the wavelength (Harrick, Internal Reflection Spectroscopy, 1967): a
    # neat spectrum holds it and a very thin film does not; their ratio grows with nu at most linearly.
    response = NeatResponse(POINTS, np.ones(POINTS.size), by_depth=True)
    nothing = np.zeros(POINTS.size, dtype=complex)
    none, all_ = (response.change(1.0, np.array([z]), nothing) for z in (-1.0, 1.0))
    np.testing.assert_allclose(none, 1.0)
    np.testing.assert_allclose(all_ / all_[0], POINTS / POINTS[0])


def test_responses_can_be_sent_to_another_process() -> None:
    nothing = np.zeros(POINTS.size, dtype=complex)
    one = pickle.loads(pickle.dumps(exact()))
    np.testing.assert_array_equal(one.change(20.0, NO_Z, nothing), exact().change(20.0, NO_Z, nothing))
