"""What can be doubtful about several spectra together: one small function for each kind of fault."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from spectra.spectrum import Fault, Spectrum


def _names(spectra: Sequence[Spectrum]) -> str:
    """Name up to four spectra."""
    shown = ", ".join(spectrum.origin.name for spectrum in spectra[:4])
    return f"{shown} and {len(spectra) - 4} more" if len(spectra) > 4 else shown


def _identical(spectra: Sequence[Spectrum]) -> list[Fault]:
    """Find the same numbers under two names, which are one measurement."""
    groups: dict[tuple[bytes, bytes], list[Spectrum]] = {}
    for spectrum in spectra:
        key = (spectrum.wavenumbers.tobytes(), spectrum.absorbance.tobytes())
        groups.setdefault(key, []).append(spectrum)
    remedy = "Remove the copy: a spectrum counted twice makes the scatter look smaller than it is."
    found = []
    for group in groups.values():
        if len(group) > 1:
            hashes = {spectrum.origin.sha256 for spectrum in group}
            what = (
                "the files are byte-identical"
                if len(hashes) == 1 and hashes != {""}
                else "the numbers are identical"
            )
            found.append(Fault("identical-spectra", "warning", _names(group), f"{what}", remedy))
    return found


def _mixed_resolution(spectra: Sequence[Spectrum]) -> list[Fault]:
    """Points of different distance."""
    steps = [spectrum.step for spectrum in spectra]
    if not steps or max(steps) <= 1.3 * min(steps):
        return []
    odd = [spectrum for spectrum in spectra if spectrum.step > 1.3 * min(steps)]
    said = f"points are {min(steps):.3g} to {max(steps):.3g} cm-1 apart"
    remedy = (
        "Measure everything at one resolution: heights of narrow bands differ by up to a tenth otherwise."
    )
    return [Fault("mixed-resolution", "warning", _names(odd), said, remedy)]


def _mixed_range(spectra: Sequence[Spectrum]) -> list[Fault]:
    """Ranges that hardly overlap."""
    if not spectra:
        return []
    lows = [spectrum.wavenumbers[0] for spectrum in spectra]
    highs = [spectrum.wavenumbers[-1] for spectrum in spectra]
    shared, union = min(highs) - max(lows), max(highs) - min(lows)
    if shared >= 0.8 * union:
        return []
    narrow = [
        spectrum for spectrum in spectra if spectrum.wavenumbers[-1] - spectrum.wavenumbers[0] < 0.9 * union
    ]
    said = (
        f"{max(lows):.0f} to {min(highs):.0f} cm-1 is common to all, of {min(lows):.0f} to {max(highs):.0f}"
    )
    remedy = "Export the full range of every spectrum: only the common range is compared."
    return [Fault("mixed-range", "warning", _names(narrow or list(spectra)), said, remedy)]


def _mixed_scale(spectra: Sequence[Spectrum]) -> list[Fault]:
    """Heights so different that a unit was mistaken, and spectra that point the other way."""
    if len(spectra) < 3:
        return []
    heights = np.array([_height(spectrum) for spectrum in spectra])
    typical = float(np.median(heights))
    found = []
    odd = [s for s, height in zip(spectra, heights, strict=True) if typical and height > 30 * typical]
    if odd:
        said = f"bands are up to {heights.max() / typical:.0f} times as high as in the other spectra"
        remedy = "Check whether percent, fraction and absorbance were mixed up in the export."
        found.append(Fault("mixed-scale", "warning", _names(odd), said, remedy))
    return found


def _height(spectrum: Spectrum) -> float:
    """Spread of the absorbance without its extremes."""
    low, high = np.nanpercentile(spectrum.absorbance, (2, 98))
    return float(high - low)


def _guessed(said: str) -> bool:
    """Tell whether an assumption is a guess from the values, not what words in the file say."""
    return "taken as" in said and "named" not in said


def _mixed_units(spectra: Sequence[Spectrum]) -> list[Fault]:
    """Units that were stated for some files and had to be assumed differently for others."""
    units: dict[str, list[Spectrum]] = {}
    for spectrum in spectra:
        kind = "absorbance" if spectrum.origin.y_unit == "absorbance" else "ratio"
        units.setdefault(kind, []).append(spectrum)
    if len(units) < 2:
        return []
    fewer = min(units.values(), key=len)
    if not any(_guessed(said) for spectrum in spectra for said in spectrum.origin.assumed):
        return []
    said = "some files were read as absorbance and some as transmittance, and not every file states which"
    remedy = "Export all spectra in the same unit with a header that names it."
    return [Fault("mixed-ordinates", "warning", _names(fewer), said, remedy)]


SET_CHECKS: tuple[Callable[[Sequence[Spectrum]], list[Fault]], ...] = (
    _identical,
    _mixed_resolution,
    _mixed_range,
    _mixed_scale,
    _mixed_units,
)
