"""From a measured spectrum back to the complex refractive index of the material.

Attenuated total reflection: the exact bulk reflection is solved for k(nu), with n from Kramers-Kronig
(:mod:`spectra.optics.newton`). Transmission of a film: k = A ln 10 / (4 pi nu d), and n from k.

What is not known is carried, not hidden: the contact fraction or the film thickness (a range), n_inf and
the pull of bands below the range (even priors, see
:class:`~spectra.optics.material.InversionSettings`). The answer holds the solution at the middle of each,
and with one unknown moved at a time; positions and strengths inherit their uncertainty from these.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from spectra.noise import estimate_noise
from spectra.optics.atr import LN10, bulk_response
from spectra.optics.contact import FIVE, solve_contacts
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry, crystal_index, rays
from spectra.optics.kramers_kronig import dispersion
from spectra.optics.material import BoolArray, Material, Unsolved, bridged
from spectra.optics.newton import Convergence, Problem, Unknowns, solve
from spectra.optics.settings import InversionSettings
from spectra.units import FloatArray

Variant = tuple[ComplexArray, str, float]

# Steps to a solution from one nearby: a solvable case takes two to five.
QUICK_STEPS = 8


def invert_atr(
    wavenumbers: ArrayLike,
    absorbance: ArrayLike,
    geometry: Geometry,
    contact: float | tuple[float, float] = (0.85, 1.0),
    settings: InversionSettings | None = None,
    usable: BoolArray | None = None,
) -> Material | Unsolved:
    """Return the optical constants behind the ATR spectrum of a bulk material.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1, increasing
        An uneven grid is resampled to an even one of as many points.
    absorbance : array_like, shape (n,)
        As measured: not normalised. NaN marks gaps; a little below zero does no harm.
    contact
        Fraction of the crystal touched: known, or the ends of an even prior. Pressed or dried references
        0.85 to 1, fibres and meshes 0.5 to 1 (common practice, no source).
    usable : ndarray of bool, shape (n,)
        False where the measurement says nothing; the spectrum is bridged there.

    Returns
    -------
    Material or Unsolved

    Raises
    ------
    SpectraError
        If lengths differ, or fewer than eight points are left.

    Examples
    --------
    >>> grid = np.arange(1400.0, 2000.0, 2.0)
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> measured = 0.2 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> found = invert_atr(grid, measured, geometry, contact=1.0)
    >>> float(grid[np.argmax(found.k)])  # the band of k lies to the blue of the ATR band
    1702.0
    """
    settings = settings or InversionSettings()
    grid, measured = bridged(wavenumbers, absorbance, usable)
    low, high = (contact, contact) if isinstance(contact, int | float) else contact
    refusal = _refusal(grid, geometry, settings)
    if refusal is not None:
        return refusal
    problem = problem_of(grid, measured, geometry, settings)
    ladder = solve_contacts(problem, Unknowns(high, settings.n_inf, settings.pull), low)
    if isinstance(ladder, Convergence):
        return _unsolved(problem, high, ladder)
    middle, k = ladder.middle
    variants: list[Variant] = [
        (problem.index(one, replace(middle, contact=contact)), "contact", place)
        for contact, one, place in ladder.others
    ]
    variants += _index_variants(problem, settings, middle, k)
    if not _carried(variants, settings):
        return _unsolved(problem, high, ladder.convergence)
    index = problem.index(k, middle)
    return _material(problem, settings, index, variants, (ladder.lowest, high), ladder.convergence)


def problem_of(
    grid: FloatArray, measured: FloatArray, geometry: Geometry, settings: InversionSettings
) -> Problem:
    """Return the equations of an ATR spectrum on an even grid."""
    tolerance = max(settings.tolerance, 0.5 * estimate_noise(measured))
    return Problem(grid, measured, geometry, dispersion(grid), tolerance, settings.iterations)


def invert_transmission(
    wavenumbers: ArrayLike,
    absorbance: ArrayLike,
    thickness_nm: float | tuple[float, float] | None = None,
    settings: InversionSettings | None = None,
    usable: BoolArray | None = None,
) -> Material | Unsolved:
    """Return the optical constants behind the transmission spectrum of a film.

    k = A ln 10 / (4 pi nu d), losses by reflection neglected; n follows by Kramers-Kronig.

    Parameters
    ----------
    wavenumbers, absorbance, usable
        As for :func:`invert_atr`.
    thickness_nm
        Known, or a range; None if unknown: then the strongest band of the spectrum is assumed to have a k
        within ``settings.strongest_low`` and ``settings.strongest_high``.

    Returns
    -------
    Material or Unsolved

    Examples
    --------
    >>> grid = np.arange(1400.0, 2000.0, 2.0)
    >>> measured = 0.5 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> found = invert_transmission(grid, measured, thickness_nm=2000.0)
    >>> float(found.k.max().round(4))
    0.2695
    """
    settings = settings or InversionSettings()
    grid, measured = bridged(wavenumbers, absorbance, usable)
    if not measured.max() > 0:
        return Unsolved("not-converged", "the spectrum is nowhere above zero; check its baseline")
    per_nm = measured * LN10 / (4e-7 * np.pi * grid)
    ends = _thickness_range(per_nm, thickness_nm, settings)
    problem = Problem(grid, measured, Geometry("transmission"), dispersion(grid), 1.0, 1)
    middle = Unknowns(1.0, settings.n_inf, settings.pull)
    centre = float(np.sqrt(ends[0] * ends[1]))
    k = per_nm / centre
    variants: list[Variant] = [
        (problem.index(k * (ends[1] / ends[0]) ** (-0.5 * place), middle), "thickness", place)
        for place in FIVE
        if place != 0.0 and ends[1] > ends[0]
    ]
    variants += _index_variants(problem, settings, middle, k, fixed=True)
    index = problem.index(k, middle)
    return _material(problem, settings, index, variants, (1.0, 1.0), Convergence(0, 0, 0.0, True))


def _refusal(grid: FloatArray, geometry: Geometry, settings: InversionSettings) -> Unsolved | None:
    """Say why this geometry cannot be inverted, or None."""
    if geometry.technique != "ATR":
        return Unsolved("no-model", f"{geometry.technique} is not ATR; compare it with its like only")
    if not geometry.complete:
        return Unsolved("unknown-geometry", "crystal or angle is not stated; give both to correct for optics")
    tangential = float((crystal_index(geometry, grid) * np.sin(rays(geometry)[0][0])).min())
    if tangential <= settings.n_inf:
        return Unsolved(
            "no-total-reflection",
            f"index {settings.n_inf:g} is above {tangential:.3f}, the limit of total reflection for this "
            "crystal and angle; use a crystal of higher index or a larger angle",
        )
    return None


def _index_variants(
    problem: Problem, settings: InversionSettings, middle: Unknowns, k: FloatArray, fixed: bool = False
) -> list[Variant]:
    """Move n_inf and pull to either end of their priors, or as far as there is a solution.

    ``fixed`` keeps k: in transmission it does not depend on them.
    """
    variants = []
    quick = replace(problem, iterations=min(problem.iterations, QUICK_STEPS))
    for unknown, half in (("n_inf", settings.n_inf_error), ("pull", settings.pull_error)):
        for place in (-1.0, 1.0) if half > 0 else ():
            for share in (1.0, 0.5, 0.25):
                value = getattr(middle, unknown) + place * share * half
                moved = replace(middle, **{unknown: value})
                found, convergence = (k, None) if fixed else solve(quick, moved, k)
                if convergence is None or convergence.reached:
                    variants.append((problem.index(found, moved), unknown, place * share))
                    break
    return variants


def _carried(variants: list[Variant], settings: InversionSettings) -> bool:
    """Tell whether every unknown index is carried by at least one variant."""
    moved = {unknown for _, unknown, _ in variants}
    return all(
        unknown in moved
        for unknown, half in (("n_inf", settings.n_inf_error), ("pull", settings.pull_error))
        if half > 0
    )


def _thickness_range(
    per_nm: FloatArray, thickness_nm: float | tuple[float, float] | None, settings: InversionSettings
) -> tuple[float, float]:
    """Give the ends of the thickness prior, nm; from the strongest band where no thickness is given."""
    if thickness_nm is None:
        strongest = float(per_nm.max())
        return strongest / settings.strongest_high, strongest / settings.strongest_low
    if isinstance(thickness_nm, int | float):
        return float(thickness_nm), float(thickness_nm)
    return thickness_nm


def _unsolved(problem: Problem, contact: float, convergence: Convergence) -> Unsolved:
    """Word why no solution was found at the highest contact."""
    at = int(np.argmax(problem.absorbance))
    strongest, where = problem.absorbance[at], problem.grid[at]
    if 10.0 ** -(strongest / problem.geometry.reflections) <= 1.0 - contact:
        return Unsolved(
            "too-strong",
            f"the spectrum reaches {strongest:.3g} at {where:.0f} cm-1, more than a contact of "
            f"{contact:g} can give; check contact, reflections, angle and crystal",
        )
    return Unsolved(
        "not-converged",
        f"no optical constants give this spectrum within {convergence.residual:.1g} (strongest point "
        f"{strongest:.3g} at {where:.0f} cm-1); check contact, angle, crystal and that it is not normalised",
    )


def _material(
    problem: Problem,
    settings: InversionSettings,
    index: ComplexArray,
    variants: list[Variant],
    contact: tuple[float, float],
    convergence: Convergence,
) -> Material:
    """Put a material together."""
    noise = estimate_noise(problem.absorbance)
    if problem.geometry.technique == "ATR":
        slopes = bulk_response(problem.grid, index, problem.geometry, 0.5 * sum(contact))[1]
        k_noise = noise / np.abs(slopes)
    else:
        k_noise = noise * np.abs(index.imag).max() / problem.absorbance.max() * np.ones(index.size)
    stacked = np.array([one for one, _, _ in variants]).reshape(len(variants), index.size)
    return Material(
        problem.grid,
        index,
        stacked,
        tuple(name for _, name, _ in variants),
        tuple(place for _, _, place in variants),
        k_noise,
        settings.n_inf,
        contact,
        problem.geometry.technique,
        problem.geometry,
        problem.absorbance,
        convergence,
    )
