"""Everything about a coating on a substrate that does not depend on the sample."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from spectra.filmfit.moves import CrossedMoves, Moves, cross, moves_of
from spectra.filmfit.neat import NeatResponse
from spectra.filmfit.oscillators import Bands, Templates, divide, find_bands, make_templates, oscillator
from spectra.filmfit.response import Response, StackResponse
from spectra.filmfit.settings import FilmFitSettings
from spectra.optics.atr import bulk_response
from spectra.optics.film import on_grid
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry
from spectra.optics.material import BoolArray, Material
from spectra.spectrum import Frozen
from spectra.statistics import critical_factor
from spectra.units import FloatArray
from spectra.variation.model import Variation, count_directions, nuisance_basis
from spectra.variation.subspace import contrasts_of, orthonormal, project_out

USUAL_DEGREES = 10.0  # of six bare units, with which the costs of changes were set


@dataclass(frozen=True, eq=False)
class Ground(Frozen):
    """The bare set as the film fit sees it, whitened; one for all coatings.

    Attributes
    ----------
    variation : Variation
    white : ndarray, shape (r, r)
        Inverse of the covariance factor: whitening is one matrix product.
    bare : ndarray, shape (r,), absorbance
    held : ndarray, shape (p, r)
        Baseline, gases and the directions in which bare units differ.
    tolerated : ndarray, shape (s, r)
        What the substrate may differ by beyond the bare set, one standard deviation a row: each band's
        strength, dispersion included, and a tilt of the whole spectrum.
    left_out : ndarray, shape (k, r)
        Bare units less what is projected out when they are left out, in units of one spot's scatter.
    inflation : float
        Energy of left-out bare units over the model's, at least one.
    soft : ndarray, shape (r, r), or None
        What whitens further for the error of a computed film, see :func:`soften`; None without one.
    """

    variation: Variation
    white: FloatArray
    bare: FloatArray
    held: FloatArray
    tolerated: FloatArray
    left_out: FloatArray
    inflation: float
    soft: FloatArray | None = None

    @cached_property
    def mean_direction(self) -> FloatArray:
        """Direction of the bare mean, shape (1, r)."""
        return orthonormal(self.softened(self.variation.whitened.mean(axis=0, keepdims=True)))

    @property
    def step(self) -> float:
        """Distance of the points, cm-1."""
        return float(np.median(np.diff(self.variation.reduction.points)))

    @property
    def degrees(self) -> float:
        """Degrees of freedom behind errors: two a bare unit beyond one, as left-out units ask for."""
        return 2.0 * max(len(self.variation) - 1, 1)

    @cached_property
    def caution(self) -> float:
        """Factor on what a change must gain where few bare units tell how far estimates scatter.

        The squared Student factor at these degrees of freedom over that of six bare units, at the chance of
        one change in the middle of a spectrum (4e-4 two-sided).
        """
        few, usual = (critical_factor(2e-4, degrees) for degrees in (self.degrees, USUAL_DEGREES))
        return max(1.0, (few / usual) ** 2)

    def whiten(self, rows: FloatArray) -> FloatArray:
        """Divide curves, shape (m, r), by the covariance factor."""
        return np.asarray(rows @ self.white.T)

    def clear(self, rows: FloatArray) -> FloatArray:
        """Whiten curves and project out what is held."""
        return project_out(self.held, self.whiten(rows))

    def softened(self, rows: FloatArray) -> FloatArray:
        """Whiten rows that are white for bare spots further, for the error of the computed film."""
        return rows if self.soft is None else np.asarray(rows @ self.soft.T)

    def hardened(self, rows: FloatArray) -> FloatArray:
        """Undo :meth:`softened`."""
        return rows if self.soft is None else np.asarray(np.linalg.solve(self.soft, rows.T).T)

    def carried(self, rows: FloatArray) -> FloatArray:
        """Bring rows that are clear in the metric of bare spots over to this one."""
        return project_out(self.held, self.softened(rows))


def soften(ground: Ground, signal: FloatArray, scale: float, share: float) -> Ground:
    """Allow for the error of a computed film: a share of its own signal, point by point.

    What optical constants leave open beyond their unknowns (an index that is not quite the partner of the
    absorption, a rounded or interpolated table, orientation) differs from point to point of the fit.

    Parameters
    ----------
    ground : Ground
        Not softened yet.
    signal : ndarray, shape (r,), absorbance
        Of the film by itself.
    scale : float
        Standard deviation of the sample's mean, in units of one unit's.
    share : float
        Of the signal.
    """
    whitened = ground.white * (share / scale * signal)
    soft: FloatArray = np.asarray(
        np.linalg.inv(np.linalg.cholesky(np.eye(signal.size) + whitened @ whitened.T))
    )
    softer = replace(ground, white=soft @ ground.white, soft=soft)
    softer = replace(softer, held=orthonormal(softer.softened(ground.held)))
    return replace(
        softer, tolerated=softer.carried(ground.tolerated), left_out=softer.carried(ground.left_out)
    )


def lay_ground(
    variation: Variation, bed: Material | None, geometry: Geometry, settings: FilmFitSettings
) -> Ground:
    """Prepare the bare set.

    Parameters
    ----------
    variation : Variation
    bed : Material or None
        The substrate's constants; without them its bands' strengths are tolerated as they stand.
    geometry : Geometry
        Of the sample.
    settings : FilmFitSettings
    """
    points = variation.reduction.points
    white: FloatArray = np.asarray(np.linalg.inv(variation.factor))
    bare = variation.spots.mean(axis=0)
    known = orthonormal(np.vstack([variation.fixed, variation.contacts[-1:]]))
    directions = np.linalg.svd(project_out(known, contrasts_of(variation.whitened)), full_matrices=False)[2][
        : count_directions(variation)
    ]
    held = orthonormal(np.vstack([variation.fixed, directions]))
    left_out, inflation = _left_out(variation)
    rows = _band_tolerance(points, bare, bed, geometry, settings)
    tilt = settings.tilt * bare * (points - points.mean()) / 1000.0
    ground = Ground(variation, white, bare, held, np.zeros((0, points.size)), left_out, inflation)
    return replace(ground, tolerated=ground.clear(np.vstack([rows, tilt])))


def _left_out(variation: Variation) -> tuple[FloatArray, float]:
    """Each bare unit as if it were a sample: what is left of it, and how far the covariance falls short."""
    rows, energies, count = [], [], len(variation)
    for i in range(count):
        basis = nuisance_basis(variation, [k for k in range(count) if k != i])
        rest = project_out(basis, variation.whitened[[i]])[0]
        spread = 1.0 + 1.0 / max(count - 1, 1)
        rows.append(rest / np.sqrt(spread))
        energies.append(float(rest @ rest) / spread / (rest.size - len(basis)))
    return np.array(rows), max(1.0, float(np.mean(energies)))


def _band_tolerance(
    points: FloatArray, bare: FloatArray, bed: Material | None, geometry: Geometry, settings: FilmFitSettings
) -> FloatArray:
    """One row for each substrate band: its strength, by optics where they are known."""
    every = np.ones(points.size, dtype=bool)
    if bed is None or geometry.technique != "ATR":
        bands = find_bands(points, np.maximum(bare, 0.0), every, settings.bed_oscillators, settings.weakest)
        rows = [settings.substrate * oscillator(points, part).imag for part in bands.parts]
        return np.reshape(rows, (len(rows), points.size))
    index = _interpolated(points, bed.wavenumbers, bed.index[None])[0]
    near = nearby(bed.wavenumbers, points)
    bands = find_bands(bed.wavenumbers, (bed.index**2).imag, near, settings.bed_oscillators, settings.weakest)
    _, slopes = bulk_response(points, index, geometry, float(np.mean(bed.contact)))
    # dA = Re(D dN), and a band's part of eps changes N by d eps / 2 N.
    gain = slopes / (2.0 * index)
    rows = [settings.substrate * (gain * oscillator(points, part)).real for part in bands.parts]
    return np.reshape(rows, (len(rows), points.size))


def nearby(grid: FloatArray, points: FloatArray) -> BoolArray:
    """Tell which grid points lie within a step and a half of a point that is used."""
    step = 1.5 * float(np.median(np.diff(points)))
    right = np.clip(np.searchsorted(points, grid), 1, points.size - 1)
    distance = np.minimum(np.abs(points[right] - grid), np.abs(points[right - 1] - grid))
    return np.asarray(distance <= step)


def _interpolated(points: FloatArray, grid: FloatArray, rows: ComplexArray) -> ComplexArray:
    """Bring complex rows to other points by straight lines."""
    return np.array(
        [np.interp(points, grid, row.real) + 1j * np.interp(points, grid, row.imag) for row in rows]
    )


@dataclass(frozen=True, eq=False)
class FilmModel(Frozen):
    """One coating on one substrate in one geometry.

    Attributes
    ----------
    ground : Ground
    response : StackResponse or NeatResponse
    bands : Bands
        Of the coating.
    templates : Templates
        The bands, ready to be moved.
    source : Material or None
        The coating's constants, from which the bands can be divided anew; None for a neat spectrum.
    place_error : ndarray, shape (b,), cm-1
        What optics that could not be computed may move each band by; 0 where they were.
    others : ndarray, shape (o, r)
        Other coatings of the sample, whitened and clear of what is held.
    settings : FilmFitSettings
    base : ndarray, shape (u,)
        Optical unknowns at which the bands were divided.
    banks : dict
        What bands are sought with, by place of the amount; kept.
    hard : FilmModel or None
        The model as learned, from which banks are made: so a bank never depends on the sample that asked
        for it first. None for that model itself.
    """

    ground: Ground
    response: Response
    bands: Bands
    templates: Templates
    source: Material | None
    place_error: FloatArray
    others: FloatArray
    settings: FilmFitSettings
    base: FloatArray
    banks: dict[int, FloatArray] = field(default_factory=dict)
    hard: FilmModel | None = None

    @property
    def judged(self) -> BoolArray:
        """Bands narrow enough to be judged."""
        return np.asarray(self.bands.widths < self.settings.broad)

    def absorption(self, function: ComplexArray) -> FloatArray:
        """Absorption of a film's function, shape (..., r), at each band's place, shape (..., b)."""
        at = np.clip(np.searchsorted(self.templates.points, self.bands.positions), 0, function.shape[-1] - 1)
        return np.asarray((function.imag if self.source is not None else function.real)[..., at])

    @cached_property
    def base_absorption(self) -> FloatArray:
        """The same where the bands were divided, shape (b,)."""
        return self.absorption(self.response.function(self.base))

    @property
    def shifts(self) -> FloatArray:
        """Shifts searched, cm-1."""
        reach, step = self.settings.reach, self.settings.step
        return np.arange(-reach, reach + 0.1 * step, step)

    def rebased(self, z: FloatArray) -> FilmModel:
        """Divide the bands anew from the constants at places ``z``.

        What a wrong contact of the neat layer does to a band's shape then moves with the band.
        """
        if self.source is None or not isinstance(self.response, StackResponse):
            return self
        own = _moves_on(self.source, self.source.wavenumbers)
        eps = (self.source.index + own.shift(z[: len(own.names)])) ** 2
        templates = _templates(self.source.wavenumbers, eps, self.bands, self.templates)
        return replace(self, templates=templates, base=z, hard=self.hard or self)

    def softened(self, signal: FloatArray, scale: float) -> FilmModel:
        """Return the same with the error of a computed film of this signal allowed for."""
        ground = soften(self.ground, signal, scale, self.settings.computed)
        return replace(
            self, ground=ground, others=ground.carried(self.others), banks={}, hard=self.hard or self
        )


def _moves_on(material: Material, points: FloatArray) -> Moves | CrossedMoves:
    """How a material's index moves, on points wanted."""
    grid, crossed = material.wavenumbers, material.crossed
    rows = _interpolated(points, grid, np.concatenate([material.index[None], material.variants]))
    moves = moves_of(material, rows[0], rows[1:])
    if crossed is None:
        return moves
    solved = _interpolated(points, grid, crossed.rows.reshape(-1, grid.size))
    return cross(moves, crossed, rows[0], solved.reshape(*crossed.rows.shape[:2], points.size))


