"""Common footing: every spectrum of a study on one grid, without inventing a point.

The grid spans the range that all spectra share, at the step of the coarsest among them, so that no
spectrum is extrapolated and none is given detail it does not have. Spectra that already share one even
axis are taken over as they are. The others are interpolated by a cubic spline, whose error on bands
wider than six points is below 1e-4 of their height.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.preprocessing.settings import FootingSettings
from spectra.spectrum import Spectrum, Stack
from spectra.units import FloatArray, Mask

# An axis whose steps agree to this share of a step is even; printed wavenumbers are rounded to about that.
EVEN = 0.02

# A distance of more than this many typical steps between neighbouring points is a gap.
GAP_STEPS = 2.5

MINIMUM_POINTS = 60


@dataclass(frozen=True)
class Placed:
    """A spectrum with its place in the study."""

    spectrum: Spectrum
    role: str
    group: str
    specimen: str


def put_on_common_grid(
    placed: Sequence[Placed], settings: FootingSettings
) -> Mapping[tuple[str, str], Stack]:
    """Bring all spectra of a study onto one grid.

    Parameters
    ----------
    placed : sequence of Placed
        In the order of the study.
    settings : FootingSettings

    Returns
    -------
    mapping of (role, group) to Stack
        All stacks share ``grid`` and ``usable``; rows keep the order of ``placed``.

    Raises
    ------
    SpectraError
        If the spectra share no range, or too few points for a verdict.

    Examples
    --------
    >>> import numpy as np
    >>> from spectra.spectrum import Origin
    >>> x = np.arange(600.0, 1800.0, 4.0)
    >>> pair = [
    ...     Placed(Spectrum(x, np.sin(x / 99), Origin("a.csv")), "bare", "substrate", "a"),
    ...     Placed(Spectrum(x + 1, np.sin(x / 99), Origin("b.csv")), "neat", "gelatin", "b"),
    ... ]
    >>> stacks = put_on_common_grid(pair, FootingSettings())
    >>> stacks["neat", "gelatin"].grid[[0, -1]]
    array([ 601., 1793.])
    """
    grid = _common_grid([item.spectrum for item in placed], settings)
    rows = np.array([resample(item.spectrum, grid) for item in placed])
    usable = np.isfinite(rows).all(axis=0) & _inside(grid, settings)
    if np.count_nonzero(usable) < MINIMUM_POINTS:
        raise SpectraError(
            f"the spectra share {np.count_nonzero(usable)} usable points between {grid[0]:.0f} and "
            f"{grid[-1]:.0f} cm-1; expected at least {MINIMUM_POINTS}: leave out the spectrum with the "
            "shortest range, or reduce [settings.footing] leave_out"
        )
    stacks: dict[tuple[str, str], Stack] = {}
    for key in dict.fromkeys((item.role, item.group) for item in placed):
        chosen = [i for i, item in enumerate(placed) if (item.role, item.group) == key]
        stacks[key] = Stack(
            grid,
            rows[chosen],
            tuple(placed[i].specimen for i in chosen),
            tuple(placed[i].spectrum.origin.name for i in chosen),
            usable,
        )
    return stacks


def _inside(grid: FloatArray, settings: FootingSettings) -> Mask:
    """Mark the points of the grid that no left-out region covers."""
    inside = np.ones(grid.shape, dtype=bool)
    for low, high in settings.leave_out:
        inside &= ~((grid >= min(low, high)) & (grid <= max(low, high)))
    return np.asarray(inside)


def _common_grid(spectra: Sequence[Spectrum], settings: FootingSettings) -> FloatArray:
    """Return the grid that all spectra can be brought to without extrapolation."""
    finite = [s.wavenumbers[np.isfinite(s.absorbance)] for s in spectra]
    low = max(settings.low, max(x[0] for x in finite))
    high = min(settings.high, min(x[-1] for x in finite))
    if not low < high:
        starts, ends = [x[0] for x in finite], [x[-1] for x in finite]
        late, early = spectra[int(np.argmax(starts))], spectra[int(np.argmin(ends))]
        raise SpectraError(
            f"{late.origin.name} starts at {max(starts):.0f} cm-1 and {early.origin.name} ends at "
            f"{min(ends):.0f} cm-1: they share no range between {settings.low:.0f} and {settings.high:.0f} "
            "cm-1; expected spectra of the same mid-infrared range"
        )
    axis = spectra[0].wavenumbers
    if _is_even(axis) and all(np.array_equal(axis, s.wavenumbers) for s in spectra[1:]):
        return np.asarray(axis[(axis >= low) & (axis <= high)])
    step = max(s.step for s in spectra)
    return np.asarray(low + step * np.arange(int(np.floor((high - low) / step + 1e-9)) + 1))


def _is_even(axis: FloatArray) -> bool:
    """Tell whether the steps of an axis agree within the rounding of its numbers."""
    steps = np.diff(axis)
    return bool(steps.size > 1 and np.ptp(steps) <= EVEN * np.median(steps))


def resample(spectrum: Spectrum, grid: FloatArray) -> FloatArray:
    """Interpolate one spectrum on ``grid`` by a cubic spline.

    Returns
    -------
    ndarray, shape (n,), decadic absorbance
        NaN outside the measured range and inside gaps.

    Examples
    --------
    >>> import numpy as np
    >>> from spectra.spectrum import Origin
    >>> x = np.linspace(1000.0, 1100.0, 51)
    >>> found = resample(Spectrum(x, np.exp(-(((x - 1050) / 12) ** 2)), Origin("band.csv")), x[5:-5] + 0.7)
    >>> bool(np.allclose(found, np.exp(-(((x[5:-5] + 0.7 - 1050) / 12) ** 2)), atol=1e-4))
    True
    """
    finite = np.isfinite(spectrum.absorbance)
    axis, values = spectrum.wavenumbers[finite], spectrum.absorbance[finite]
    if finite.all() and np.isin(grid, axis).all():
        return np.asarray(values[np.searchsorted(axis, grid)])
    if axis.size < 4:
        raise SpectraError(f"{spectrum.origin.name}: {axis.size} points; expected a spectrum of at least 4")
    from scipy.interpolate import CubicSpline

    found = np.asarray(CubicSpline(axis, values, extrapolate=False)(grid))
    return np.where(_in_gap(axis, grid), np.nan, found)


def _in_gap(axis: FloatArray, grid: FloatArray) -> Mask:
    """Mark the points of ``grid`` strictly inside a stretch where ``axis`` has no points."""
    steps = np.diff(axis)
    # Steps of an axis that is even in wavelength grow slowly: a gap is wide against its neighbours too.
    before, after = np.r_[steps[1], steps[:-1]], np.r_[steps[1:], steps[-2]]
    wide = steps > GAP_STEPS * np.maximum(np.median(steps), np.minimum(before, after))
    right = np.clip(np.searchsorted(axis, grid, side="left"), 1, axis.size - 1)
    return np.asarray(wide[right - 1] & (grid > axis[right - 1]) & (grid < axis[right]))
