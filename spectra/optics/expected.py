"""Where every band must appear if the chemistry is unchanged.

From the optical constants of the neat coating and of the substrate the exact spectrum of the coated sample
follows for any film thickness, and each band is followed from the neat spectrum to it: through a film in the
geometry of the neat measurement that thins from bulk to nothing, and then through films of growing thickness
on the substrate. What the inversions left open (contact, n_inf, pull, noise) moves the bands along; many
equally likely scenarios, the same for all bands, carry that on: several bands of one coating move together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from spectra.optics.film import film_shape, film_spectra, on_grid
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry, plausible
from spectra.optics.inversion import invert_atr
from spectra.optics.material import BoolArray, Material, Unsolved, known_material
from spectra.optics.settings import InversionSettings
from spectra.optics.tracking import position_noise
from spectra.optics.tracking_paths import follow_from_neat, signal_effects, variant_effects
from spectra.optics.uncertainty import Effects, sample_effects
from spectra.units import FloatArray

THICKNESSES_NM = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)

# A geometry that asks for a stronger k is not plausible: the strongest bands of measured polymers and organic
# liquids reach 0.17 to 0.72 (oxides reach 3: for them the crystal must be named).
PLAUSIBLE_K = 1.0


@dataclass(frozen=True, eq=False)
class Expected:
    """The coated spectrum that unchanged chemistry gives.

    Attributes
    ----------
    wavenumbers : ndarray, shape (n,), cm-1
    thicknesses_nm : ndarray, shape (t,)
        Film thicknesses of the rows below.
    film : ndarray, shape (t, n)
        Absorbance that is the coating's own part of the coated sample's.
    growth, shape : ndarray, shape (n,)
        Change of absorbance, and the coating's own part of it, per nm of a film much thinner than the depth.
    neat_positions : ndarray, shape (b,), cm-1
        Bands of the neat spectrum, located as all positions here are (zero of the smoothed slope).
    thin_positions : ndarray, shape (b,), cm-1
        Where each band must be in a film much thinner than the depth; NaN if it could not be followed.
    thin_error : ndarray, shape (b,), cm-1
        Standard deviation of the optical uncertainty.
    positions, error : ndarray, shape (t, b), cm-1
        The same in a film of each thickness.
    scenarios : ndarray, shape (m, t + 1, b), cm-1
        Equally likely positions, the thin film first: bands that share an unknown move together.
    strengths : ndarray, shape (m,)
        Signal per nm of a thin film in the same scenarios, relative to ``shape``.
    """

    wavenumbers: FloatArray
    thicknesses_nm: FloatArray
    film: FloatArray
    growth: FloatArray
    shape: FloatArray
    neat_positions: FloatArray
    thin_positions: FloatArray
    thin_error: FloatArray
    positions: FloatArray
    error: FloatArray
    scenarios: FloatArray
    strengths: FloatArray

    @property
    def shifts(self) -> FloatArray:
        """Expected minus neat position, thin film first, shape (t + 1, b), cm-1.

        To be added to a neat position measured in another way.
        """
        return np.vstack([self.thin_positions, self.positions]) - self.neat_positions

    @property
    def strength_error(self) -> float:
        """Relative standard deviation of the signal per nm: what a thickness in nm inherits."""
        return float(self.strengths.std())


def expected(
    neat: Material,
    bare: Material | None,
    geometry: Geometry,
    positions: ArrayLike = (),
    widths: ArrayLike | float = 20.0,
    thicknesses_nm: Sequence[float] = THICKNESSES_NM,
    contact: float = 1.0,
) -> Expected | Unsolved:
    """Return the coated spectrum and the expected position of every band.

    Parameters
    ----------
    neat
        The coating, from :func:`~spectra.optics.inversion.invert_atr` or
        :func:`~spectra.optics.inversion.invert_transmission`.
    bare
        The substrate, likewise; None for one of index 1.5 without bands.
    geometry
        Of the coated sample; may differ from that of either reference.
    positions : array_like, shape (b,), cm-1
        Bands of the neat spectrum, about.
    widths : array_like, shape (b,) or a number, cm-1
        Their full widths at half height, about.
    thicknesses_nm
        In increasing order.
    contact
        Fraction of the crystal the coated sample touches: scales the spectra, hardly moves bands.

    Returns
    -------
    Expected or Unsolved

    Examples
    --------
    >>> from spectra.optics.inversion import invert_atr
    >>> grid = np.arange(1400.0, 2000.0, 2.0)
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> measured = 0.2 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> neat = invert_atr(grid, measured, geometry, contact=(0.85, 1.0))
    >>> answer = expected(neat, None, geometry, positions=[1700.0], widths=[20.0])
    >>> answer.thin_positions.round(1), answer.thin_error.round(1)
    (array([1702.2]), array([0.2]))
    """
    if not geometry.modelled:
        return Unsolved(
            "no-model", f"{geometry.technique} has no optical model; compare it with its like only"
        )
    if not geometry.complete:
        return Unsolved("unknown-geometry", "crystal or angle of the sample is not stated; give both")
    substrate = bare if bare is not None else known_material(neat.wavenumbers, 1.5)
    asked = np.asarray(thicknesses_nm, dtype=np.float64)
    # Intermediate thicknesses keep neighbouring curves alike enough to follow bands from one to the next.
    d = np.unique(np.concatenate([[one for one in THICKNESSES_NM if one < asked.max()], asked]))
    rows = np.searchsorted(d, asked)
    scene = _Scene(neat.wavenumbers, d, geometry, contact, neat.n_inf)
    at = np.asarray(positions, dtype=np.float64)
    wide = np.broadcast_to(np.asarray(widths, dtype=np.float64), at.shape)
    bed = on_grid(substrate, scene.nu)[0]
    start, places = follow_from_neat(neat, scene.curves(neat.index, bed), at, wide)
    effects, signals = _carry(scene, neat, substrate, places, wide)
    noise = position_noise(scene.nu, neat.k, neat.k_noise, places[0], wide)
    kept = np.concatenate([[0], rows + 1])
    scenarios = sample_effects(places, effects, noise)[:, kept]
    error = scenarios.std(axis=0)
    film = film_spectra(scene.nu, neat.index, bed, asked, geometry, contact, neat.n_inf).film
    growth, shape = film_shape(scene.nu, neat.index, bed, geometry, contact, neat.n_inf)
    return Expected(
        wavenumbers=scene.nu,
        thicknesses_nm=asked,
        film=film,
        growth=growth,
        shape=shape,
        neat_positions=start,
        thin_positions=places[0],
        thin_error=error[0],
        positions=places[kept[1:]],
        error=error[1:],
        scenarios=scenarios,
        strengths=np.exp(sample_effects(np.zeros((1, 1)), signals, np.zeros(1)))[:, 0, 0],
    )


def _carry(
    scene: _Scene, neat: Material, substrate: Material, places: FloatArray, widths: FloatArray
) -> tuple[dict[str, Effects], dict[str, Effects]]:
    """Find what each unknown of coating and substrate does to positions, and to the signal per nm."""
    bed, beds = on_grid(substrate, scene.nu)
    middle = scene.curves(neat.index, bed)
    effects: dict[str, Effects] = {}
    signals: dict[str, Effects] = {}
    for role, material, cases in (
        ("neat", neat, [scene.curves(one, bed) for one in neat.variants]),
        ("bare", substrate, [scene.curves(neat.index, one) for one in beds]),
    ):
        moved = variant_effects(scene.nu, material, cases, middle, places, widths)
        weakened = signal_effects(material, [one[0] for one in cases], middle[0])
        effects |= {f"{role} {name}": found for name, found in moved.items()}
        signals |= {f"{role} {name}": found for name, found in weakened.items()}
    return effects, signals


@dataclass(frozen=True, eq=False)
class _Scene:
    """What all cases of one sample share."""

    nu: FloatArray
    thicknesses_nm: FloatArray
    geometry: Geometry
    contact: float
    n_inf: float

    def curves(self, film: ComplexArray, bed: ComplexArray) -> FloatArray:
        """Coating's own part: thin film per nm first, then each thickness."""
        rest = (self.geometry, self.contact, self.n_inf)
        _, shape = film_shape(self.nu, film, bed, *rest)
        thick = film_spectra(self.nu, film, bed, self.thicknesses_nm, *rest).film
        return np.concatenate([shape[None], thick])


