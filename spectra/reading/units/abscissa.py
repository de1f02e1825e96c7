"""Which unit the abscissa is in: as stated, else by the words of the header, else by the values.

Values decide only where one reading is possible, or where the other would be no infrared spectrum. Where
two readings would give different numbers and nothing tells them apart, :class:`AmbiguityError` shows both.
The thresholds are common practice, no source: mid infrared spans 400 to 4000 cm-1, 25 to 2.5 um.
"""

from __future__ import annotations

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.units.words import WAVELENGTH
from spectra.units import FloatArray


def settle_x_unit(
    x: FloatArray, stated: str | None, where: str, hint: str | None = None
) -> tuple[str, tuple[str, ...]]:
    """Decide the unit of an abscissa.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Finite, as found in the file.
    stated
        What the file says: a member of ``units.X_UNITS``, ``"wavelength"`` or None.
    where
        File and part, for messages.
    hint
        What lines near the table say, if nothing is stated.

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
    said: tuple[str, ...] = ()
    if stated is None and hint is not None:
        stated, said = hint, (f"abscissa taken as {hint}, which is named above the table",)
    if stated in ("cm-1", "um", "nm"):
        _require_plausible(x, stated, where)
        return stated, said
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
    if _even_in_wavenumber_only(x):
        return "nm", (f"abscissa from {low:g} to {high:g} taken as nm: even in wavenumber",)
    both_infrared = low >= 2500 or (low >= 2000 and (high > 4500 or _unevenness(x) > 0.05))
    if both_infrared and high <= 30000:
        raise _x_ambiguity(low, high, where)
    if low < -1 or high > 30000:
        raise FormatError(
            f"{where}: an abscissa from {low:g} to {high:g} is no infrared axis; state its unit"
        )
    return "cm-1", (f"abscissa from {low:g} to {high:g} taken as cm-1",)


def _even_in_wavenumber_only(x: FloatArray) -> bool:
    """Whether the reciprocal is even and the values are not: an interferometer's points, written in nm."""
    if not (x.min() >= 2000 and x.max() <= 30000):
        return False
    even, even_inverse = _unevenness(x), _unevenness(1.0 / x)
    return even_inverse < 0.05 and even > 5 * even_inverse


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


def _require_plausible(x: FloatArray, unit: str, where: str) -> None:
    """Require that a stated unit does not make nonsense of the values."""
    low, high = float(x.min()), float(x.max())
    likely = {"cm-1": high > 60, "um": high <= 1000, "nm": high >= 200}
    if likely[unit] and not (unit == "cm-1" and high > 4500 and _even_in_wavenumber_only(x)):
        return
    other = "um" if high <= 1000 else "nm" if unit == "cm-1" else "nm or cm-1"
    raise AmbiguityError(
        f"{where}: the abscissa is stated in {unit}, but its values {low:g} to {high:g} look like {other}; "
        "correct the unit in the file"
    )
