"""Left behind: bands that neither the substrate nor the expected coatings account for.

The sample's mean is described by the mean bare spectrum, the expected coatings, their slopes (a slight move
or broadening) and a smooth drift. What remains is filtered with bumps of several widths. How far bare spots
themselves stray after the same treatment, each against the mean of the others and pooled over neighbouring
points, is the measure; near a coating band the misfit allowed for its shape is added. Looking along the
whole spectrum is paid for: the threshold is that of the highest of as many independent places as fit into
the range, and never below what the bare spots reach themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from spectra.bandfit import slope_of
from spectra.replicates import Units, critical_factor, leave_one_out
from spectra.settings import require_in_range, setting
from spectra.units import FloatArray, Mask


@dataclass(frozen=True)
class ResidueSettings:
    """What counts as an unexplained band."""

    widths: tuple[float, ...] = setting(
        (10.0, 20.0, 40.0), "full widths of the bumps looked for", unit="cm-1", low=2.0, high=200.0
    )
    alpha: float = setting(0.01, "chance of a false finding anywhere in one sample", low=1e-6, high=0.2)
    shape_tolerance: float = setting(
        0.1, "misfit of the expected coating's shape that is not a finding, as a share of it", low=0, high=1
    )
    substrate_tolerance: float = setting(0.01, "the same for the substrate", low=0, high=1)

    def __post_init__(self) -> None:
        require_in_range(self)


@dataclass(frozen=True)
class Bump:
    """An unexplained band; a negative height is absorption that is missing. Evidence in standard errors."""

    position: float
    height: float
    width: float
    evidence: float
    error: float


@dataclass(frozen=True, eq=False)
class Residual:
    """What remains of a sample after everything expected.

    Attributes
    ----------
    values, error : ndarray, shape (n,)
        Normalised absorbance and the standard error bare spots and shape misfit leave.
    amounts : mapping of str to float
        Fitted share of each coating.
    threshold : float
        In standard errors.
    """

    values: FloatArray
    error: FloatArray
    amounts: Mapping[str, float]
    threshold: float


def find_residual(
    sample: Units,
    bare: Units,
    shapes: Mapping[str, FloatArray],
    grid: FloatArray,
    usable: Mask,
    settings: ResidueSettings,
) -> tuple[Residual, tuple[Bump, ...]]:
    """Find what neither substrate nor coatings explain.

    Parameters
    ----------
    sample, bare : Units
        Levelled spectra; at least two bare units.
    shapes : mapping of coating name to ndarray, shape (n,)
        Expected contribution per unit amount.
    grid, usable : ndarray, shape (n,)
    settings : ResidueSettings

    Returns
    -------
    Residual
    tuple of Bump
        By falling evidence.
    """
    reference = bare.rows.mean(axis=0)
    design = _design(reference, shapes, grid)
    remove = _projector(design, usable)
    observed = sample.rows.mean(axis=0) - reference
    values = remove(observed[None, :])[0]
    nothing = remove(leave_one_out(bare))
    coefficients = np.linalg.lstsq(design[usable], observed[usable], rcond=None)[0]
    amounts = {name: float(coefficients[1 + 2 * i]) for i, name in enumerate(shapes)}
    tolerated = settings.substrate_tolerance * np.abs(reference) + settings.shape_tolerance * sum(
        (np.abs(amounts[name] * shape) for name, shape in shapes.items()), np.zeros_like(grid)
    )
    share = np.sqrt(1 / len(sample) + 1 / len(bare))
    found: list[Bump] = []
    threshold, narrowest = 0.0, np.zeros_like(grid)
    for width in settings.widths:
        kernel = _bump(grid, width)
        error = np.hypot(_scatter(nothing, kernel, grid) * share, _filter(tolerated, kernel))
        level = _threshold(nothing, kernel, error / share, usable, grid, width, settings, len(bare))
        threshold = max(threshold, level)
        narrowest = error if not narrowest.any() else narrowest
        found += _bumps(_filter(values, kernel), error, grid, usable, width, level)
    return Residual(values, narrowest, amounts, threshold), _distinct(found)


def _design(reference: FloatArray, shapes: Mapping[str, FloatArray], grid: FloatArray) -> FloatArray:
    """Return the columns that explain a sample: substrate, coatings, their slopes, a smooth drift."""
    x = np.linspace(-1.0, 1.0, grid.size)
    columns = [reference]
    for shape in shapes.values():
        columns += [shape, slope_of(grid, shape)]
    columns += [slope_of(grid, reference), *(x**power for power in range(4))]
    return np.column_stack(columns)


def _projector(design: FloatArray, usable: Mask) -> Callable[[FloatArray], FloatArray]:
    """Return the function that takes everything explained out of rows; zero where not usable."""
    basis, _ = np.linalg.qr(design[usable] / np.linalg.norm(design[usable], axis=0))

    def remove(rows: FloatArray) -> FloatArray:
        rest = np.zeros_like(rows)
        rest[:, usable] = rows[:, usable] - (rows[:, usable] @ basis) @ basis.T
        return rest

    return remove


def _bump(grid: FloatArray, width: float) -> FloatArray:
    """Return a bump of unit gain: what it finds at a band of its own width is the band's height."""
    step = float(grid[1] - grid[0])
    reach = int(np.ceil(1.5 * width / step))
    x = step * np.arange(-reach, reach + 1)
    shape = np.exp(-4 * np.log(2) * (x / width) ** 2)
    shape -= shape.mean()  # blind to a level, so that drift does not look like a band
    return np.asarray(shape / (shape @ np.exp(-4 * np.log(2) * (x / width) ** 2)))