def optical_bound(
    wavenumbers: ArrayLike,
    neat: ArrayLike,
    geometry: Geometry,
    positions: ArrayLike,
    widths: ArrayLike | float = 20.0,
    contact: float = 0.92,
    settings: InversionSettings | None = None,
    usable: BoolArray | None = None,
) -> FloatArray | Unsolved:
    """Return how far optics may move each band when crystal or angle are unknown.

    The neat ATR spectrum is inverted for every plausible geometry (those that cannot give it, or only with a
    k above 1, drop out), and each band followed to a film of every thickness.

    Parameters
    ----------
    wavenumbers, neat : array_like, shape (n,)
        Neat ATR spectrum as measured.
    geometry
        As far as known.
    positions, widths
        Of the bands of the neat spectrum, cm-1.

    Returns
    -------
    ndarray, shape (b,), cm-1, or Unsolved
        Largest shift from the neat spectrum, of either sign; NaN for a band that merges with another in some
        geometry and so has no bound.

    Examples
    --------
    >>> grid = np.arange(1400.0, 2000.0, 2.0)
    >>> measured = 0.2 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> optical_bound(grid, measured, Geometry(angle_deg=45.0), [1700.0]).round(1)
    array([4.3])
    """
    known = replace(settings or InversionSettings(), n_inf_error=0.0, pull_error=0.0)
    shifts = []
    for one in plausible(geometry):
        material = invert_atr(wavenumbers, neat, one, contact, known, usable)
        if isinstance(material, Unsolved) or float(material.k.max()) > PLAUSIBLE_K:
            continue
        answer = expected(material, None, one, positions, widths)
        if isinstance(answer, Expected):
            every = np.vstack([answer.thin_positions, answer.positions])
            shifts.append(np.abs(every - answer.neat_positions).max(axis=0))
    if not shifts:
        return Unsolved(
            "not-converged", "no plausible crystal and angle give this spectrum; was it normalised?"
        )
    return np.asarray(np.max(shifts, axis=0))
