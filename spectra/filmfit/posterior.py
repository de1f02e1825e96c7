"""The joint posterior of one sample: amount, optics and every band, linearised where it stands.

    whitened difference = change(log amount, unknowns, bands) + tolerated + contact + noise

Every unknown has its prior: the optical ones an even one, treated as a Gaussian of the same variance and kept
inside its ends; each band a spike (what an unchanged band may differ by) or, where it is flagged as moved or
of another strength, a slab. The tolerated parts of the substrate and the contact response are linear and
solved for anew at each step. Gauss-Newton on the exact response; two to four steps.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from spectra.filmfit.model import FilmModel
from spectra.filmfit.state import State
from spectra.optics.fresnel import ComplexArray
from spectra.spectrum import Frozen
from spectra.units import FloatArray
from spectra.variation.nuisances import contact_response

EVEN = np.sqrt(1.0 / 3.0)  # standard deviation of an even prior from -1 to 1
FREE_PLACE, FREE_STRENGTH = 60.0, 3.0  # a band without its prior
START_AMOUNT = 10.0  # standard deviation of the logarithm of the amount: flat
BROAD_PLACE, BROAD_STRENGTH, BROAD_WIDTH = 0.05, 0.2, 0.1  # more room for bands that are not judged
LEAST_DAMPING, MORE, LESS = 0.03, 8.0, 5.0  # of a step that did not gain, and how it grows and falls
WEAKEST, STRONGEST = 0.3, 3.0  # how far optics may change a band's strength


@dataclass(frozen=True, eq=False)
class Target(Frozen):
    """One sample against one film model.

    Attributes
    ----------
    model : FilmModel
    difference : ndarray, shape (r,), absorbance
        Mean of the sample minus mean of the bare set.
    cleared : ndarray, shape (r,)
        The same whitened and clear of what is held, in units of its standard deviation.
    scale : float
        That standard deviation, in units of one unit's.
    freedom : float
        Share of their priors' width that the optical unknowns are given: less than one while the bands are
        sought, or they would be bent to stand in for bands that moved.
    new : tuple of ndarray, each shape (r,)
        Bands found that are none of the coating's, whitened and in units of ``scale``; free.
    """

    model: FilmModel
    difference: FloatArray
    cleared: FloatArray
    scale: float
    freedom: float = 1.0
    new: tuple[FloatArray, ...] = ()

    def with_new(self, row: FloatArray) -> Target:
        """Return the same with one more band that is none of the coating's, in units of the scale."""
        return replace(self, new=(*self.new, row))

    def softened(self, signal: FloatArray) -> Target:
        """Return the same with the error of a computed film of this signal, absorbance, allowed for."""
        model = self.model.softened(signal, self.scale)
        cleared = model.ground.clear(self.difference[None])[0] / self.scale
        return replace(self, model=model, cleared=cleared)

    @cached_property
    def tolerated(self) -> FloatArray:
        """Rows that are fitted with a prior of one: the substrate's tolerances."""
        return np.asarray(self.model.ground.tolerated / self.scale)

    @cached_property
    def others(self) -> FloatArray:
        """Other coatings and bands that are none of the coating's, free."""
        return np.vstack([self.model.others / self.scale, *(row[None] for row in self.new)])


def set_target(model: FilmModel, mean: FloatArray, variance: float) -> Target:
    """Set a sample against a model.

    Parameters
    ----------
    model : FilmModel
    mean : ndarray, shape (r,), absorbance
        Mean of the sample's specimens on the model's points.
    variance : float
        Of that mean against the bare mean, in units of one unit's.
    """
    ground = model.ground
    scale = float(np.sqrt(variance * ground.inflation))
    difference = mean - ground.bare
    return Target(model, difference, ground.clear(difference[None])[0] / scale, scale)


