"""Which unit the ordinate is in: as stated, else by the words of the header, else by the values.

Bands point up in absorbance and down in transmittance, which the fine structure of a curve shows. Where
nothing tells two readings apart, :class:`AmbiguityError` shows both. The thresholds are common practice,
no source: a ratio above 2 cannot be a transmittance given as a fraction, and an absorbance above 6 has not
been measured.
"""

from __future__ import annotations

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import finite_values
from spectra.reading.units.polarity import CLEAR_LEAN, band_lean
from spectra.reading.units.words import KUBELKA_MUNK
from spectra.units import FloatArray


def settle_y_unit(
    y: FloatArray, stated: str | None, where: str, hint: str | None = None
) -> tuple[str, tuple[str, ...]]:
    """Decide the unit of an ordinate.

    Parameters
    ----------
    y : ndarray, shape (n,)
        As found in the file; NaN is left out.
    stated
        What the file says: an answer of :func:`named_y_unit`.
    where
        File and part, for messages.
    hint
        What lines near the table say, if nothing is stated. It may be the technique that they name, so it
        holds only where the bands point the right way.

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
    finite = finite_values(y)
    if finite.size == 0:
        raise FormatError(f"{where}: not one ordinate is a number; export the spectrum again")
    top = float(np.percentile(finite, 98))
    said: tuple[str, ...] = ()
    if stated is None and hint is not None:
        _require_direction(finite, hint, where)
        stated, said = hint, (f"ordinate taken as {hint}, which is named above the table",)
    if stated in ("absorbance", KUBELKA_MUNK):
        return stated, said
    if stated in ("transmittance", "reflectance"):
        if top <= 2.0:
            return stated, said
        return f"percent {stated}", (f"values up to {finite.max():g} taken as {stated} in percent",)
    if stated is not None:
        if top <= 1.3:
            raise _percent_ambiguity(finite, stated, where)
        return stated, said
    return _unit_of_ordinates(finite, top, where)


def _require_direction(y: FloatArray, hint: str, where: str) -> None:
    """Require that bands point the way that a unit named above the table asks for."""
    lean = band_lean(y)
    upward = hint in ("absorbance", KUBELKA_MUNK)
    if (lean < -CLEAR_LEAN and upward and np.median(y) > 0.3) or (lean > CLEAR_LEAN and not upward):
        raise AmbiguityError(
            f"{where}: {hint} is named above the table, but the bands point "
            f"{'down' if upward else 'up'}: the "
            f"ordinates {y.min():.3g} to {y.max():.3g} may be {hint}, or "
            f"{'transmittance' if upward else 'absorbance'}; "
            "name the unit in the column's own header"
        )


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
