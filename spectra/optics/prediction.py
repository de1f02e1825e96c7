"""What unchanged chemistry looks like in the sample's own geometry, and how far optics may move a band.

Where crystal and angle are known, neat and bare spectra are turned into optical constants and the film on
the substrate is computed (``spectra.optics``): its spectrum is what is looked for, and its bands are where
they must appear. Where the geometry is not known, or the technique has no optical model, the neat spectrum
itself is looked for, like with like only, and the largest shift that optics could cause widens the margin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.findings import Reason
from spectra.groups import Group, Instrument
from spectra.optics.blend import own_part, top_near
from spectra.optics.expected import Expected, expected, optical_bound
from spectra.optics.film_response import FilmResponse, FilmTable, film_change, strength_error
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr, invert_transmission
from spectra.optics.material import Material, Unsolved
from spectra.optics.refractive_indices import inversion_settings
from spectra.optics.settings import InversionSettings, PredictionSettings
from spectra.optics.shape import Shape
from spectra.peaks.reference import Reference
from spectra.spectrum import Stack
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Prediction:
    """What is looked for on one sample.

    Attributes
    ----------
    grid : ndarray, shape (n,), cm-1
        Of every curve.
    shape : Shape
        For the joint model: change of the raw spectrum per unit amount.
    reference : Reference
        For the bands: the coating's own spectrum and the expected positions, in the limit of a thin film.
    optics : Expected or None
        None where no optical model was used.
    comparable
        Whether positions in the sample may be compared with the expected ones at all.
    optical_bounds : tuple of float, cm-1
        How far optics may move each band where they could not be computed; 0 where they were.
    note : Reason or None
        Why optics were not computed.
    table : FilmTable or None
        Constants and geometry that film and blend are computed from; None where they are not known.
    """

    grid: FloatArray
    shape: Shape
    reference: Reference
    optics: Expected | None
    comparable: bool
    optical_bounds: tuple[float, ...]
    note: Reason | None
    table: FilmTable | None = None

    @property
    def nm_per_amount(self) -> float | None:
        """Film thickness of one unit of amount; None without optics."""
        return self.shape.nm_per_amount

    @property
    def blended(self) -> FilmTable | None:
        """Constants a blend was computed from; None for a film and for a neat spectrum as it is."""
        return self.table if self.optics is None else None


def geometry_of(group: Group, instrument: Instrument) -> Geometry:
    """Return how a group was measured, as far as the study says."""
    return Geometry(
        technique=group.technique,
        crystal=instrument.crystal,
        index=instrument.index,
        angle_deg=instrument.angle_deg,
        reflections=instrument.reflections,
    )


@dataclass(frozen=True, eq=False)
class Recorded:
    """Spectra of one group and how they were recorded.

    Attributes
    ----------
    stack : Stack
        As measured, baselines removed; not normalised.
    group : Group
        Its technique, contact and material.
    instrument : Instrument
    """

    stack: Stack
    group: Group
    instrument: Instrument

    @property
    def geometry(self) -> Geometry:
        """How they were measured, as far as the study says."""
        return geometry_of(self.group, self.instrument)


def predict(
    neat: Recorded,
    reference: Reference,
    bare: Recorded,
    there: Geometry,
    settings: PredictionSettings,
    inversion: InversionSettings,
) -> Prediction:
    """Predict the spectrum of a coating on the substrate, in the sample's geometry.

    Parameters
    ----------
    neat, bare : Recorded
    reference : Reference
        Bands of the neat spectrum.
    there : Geometry
        Of the sample.
    settings : PredictionSettings
    inversion : InversionSettings
        Where a material is in the table of indices (``optics.indices``), its index replaces the setting.
    """
    if neat.group.layout == "mixed":
        stated = replace(neat, group=replace(neat.group, layout="film"))
        film = predict(stated, reference, bare, there, settings, inversion)
        return _blended(film, neat, reference, there, settings)
    techniques = (neat.group.technique, there.technique)
    if techniques == ("other", "other"):
        # It may have been ATR: then optics alone move bands by tens of cm-1.
        note = Reason("optics-technique-not-stated")
        return _without_optics(neat, reference, there, settings, note)
    if "ATR" not in techniques:
        return _like_with_like(neat, reference, there, settings, None)
    material = material_of(neat.stack, neat.group, neat.instrument, settings.neat_contact_low, inversion)
    if isinstance(material, Unsolved):
        return _without_optics(neat, reference, there, settings, _note(material))
    substrate = material_of(bare.stack, bare.group, bare.instrument, settings.bare_contact_low, inversion)
    bed = None if isinstance(substrate, Unsolved) else substrate
    contact = float(np.mean(bed.contact)) if bed is not None and there.technique == "ATR" else 1.0
    optics = expected(material, bed, there, *_places_and_widths(reference), contact=contact)
    if isinstance(optics, Unsolved):
        return _without_optics(neat, reference, there, settings, _note(optics))
    response = film_change(neat.stack.grid, material, bed, there, contact)
    return _with_optics(neat.stack, reference, optics, response, strength_error(optics, bed), settings)


def _places_and_widths(reference: Reference) -> tuple[FloatArray, FloatArray]:
    """Return position and width of every band of the neat spectrum, cm-1."""
    peaks = reference.peaks
    return np.array([peak.position for peak in peaks]), np.array([peak.width for peak in peaks])


def _blended(
    film: Prediction, neat: Recorded, reference: Reference, there: Geometry, settings: PredictionSettings
) -> Prediction:
    """Look for the coating's spectrum in the bulk of the material, by its share.

    By optics where the film's were computed; else the neat spectrum as it is.
    """
    plain = _like_with_like(neat, reference, there, settings, None)
    table = film.table
    if table is None or film.optics is None or there.technique != "ATR":
        return plain
    own = own_part(table)
    places = tuple(top_near(film.grid, own, peak.position, peak.width) for peak in reference.peaks)
    errors = tuple(float(e) for e in np.nan_to_num(film.optics.thin_error, nan=0.0))
    return replace(
        plain,
        shape=Shape(own, contact_error=film.shape.contact_error, tolerance=settings.tolerance_computed),
        reference=Reference(own, reference.peaks, places, errors),
        optical_bounds=errors,
        comparable=film.comparable,
        table=table,
    )


def material_of(
    stack: Stack, group: Group, instrument: Instrument, lowest: float, inversion: InversionSettings
) -> Material | Unsolved:
    """Return the optical constants behind a group's mean spectrum."""
    known = inversion_settings(group.material, inversion)
    if group.technique == "transmission":
        return invert_transmission(stack.grid, stack.mean, settings=known, usable=stack.usable)
    contact = (lowest, 1.0) if group.contact is None else (group.contact, group.contact)
    geometry = geometry_of(group, instrument)
    return invert_atr(stack.grid, stack.mean, geometry, contact, known, stack.usable)


