"""The one account of a coating on a sample: how much, what became of every band, what it explains."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.filmfit.estimates import free_band
from spectra.filmfit.model import FilmModel, Ground
from spectra.filmfit.posterior import (
    Fit,
    Target,
    band_strengths,
    linearise,
    own_signal,
    set_target,
)
from spectra.filmfit.search import find_fates
from spectra.filmfit.state import unchanged
from spectra.filmfit.thickness import amount_quantiles
from spectra.spectrum import Frozen
from spectra.statistics import variance_ratio_exceedance
from spectra.units import FloatArray
from spectra.variation.nuisances import contact_response
from spectra.variation.subspace import orthonormal, project_out

INDEPENDENT = 8.0  # cm-1: points nearer than that share their scatter and count as one
DIVISION_ERROR = 0.1  # cm-1 that the division of the neat spectrum into bands leaves open
NEARLY = -0.97  # place of the contact in its range that counts as the range's end
PLAIN = 0.1  # of the tallest band, from which a band too broad to be judged is listed all the same
DIVISION_SHARE, BROAD_SHARE = 0.05, 0.2  # and of the shift itself; of a broad band's, beside its neighbours


@dataclass(frozen=True)
class BandFate:
    """What became of one band.

    Attributes
    ----------
    position, width : float, cm-1
        In the coating's own function (absorption index, or neat spectrum).
    expected : float, cm-1
        Where the band stands in this film if nothing changed.
    shift, shift_error : float, cm-1
        Found minus expected; the error holds what the division into bands leaves open.
    place_error : float, cm-1
        The same error without that: for the order of the evidence.
    ratio, ratio_error : float
        Height against the expected one.
    shift_reach, ratio_reach : float
        The same errors if nothing had changed: known before what became of the band is looked at.
    share : float
        Of the coating's expected band strength, over the bands narrow enough to be judged.
    strength : float
        Height in the coating's own function.
    narrow, moved, resized : bool
        Narrow enough to be judged; flagged as moved; flagged as of another strength.
    height : float, absorbance
        Of the expected band in the sample.
    own : float
        Share of the coating's absorption at its place that is not that of bands too broad to be judged.
    """

    position: float
    width: float
    expected: float
    shift: float
    shift_error: float
    place_error: float
    ratio: float
    ratio_error: float
    shift_reach: float
    ratio_reach: float
    share: float
    strength: float
    narrow: bool
    moved: bool
    resized: bool
    height: float
    own: float


@dataclass(frozen=True, eq=False)
class Account(Frozen):
    """One coating on one sample.

    Attributes
    ----------
    fit : Fit
        The joint fit at its mode.
    amount, low, high : float
        In nm where the stack is computed, else of the neat spectrum; middle and interval.
    explained : float
        Share of the sample's excess energy that the coating explains.
    bands : tuple of BandFate
        By rising wavenumber.
    degrees : float
        Of every band's errors.
    """

    fit: Fit
    amount: float
    low: float
    high: float
    explained: float
    bands: tuple[BandFate, ...]
    degrees: float

    @property
    def listed(self) -> tuple[BandFate, ...]:
        """Bands a table shows: all that are judged, and broad ones that are a plain part of the film."""
        tallest = max((band.height for band in self.bands), default=0.0)
        return tuple(band for band in self.bands if band.narrow or band.height >= PLAIN * tallest)

    @property
    def chi_square(self) -> float:
        """Squared residual a degree of freedom."""
        return self.fit.chi_square

    @property
    def strongest(self) -> float:
        """Greatest absorption index of the coating, at the optics found; 0 where it is not computed."""
        model, z = self.fit.target.model, self.fit.state.z
        return 0.0 if model.source is None else float(np.sqrt(model.response.function(z)).imag.max())

    @property
    def at_limit(self) -> bool:
        """Contact of the neat layer at the least that could give its spectrum, where constants run away."""
        model, z = self.fit.target.model, self.fit.state.z
        crossed = None if model.source is None else model.source.crossed
        if crossed is None or not crossed.raised:
            return False
        return bool(z[model.response.unknowns.index("coating contact")] < NEARLY)

    @property
    def mode(self) -> float:
        """Amount at the mode, to which the curves belong; ``amount`` is the posterior's middle."""
        return float(np.exp(self.fit.state.log_amount))

    @property
    def curve(self) -> FloatArray:
        """Coated minus bare as fitted, shape (r,), absorbance."""
        return self.fit.change

    @property
    def own(self) -> FloatArray:
        """The coating's own part of it, shape (r,), absorbance."""
        return own_signal(self.fit)

    @property
    def difference(self) -> FloatArray:
        """The sample minus bare, with contact, baseline, gases and tolerances taken off, shape (r,)."""
        ground = self.fit.target.model.ground
        return self.curve + ground.variation.factor @ (self.fit.plain_left * self.fit.target.scale)


@dataclass(frozen=True)
class Excess:
    """Energy of a sample beyond bare substrate, without any coating.

    Attributes
    ----------
    energy : float
        Squared whitened difference, the substrate's tolerances and contact taken off.
    degrees : float
    p_value : float
        Chance of as much on a bare specimen: F over left-out bare units.
    """

    energy: float
    degrees: float
    p_value: float


