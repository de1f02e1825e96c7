"""Words for the units of the two axes, as headers, column names and unit labels write them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

KUBELKA_MUNK = "kubelka-munk"

WAVELENGTH = "wavelength"

_X_WORDS = (
    (
        "cm-1",
        r"cm\s*\^?\s*[({]?\s*[-−–‐]\s*1|cm\s*\*\*\s*-?1|1\s*/\s*cm|cm\s*⁻\s*¹|wave\s*-?_?numbers?|per\s*cm\b",
    ),
    ("um", r"micro\s*-?_?met(?:er|re)s?|microns?\b|[µμ]\s*m\b|(?<![a-z])um\b"),
    ("nm", r"nano\s*-?_?met(?:er|re)s?|(?<![a-z])nm\b"),
    (WAVELENGTH, r"wave\s*-?_?lengths?|lambda|λ"),
)

_ABOUT_THE_MEASUREMENT = re.compile(
    r"resol|interval|spacing|laser|accura|\bmode\b|techni|method|accessor|sampling|detector|apodi",
    re.IGNORECASE,
)

_PERCENT = r"%|percent|per\s*cent"

_Y_WORDS = (
    (KUBELKA_MUNK, r"kubelka|(?<![a-z])k\s*[-/]\s*m(?![a-z])"),
    ("absorbance", r"absorb|absorpt|(?<![a-z])abs(?![a-z])|extinction|log\s*\(?\s*1\s*/\s*[rt]"),
    ("transmittance", r"transmi|(?<![a-z])trans(?![a-z])"),
    ("reflectance", r"reflect|remission"),
)

_PERCENT_T = r"%\s*_?t(?![a-z])|(?<![a-z])t\s*[\[(]\s*%|(?<![a-z])t\s*/\s*%"

_PERCENT_R = r"%\s*_?r(?![a-z])|(?<![a-z])r\s*[\[(]\s*%|(?<![a-z])r\s*/\s*%"


def named_x_unit(text: str) -> str | None:
    """Return the abscissa unit a piece of text names, or None.

    Examples
    --------
    >>> named_x_unit("Wavenumber (cm-1)"), named_x_unit("1/CM"), named_x_unit("lambda / µm")
    ('cm-1', 'cm-1', 'um')
    >>> named_x_unit("Wavelength"), named_x_unit("time")
    ('wavelength', None)
    """
    lowered = text.lower()
    for unit, pattern in _X_WORDS:
        if re.search(pattern, lowered):
            return unit
    return None


def named_y_unit(text: str) -> str | None:
    """Return the ordinate unit a piece of text names, or None.

    ``"transmittance"`` stays open as to percent; ``"percent transmittance"`` is stated.

    Examples
    --------
    >>> named_y_unit("Abs."), named_y_unit("%T"), named_y_unit("Transmittance"), named_y_unit("T (%)")
    ('absorbance', 'percent transmittance', 'transmittance', 'percent transmittance')
    """
    lowered = text.lower().strip()
    for unit, pattern in (("percent transmittance", _PERCENT_T), ("percent reflectance", _PERCENT_R)):
        if re.search(pattern, lowered):
            return unit
    for unit, pattern in _Y_WORDS:
        if re.search(pattern, lowered):
            ratio = unit in ("transmittance", "reflectance")
            return f"percent {unit}" if ratio and re.search(_PERCENT, lowered) else unit
    letters = {"a": "absorbance", "t": "transmittance", "r": "reflectance"}
    return letters.get(lowered)


def hinted_unit(lines: Sequence[str], named: Callable[[str], str | None]) -> str | None:
    """Return the unit that the lines around a table name, if they name one only.

    Lines about the measurement (resolution, technique) name units that are not those of the axes.

    Examples
    --------
    >>> hinted_unit(["film 7", "x: cm-1", "resolution 4 cm-1"], named_x_unit)
    'cm-1'
    >>> hinted_unit(["mode: transmission", "y: absorbance"], named_y_unit)
    'absorbance'
    """
    found = {named(line) for line in lines if not _ABOUT_THE_MEASUREMENT.search(line)} - {None}
    return found.pop() if len(found) == 1 else None