def _templates(grid: FloatArray, eps: ComplexArray, bands: Bands, like: Templates) -> Templates:
    """Divide eps among bands on the points of other templates."""
    return make_templates(grid, divide(grid, eps.imag, bands, complex_parts=True), like.centres, like.points)


def model_stack(
    ground: Ground, coating: Material, bed: Material | None, geometry: Geometry, settings: FilmFitSettings
) -> FilmModel:
    """Model a coating whose constants are known from its neat spectrum.

    Parameters
    ----------
    ground : Ground
    coating : Material
    bed : Material or None
        None: an index of 1.5 without absorption.
    geometry : Geometry
        Of the sample.
    settings : FilmFitSettings

    Raises
    ------
    SpectraError
        If coating and substrate were not measured over a common range.
    """
    points, grid = ground.variation.reduction.points, coating.wavenumbers
    index = coating.index
    film = _interpolated(points, grid, index[None])[0]
    film_moves = _moves_on(coating, points)
    if bed is None:
        below = np.full((1, points.size), 1.5 + 0j)
        bed_moves, contact = Moves((), (), ()), (1.0, 1.0)
    else:
        middle, moved = on_grid(bed, grid)
        below = _interpolated(points, grid, np.concatenate([middle[None], moved]))
        bed_moves, contact = moves_of(bed, below[0], below[1:]), bed.contact
    response = StackResponse(points, geometry, film, film_moves, below[0], bed_moves, contact)
    eps = index**2
    bands = find_bands(
        grid, eps.imag, nearby(grid, points), settings.oscillators, settings.weakest, settings.merged
    )
    shares = divide(grid, eps.imag, bands, complex_parts=True)
    templates = make_templates(grid, shares, bands.positions, points)
    nothing = np.zeros((0, points.size))
    unmoved, base = np.zeros(len(bands)), np.zeros(len(response.unknowns))
    return FilmModel(ground, response, bands, templates, coating, unmoved, nothing, settings, base)


