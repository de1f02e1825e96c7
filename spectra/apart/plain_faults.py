"""Faults that the model takes out by design and so cannot see: by fixed limits, far from any clean set.

Points the other way, transmittance read as absorbance, another height, noise; gas lines are a remark only.
The limits were set by hand; on 240 clean sets of measured fabrics none of the first four was found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.apart.members import Members
from spectra.preprocessing.atmosphere import water_vapour
from spectra.units import FloatArray
from spectra.variation.covariance import noise_levels
from spectra.variation.model import orthonormal, project_out

INVERTED, LIKE, KEEP = -0.7, 0.97, 0.9
HEIGHT_TIMES, NOISE_TIMES = 5.0, 2.5
GAS_TIMES, GAS_OVER_NOISE, GAS_SHARE = 5.0, 20.0, 0.3


@dataclass(frozen=True)
class PlainFault:
    """A plain fault of one member: ``unit``, ``inverted``, ``scale``, ``noise`` or ``gas``; and its size."""

    member: int
    kind: str
    value: float


@dataclass(frozen=True, eq=False)
class _Heights:
    """Members without offset and slope: their direction, likeness to the pattern and height against it."""

    unit: FloatArray
    like: FloatArray
    height: FloatArray

    @property
    def kept(self) -> np.ndarray:
        """Members that show the pattern."""
        return self.like > KEEP

    @property
    def usual(self) -> float:
        """Height of those that show the pattern."""
        return float(np.median(self.height[self.kept]))


def plain_faults(members: Members) -> tuple[PlainFault, ...]:
    """Return the members with plain faults; at most a minority of the group is named.

    Parameters
    ----------
    members : Members

    Returns
    -------
    tuple of PlainFault
        Empty with fewer than three members, or where most show no common pattern.
    """
    count = len(members)
    if count < 3:
        return ()
    heights = _heights(members)
    if np.count_nonzero(heights.kept) <= count / 2:
        return ()
    found = _wrong_way(members, heights)
    sound = [i for i in range(count) if heights.kept[i] and i not in {fault.member for fault in found}]
    gas = _gas(members, sound)
    sound = [i for i in sound if i not in {fault.member for fault in gas}]
    found += [*gas, *_noisy(members, heights, sound)]
    return tuple(found) if 2 * len(found) < count else ()


def _heights(members: Members) -> _Heights:
    """Compare every member with the one most like the others, in shape and direction."""
    flat = project_out(_frame(members.reduction.points), members.reduced)
    size = np.linalg.norm(flat, axis=1)
    unit = flat / np.maximum(size[:, None], 1e-300)
    like = unit @ unit[int(np.argmax(np.median(unit @ unit.T, axis=1)))]
    return _Heights(unit, like, size * like)


def _frame(points: FloatArray) -> FloatArray:
    """Offset and slope, orthonormal."""
    return orthonormal(np.array([np.ones_like(points), (points - points.mean()) / 1000.0]))


def _wrong_way(members: Members, heights: _Heights) -> list[PlainFault]:
    """Find members inverted, in another unit or at another height."""
    middle = np.median(members.reduced[heights.kept], axis=0)
    through = project_out(_frame(members.reduction.points), 10.0 ** -np.clip(middle, -1.0, 4.0)[None, :])[0]
    through = through / max(float(np.linalg.norm(through)), 1e-300)
    found = []
    for i, like in enumerate(heights.like):
        times = float(heights.height[i] / heights.usual)
        if like < INVERTED:
            light = float(heights.unit[i] @ through) > max(0.98, -like + 0.002)
            found.append(PlainFault(i, "unit" if light else "inverted", times))
        elif like > LIKE and not 1.0 / HEIGHT_TIMES < times < HEIGHT_TIMES:
            found.append(PlainFault(i, "scale", times))
    return found


def _gas(members: Members, sound: list[int]) -> list[PlainFault]:
    """Find members whose water-vapour lines are far above the others' and the noise."""
    points, grid = members.reduction.points, members.stack.grid
    vapour = members.reduction.apply(water_vapour(grid, 2.0 * float(np.median(np.diff(grid)))))
    if len(sound) < 3 or vapour.max() <= 0.01:
        return []
    # Fast changes only, so that bands do not count as lines.
    rough = np.diff(vapour, 2)
    parts = np.diff(members.reduced[sound] - np.median(members.reduced[sound], axis=0), 2, axis=1)
    lines = np.abs(parts @ rough) / float(rough @ rough)
    noise = noise_levels(points, members.reduced[sound], members.settings.window)
    error = float(np.sqrt(6.0) * np.median(noise) / np.sqrt(rough @ rough))
    share = (parts @ rough) ** 2 / np.maximum((parts**2).sum(axis=1) * float(rough @ rough), 1e-300)
    found = []
    for row, member in enumerate(sound):
        rest = max(float(np.delete(lines, row).max()), 1e-12)
        far = lines[row] > GAS_TIMES * rest and lines[row] > GAS_OVER_NOISE * error
        if far and share[row] > GAS_SHARE:
            found.append(PlainFault(member, "gas", float(lines[row] / rest)))
    return found


def _noisy(members: Members, heights: _Heights, sound: list[int]) -> list[PlainFault]:
    """Find members rough against all others, which are not so among themselves."""
    if len(sound) < 3:
        return []
    points, window = members.reduction.points, members.settings.window
    level = members.reduced / heights.height[:, None]
    pairs = np.zeros((len(sound), len(sound)))
    for a in range(len(sound)):
        for b in range(a):
            noise = noise_levels(points, level[[sound[a], sound[b]]], window)
            pairs[a, b] = pairs[b, a] = float(np.median(noise))
    found = []
    for a, member in enumerate(sound):
        others = [b for b in range(len(sound)) if b != a]
        rest = max(float(pairs[np.ix_(others, others)].max()), 1e-12)
        least = float(pairs[a, others].min())
        if least > NOISE_TIMES * rest:
            found.append(PlainFault(member, "noise", least * float(np.sqrt(2.0)) / rest))
    return found
