"""Words in and below the figures; part of ``report.view``."""

from __future__ import annotations

from collections.abc import Sequence

from spectra.findings import BandFinding
from spectra.report.words.numerals import plain, typeset, wavenumber

# Words inside the figures.
DRAWN = {
    "axis": "wavenumber / cm⁻¹",
    "bare": "bare",
    "absorbance": "absorbance",
    "difference": "coated − bare, A",
    "share": "expected share",
    "scatter": "bare: own scatter",
    "spike": "amount added / detectable amount",
    "called": "share called present",
}

# Below each figure; the first sentence is also read out in place of it.
CAPTIONS = {
    "overlay": (
        "Bare substrate, neat coating and coated samples. Means of all spots after baseline and "
        "normalisation, shifted apart; the tint is the range of the spots. The bar is in absorbance. "
        "Regions the study leaves out are cut from the axis."
    ),
    "difference": (
        "Coated minus bare, means (solid). Grey: how far the bare spots lie from their own mean. Dotted: "
        "what the amount found should contribute, in this geometry where it could be computed, else the "
        "neat spectrum times the amount. Triangles: detected coating bands; crosses: unexplained bands."
    ),
    "positions": (
        "Unmasked coating bands, each scaled to its own window. Solid: coated minus bare; dotted: neat. "
        "Dashed line: expected position, where the unchanged coating must appear in this geometry and "
        "thickness, since optics alone move a band between a bulk and a film; grey: margin that counts as "
        "unchanged; point with bar: found position and interval of the shift."
    ),
    "detection": (
        "Share of trials called present against the amount added to held-back bare specimens, in units of "
        "the amount stated as detectable. Bars: exact 95 % binomial intervals (Clopper and Pearson). Dashed "
        "line: the stated detectable amount."
    ),
}


def correction_note(undone: Sequence[str], left: Sequence[str]) -> str:
    """Say what a correction for display undoes and what it leaves, in two lines; '' without one.

    Examples
    --------
    >>> print(correction_note(("depth growing with wavelength",), ("contact", "baseline")))
    undone: depth growing with wavelength
    left as measured: contact, baseline
    """
    if not undone and not left:
        return ""
    return f"undone: {', '.join(undone)}\nleft as measured: {', '.join(left)}"


def neat_label(scale: float) -> str:
    """Say by how much a neat spectrum was scaled for drawing.

    Examples
    --------
    >>> neat_label(0.3512)
    'neat × 0.351'
    """
    return "neat" if scale == 1.0 else f"neat × {plain(scale)}"


def band_heading(band: BandFinding) -> str:
    """Return the head of a band's small figure.

    The band is named by its expected position; a band below its critical height is marked.
    """
    return typeset(f"{wavenumber(band.expected_position)}{'' if band.detected else ', not seen'}")