def model_neat(
    ground: Ground,
    neat: FloatArray,
    place_error: tuple[FloatArray, FloatArray],
    by_depth: bool,
    settings: FilmFitSettings,
) -> FilmModel:
    """Model a coating by its neat spectrum as it is.

    Parameters
    ----------
    ground : Ground
    neat : ndarray, shape (r,), absorbance
    place_error : tuple of ndarray, each shape (q,), cm-1
        Positions of the neat bands, rising, and how far optics may move each.
    by_depth : bool
        Whether the light's depth may differ between neat and film.
    settings : FilmFitSettings
    """
    points = ground.variation.reduction.points
    grid = np.arange(points[0], points[-1] + 1e-9, float(np.median(np.diff(points))))
    curve = np.interp(grid, points, neat)
    near = nearby(grid, points)
    bands = find_bands(
        grid, np.maximum(curve, 0.0), near, settings.oscillators, settings.weakest, settings.merged
    )
    templates = make_templates(grid, divide(grid, curve, bands, complex_parts=False), bands.positions, points)
    at, bounds = place_error
    errors = np.interp(bands.positions, at, bounds) if at.size else np.zeros(len(bands))
    nothing = np.zeros((0, points.size))
    response = NeatResponse(points, neat, by_depth)
    base = np.zeros(len(response.unknowns))
    return FilmModel(ground, response, bands, templates, None, errors, nothing, settings, base)
