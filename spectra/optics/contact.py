"""Solving for k at several contact fractions, because the true one is not known.

Where the sample touches only a fraction phi of the crystal, the same spectrum asks for a stronger k the
smaller phi is, and below some phi no k can give it. The range asked for is cut there, and five contacts
evenly spread over the rest are solved, each from the one before.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.optics.newton import Convergence, Problem, Unknowns, solve
from spectra.units import FloatArray

# Places in the prior of an unknown whose effect may bend.
FIVE = (-1.0, -0.5, 0.0, 0.5, 1.0)

# The lowest contact that can give a spectrum is sought to this accuracy, with this many steps a trial.
ACCURACY = 0.002

QUICK_STEPS = 8


@dataclass(frozen=True, eq=False)
class Ladder:
    """Solutions at contacts of a range.

    Attributes
    ----------
    middle
        Unknowns at the middle of the range, and k there.
    others
        Contact, k and place (-1 the low end, 1 the high) of the other solutions.
    lowest
        Low end of the range that is left.
    convergence
        Of the middle.
    """

    middle: tuple[Unknowns, FloatArray]
    others: tuple[tuple[float, FloatArray, float], ...]
    lowest: float
    convergence: Convergence

    @property
    def rungs(self) -> tuple[tuple[Unknowns, FloatArray], ...]:
        """Unknowns and k of every solution, by rising contact."""
        unknowns, _ = self.middle
        half = len(self.others) // 2
        rows = [(replace(unknowns, contact=contact), k) for contact, k, _ in self.others]
        return (*rows[:half], self.middle, *rows[half:])


def solve_contacts(problem: Problem, highest: Unknowns, low: float) -> Ladder | Convergence:
    """Solve for k over a range of contact.

    Parameters
    ----------
    highest
        Unknowns with the contact at the high end.
    low
        Low end; equal to the high end if the contact is known.

    Returns
    -------
    Ladder, or Convergence if there is no solution even at the high end
    """
    k, convergence = solve(problem, highest)
    if not convergence.reached:
        return convergence
    if low >= highest.contact:
        return Ladder((highest, k), (), highest.contact, convergence)
    lowest = _lowest(problem, highest, k, low)
    contacts = np.linspace(lowest, highest.contact, len(FIVE)).tolist()
    solutions = [k]
    ends = [convergence]
    for contact in contacts[-2::-1]:
        k, convergence = _next(problem, replace(highest, contact=contact), solutions)
        if not convergence.reached:  # a gap inside the range: keep to the part above it
            return solve_contacts(problem, highest, min(contact + 2.0 * ACCURACY, highest.contact))
        solutions.insert(0, k)
        ends.insert(0, convergence)
    rungs = tuple(zip(contacts, solutions, FIVE, strict=True))
    centre = len(FIVE) // 2
    middle = replace(highest, contact=contacts[centre])
    return Ladder((middle, solutions[centre]), rungs[:centre] + rungs[centre + 1 :], lowest, ends[centre])


def _next(
    problem: Problem, unknowns: Unknowns, solutions: list[FloatArray]
) -> tuple[FloatArray, Convergence]:
    """Solve from the line through the last two solutions, or else from the last."""
    if len(solutions) > 1:
        k, convergence = solve(problem, unknowns, 2.0 * solutions[0] - solutions[1])
        if convergence.reached:
            return k, convergence
    return solve(problem, unknowns, solutions[0])


def _lowest(problem: Problem, highest: Unknowns, k: FloatArray, low: float) -> float:
    """Find the lowest contact, not below ``low``, that can give so strong a spectrum."""
    quick = replace(problem, iterations=min(problem.iterations, QUICK_STEPS))
    _, convergence = solve(quick, replace(highest, contact=low), k)
    if convergence.reached:
        return low
    # A contact that lets through more than the strongest band does cannot give it, whatever k.
    missing = 1.0 - 10.0 ** -(float(problem.absorbance.max()) / problem.geometry.reflections)
    works, fails = highest.contact, max(low, min(missing, highest.contact))
    while works - fails > ACCURACY:
        tried = 0.5 * (works + fails)
        found, convergence = solve(quick, replace(highest, contact=tried), k)
        if convergence.reached:
            works, k = tried, found
        else:
            fails = tried
    return works