def measure_excess(ground: Ground, mean: FloatArray, variance: float) -> Excess:
    """Ask whether there is anything on the surface that bare specimens do not show.

    Parameters
    ----------
    ground : Ground
    mean : ndarray, shape (r,), absorbance
        Mean of the sample's specimens.
    variance : float
        Of that mean against the bare mean, in units of one unit's.
    """
    scale = np.sqrt(variance * ground.inflation)
    cleared = ground.clear((mean - ground.bare)[None]) / scale
    rest = _softened(cleared, ground, float(scale))
    degrees = rest.size - len(ground.held) - 1.0
    energy = float(rest @ rest)
    ratio = energy / degrees
    shared = max(INDEPENDENT / ground.step, 1.0)
    bare = 2.0 * ground.degrees
    return Excess(energy, degrees, float(variance_ratio_exceedance(ratio, degrees / shared, bare)))


def _softened(cleared: FloatArray, ground: Ground, scale: float) -> FloatArray:
    """Residual after contact, freely, and the substrate's tolerances, under their prior."""
    touch = orthonormal(ground.clear(contact_response(ground.bare)[None]))
    sample = project_out(touch, cleared)[0]
    rows = ground.tolerated / scale
    inner = rows @ rows.T + np.eye(len(rows))
    return np.asarray(sample - np.linalg.solve(inner, rows @ sample) @ rows)


def account_for(
    model: FilmModel,
    mean: FloatArray,
    variance: float,
    excess: Excess,
    scatter: tuple[float, float],
    level: float,
) -> Account:
    """Fit one coating to one sample and say what became of its bands.

    Parameters
    ----------
    model : FilmModel
    mean : ndarray, shape (r,), absorbance
    variance : float
        See :func:`measure_excess`.
    excess : Excess
        Of the same sample.
    scatter : (float, float)
        See :func:`amount_quantiles`.
    level : float
        Of the amount's interval.
    """
    target = set_target(model, mean, variance)
    fit = find_fates(target)
    low, middle, high = amount_quantiles(fit, scatter, level, model.settings.amount_wider)
    left = max(float(fit.plain_left @ fit.plain_left) - excess.degrees, 0.0)
    explained = 1.0 - left / max(excess.energy - excess.degrees, 1e-9)
    return Account(fit, middle, low, high, explained, _fates(fit), model.ground.degrees)


def _fates(fit: Fit) -> tuple[BandFate, ...]:
    """Every band, as found and as it could have been judged."""
    model, state = fit.target.model, fit.state
    plain = linearise(fit.target, unchanged(state))
    places, heights = expected_bands(plain)
    areas = heights * model.bands.widths * model.judged
    shares = areas / max(float(areas.sum()), 1e-300)
    own = _own_shares(model)
    fates = []
    for b in range(len(model.bands)):
        found, covariance = free_band(fit, b)
        _, before = free_band(plain, b, fit.growth)
        share = DIVISION_SHARE if model.judged[b] else BROAD_SHARE
        optics = DIVISION_ERROR**2 + (share * min(abs(found[0]), model.settings.reach)) ** 2
        fates.append(
            BandFate(
                float(model.bands.positions[b]), float(model.bands.widths[b]), float(places[b]),
                float(found[0]), float(np.sqrt(covariance[0, 0] + optics)), float(np.sqrt(covariance[0, 0])),
                float(found[1]), float(np.sqrt(covariance[1, 1])),
                float(np.sqrt(before[0, 0])), float(np.sqrt(before[1, 1])),
                float(shares[b]), float(model.bands.heights[b]), bool(model.judged[b]),
                bool(state.moved[b]), bool(state.resized[b]), float(heights[b]), float(own[b]),
            )
        )  # fmt: skip
    return tuple(fates)


def _own_shares(model: FilmModel) -> FloatArray:
    """Share of the absorption at each band's place that bands too broad to be judged leave, shape (b,)."""
    absorbed = np.maximum(model.absorption(model.templates.still), 0.0)
    broad = absorbed[~model.judged].sum(axis=0)
    return np.asarray(1.0 - broad / np.maximum(absorbed.sum(axis=0), 1e-300))


def expected_bands(plain: Fit) -> tuple[FloatArray, FloatArray]:
    """Place and height of every band in a film whose bands stand at their places, cm-1 and absorbance."""
    model = plain.target.model
    strengths = band_strengths(model, plain.state.z)
    points, places, heights = model.templates.points, [], []
    for b in range(len(model.bands)):
        curve = (plain.gain * strengths[b] * model.templates.still[b]).real
        near = np.abs(points - model.bands.positions[b]) <= max(model.bands.widths[b], 20.0)
        i = int(np.flatnonzero(near)[np.argmax(curve[near])]) if near.any() else int(np.argmax(curve))
        places.append(_vertex(points, curve, i))
        heights.append(max(float(curve[i]), 0.0))
    return np.array(places), np.array(heights)


def _vertex(points: FloatArray, curve: FloatArray, i: int) -> float:
    """Maximum of the parabola through a point and its neighbours."""
    if not 0 < i < points.size - 1:
        return float(points[i])
    left, here, right = curve[i - 1 : i + 2]
    bend = left - 2.0 * here + right
    if bend >= 0.0 or points[i + 1] - points[i] > 1.5 * (points[i] - points[i - 1]):
        return float(points[i])
    offset = 0.5 * (left - right) / bend
    return float(points[i] + np.clip(offset, -1.0, 1.0) * 0.5 * (points[i + 1] - points[i - 1]))


__all__ = ["Account", "BandFate", "Excess", "Target", "account_for", "measure_excess"]
