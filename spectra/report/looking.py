"""What was read of one spectrum, in words: for terminal and page; loads nothing of the judgements."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.report.words.numerals import counted, plain, span
from spectra.spectrum import Spectrum


@dataclass(frozen=True)
class Look:
    """What was understood of one spectrum: labelled facts, then faults each with its remedy."""

    name: str
    facts: tuple[tuple[str, str], ...]
    faults: tuple[tuple[str, str], ...]


def look(spectrum: Spectrum) -> Look:
    """Put into words what was read of one spectrum, without judging what it shows."""
    origin, points = spectrum.origin, spectrum.wavenumbers
    unusable = int((spectrum.absorbance != spectrum.absorbance).sum())
    facts = [
        ("title", origin.title),
        ("read as", origin.reader),
        ("units in the file", f"{origin.x_unit}, {origin.y_unit}"),
        ("points", f"{len(spectrum)}, {span(points[0], points[-1])}, one every {plain(spectrum.step)} cm-1"),
        ("without absorbance", counted(unusable, "point") if unusable else ""),
        *(("assumed", clause) for clause in origin.assumed),
        *(("mended", clause) for clause in origin.repairs),
    ]
    faults = tuple(
        (f"{fault.severity}: {fault.found} ({fault.where})", fault.remedy) for fault in origin.faults
    )
    said = tuple((label, value) for label, value in facts if value)
    return Look(origin.name, said if faults else (*said, ("faults", "none found")), faults)
