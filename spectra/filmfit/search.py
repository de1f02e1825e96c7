"""What became of each band: flags set and taken back, one at a time, while the posterior gains.

For each band a bank of the band at every shift within reach and three widths is tried with all other unknowns
fitted along under their priors. The change that pays most for its cost is set, the fit polished, and kept if
the posterior gains; then flags that no longer pay are taken back. A band whose loss would not show cannot be
flagged: it would explain what the substrate leaves over.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from spectra.filmfit.bank import WIDTHS, Others, bank, new_bands
from spectra.filmfit.estimates import free_band, visible
from spectra.filmfit.model import FilmModel
from spectra.filmfit.posterior import Fit, Target, computed_signal, linearise, polish
from spectra.filmfit.state import State
from spectra.optics.fresnel import ComplexArray
from spectra.optics.material import BoolArray
from spectra.units import FloatArray
from spectra.variation.nuisances import contact_response
from spectra.variation.subspace import orthonormal, project_out

FEWER = 3  # steps to the mode while flags are tried; the last fit takes all it needs
FEW = 4  # changes after which a fit far from the noise is given up
INDEX, INDEX_STARTS = "coating n_inf", (-1.5, 0.0, 1.5)  # in half-widths of the prior
BEGUN, COME = 4, 16  # steps from every index, and from the best of them
COMMON = 4.0  # cm-1 from which a common shift of all bands is tried as a start of its own
HELD = 0.15  # share of their freedom that the optical unknowns have while bands are sought
CLEARLY = 20.0  # in -2 log likelihood: how much better the common shift must start
AnyArray = TypeVar("AnyArray", FloatArray, BoolArray)  # a new name only for the type checker


@dataclass(frozen=True)
class Change:
    """A change of one band that pays.

    Attributes
    ----------
    gain : float
        In -2 log posterior, after its cost.
    band : int
    kind : str
        ``moved``, ``resized``, or ``both``.
    shift, height, widening : float or None
        Where to start; None to stay where the band stands.
    """

    gain: float
    band: int
    kind: str
    shift: float | None = None
    height: float | None = None
    widening: float | None = None


def find_fates(target: Target) -> Fit:
    """Fit a sample from every start that deserves it, and return the most probable end."""
    starts = _starts(target)
    near = target.softened(computed_signal(linearise(target, starts[0])))
    begun = [_begin(near, start) for start in starts]
    first = min(begun, key=lambda fit: fit.total())
    target = target.softened(computed_signal(first))
    fits = [_settle(target, fit.state) for fit in begun]
    noise = max(1.0, min(fit.chi_square for fit in fits))
    return min(fits, key=lambda fit: fit.total(noise))


def _begin(target: Target, start: State) -> Fit:
    """Try several indices of the coating and go on from the best: contact can stand for index."""
    names = target.model.response.unknowns
    places = INDEX_STARTS if INDEX in names else (0.0,)
    fits = []
    for place in places:
        z = start.z.copy()
        if INDEX in names:
            z[names.index(INDEX)] = place
        fits.append(polish(target, replace(start, z=z), BEGUN))
    return polish(target, min(fits, key=lambda fit: fit.total()).state, COME)


def _starts(target: Target) -> list[State]:
    """Start from the unchanged film at the knots and, if clearly better, from all bands moved alike."""
    found = _common_shifts(target)
    plain = max((row for row in found if row[1] == 0.0), default=None)
    best = max(found, default=None)
    chosen = [plain] if plain is not None else []
    if best is not None and abs(best[1]) >= COMMON and (plain is None or best[0] > plain[0] + CLEARLY):
        chosen.append(best)
    model = target.model
    middle = float(np.log(model.response.knots[0]))
    return [_state(model, log_amount, shift) for _, shift, log_amount in chosen] or [
        _state(model, middle, 0.0)
    ]


def _state(model: FilmModel, log_amount: float, shift: float) -> State:
    """All bands moved alike."""
    b, u = len(model.bands), len(model.response.unknowns)
    moved = np.full(b, shift != 0.0) & model.judged
    none = np.zeros(b, dtype=bool)
    return State(log_amount, np.zeros(u), np.where(moved, shift, 0.0), np.ones(b), np.zeros(b), moved, none)


def _common_shifts(target: Target) -> list[tuple[float, float, float]]:
    """Gain, shift and log amount of every common shift with a positive amount, at every knot."""
    model = target.model
    touch = model.ground.clear(contact_response(model.ground.bare)[None])
    beside = orthonormal(np.vstack([target.tolerated, target.others, touch]))
    sample = project_out(beside, target.cleared[None])[0]
    found, shifts, u = [], model.shifts, len(model.response.unknowns)
    zero = int(np.argmin(np.abs(shifts)))
    together = _together(model)
    nothing, rates = np.zeros_like(together[0]), np.zeros((u, together.shape[1]), dtype=np.complex128)
    for amount in model.response.knots:
        film = model.response.linear(amount, np.zeros(u), nothing, rates)
        curves = film.change + (film.gain * together).real
        rows = project_out(beside, model.ground.clear(curves) / target.scale)
        squares = np.maximum((rows**2).sum(axis=1), 1e-300)
        share = (rows @ sample) / squares
        for j in np.flatnonzero(share > 0):
            # A share far from one contradicts the knot: another knot speaks for it. A linear response agrees.
            doubt = 4.0 * np.log(share[j]) ** 2 if model.source is not None else 0.0
            shift = 0.0 if j == zero else float(shifts[j])
            moved = np.log(amount * (np.clip(share[j], 0.2, 5.0) if model.source is not None else share[j]))
            found.append((float(share[j] ** 2 * squares[j] - doubt), shift, float(moved)))
    return found


def _together(model: FilmModel) -> ComplexArray:
    """Return what all judged bands add to the film's function by a common shift, shape (shifts, r)."""
    judged = np.flatnonzero(model.judged)
    rows = [
        sum(
            (model.templates.at(int(b), shift, 0.0) - model.templates.still[b] for b in judged),
            0j,
        )
        for shift in model.shifts
    ]
    return np.array([row + np.zeros(model.templates.points.size, dtype=np.complex128) for row in rows])


