"""From a measured spectrum back to the complex refractive index of the material.

Attenuated total reflection: the exact bulk reflection is solved for k(nu), with n from Kramers-Kronig
(:mod:`spectra.optics.solution`). Transmission of a film: k = A ln 10 / (4 pi nu d), and n from k.

What is not known is carried, not hidden: the contact fraction or the film thickness (a range), n_inf and
the pull of bands below the range (even priors, see
:class:`~spectra.optics.material.InversionSettings`). The answer holds the solution at the middle of each,
and with one unknown moved at a time; positions and strengths inherit their uncertainty from these.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry, crystal_index, rays
from spectra.optics.kramers_kronig import dispersion
from spectra.optics.material import (
    BoolArray,
    InversionSettings,
    Material,
    Unsolved,
    bridged,
    roughness,
)
from spectra.optics.reflection import LN10, bulk_response
from spectra.optics.solution import Convergence, Problem, Unknowns, solve
from spectra.units import FloatArray

Variant = tuple[ComplexArray, str, float]

# The lowest contact that can give a spectrum is sought to this accuracy, with this many steps a trial: from a
# solution nearby, a solvable case takes two to five.
CONTACT_ACCURACY = 0.01
QUICK_STEPS = 8
# Places in the prior of an unknown whose effect may bend: contact, thickness.
FIVE = (-1.0, -0.5, 0.0, 0.5, 1.0)


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
    tolerance = max(settings.tolerance, 0.5 * roughness(measured))
    problem = Problem(grid, measured, geometry, dispersion(grid), tolerance, settings.iterations)
    ladder = _contact_ladder(problem, settings, low, high)
    if isinstance(ladder, Unsolved):
        return ladder
    contacts, solutions, convergence = ladder
    middle = Unknowns(contacts[len(contacts) // 2], settings.n_inf, settings.pull)
    k = solutions[len(contacts) // 2]
    variants = [
        (problem.index(one, replace(middle, contact=at)), "contact", place)
        for one, at, place in zip(solutions, contacts, FIVE, strict=False)
        if at != middle.contact
    ]
    variants += _index_variants(problem, settings, middle, k)
    return _material(problem, settings, problem.index(k, middle), variants, (contacts[0], high), convergence)


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
    scales = [(ends[1] / ends[0]) ** (-0.5 * place) for place in FIVE if ends[1] > ends[0] and place != 0.0]
    places = [place for place in FIVE if place != 0.0]
    k = per_nm / centre
    variants = [
        (problem.index(k * scale, middle), "thickness", place)
        for scale, place in zip(scales, places, strict=False)
    ]
    for unknown, moved, place in _index_moves(settings, middle):
        variants.append((problem.index(k, moved), unknown, place))
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


def _contact_ladder(
    problem: Problem, settings: InversionSettings, low: float, high: float
) -> tuple[list[float], list[FloatArray], Convergence] | Unsolved:
    """Solve at five contacts of the range, its low end raised to where a solution exists."""
    middle = Unknowns(high, settings.n_inf, settings.pull)
    k, convergence = solve(problem, middle)
    if not convergence.reached:
        return _unsolved(problem, high, convergence)
    if low >= high:
        return [high], [k], convergence
    low = _lowest_contact(problem, middle, k, low, high)
    contacts = np.linspace(low, high, len(FIVE)).tolist()
    solutions = [k]
    for contact in contacts[-2::-1]:
        start = solutions[0] if len(solutions) < 2 else 2.0 * solutions[0] - solutions[1]
        k, convergence = solve(problem, replace(middle, contact=contact), start)
        solutions.insert(0, k)
    return contacts, solutions, convergence


def _lowest_contact(problem: Problem, middle: Unknowns, k: FloatArray, low: float, high: float) -> float:
    """Find the lowest contact, not below ``low``, that can give so strong a spectrum."""
    quick = replace(problem, iterations=min(problem.iterations, QUICK_STEPS))
    found, convergence = solve(quick, replace(middle, contact=low), k)
    if convergence.reached:
        return low
    # A contact that lets through less than the strongest band cannot give it, whatever k.
    missing = 1.0 - 10.0 ** -(float(problem.absorbance.max()) / problem.geometry.reflections)
    works, fails = high, max(low, min(missing, high))
    while works - fails > CONTACT_ACCURACY:
        tried = 0.5 * (works + fails)
        found, convergence = solve(quick, replace(middle, contact=tried), k)
        if convergence.reached:
            works, k = tried, found
        else:
            fails = tried
    return works


def _index_moves(settings: InversionSettings, middle: Unknowns) -> list[tuple[str, Unknowns, float]]:
    """Unknowns with n_inf and pull moved to either end of their priors."""
    moves = []
    for place in (-1.0, 1.0):
        if settings.n_inf_error > 0:
            n_inf = middle.n_inf + place * settings.n_inf_error
            moves.append(("n_inf", replace(middle, n_inf=n_inf), place))
        if settings.pull_error > 0:
            pull = middle.pull + place * settings.pull_error
            moves.append(("pull", replace(middle, pull=pull), place))
    return moves


def _index_variants(
    problem: Problem, settings: InversionSettings, middle: Unknowns, k: FloatArray
) -> list[Variant]:
    """Solve again with n_inf and pull moved; a move without a solution is left out."""
    variants = []
    quick = replace(problem, iterations=min(problem.iterations, QUICK_STEPS))
    for unknown, moved, place in _index_moves(settings, middle):
        found, convergence = solve(quick, moved, k)
        if convergence.reached:
            variants.append((problem.index(found, moved), unknown, place))
    return variants


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
    noise = roughness(problem.absorbance)
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
