"""Words in and below the figures; part of ``report.view``."""

from __future__ import annotations

from collections.abc import Sequence

from spectra.findings import BandFinding
from spectra.report.words.numerals import plain, wavenumber
from spectra.report.words.signs import typeset

# Words inside the figures.
DRAWN = {
    "axis": "wavenumber / cm⁻¹",
    "bare": "bare",
    "absorbance": "absorbance",
    "amount": "amount / %",
    "difference": "difference of amounts / %",
    "no amount": "none determined",
}

# Below each figure.
CAPTIONS = {
    "differences": (
        "All samples side by side, in per cent of the neat coating. (a) Amount of every sample with its "
        "interval; strokes below: its specimens. (b) Differences of two samples; the intervals of one "
        "coating hold together with the stated confidence. One clear of the dotted line shows a difference."
    ),
    "overlay": (
        "Bare substrate, neat coating and coated samples: means of all spots after baseline and "
        "normalisation, shifted apart; the tint is one standard deviation of the spots. The bar is in "
        "absorbance. Bands of the neat coating are named at their place in the neat spectrum; in a thin film "
        "they stand elsewhere. Regions the study leaves out are cut from the axis, and the scale changes at "
        "2000 cm-1. No verdict rests on these scaled spectra."
    ),
    "key": (
        "(a) Means of all spots after baseline and normalisation, shifted apart, tint: one standard "
        "deviation of the spots; bands of the neat coating are named at their place in the neat spectrum; "
        "the scale changes at 2000 cm-1. (b) The region that decides: coated minus bare (solid), each row "
        "with its own bar in absorbance; dashed: the film computed for the amount found; grey: two standard "
        "deviations of the bare spots after scaling. Numbers: bands found, cm-1; a star marks a band that "
        "neither substrate nor coating explains. (c) Amount in per cent of the neat spectra as measured: "
        "mean of each specimen (point), its spots (ticks), what bare spots alone leave uncertain (line); "
        "dotted: detection limit."
    ),
    "positions": (
        "Each coating band that the substrate does not hide. Solid: coated minus bare; dashed curve: the "
        "film computed for the amount found, on the same scale; dark grey: two standard deviations of the "
        "bare spots. Dashed line: where the band must appear if nothing changed; light grey: the margin; "
        "point with bar: where it was found, with the interval of the shift."
    ),
}

# Below a figure of a kind that was explained before in the same report.
AGAIN = {
    "key": "The same of this sample alone; the panels are explained below the first figure.",
    "positions": "Each coating band that the substrate does not hide, as explained for the sample before.",
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
