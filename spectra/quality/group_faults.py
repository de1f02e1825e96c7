"""What can be doubtful about the roles of a study together: readings wrong by a factor, direction or axis.

Bare spectra of one substrate resemble one another, a coated spectrum resembles the bare ones, and a neat
coating has bands that point up. What does not is read wrongly, swapped, or another material.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from spectra.quality.measures import even_points
from spectra.reading.units.evidence import weigh
from spectra.spectrum import Fault, Spectrum
from spectra.units import FloatArray

# Below this correlation of the fine structure two spectra are not of one material: common practice, no
# source. Spots of one substrate correlate at 0.9 and more.
UNLIKE = 0.5

# Largest factor between the heights of spectra in one role: contact and thickness vary less.
MOST_TIMES = 12.0

_GRID = np.arange(700.0, 3700.0, 4.0)

Groups = Mapping[tuple[str, str], Sequence[Spectrum]]


def check_groups(groups: Groups) -> tuple[Fault, ...]:
    """Compare bare, neat and coated spectra.

    Parameters
    ----------
    groups : mapping of (role, group) to spectra
        Roles are ``"bare"``, ``"neat"``, ``"coated"`` and ``"residue"``.

    Returns
    -------
    tuple of Fault
        ``where`` names the files.

    Examples
    --------
    >>> from spectra.spectrum import Origin
    >>> x = np.arange(400.0, 4000.0, 2.0)
    >>> bands = sum(np.exp(-(((x - at) / 20) ** 2)) for at in (1100, 1240, 1700))
    >>> neat = [Spectrum(x, 0.4 - 0.3 * bands, Origin("neat.csv"))]
    >>> [fault.code for fault in check_groups({("neat", "wax"): neat})]
    ['neat-inverted']
    """
    bare = [spectrum for (role, _), spectra in groups.items() if role == "bare" for spectrum in spectra]
    found = [
        fault for (role, name), spectra in groups.items() if role == "neat" for fault in _neat(name, spectra)
    ]
    found += _unlike("bare", bare, _fine(bare))
    for (role, name), spectra in groups.items():
        if role == "coated" and bare:
            found += _unlike(f"coated {name}", spectra, _fine(bare))
        if role in ("bare", "coated", "neat"):
            found += _heights(f"{role} {name}", spectra)
    return tuple(found)


def _neat(name: str, spectra: Sequence[Spectrum]) -> list[Fault]:
    """Find neat spectra that are flat or point down."""
    found = []
    for spectrum in spectra:
        evidence = weigh(spectrum.wavenumbers, spectrum.absorbance)
        if evidence is None or "absorbance" not in evidence.looks:
            continue
        upward, spread = evidence.looks["absorbance"].upward, evidence.high - evidence.low
        if upward < -0.4:
            code, said = (
                "neat-inverted",
                "its bands point down: read in the wrong unit, or background swapped",
            )
        elif spread < 1e-3:
            code, said = (
                "neat-flat",
                f"it is flat to {spread:.2g} A: no coating was measured, or a wrong unit",
            )
        else:
            continue
        remedy = "Look at the file and its unit; nothing can be found by a neat spectrum like this."
        found.append(Fault(code, "warning", spectrum.origin.name, f"neat {name}: {said}", remedy))
    return found


def _fine(spectra: Sequence[Spectrum]) -> FloatArray | None:
    """Return the median fine structure of several spectra on a common grid, or None."""
    rows = [row for spectrum in spectra if (row := _structure(spectrum)) is not None]
    return np.asarray(np.median(rows, axis=0)) if len(rows) > 1 else rows[0] if rows else None


def _structure(spectrum: Spectrum) -> FloatArray | None:
    """Return bands without base and slope on the common grid; None where it does not cover it."""
    x, y = even_points(spectrum)
    if x.size < 50 or x[0] > _GRID[0] + 300 or x[-1] < _GRID[-1] - 700:
        return None
    values = np.interp(_GRID, x, y, left=np.nan, right=np.nan)
    kept = np.isfinite(values) & ((_GRID < 2250) | (_GRID > 2420))
    values = np.where(kept, values, np.interp(_GRID, _GRID[kept], values[kept]))
    width = 51
    smooth = np.convolve(np.pad(values, width // 2, mode="edge"), np.ones(width) / width, mode="valid")
    return np.asarray(values - smooth)


def _unlike(group: str, spectra: Sequence[Spectrum], typical: FloatArray | None) -> list[Fault]:
    """Find spectra whose bands do not follow those of the bare substrate."""
    if typical is None or (group == "bare" and len(spectra) < 3):
        return []
    odd = []
    for spectrum in spectra:
        structure = _structure(spectrum)
        if structure is not None and structure.std() > 0 and typical.std() > 0:
            correlation = float(np.corrcoef(structure, typical)[0, 1])
            if correlation < UNLIKE:
                odd.append((spectrum, correlation))
    if not odd:
        return []
    worst = min(correlation for _, correlation in odd)
    names = ", ".join(spectrum.origin.name for spectrum, _ in odd[:4]) + (
        f" and {len(odd) - 4} more" if len(odd) > 4 else ""
    )
    said = f"{group}: the bands do not follow those of the bare spectra (correlation {worst:.2f})"
    if worst < -0.3:
        said += ": they point the other way"
    remedy = "Check unit, axis and sample: another substrate, or a file read in the wrong unit."
    return [Fault("unlike-bare", "warning", names, said, remedy)]


def _heights(group: str, spectra: Sequence[Spectrum]) -> list[Fault]:
    """Find spectra of one role that differ in height by more than contact or thickness explain."""
    heights = [
        (spectrum, float(structure.std()))
        for spectrum in spectra
        if (structure := _structure(spectrum)) is not None
    ]
    if len(heights) < 2:
        return []
    typical = float(np.median([height for _, height in heights]))
    low, high = min(height for _, height in heights), max(height for _, height in heights)
    odd = [s for s, height in heights if typical and not typical / MOST_TIMES < height < typical * MOST_TIMES]
    if len(heights) == 2 and low > 0 and high > MOST_TIMES * low:
        odd = [spectrum for spectrum, _ in heights]
    if not odd:
        return []
    names = ", ".join(spectrum.origin.name for spectrum in odd[:4])
    said = f"{group}: bands differ in height by a factor of {high / max(low, 1e-12):.3g}"
    remedy = "Check whether percent, fraction, absorbance or thousandths of it were mixed up."
    return [Fault("heights-differ", "warning", names, said, remedy)]