def _settle(target: Target, start: State) -> Fit:
    """Fit from one start: flags first with the optics held, then with them free; bands divided anew."""
    fit = polish(target, start)
    if fit.chi_square > target.model.settings.bent:
        held = replace(target, freedom=HELD)
        fit = _flag(polish(held, start), start)
        fit = polish(replace(fit.target, freedom=1.0), fit.state)
    fit = _cleared(_flag(_divided_anew(fit), start))
    return _divided_anew(fit)


def _divided_anew(fit: Fit) -> Fit:
    """Divide the bands at the optics found, and polish."""
    target = replace(fit.target, model=fit.target.model.rebased(fit.state.z))
    return polish(target, fit.state)


def _flag(fit: Fit, start: State) -> Fit:
    """Set flags one at a time while the posterior gains, and take back those that no longer pay.

    A band that is none of the coating's is fitted along where it pays more than any change of the coating's
    own: an oxidation product or a residue would else bend optics and bands.
    """
    settings = fit.target.model.settings
    movable = fit.target.model.judged & (visible(fit) | fit.state.moved | start.moved)
    refused: set[tuple[int, str]] = set()
    for turn in range(settings.flags):
        if turn == FEW and fit.chi_square > settings.hopeless:
            break
        changes = [
            change
            for band in np.flatnonzero(movable & ~(fit.state.moved & fit.state.resized))
            for change in _changes(fit, int(band))
            if change.gain > 0 and (change.band, change.kind) not in refused
        ]
        new = _new_band(fit) if len(fit.target.new) < settings.new_most else None
        best = max(changes, key=lambda change: change.gain, default=None)
        if new is not None and (best is None or new[0] > best.gain):
            fit = _without_new(polish(fit.target.with_new(new[1]), fit.state, FEWER))
            continue
        if best is None:
            break
        tried = polish(fit.target, _flagged(fit.state, best), FEWER)
        noise = max(1.0, tried.chi_square)
        if tried.total(noise) < fit.total(noise) - 1e-6:
            fit = _cleared(tried)
        else:
            refused.add((best.band, best.kind))
    return fit


def _new_band(fit: Fit) -> tuple[float, FloatArray] | None:
    """Find the band that is none of the coating's and gains most, with its row; None if none pays."""
    model, settings = fit.target.model, fit.target.model.settings
    rows = new_bands(model) / fit.target.scale
    others = Others(fit, None)
    products, squares = others.ask(rows)
    gain = np.where(products > 0.0, products**2 / squares, 0.0)
    best = int(np.argmax(gain))
    worth = gain[best] / others.doubt(rows[best]) / max(1.0, fit.chi_square)
    worth -= settings.new_cost * model.ground.caution
    return (float(worth), rows[best]) if worth > 0.0 else None


def _flagged(state: State, change: Change) -> State:
    """Set a band's flags and start it where the search found it."""
    b = change.band
    return replace(
        state,
        shift=_with(state.shift, b, change.shift),
        height=_with(state.height, b, change.height),
        widening=_with(state.widening, b, change.widening),
        moved=_with(state.moved, b, change.kind in ("moved", "both") or None),
        resized=_with(state.resized, b, change.kind in ("resized", "both") or None),
    )


def _with(values: AnyArray, at: int, value: float | None) -> AnyArray:
    """Copy with one value replaced; None leaves it as it is."""
    copy = values.copy()
    if value is not None:
        copy[at] = value
    return copy


