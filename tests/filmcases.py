"""Film models of simulated studies, learned once for all tests, and samples whose truth is exact."""

from __future__ import annotations

from functools import cache

import numpy as np

from spectra.filmfit.model import FilmModel
from spectra.filmfit.posterior import Target, film_extra, set_target
from spectra.filmfit.state import State
from spectra.verification.model import BARE, StudyModel, learn_study
from spectra.verification.preparation import level
from tests.scenes import PAIRS, Scene, neat_spots, spots
from tests.studyspeed import stack, study

PAIR = "protein on polylactide"
BARE_SPOTS, COATED_SPOTS = 6, 4


@cache
def learned(pair: str = PAIR, geometry: bool = True) -> StudyModel:
    """Learn a study of a pair; without its geometry if not told."""
    rng, scene = np.random.default_rng(31), scene_of(pair)
    bare, neat = stack(spots(scene, rng, BARE_SPOTS)), stack(neat_spots(scene, rng))
    one = study()
    if not geometry:
        from dataclasses import replace

        from spectra.groups import Instrument

        one = replace(one, instrument=Instrument())
    stages, _ = level({BARE: bare, ("neat", "film"): neat}, one.settings)
    return learn_study(one, stages)


def scene_of(pair: str = PAIR) -> Scene:
    """Return the scene of a pair."""
    return Scene(*PAIRS[pair], composition=0.03)


def film_model(pair: str = PAIR, geometry: bool = True) -> FilmModel:
    """Return the film model of a pair."""
    return learned(pair, geometry).films["film", "ATR"]


def at_rest(model: FilmModel, amount: float) -> State:
    """State of a film whose bands stand at their places, at the middle of all optical priors."""
    b, u = len(model.bands), len(model.response.unknowns)
    no = np.zeros(b, dtype=bool)
    return State(float(np.log(amount)), np.zeros(u), np.zeros(b), np.ones(b), np.zeros(b), no, no)


def exact_change(model: FilmModel, state: State) -> np.ndarray:
    """Coated minus bare at a state, by the response itself."""
    return model.response.change(float(np.exp(state.log_amount)), state.z, film_extra(model, state))


def exact_target(model: FilmModel, state: State, spots_each: int = COATED_SPOTS) -> Target:
    """A sample that is exactly what a state says, with the variance of so many spots."""
    variance = 1.0 / spots_each + 1.0 / BARE_SPOTS
    return set_target(model, model.ground.bare + exact_change(model, state), variance)


def nearest(model: FilmModel, position: float) -> int:
    """Number of the band nearest to a place."""
    return int(np.argmin(np.abs(model.bands.positions - position)))


def changed(state: State, band: int, **values: float | bool) -> State:
    """The state with one band's numbers or flags replaced."""
    from dataclasses import replace

    arrays = {}
    for name, value in values.items():
        array = getattr(state, name).copy()
        array[band] = value
        arrays[name] = array
    return replace(state, **arrays)