@dataclass(frozen=True, eq=False)
class Fit(Frozen):
    """The linearised posterior at a state.

    Attributes
    ----------
    target : Target
    state : State
    change : ndarray, shape (r,), absorbance
        Coated minus bare.
    gain : ndarray, shape (r,), complex
    rest : ndarray, shape (r,)
        Residual with the bands where they stand, before the linear parts are taken off.
    rows : ndarray, shape (q, r)
        Slopes of all unknowns: amount, optics, shifts, heights, widths; tolerances, others, contact.
    """

    target: Target
    state: State
    change: FloatArray
    gain: ComplexArray
    rest: FloatArray
    rows: FloatArray

    @property
    def numbers(self) -> int:
        """How many of the rows are numbers of the state."""
        return int(self.state.vector.size)

    def row_of(self, band: int) -> list[int]:
        """Rows of shift, height and width of one band."""
        first, b = 1 + self.state.z.size, self.state.shift.size
        return [first + band, first + b + band, first + 2 * b + band]

    @property
    def other_rows(self) -> range:
        """Rows of what is none of the coating's: other coatings, residues, new bands."""
        last = len(self.rows) - 1  # the contact response
        return range(last - len(self.target.others), last)

    @cached_property
    def normal(self) -> FloatArray:
        """Rows times rows."""
        return np.asarray(self.rows @ self.rows.T)

    @cached_property
    def products(self) -> FloatArray:
        """Rows times residual."""
        return np.asarray(self.rows @ self.rest)

    @cached_property
    def prior(self) -> tuple[FloatArray, FloatArray]:
        """Centres and standard deviations of all unknowns."""
        return prior_of(self.target, self.state)

    @cached_property
    def covariance(self) -> FloatArray:
        """Of all unknowns under their priors, the residual's noise counted as one."""
        return np.asarray(np.linalg.inv(self.normal + np.diag(self.prior[1] ** -2.0)))

    @property
    def values(self) -> FloatArray:
        """Where all unknowns stand; the linear ones at zero."""
        return np.concatenate([self.state.vector, np.zeros(len(self.rows) - self.numbers)])

    @cached_property
    def left(self) -> FloatArray:
        """Residual after the linear parts, shape (r,)."""
        n = self.numbers
        return np.asarray(self.rest - self._linear @ self.rows[n:])

    @cached_property
    def plain_left(self) -> FloatArray:
        """The same in the metric of bare spots, without the computed film's error, shape (r,)."""
        return np.asarray(self.target.model.ground.hardened(self.left[None])[0])

    @cached_property
    def _linear(self) -> FloatArray:
        n, (_, sd) = self.numbers, self.prior
        inner = self.normal[n:, n:] + np.diag(1.0 / sd[n:] ** 2)
        return np.asarray(np.linalg.solve(inner, self.products[n:]))

    @cached_property
    def chi_square(self) -> float:
        """Squared residual a degree of freedom."""
        return float(self.left @ self.left) / max(self.left.size - self.numbers / 2, 1.0)

    def total(self, noise: float = 1.0) -> float:
        """Return -2 log posterior, the flags' costs included, with the residual in units of ``noise``."""
        n, (centre, sd) = self.numbers, self.prior
        settings, state = self.target.model.settings, self.state
        pull = ((state.vector - centre[:n]) / sd[:n])[1:]
        cost = settings.place_cost * state.moved.sum() + settings.strength_cost * state.resized.sum()
        cost = cost * self.target.model.ground.caution
        linear = float((self._linear**2) @ (1.0 / sd[n:] ** 2))
        return float(self.left @ self.left) / noise + linear + float(pull @ pull) + float(cost)

    @property
    def growth(self) -> float:
        """Factor on variances for what the fit leaves over: a misfit of optics goes one way over points."""
        settings, ground = self.target.model.settings, self.target.model.ground
        return 1.0 + settings.coherent / ground.step * max(0.0, self.chi_square - settings.good)

    def misfit_at(self, band: int) -> float:
        """Factor on the variances of one band: what is left over there or, if more, over all."""
        weights = self.rows[self.row_of(band)[1]] ** 2
        local = float(weights @ self.left**2) / max(float(weights.sum()), 1e-300)
        return max(1.0, self.growth, local)


def prior_of(target: Target, state: State) -> tuple[FloatArray, FloatArray]:
    """Centres and standard deviations of all unknowns, in the order of a fit's rows."""
    model = target.model
    s, broad, widths = model.settings, ~model.judged, model.bands.widths
    place = np.where(
        state.moved, FREE_PLACE, np.hypot(s.place, model.place_error) + BROAD_PLACE * widths * broad
    )
    strength = np.where(state.resized, s.loose_strength, s.strength + BROAD_STRENGTH * broad)
    width = np.where(state.moved | state.resized, s.loose_width, s.width + BROAD_WIDTH * broad)
    linear = np.concatenate([np.ones(len(target.tolerated)), np.full(len(target.others), 1e3), [1.0]])
    sd = np.concatenate(
        [[START_AMOUNT], EVEN * target.freedom * model.response.room, place, strength, width, linear]
    )
    b, u = state.shift.size, state.z.size
    centre = np.concatenate([np.zeros(1 + u + b), np.ones(b), np.zeros(b), np.zeros(linear.size)])
    centre[0] = state.log_amount
    return centre, sd