def _filter(values: FloatArray, kernel: FloatArray) -> FloatArray:
    """Convolve along the last axis, same length, edges taken as zero."""
    return np.asarray(np.convolve(values, kernel, mode="same"))


def _scatter(nothing: FloatArray, kernel: FloatArray, grid: FloatArray) -> FloatArray:
    """Return the scatter of one unit after filtering, pooled over the kernel's own length."""
    k = nothing.shape[0]
    filtered = np.array([_filter(row, kernel) for row in nothing])
    variance = (k - 1) / k**2 * (filtered**2).sum(axis=0)
    pool = np.ones(kernel.size) / kernel.size
    pooled = np.maximum(variance, np.convolve(variance, pool, mode="same"))
    return np.asarray(np.sqrt(np.maximum(pooled, 1e-3 * np.median(pooled) + 1e-30))) + 0.0 * grid


def _threshold(
    nothing: FloatArray,
    kernel: FloatArray,
    error: FloatArray,
    usable: Mask,
    grid: FloatArray,
    width: float,
    settings: ResidueSettings,
    bare: int,
) -> float:
    """Return the level that nothing expected exceeds, in standard errors."""
    places = max(np.count_nonzero(usable) * float(grid[1] - grid[0]) / width, 1.0)
    tail = settings.alpha / (2 * places * len(settings.widths))
    # Pooling over neighbours gives the scatter about three times the degrees of freedom of one point.
    chance = critical_factor(tail, 3 * (bare - 1))
    inner = _inside(usable, kernel.size)
    highest = max(float(np.abs(_filter(row, kernel) / error)[inner].max(initial=0.0)) for row in nothing)
    return max(chance, highest)


def _inside(usable: Mask, size: int) -> Mask:
    """Mark the points whose whole neighbourhood is usable."""
    return np.asarray(np.convolve(~usable, np.ones(size), mode="same") < 0.5) & _off_ends(usable.size, size)


def _off_ends(n: int, size: int) -> Mask:
    """Mark the points at least half a kernel from both ends."""
    at = np.arange(n)
    return np.asarray((at >= size // 2) & (at < n - size // 2))


def _bumps(
    filtered: FloatArray, error: FloatArray, grid: FloatArray, usable: Mask, width: float, level: float
) -> list[Bump]:
    """Return the local extremes above the threshold."""
    inner = _inside(usable, int(1.5 * width / float(grid[1] - grid[0])))
    evidence = np.where(inner, filtered / error, 0.0)
    size = np.abs(evidence)
    top = (size > level) & (size >= np.roll(size, 1)) & (size > np.roll(size, -1))
    return [
        Bump(_refined(grid, filtered, i), float(filtered[i]), width, float(evidence[i]), float(error[i]))
        for i in np.flatnonzero(top)
    ]


def _refined(grid: FloatArray, values: FloatArray, i: int) -> float:
    """Return the place of an extreme between the points, by a parabola."""
    if not 0 < i < grid.size - 1:
        return float(grid[i])
    left, middle, right = values[i - 1 : i + 2]
    bend = left - 2 * middle + right
    offset = 0.5 * (left - right) / bend if bend != 0 else 0.0
    return float(grid[i] + np.clip(offset, -0.5, 0.5) * (grid[1] - grid[0]))


def _distinct(bumps: Sequence[Bump]) -> tuple[Bump, ...]:
    """Keep the most evident of bumps that overlap, the filter's own side lobes included."""
    kept: list[Bump] = []
    for bump in sorted(bumps, key=lambda b: -abs(b.evidence)):
        if all(abs(bump.position - other.position) > 1.3 * max(bump.width, other.width) for other in kept):
            kept.append(bump)
    return tuple(kept)
