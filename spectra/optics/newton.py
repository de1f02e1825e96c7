"""The solver behind :mod:`spectra.optics.inversion`: Newton's method with a closed-form preconditioner.

Sought is k(nu) such that the bulk spectrum of N = n + ik equals the measured one, where

    n(nu) = n_inf + K k (nu) - pull (nu_0 / nu)^2,

K the Kramers-Kronig map and ``pull`` what bands below the range (nu_0 its low end) take off the index.
Each step solves the coupled equation Re[D (K v + i v)] = f, with D = dA/dn - i dA/dk. Where K is the Hilbert
transform, the solution is known in closed form (a Riemann-Hilbert problem): with theta = arg(i D) and
g = f exp(K theta) / |D|

    v = exp(-K theta) (g cos theta - K g sin theta).

On a finite range that is nearly right, and it preconditions GMRES, which then needs a few products with K.

Gakhov, Boundary Value Problems (1966), section 29; Saad, Schultz, SIAM J. Sci. Stat. Comput. 7, 856 (1986).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.optics.atr import bulk_response
from spectra.optics.depth import effective_thickness
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry, crystal_index
from spectra.optics.kramers_kronig import Dispersion
from spectra.units import FloatArray

# A step of k is kept below this, so that a wrong start does not leap over the critical angle.
LONGEST_STEP = 0.15

INNER_ACCURACY = 1e-2

INNER_STEPS = 30


@dataclass(frozen=True)
class Unknowns:
    """What must be assumed to solve for k: contact fraction, n_inf and pull."""

    contact: float
    n_inf: float
    pull: float


@dataclass(frozen=True)
class Convergence:
    """How the equations were solved.

    Attributes
    ----------
    iterations, products
        Newton steps, and products with the Kramers-Kronig map.
    residual
        Largest difference of modelled and measured absorbance.
    reached
        True if it is within the tolerance.
    """

    iterations: int
    products: int
    residual: float
    reached: bool


@dataclass(frozen=True, eq=False)
class Problem:
    """A spectrum to be inverted.

    Attributes
    ----------
    grid : ndarray, shape (n,), cm-1
        Even and increasing.
    absorbance : ndarray, shape (n,)
        Finite.
    rise
        The Kramers-Kronig map of the grid.
    tolerance, iterations
        When to stop.
    """

    grid: FloatArray
    absorbance: FloatArray
    geometry: Geometry
    rise: Dispersion
    tolerance: float
    iterations: int

    def index(self, k: FloatArray, unknowns: Unknowns) -> ComplexArray:
        """Return n + ik."""
        tail = unknowns.pull * (self.grid[0] / self.grid) ** 2
        return np.asarray(unknowns.n_inf + self.rise(k) - tail + 1j * k)

    def misfit(self, k: FloatArray, unknowns: Unknowns) -> tuple[FloatArray, ComplexArray]:
        """Return measured minus modelled absorbance, and the slopes D of the model."""
        index = self.index(k, unknowns)
        modelled, slopes = bulk_response(self.grid, index, self.geometry, unknowns.contact)
        return self.absorbance - modelled, slopes


def solve(
    problem: Problem, unknowns: Unknowns, start: FloatArray | None = None
) -> tuple[FloatArray, Convergence]:
    """Return k and how it was reached.

    Parameters
    ----------
    start : ndarray, shape (n,)
        A k nearby; by default that of a weak absorber of the same spectrum.

    Returns
    -------
    k : ndarray, shape (n,)
        The best found, whether or not the tolerance was reached.
    Convergence
    """
    k = first_guess(problem, unknowns) if start is None else start
    residual, slopes = problem.misfit(k, unknowns)
    products = 0
    for iteration in range(problem.iterations):
        worst = float(np.abs(residual).max())
        if worst < problem.tolerance:
            return k, Convergence(iteration, products, worst, True)
        step, used = _newton_step(problem.rise, slopes, residual)
        products += used
        moved = _shortened(problem, unknowns, k, step, residual)
        if moved is None:
            return k, Convergence(iteration, products, worst, False)
        k, residual, slopes = moved
    worst = float(np.abs(residual).max())
    return k, Convergence(problem.iterations, products, worst, worst < problem.tolerance)


def first_guess(problem: Problem, unknowns: Unknowns) -> FloatArray:
    """Return the k of a weak absorber: A = 4 pi nu k de / ln 10, with the contact taken out."""
    angle = problem.geometry.angle_deg or 45.0
    crystal = crystal_index(problem.geometry, problem.grid)
    highest = 0.95 * float(crystal.min()) * np.sin(np.radians(angle))
    n2 = min(unknowns.n_inf, highest)
    depth = 1e-4 * effective_thickness(problem.grid, crystal, angle, n2, problem.geometry.s_share)
    touched = 1.0 - (1.0 - 10.0 ** (-problem.absorbance / problem.geometry.reflections)) / unknowns.contact
    strength = -np.log(np.maximum(touched, 1e-3))
    return np.asarray(np.minimum(strength / (4.0 * np.pi * problem.grid * depth), 0.3))


def _newton_step(rise: Dispersion, slopes: ComplexArray, target: FloatArray) -> tuple[FloatArray, int]:
    """Solve Re[D (K v + i v)] = target for v; also the number of products with K."""
    from scipy.sparse.linalg import LinearOperator, gmres

    by_k, by_n = -slopes.imag, slopes.real
    theta = np.arctan2(by_n, by_k)
    growth = np.exp(rise(theta))
    weight, cosine, sine = growth / np.abs(slopes), np.cos(theta) / growth, np.sin(theta) / growth
    used = 1

    def closed_form(f: FloatArray) -> FloatArray:
        g = f * weight
        return np.asarray(cosine * g - sine * rise(g))

    def product(f: FloatArray) -> FloatArray:
        nonlocal used
        used += 2
        v = closed_form(f)
        return np.asarray(by_k * v + by_n * rise(v))

    system = LinearOperator((target.size, target.size), matvec=product, dtype=np.float64)
    inner, _ = gmres(system, target, rtol=INNER_ACCURACY, atol=0.0, restart=INNER_STEPS, maxiter=1)
    return closed_form(inner), used


def _shortened(
    problem: Problem, unknowns: Unknowns, k: FloatArray, step: FloatArray, residual: FloatArray
) -> tuple[FloatArray, FloatArray, ComplexArray] | None:
    """Go as far along the step as the misfit falls; None where it does not fall at all."""
    longest = float(np.abs(step).max())
    if not np.isfinite(longest):
        return None
    share, before = min(1.0, LONGEST_STEP / max(longest, 1e-300)), float(np.linalg.norm(residual))
    while share > 1e-3:
        ahead, slopes = problem.misfit(k + share * step, unknowns)
        if np.linalg.norm(ahead) < (1.0 - 0.1 * share) * before:
            return k + share * step, ahead, slopes
        share /= 2.0
    return None