def linearise(target: Target, state: State) -> Fit:
    """Linearise the posterior at a state."""
    model, z = target.model, state.z
    strengths = band_strengths(model, z)
    there, moved, wider = _bands_at(model, state)
    edits = state.height[:, None] * there - model.templates.still
    rates = _strength_slopes(model, z, strengths) @ edits
    linear = model.response.linear(float(np.exp(state.log_amount)), z, strengths @ edits, rates)
    gain = strengths[:, None] * linear.gain
    heights = (gain * there).real
    places, widths = ((state.height[:, None] * gain * slope).real for slope in (moved, wider))
    touch = contact_response(model.ground.bare + linear.change)
    rows = np.vstack([linear.change, linear.log_slope, linear.slopes, places, heights, widths, touch])
    white = model.ground.clear(rows) / target.scale
    every = np.vstack([white[1:-1], target.tolerated, target.others, white[-1:]])
    return Fit(target, state, linear.change, linear.gain, target.cleared - white[0], every)


def film_extra(model: FilmModel, state: State) -> ComplexArray:
    """Return what the bands add to the film's function by not standing at their places, shape (r,)."""
    return np.asarray(band_strengths(model, state.z) @ _edits(model, state))


def own_signal(fit: Fit) -> FloatArray:
    """Return what the coating itself contributes, without the weakening of the substrate, absorbance."""
    model, state = fit.target.model, fit.state
    return model.response.own(float(np.exp(state.log_amount)), state.z, film_extra(model, state))


def computed_signal(fit: Fit) -> FloatArray:
    """Return the size of what is computed: coating and weakening of the substrate, absorbance, shape (r,)."""
    own = own_signal(fit)
    return np.asarray(np.hypot(own, fit.change - own))


def band_strengths(model: FilmModel, z: FloatArray) -> FloatArray:
    """How strong each band is at these optics, against those its template was made at, shape (b,)."""
    now = model.absorption(model.response.function(z))
    return np.asarray(np.clip(now / np.maximum(model.base_absorption, 1e-9), WEAKEST, STRONGEST))


def _strength_slopes(model: FilmModel, z: FloatArray, strengths: FloatArray) -> FloatArray:
    """How the strengths change with each optical unknown, shape (u, b)."""
    slopes = model.absorption(model.response.function_slopes(z)) / np.maximum(model.base_absorption, 1e-9)
    return np.asarray(slopes * ((strengths > WEAKEST) & (strengths < STRONGEST)))


def _bands_at(model: FilmModel, state: State) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Every band where it stands, and its slopes with place and width, each shape (b, r)."""
    rows = [
        model.templates.with_slopes(b, float(state.shift[b]), float(state.widening[b]))
        for b in range(len(model.bands))
    ]
    shape = (3, len(rows), model.templates.points.size)
    there, moved, wider = np.reshape(
        np.array(rows, dtype=np.complex128).swapaxes(0, 1) if rows else [], shape
    )
    return there, moved, wider


def _edits(model: FilmModel, state: State) -> ComplexArray:
    """Return what each band adds to the film's function by not standing at its place, shape (b, r)."""
    return np.asarray(state.height[:, None] * _bands_at(model, state)[0] - model.templates.still)


def polish(target: Target, state: State, rounds: int = 6, enough: float = 0.1) -> Fit:
    """Go towards the mode from a state: damped Gauss-Newton, kept inside the priors' ends.

    A step that does not gain is tried shorter (Marquardt, J. Soc. Ind. Appl. Math. 11, 431, 1963,
    doi:10.1137/0111030): a strong absorber's spectrum bends with contact and index, and full steps go astray.
    """
    fit, damping = linearise(target, state), 0.0
    for _ in range(rounds):
        centre, sd = fit.prior
        slope = fit.products - (fit.values - centre) / sd**2
        curvature = fit.normal + np.diag(sd**-2.0)
        numbers = np.arange(fit.numbers)
        curvature[numbers, numbers] *= 1.0 + damping
        step: FloatArray = np.asarray(np.linalg.solve(curvature, slope))
        if float(step @ slope) < enough:
            return fit
        tried = linearise(target, _stepped(target.model, fit.state, step[: fit.numbers]))
        if tried.total() < fit.total():
            fit, damping = tried, (damping / LESS if damping > LEAST_DAMPING else 0.0)
        else:
            damping = max(damping * MORE, LEAST_DAMPING)
    return fit


def _stepped(model: FilmModel, state: State, step: FloatArray) -> State:
    """Take a step, limited."""
    old = state.vector
    move = np.concatenate([np.clip(step[:1], -1.0, 1.0), step[1:]])
    new = state.at(old + move)
    limit, reach = np.maximum(0.35 * model.bands.widths, 3.0), model.settings.reach
    least, most = np.log(model.response.bounds)
    return replace(
        new,
        log_amount=float(np.clip(new.log_amount, least, most)),
        z=np.clip(new.z, -model.response.room, model.response.room),
        shift=np.clip(
            new.shift, np.maximum(state.shift - limit, -reach), np.minimum(state.shift + limit, reach)
        ),
        height=np.clip(new.height, 0.0, 3.0),
        widening=np.clip(new.widening, -0.5, 0.5),
    )
