"""Units of the two axes: wavenumber in cm-1, decadic absorbance.

Conversions are done once, on reading, and written into the spectrum's origin. Wavelength and wavenumber
are reciprocal (1 cm-1 is 10 000 µm); absorbance is the negative decadic logarithm of transmittance
(IUPAC Gold Book, doi:10.1351/goldbook.A00028).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from spectra.errors import FormatError, SettingError

FloatArray = NDArray[np.float64]

Mask = NDArray[np.bool_]

IndexArray = NDArray[np.intp]

# How many cm-1 a wavelength of one unit is: wavenumber = factor / wavelength.
WAVELENGTH_FACTORS = {"um": 1.0e4, "nm": 1.0e7}

X_UNITS = ("cm-1", *WAVELENGTH_FACTORS)

Y_UNITS = ("absorbance", "transmittance", "percent transmittance", "reflectance", "percent reflectance")

DECIMAL_MARKS = (",", ".")


@dataclass(frozen=True)
class StatedUnits:
    """What a person says about files that do not say it themselves; None leaves it to the files.

    Attributes
    ----------
    ordinate
        Member of :data:`Y_UNITS`.
    abscissa
        Member of :data:`X_UNITS`.
    decimal
        Member of :data:`DECIMAL_MARKS`.
    """

    ordinate: str | None = None
    abscissa: str | None = None
    decimal: str | None = None

    def __post_init__(self) -> None:
        for name, known in (("ordinate", Y_UNITS), ("abscissa", X_UNITS), ("decimal", DECIMAL_MARKS)):
            value = getattr(self, name)
            if value is not None and value not in known:
                listed = ", ".join(repr(one) for one in known)
                raise SettingError(f"{name} is {value!r}; expected one of {listed}")

    def over(self, other: StatedUnits) -> StatedUnits:
        """Return what is said here, and what ``other`` says where nothing is said here.

        Examples
        --------
        >>> StatedUnits(ordinate="absorbance").over(StatedUnits("reflectance", "um"))
        StatedUnits(ordinate='absorbance', abscissa='um', decimal=None)
        """
        return StatedUnits(
            self.ordinate or other.ordinate,
            self.abscissa or other.abscissa,
            self.decimal or other.decimal,
        )


UNSTATED = StatedUnits()


def to_wavenumbers(values: ArrayLike, unit: str) -> FloatArray:
    """Convert an abscissa to wavenumbers.

    Parameters
    ----------
    values : array_like, shape (n,)
        Abscissa in ``unit``, any order; kept in the order given.
    unit : {"cm-1", "um", "nm"}
        Unit of ``values``.

    Returns
    -------
    ndarray, shape (n,), cm-1

    Raises
    ------
    FormatError
        For an unknown unit, or a wavelength that is zero or negative.

    Examples
    --------
    >>> to_wavenumbers([10.0, 2.5], "um")
    array([1000., 4000.])
    """
    array = np.asarray(values, dtype=np.float64)
    if unit == "cm-1":
        return array
    if unit not in WAVELENGTH_FACTORS:
        raise FormatError(f"unknown abscissa unit {unit!r}; expected one of {', '.join(X_UNITS)}")
    if not np.all(array > 0):
        raise FormatError(f"a wavelength of {np.nanmin(array):g} {unit} cannot be; expected positive values")
    return WAVELENGTH_FACTORS[unit] / array


def to_absorbance(values: ArrayLike, unit: str) -> FloatArray:
    """Convert an ordinate to decadic absorbance.

    Parameters
    ----------
    values : array_like, shape (n,)
    unit : str
        One of :data:`Y_UNITS`. Reflectance is treated as the ratio to a reference, so that
        ``-log10 R`` is the reflection absorbance.

    Returns
    -------
    ndarray, shape (n,), dimensionless
        NaN where a ratio is zero, negative or missing: no absorbance belongs to it.

    Examples
    --------
    >>> to_absorbance([100.0, 10.0, 1.0], "percent transmittance") + 0.0
    array([0., 1., 2.])
    """
    array = np.asarray(values, dtype=np.float64)
    if unit == "absorbance":
        return array
    if unit not in Y_UNITS:
        raise FormatError(f"unknown ordinate unit {unit!r}; expected one of {', '.join(Y_UNITS)}")
    absorbance = np.array(array)
    if unit.startswith("percent "):
        absorbance /= 100.0
    absorbance[~(absorbance > 0)] = np.nan
    np.log10(absorbance, out=absorbance)  # in place: long spectra fill the memory
    return np.negative(absorbance, out=absorbance)


def from_absorbance(absorbance: ArrayLike, unit: str) -> FloatArray:
    """Convert decadic absorbance to an ordinate in ``unit``: the inverse of :func:`to_absorbance`.

    Examples
    --------
    >>> from_absorbance([0.0, 1.0], "transmittance")
    array([1. , 0.1])
    """
    array = np.asarray(absorbance, dtype=np.float64)
    if unit == "absorbance":
        return array
    if unit not in Y_UNITS:
        raise FormatError(f"unknown ordinate unit {unit!r}; expected one of {', '.join(Y_UNITS)}")
    scale = 100.0 if unit.startswith("percent") else 1.0
    return np.asarray(scale * 10.0**-array)