def _changes(fit: Fit, band: int) -> list[Change]:
    """Ways in which a band may have changed, each with what it gains."""
    settings, state = fit.target.model.settings, fit.state
    caution = fit.target.model.ground.caution
    found, covariance = free_band(fit, band, max(1.0, fit.chi_square))
    changes = _from_bank(fit, band)
    if not state.resized[band]:
        gain = (found[1] - 1.0) ** 2 / (
            covariance[1, 1] + settings.strength**2
        ) - settings.strength_cost * caution
        changes.append(Change(float(gain), band, "resized"))
    if not state.moved[band]:
        room = settings.place**2 + fit.target.model.place_error[band] ** 2
        gain = found[0] ** 2 / (covariance[0, 0] + room) - settings.place_cost * caution
        changes.append(Change(float(gain), band, "moved"))
    return changes


def _from_bank(fit: Fit, band: int) -> list[Change]:
    """Best place and width of the bank, once as strong as it was and once of another strength."""
    model, state = fit.target.model, fit.state
    settings, others = model.settings, Others(fit, band)
    knots = np.array(model.response.knots)
    knot = int(np.argmin(np.abs(np.log(knots) - state.log_amount)))
    rows = bank(model, knot)[band] * (np.exp(state.log_amount) / knots[knot]) / fit.target.scale
    products, squares = others.ask(rows)
    widths, shifts = np.repeat(WIDTHS, model.shifts.size), np.tile(model.shifts, WIDTHS.size)
    now = others.gain_now()
    changes = []
    for resized, sd in ((False, settings.strength), (True, settings.loose_strength)):
        height = np.maximum((products + sd**-2) / (squares + sd**-2), 0.0)
        gain = 2 * height * products - height**2 * squares - ((height - 1) / sd) ** 2
        gain = gain - (widths / settings.loose_width) ** 2
        j = int(np.argmax(gain))
        worth = (gain[j] - now) / others.doubt(rows[j]) / max(1.0, fit.chi_square)
        cost = settings.place_cost * (not state.moved[band])
        cost += settings.strength_cost * (resized and not state.resized[band])
        changes.append(
            Change(
                float(worth - cost * model.ground.caution), band, "both" if resized else "moved",
                float(shifts[j]) or None, float(min(height[j], 3.0)), float(widths[j]),
            )
        )  # fmt: skip
    return changes


def _without_new(fit: Fit) -> Fit:
    """Take out bands that are none of the coating's and no longer pay, the least telling first."""
    while fit.target.new:
        centre, sd = fit.prior
        covariance = np.linalg.inv(fit.normal + np.diag(sd**-2.0))
        found = covariance @ (fit.products - (fit.values - centre) / sd**2)
        rows = np.array(fit.other_rows[-len(fit.target.new) :])
        worth = np.maximum(found[rows], 0.0) ** 2 / np.diag(covariance)[rows] / max(1.0, fit.chi_square)
        least = int(np.argmin(worth))
        if worth[least] >= fit.target.model.settings.new_cost * fit.target.model.ground.caution:
            break
        kept = tuple(row for i, row in enumerate(fit.target.new) if i != least)
        fit = polish(replace(fit.target, new=kept), fit.state, FEWER)
    return fit


def _cleared(fit: Fit) -> Fit:
    """Take back what no longer pays: bands that are none of the coating's, and flags."""
    fit = _without_new(fit)
    settings = fit.target.model.settings
    for band in np.flatnonzero(fit.state.moved | fit.state.resized):
        for kind in ("moved", "resized"):
            if not getattr(fit.state, kind)[band]:
                continue
            found, covariance = free_band(fit, int(band), max(1.0, fit.chi_square))
            i, centre, sd, cost = (
                (
                    0,
                    0.0,
                    float(np.hypot(settings.place, fit.target.model.place_error[band])),
                    settings.place_cost,
                )
                if kind == "moved"
                else (1, 1.0, settings.strength, settings.strength_cost)
            )
            if (found[i] - centre) ** 2 / (
                covariance[i, i] + sd**2
            ) >= cost * fit.target.model.ground.caution:
                continue
            state = _unflagged(fit.state, kind, int(band))
            tried = polish(fit.target, state, FEWER)
            noise = max(1.0, fit.chi_square)
            if tried.total(noise) < fit.total(noise):
                fit = tried
    return fit


def _unflagged(state: State, kind: str, band: int) -> State:
    """Take one flag back; a band that is to stand at its place starts near it."""
    if kind == "resized":
        return replace(state, resized=_with(state.resized, band, False))
    near = float(np.clip(state.shift[band], -3.0, 3.0))
    return replace(state, moved=_with(state.moved, band, False), shift=_with(state.shift, band, near))
