"""Which unit the abscissa is in: as a person or the file states, else by the values where only one fits.

Values decide only where one reading is possible, or where the other would be no infrared spectrum. Where
two readings would give different numbers and nothing tells them apart, :class:`AmbiguityError` shows both.
The thresholds are common practice, no source: mid infrared spans 400 to 4000 cm-1, 25 to 2.5 um; detectors
of visible and near-infrared light cover 190 to 2600 nm, and their programs write round steps.
"""

from __future__ import annotations

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.units.vocabulary import WAVELENGTH
from spectra.units import FloatArray


def settle_x_unit(
    x: FloatArray, stated: str | None, where: str, wanted: str | None = None
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
    wanted
        What a person states; it counts first.

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
    if counts_points(x):
        raise AmbiguityError(
            f"{where}: the abscissa {low:g} to {high:g} counts the points; expected wavenumbers or "
            "wavelengths, export them as the first column"
        )
    if wanted is not None:
        _require_plausible(x, wanted, where, "the study states the abscissa")
        return wanted, (f"abscissa taken as {wanted}, as the study states",)
    if stated in ("nm", WAVELENGTH) and _looks_like_wavenumbers(x, low, high):
        raise AmbiguityError(
            f"{where}: the abscissa is called a wavelength{' in nm' * (stated == 'nm')}, but its values "
            f"{low:g} to {high:g} are even and span what wavenumbers do: as nm they are {1e7 / high:.0f} to "
            f"{1e7 / low:.0f} cm-1; {abscissa_line('cm-1', 'nm')}"
        )
    if stated in ("cm-1", "um", "nm"):
        _require_plausible(x, stated, where, "the abscissa is stated")
        return stated, ()
    if stated == WAVELENGTH or high <= 60:
        if low > 0 and high <= 100 and (stated == WAVELENGTH or _covers_infrared(low, high)):
            return "um", (f"wavelengths from {low:g} to {high:g} taken as um",)
        if stated == WAVELENGTH and low >= 180:
            return "nm", (f"wavelengths from {low:g} to {high:g} taken as nm",)
        raise _no_axis(low, high, where)
    return _unit_from_values(x, low, high, where)


def counts_points(x: FloatArray) -> bool:
    """Whether an axis only counts its points from 0 or 1 on.

    Examples
    --------
    >>> counts_points(np.arange(1.0, 50.0)), counts_points(np.arange(400.0, 450.0))
    (True, False)
    """
    first, last = min(x[0], x[-1]), max(x[0], x[-1])
    return bool(first in (0.0, 1.0) and last - first == x.size - 1 and np.all(np.abs(np.diff(x)) == 1.0))


def _covers_infrared(low: float, high: float) -> bool:
    """Whether values are wavelengths of the infrared in um, and no times, volts or lengths."""
    return low >= 0.7 and high >= 2.0 and high > 1.2 * low


def _unit_from_values(x: FloatArray, low: float, high: float, where: str) -> tuple[str, tuple[str, ...]]:
    """Tell the unit of an abscissa that nothing names, larger than any wavelength in um."""
    if _even_in_wavenumber_only(x):
        return "nm", (f"abscissa from {low:g} to {high:g} taken as nm: even in wavenumber",)
    both_infrared = low >= 2500 or (low >= 2000 and (high > 4500 or _unevenness(x) > 0.05))
    visible = _spans_visible(low, high) and (_round_steps(x) or (low < 400 and high <= 1150))
    if (both_infrared and high <= 30000) or visible:
        raise _x_ambiguity(low, high, where)
    if low < 150 or high > 30000 or high < 700:
        raise _no_axis(low, high, where)
    return "cm-1", (f"abscissa from {low:g} to {high:g} taken as cm-1",)


def _spans_visible(low: float, high: float) -> bool:
    """Whether a span is that of detectors for visible or near-infrared light in nm, and rare in cm-1."""
    silicon, gallium, lead = high <= 1150, low >= 850 and 1600 <= high <= 1720, low >= 700 and high >= 1900
    return low >= 180 and (silicon or gallium or ((lead or high >= 2380) and high <= 2620))


def _looks_like_wavenumbers(x: FloatArray, low: float, high: float) -> bool:
    """Whether values span the mid infrared in cm-1 evenly; detectors for nm end before, at 3300."""
    return low <= 1500 and 3350 < high <= 4500 and _unevenness(x) < 0.05


def _round_steps(x: FloatArray) -> bool:
    """Whether all values are multiples of a half: so gratings are read, interferometers are not."""
    return bool(np.all(np.abs(2.0 * x - np.round(2.0 * x)) < 1e-6))


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
        f"{high:g} cm-1, as nm {1e7 / high:.0f} to {1e7 / low:.0f} cm-1; "
        f"{abscissa_line('cm-1', 'nm')}"
    )


def _no_axis(low: float, high: float, where: str) -> FormatError:
    return FormatError(
        f"{where}: an abscissa from {low:g} to {high:g} is no infrared axis; if it is one, "
        f"{abscissa_line('cm-1')}"
    )


def abscissa_line(*units: str) -> str:
    """Return the line of a study, and the option, that states the unit of the abscissa."""
    lines = " or ".join(f'abscissa = "{unit}"' for unit in units)
    return f"state its unit: {lines} under [files] of the study, or --abscissa on the command line"


def _require_plausible(x: FloatArray, unit: str, where: str, said: str) -> None:
    """Require that a stated unit does not make nonsense of the values."""
    low, high = float(x.min()), float(x.max())
    likely = {"cm-1": 60 < high <= 30000 and low >= 0, "um": high <= 1000, "nm": high >= 200}
    if likely[unit] and not (unit == "cm-1" and high > 4500 and _even_in_wavenumber_only(x)):
        return
    other = "um" if high <= 1000 else "nm" if unit == "cm-1" else "nm or cm-1"
    raise AmbiguityError(
        f"{where}: {said} in {unit}, but its values {low:g} to {high:g} look like {other}; correct the unit "
        f"in the file, or {abscissa_line(other.partition(' ')[0])}"
    )
