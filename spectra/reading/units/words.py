"""Words for the units of the two axes, where units stand: the heading of a column, the label of a format.

A unit counts where units stand: as the whole heading, in brackets, behind a stroke, or as the word for the
axis itself, in English and the larger languages of Europe. Titles and names of samples never count:
``120 nm gelatin film``, a column ``ABS`` or ``T``, ``anti-reflective film``. Their letters are at most a
hint (:func:`hinted_y_unit`), which decides nothing against the values.
"""

from __future__ import annotations

import re
from functools import lru_cache

from spectra.reading.units.vocabulary import (
    ABSORBANCE,
    BESIDE,
    BOTH_AXES,
    FOREIGN_X,
    FOREIGN_Y,
    KUBELKA,
    LETTER_PERCENT,
    MILLI,
    NAPIERIAN,
    NO_UNIT,
    PERCENT,
    REFLECTANCE,
    SETTING_LINE,
    TRANSMITTANCE,
    WAVELENGTH,
    WHOLE,
    X_KEY,
    X_UNITS,
    X_WORDS,
    Y_KEY,
)

KUBELKA_MUNK = "kubelka-munk"

# Headings are asked for the same things again and again: by every step, column and file.
_remembered = lru_cache(maxsize=4096)

# Ordinates that are an absorbance but for a constant factor, with that factor. Napierian absorbance is
# ln(10) times the decadic one (IUPAC Gold Book, doi:10.1351/goldbook.N04097).
SCALED_ABSORBANCE = {"milliabsorbance": 1e-3, "Napierian absorbance": 0.4342944819032518}


def _found(pattern: str, text: str) -> bool:
    return re.search(pattern, text, re.IGNORECASE) is not None


def _whole(pattern: str, text: str) -> bool:
    return re.fullmatch(pattern, text, re.IGNORECASE) is not None


def _in_brackets(text: str) -> list[str]:
    """Return what stands in brackets, or behind the last stroke, comma or underscore: where units stand."""
    inside = [a or b for a, b in re.findall(r"\(([^()]*(?:\([^()]*\))?[^()]*)\)|\[([^\]]*)\]", text)]
    behind = re.search(r"(?:^|[\s\w)])(?:/\s|\s/|/(?!\s*cm)|,|:|\bin\b|_)\s*([^\s].{0,20})$", text)
    return [*inside, *([behind[1]] if behind else [])]


@_remembered
def named_x_unit(text: str) -> str | None:
    """Return the abscissa unit that the heading of a column names, or None.

    Examples
    --------
    >>> named_x_unit("Wavenumber (cm-1)"), named_x_unit("1/CM"), named_x_unit("lambda / µm")
    ('cm-1', 'cm-1', 'um')
    >>> named_x_unit("Wellenlänge"), named_x_unit("120 nm gelatin film"), named_x_unit("lambda sensor")
    ('wavelength', None, None)
    """
    plain = " ".join(text.split()).strip("\"' ")
    if foreign_x(plain) is not None or _found(r"coefficient|koeffizient|absorptivity", plain):
        return None
    for place in [*_in_brackets(plain), plain]:
        for unit, pattern in X_UNITS:
            if _whole(rf"\s*[\[(]?\s*(?:{pattern})\s*[\])]?\s*", place):
                return unit
    if not re.search(r"\d\s*(?:cm|nm|[µμu]m)", plain):
        for unit, pattern in X_UNITS:  # "x cm-1", "wavelength nm": the unit as the last word
            if _whole(rf"(?:[a-zλνṽ~]|[^\W\d_]+)(?:\.|\s|_)+(?:{pattern})", plain):
                return unit
    for unit, pattern in X_WORDS:
        if _found(rf"(?<![^\W\d_])(?:{pattern})(?![^\W\d_])", plain):
            return unit
    return WAVELENGTH if _whole(r"lambda|λ", plain) else None


@_remembered
def foreign_x(text: str) -> str | None:
    """Return what a heading calls its abscissa, if that is no infrared axis that is read.

    Examples
    --------
    >>> foreign_x("Raman shift (cm-1)"), foreign_x("Energy (meV)"), foreign_x("x"), foreign_x("wavenumber")
    ('a Raman shift', 'an energy or a frequency', None, None)
    """
    plain = text.strip()
    for name, pattern in FOREIGN_X:
        index = name == "an index"
        if _whole(pattern, plain) if index else _found(pattern, plain):
            return name
    return None


