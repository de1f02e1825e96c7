"""Which units the axes are in: as stated, else by the words of the header, else by the values.

Values decide only where one reading is possible, or where the other would be no infrared spectrum. Where
two readings would give different numbers and nothing tells them apart, :class:`AmbiguityError` shows both.
The thresholds are common practice, no source: mid infrared spans 400 to 4000 cm-1 (25 to 2.5 um); a
ratio above 2 cannot be a transmittance given as a fraction; an absorbance above 6 has not been measured.
"""

from __future__ import annotations

import re

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.lean import CLEAR_LEAN, band_lean
from spectra.units import FloatArray

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


def settle_x_unit(x: FloatArray, stated: str | None, where: str) -> tuple[str, tuple[str, ...]]:
    """Decide the unit of an abscissa.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Finite, as found in the file.
    stated
        What the file says: a member of ``units.X_UNITS``, ``"wavelength"`` or None.
    where
        File and part, for messages.

    Returns
    -------
    unit : str
        Member of ``units.X_UNITS``.
    assumed : tuple of str
        What had to be assumed.

    Raises
    ------
    AmbiguityError
        If the values allow two readings, or contradict what is stated.
    FormatError
        If no unit makes an infrared spectrum of them.
    """
    low, high = float(x.min()), float(x.max())
    if stated in ("cm-1", "um", "nm"):
        _require_plausible(low, high, stated, where)
        return stated, ()
    if stated == WAVELENGTH or high <= 60:
        if low > 0 and high <= 100:
            return "um", (f"wavelengths from {low:g} to {high:g} taken as um",)
        if stated == WAVELENGTH and low >= 200:
            return "nm", (f"wavelengths from {low:g} to {high:g} taken as nm",)
        raise FormatError(
            f"{where}: an abscissa from {low:g} to {high:g} is no infrared axis; state its unit"
        )
    return _unit_from_values(x, low, high, where)


def _unit_from_values(x: FloatArray, low: float, high: float, where: str) -> tuple[str, tuple[str, ...]]:
    """Tell the unit of an abscissa that nothing names, larger than any wavelength in um."""
    if low >= 2000 and high <= 30000:
        even, even_inverse = _unevenness(x), _unevenness(1.0 / x)
        if even_inverse < 1e-3 < even:
            return "nm", (f"abscissa from {low:g} to {high:g} taken as nm: even in wavenumber",)
        if high > 4500 or not even < 1e-3:
            raise _x_ambiguity(low, high, where)
        if low >= 2500:
            raise _x_ambiguity(low, high, where)
    if low < -1 or high > 30000:
        raise FormatError(
            f"{where}: an abscissa from {low:g} to {high:g} is no infrared axis; state its unit"
        )
    return "cm-1", (f"abscissa from {low:g} to {high:g} taken as cm-1",)


def _unevenness(x: FloatArray) -> float:
    """Relative spread of the steps; zero for an even axis."""
    steps = np.diff(x)
    typical = abs(float(np.median(steps))) if steps.size else 0.0
    return float(np.percentile(np.abs(steps - np.median(steps)), 90)) / typical if typical else np.inf


def _x_ambiguity(low: float, high: float, where: str) -> AmbiguityError:
    return AmbiguityError(
        f"{where}: the abscissa {low:g} to {high:g} has no unit: as cm-1 it means {low:g} to "
        f"{high:g} cm-1, as nm "
        f"{1e7 / high:.0f} to {1e7 / low:.0f} cm-1; write the unit into the header, for instance "
        "'cm-1,absorbance'"
    )


def _require_plausible(low: float, high: float, unit: str, where: str) -> None:
    """Require that a stated unit does not make nonsense of the values."""
    likely = {"cm-1": high > 60, "um": high <= 1000, "nm": high >= 200}
    if likely[unit]:
        return
    other = "um" if high <= 1000 else "nm or cm-1"
    raise AmbiguityError(
        f"{where}: the abscissa is stated in {unit}, but its values {low:g} to {high:g} look like {other}; "
        "correct the unit in the file"
    )