def _with_optics(
    neat: Stack,
    reference: Reference,
    optics: Expected,
    response: FilmResponse,
    contact_error: float,
    settings: PredictionSettings,
) -> Prediction:
    """Put the computed film in units of the neat spectrum."""
    own = np.interp(neat.grid, optics.wavenumbers, optics.shape)
    growth = np.interp(neat.grid, optics.wavenumbers, optics.growth)
    usable = neat.usable
    nm = float(own[usable] @ neat.mean[usable] / (own[usable] @ own[usable]))
    shape = Shape(
        curve=growth * nm,
        nm_per_amount=nm,
        response=response,
        contact_error=contact_error,
        tolerance=settings.tolerance_computed,
    )
    thin = Reference(own * nm, reference.peaks, *_places(reference, optics.shifts[0], optics.thin_error))
    still = tuple(0.0 for _ in reference.peaks)
    return Prediction(neat.grid, shape, thin, optics, True, still, None, response.table)


def _places(
    reference: Reference, shifts: FloatArray, errors: FloatArray
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return expected positions and errors: the neat place and the width for a band that was not followed."""
    lost = ~np.isfinite(shifts)
    measured, widths = _places_and_widths(reference)
    return (
        tuple(float(p) for p in measured + np.where(lost, 0.0, shifts)),
        tuple(float(e) for e in np.where(lost, widths, errors)),
    )


def _note(why: Unsolved) -> Reason:
    """Say why optics were not computed."""
    return Reason(f"optics-{why.code}", {"message": why.message})


def _without_optics(
    neat: Recorded, reference: Reference, there: Geometry, settings: PredictionSettings, note: Reason
) -> Prediction:
    """Look for the neat spectrum itself, and bound what optics may do to its bands."""
    plain = _like_with_like(neat, reference, there, settings, note)
    if not plain.comparable or there.technique not in ("ATR", "other"):
        return plain
    stack, geometry = neat.stack, replace(neat.geometry, technique="ATR")
    places = _places_and_widths(reference)
    bound = optical_bound(stack.grid, stack.mean, geometry, *places, usable=stack.usable)
    if isinstance(bound, Unsolved):
        return plain
    return replace(plain, optical_bounds=tuple(float(b) for b in bound))


def _like_with_like(
    neat: Recorded, reference: Reference, there: Geometry, settings: PredictionSettings, note: Reason | None
) -> Prediction:
    """Look for the neat spectrum itself."""
    return Prediction(
        grid=neat.stack.grid,
        shape=Shape(reference.shape, tolerance=settings.tolerance_neat),
        reference=reference,
        optics=None,
        comparable=neat.group.technique == there.technique,
        optical_bounds=tuple(0.0 for _ in reference.peaks),
        note=note,
    )


def at_thickness(prediction: Prediction, nm: float, low: float, high: float) -> Reference:
    """Return the bands' reference for a film of a known thickness instead of a very thin one.

    Parameters
    ----------
    prediction : Prediction
        With optics.
    nm, low, high
        Thickness and its interval; the interval's ends widen the expected positions' errors.
    """
    optics, scale = prediction.optics, prediction.nm_per_amount
    if optics is None or scale is None or not nm > 0:
        return prediction.reference
    grid = np.log(np.concatenate([[0.5 * optics.thicknesses_nm[0]], optics.thicknesses_nm]))
    places = optics.shifts
    errors = np.vstack([optics.thin_error, optics.error])
    middle, below, above = (_along(grid, places, value) for value in (nm, low, high))
    error = np.hypot(_along(grid, errors, nm), np.abs(above - below) / 4.0)
    rows = np.vstack([optics.shape, optics.film / optics.thicknesses_nm[:, None]])
    curve = _along(grid, rows, nm) * scale
    reference = prediction.reference
    shape = np.interp(prediction.grid, optics.wavenumbers, curve)
    return Reference(shape, reference.peaks, *_places(reference, middle, error))


def _along(grid: FloatArray, rows: FloatArray, nm: float) -> FloatArray:
    """Interpolate rows along the logarithm of the thickness."""
    at = float(np.clip(np.log(max(nm, 1e-3)), grid[0], grid[-1]))
    right = int(np.clip(np.searchsorted(grid, at), 1, grid.size - 1))
    share = (at - grid[right - 1]) / (grid[right] - grid[right - 1])
    return np.asarray((1 - share) * rows[right - 1] + share * rows[right])