@_remembered
def named_y_unit(text: str) -> str | None:
    """Return the ordinate unit that the heading of a column names, or None.

    ``"transmittance"`` stays open as to percent; ``"percent transmittance"`` is stated. What stands in
    brackets counts before what stands outside.

    Examples
    --------
    >>> named_y_unit("Extinktion"), named_y_unit("%T"), named_y_unit("Transmittance"), named_y_unit("T (%)")
    ('absorbance', 'percent transmittance', 'transmittance', 'percent transmittance')
    >>> named_y_unit("ABS"), named_y_unit("trans-PI"), named_y_unit("anti-reflective film")
    (None, None, None)
    """
    plain = re.sub(r"attenuated\s+total\s+reflect\w*", "ATR", " ".join(text.split()), flags=re.IGNORECASE)
    plain = plain.strip("\"' ")
    if foreign_y(plain) is not None:
        return None
    if _found(KUBELKA, plain):
        return KUBELKA_MUNK
    for unit, pattern in LETTER_PERCENT:
        if any(_whole(pattern, place.strip()) for place in (plain, *_in_brackets(plain))):
            return unit
    for place in [*_in_brackets(plain), plain]:
        if quantity := _quantity(place):
            return _scaled(quantity, plain)
    return None


def _quantity(text: str) -> str | None:
    """Return the quantity that a piece of text names."""
    for unit, words in (
        ("absorbance", ABSORBANCE),
        ("transmittance", TRANSMITTANCE),
        ("reflectance", REFLECTANCE),
    ):
        if _found(rf"(?<![^\W\d_])(?:{words})(?![^\W\d_])", text):
            return unit
    rest = r"\s*(?:[\[(/].*|in\s*%|a\.?u\.?|units?)?"
    for unit, words in WHOLE:
        if _whole(rf"(?:(?:{PERCENT})\s*)?(?:{words}){rest}", text.strip()):
            return unit
    if _whole(r"\s*m\s*-?(?:au|abs)\.?\s*", text):
        return "absorbance"
    return None


def _scaled(unit: str, text: str) -> str:
    """Return a quantity with the scale that its heading gives it."""
    if unit == "absorbance":
        if _found(MILLI, text):
            return "milliabsorbance"
        return "Napierian absorbance" if _found(NAPIERIAN, text) else unit
    return f"percent {unit}" if _found(PERCENT, text) else unit


@_remembered
def foreign_y(text: str) -> str | None:
    """Return what a heading calls its ordinate, if that is neither absorbance nor a ratio of light.

    Examples
    --------
    >>> foreign_y("Absorption coefficient (cm-1)"), foreign_y("emissivity"), foreign_y("film 3")
    ('an absorption coefficient', 'an emission', None)
    """
    return next((name for name, pattern in FOREIGN_Y if _found(pattern, text)), None)


def foreign_label(text: str) -> str | None:
    """Return what the label of a unit in an open format says, if that is no unit of an infrared spectrum.

    Examples
    --------
    >>> foreign_label("V"), foreign_label("mol/L"), foreign_label("a.u."), foreign_label("% transmittance")
    ('a voltage', 'a concentration', None, None)
    >>> foreign_label("furlong")
    "'furlong'"
    """
    plain = text.strip()
    if not plain or named_y_unit(plain) or hinted_y_unit(plain) or _whole(NO_UNIT, plain):
        return None
    return foreign_y(f"[{plain}]") or foreign_y(plain) or repr(plain[:40])


@_remembered
def beside_spectra(text: str) -> str | None:
    """Return what a column is that stands beside spectra and is none, by its heading.

    Examples
    --------
    >>> beside_spectra("absorbance (SD)"), beside_spectra("std"), beside_spectra("PSD film")
    ('a standard deviation', 'a standard deviation', None)
    """
    return next((name for name, pattern in BESIDE if _found(pattern, text)), None)


def hinted_y_unit(text: str) -> str | None:
    """Return the quantity that the letters of a heading may stand for: a hint that proves nothing.

    Examples
    --------
    >>> hinted_y_unit("Abs."), hinted_y_unit("T"), hinted_y_unit("film T")
    ('absorbance', 'transmittance', None)
    """
    letters = {"a": "absorbance", "abs": "absorbance", "t": "transmittance", "trans": "transmittance"}
    return letters.get(text.strip().lower().rstrip("."))


def stated_above(lines: tuple[str, ...] | list[str], axis: str) -> str | None:
    """Return the unit that lines around a table state for an axis, if they state one only.

    Only a line that names the axis counts, such as ``y: absorbance``, ``XUNITS=1/CM`` or
    ``absorbance over wavenumber``.

    Examples
    --------
    >>> stated_above(["film 7", "x: cm-1", "resolution: 4 cm-1"], "x")
    'cm-1'
    >>> stated_above(["mode: transmission", "Y Units; Absorbance"], "y")
    'absorbance'
    >>> stated_above(["absorbance of film 7"], "y") is None
    True
    """
    key, named = (X_KEY, named_x_unit) if axis == "x" else (Y_KEY, named_y_unit)
    found = set()
    for line in lines:
        match = SETTING_LINE.fullmatch(line)
        both = BOTH_AXES.fullmatch(line.strip())
        if both and named_x_unit(both["x"]) and named_y_unit(both["y"]):
            found.add(named(both[axis]))
        if match and _whole(key, match["key"].strip()):
            found.add(named(match["value"]))
    found -= {None}
    return found.pop() if len(found) == 1 else None