def settle_y_unit(y: FloatArray, stated: str | None, where: str) -> tuple[str, tuple[str, ...]]:
    """Decide the unit of an ordinate.

    Parameters
    ----------
    y : ndarray, shape (n,)
        As found in the file; NaN is left out.
    stated
        What the file says: an answer of :func:`named_y_unit`.
    where
        File and part, for messages.

    Returns
    -------
    unit : str
        Member of ``units.Y_UNITS``, or :data:`KUBELKA_MUNK`.
    assumed : tuple of str
        What had to be assumed.

    Raises
    ------
    AmbiguityError
        If the values allow two readings, or contradict what is stated.
    FormatError
        If nothing is stated and the values are neither absorbance nor transmittance.

    Examples
    --------
    >>> settle_y_unit(np.array([98.0, 40.0, 97.0, 99.0]), "transmittance", "a.dx")
    ('percent transmittance', ('values up to 99 taken as transmittance in percent',))
    """
    finite = y[np.isfinite(y)]
    if finite.size == 0:
        raise FormatError(f"{where}: not one ordinate is a number; export the spectrum again")
    top = float(np.percentile(finite, 98))
    if stated in ("absorbance", KUBELKA_MUNK):
        return stated, ()
    if stated in ("transmittance", "reflectance"):
        if top <= 2.0:
            return stated, ()
        return f"percent {stated}", (f"values up to {finite.max():g} taken as {stated} in percent",)
    if stated is not None:
        if top <= 1.3:
            raise _percent_ambiguity(finite, stated, where)
        return stated, ()
    return _unit_of_ordinates(finite, top, where)


def _unit_of_ordinates(y: FloatArray, top: float, where: str) -> tuple[str, tuple[str, ...]]:
    """Tell the unit of ordinates that nothing names: absorbance bands point up, transmittance bands down."""
    low, lean = float(np.percentile(y, 2)), band_lean(y)
    said = f"ordinates from {y.min():.3g} to {y.max():.3g}"
    if top > 130 or low < -20 or (top > 6 and lean > CLEAR_LEAN):
        raise FormatError(
            f"{where}: {said} without a unit are neither absorbance nor transmittance (raw "
            "intensity?); export "
            "the ratio to the background, with its unit"
        )
    if top > 6:
        return "percent transmittance", (f"{said} taken as transmittance in percent",)
    if lean < -CLEAR_LEAN and low > -0.02 and top <= 1.3:
        return "transmittance", (f"{said} taken as transmittance (fraction): bands point down",)
    if lean > CLEAR_LEAN or low < -0.02 or top < 0.02:
        return "absorbance", (f"{said} taken as absorbance: {_why_absorbance(lean)}",)
    raise AmbiguityError(
        f"{where}: {said} have no unit: they may be absorbance, or transmittance with an absorbance of "
        f"{_as_absorbance(y.max(), 1)} to {_as_absorbance(y.min(), 1)}; write 'absorbance' or "
        "'transmittance' "
        "into the header line"
    )


def _why_absorbance(lean: float) -> str:
    return "bands point up" if lean > CLEAR_LEAN else "no transmittance is so low"


def _percent_ambiguity(y: FloatArray, stated: str, where: str) -> AmbiguityError:
    readings = [
        f"{_as_absorbance(y.max(), scale)} to {_as_absorbance(y.min(), scale)}" for scale in (100.0, 1.0)
    ]
    return AmbiguityError(
        f"{where}: stated as {stated}, but no value exceeds {y.max():.3g}: as percent the absorbance is "
        f"{readings[0]}, as fraction {readings[1]}; correct the unit in the file"
    )


def _as_absorbance(value: float, scale: float) -> str:
    return f"{-np.log10(value / scale):.2f}" if value > 0 else "undefined"
