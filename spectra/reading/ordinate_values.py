"""Ordinates become absorbance: numbers that stand for none, values that cannot be, and gaps that are said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from spectra.errors import FormatError
from spectra.reading.units.words import KUBELKA_MUNK, SCALED_ABSORBANCE
from spectra.spectrum import Fault
from spectra.units import FloatArray, to_absorbance

# Ordinates up to here need no second look: the least that is impossible for a unit, see below.
USUAL = 20.0

# Numbers that programs write where there is none (common practice, no source), far from any ordinate.
_MARKS = (-999.0, -999.9, -9999.0, -99999.0, 9999.0, 99999.0, -32768.0, 1e30, -1e30, 1e31, 9.9e37)


def without_marks(y: FloatArray) -> tuple[FloatArray, float | None]:
    """Take numbers that stand for a missing value out, where they are no possible ordinate.

    Returns
    -------
    y : ndarray, shape (n,)
        NaN in place of them; the array itself if there are none.
    mark : float or None
        The number that was taken out.
    """
    with np.errstate(invalid="ignore"):
        if not np.any(np.abs(y) > 500.0):
            return y, None
    for mark in _MARKS:
        there = y == mark
        if np.any(there) and np.mean(there) < 0.5:
            return np.where(there, np.nan, y), mark
    return y, None


# Beyond it a single ordinate has lost its decimal mark: common practice, no source.
_IMPOSSIBLE = {"absorbance": 50.0, "transmittance": 20.0, "reflectance": 20.0}


def require_possible(y: FloatArray, unit: str, place: Callable[[int], str], where: str) -> None:
    """Refuse single ordinates so large that their decimal mark must have been lost.

    Raises
    ------
    FormatError
        Naming the first of them.
    """
    percent = unit.startswith("percent ")
    limit = _IMPOSSIBLE.get(unit.removeprefix("percent "), np.inf) * (100.0 if percent else 1.0)
    with np.errstate(invalid="ignore"):
        beyond = np.abs(y) > limit / (2.0 if percent else 1.0)
    few = 0.05 if unit == "absorbance" else 0.5
    if 0 < np.count_nonzero(beyond) < few * y.size:
        at = int(np.argmax(beyond))
        raise FormatError(
            f"{where}: {place(at)}: {y[at]:.10g} cannot be {unit} ({int(beyond.sum())} of {y.size} "
            "ordinates); was a decimal mark lost? Export again"
        )


def as_absorbance(y: FloatArray, unit: str) -> tuple[FloatArray, str, tuple[str, ...]]:
    """Convert the ordinate; Kubelka-Munk values go through the reflectance they stand for."""
    finite = y if np.isfinite(y).all() else np.where(np.isfinite(y), y, np.nan)
    if unit in SCALED_ABSORBANCE:
        return finite * SCALED_ABSORBANCE[unit], "absorbance", ()
    if unit != KUBELKA_MUNK:
        return to_absorbance(finite, unit), unit, ()
    # f = (1 - R)^2 / (2 R), solved for R <= 1 (Kubelka and Munk 1931; textbook form)
    remission = np.where(finite >= 0, finite, np.nan)
    reflectance = 1.0 + remission - np.sqrt(remission**2 + 2.0 * remission)
    said = "Kubelka-Munk units turned back into reflectance R; absorbance is -log10 R"
    return to_absorbance(reflectance, "reflectance"), "reflectance", (said,)


def ordinate_faults(
    y: FloatArray, wavenumbers: FloatArray, unit: str, mark: float | None
) -> tuple[Fault, ...]:
    """Points of the file that hold no absorbance."""
    found = []
    missing = ~np.isfinite(y)
    if np.any(missing):
        found.append(
            Fault(
                "missing-ordinates",
                "warning",
                _span(wavenumbers, missing),
                f"{int(missing.sum())} of {y.size} ordinates are missing"
                + (f", written as {mark:g}" if mark is not None else ""),
                "Export the full range, or leave the gap out of the evaluation.",
            )
        )
    dark = np.zeros(y.shape, bool) if unit == "absorbance" else np.isfinite(y) & (y <= 0)
    if np.any(dark):
        found.append(
            Fault(
                "transmittance-not-positive",
                "warning",
                _span(wavenumbers, dark),
                f"{int(dark.sum())} of {y.size} ratios are zero or negative; no absorbance belongs to them",
                "Measure a thinner sample, or leave the range out: the detector saw no light there.",
            )
        )
    return tuple(found)


def _span(wavenumbers: FloatArray, where: np.ndarray) -> str:
    """Wavenumber range of the marked points."""
    marked = wavenumbers[where]
    low, high = float(marked.min()), float(marked.max())
    return f"{low:.1f} cm-1" if low == high else f"{low:.1f} to {high:.1f} cm-1"
