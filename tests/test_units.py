"""Unit conversions: published values, inverses, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from spectra.errors import FormatError
from spectra.units import X_UNITS, Y_UNITS, from_absorbance, to_absorbance, to_wavenumbers

positive = hnp.arrays(np.float64, st.integers(1, 30), elements=st.floats(1e-3, 1e6))
absorbances = hnp.arrays(np.float64, st.integers(1, 30), elements=st.floats(-2, 6))


@pytest.mark.parametrize(
    ("wavelength", "unit", "wavenumber"),
    [
        (2.5, "um", 4000.0),
        (10.0, "um", 1000.0),
        (25.0, "um", 400.0),
        (2500.0, "nm", 4000.0),
        (1000.0, "cm-1", 1000.0),
    ],
)
def test_wavelengths_of_the_textbooks(wavelength: float, unit: str, wavenumber: float) -> None:
    # 1 cm-1 is the reciprocal of 10 000 micrometres (SI; any textbook)
    assert to_wavenumbers([wavelength], unit) == pytest.approx([wavenumber])


@pytest.mark.parametrize(("percent", "absorbance"), [(100.0, 0.0), (50.0, 0.30103), (10.0, 1.0), (0.1, 3.0)])
def test_transmittance_of_the_textbooks(percent: float, absorbance: float) -> None:
    # A = -log10 T (IUPAC Gold Book, doi:10.1351/goldbook.A00028); log10 2 = 0.30103
    assert to_absorbance([percent], "percent transmittance") == pytest.approx([absorbance], abs=1e-6)
    assert to_absorbance([percent / 100], "transmittance") == pytest.approx([absorbance], abs=1e-6)


@given(positive, st.sampled_from(X_UNITS))
def test_abscissa_there_and_back(values: np.ndarray, unit: str) -> None:
    """A reciprocal is its own inverse."""
    assert to_wavenumbers(to_wavenumbers(values, unit), unit) == pytest.approx(values, rel=1e-12)


@given(absorbances, st.sampled_from(Y_UNITS))
def test_ordinate_there_and_back(values: np.ndarray, unit: str) -> None:
    assert to_absorbance(from_absorbance(values, unit), unit) == pytest.approx(values, rel=1e-9, abs=1e-9)


@given(hnp.arrays(np.float64, st.integers(1, 20), elements=st.floats(-10, 0)))
def test_what_has_no_absorbance_is_not_given_one(values: np.ndarray) -> None:
    assert np.isnan(to_absorbance(values, "transmittance")).all()


def test_unknown_units_and_impossible_wavelengths_are_refused() -> None:
    with pytest.raises(FormatError, match="unknown abscissa unit 'mm'; expected one of cm-1, um, nm"):
        to_wavenumbers([1.0], "mm")
    with pytest.raises(FormatError, match="unknown ordinate unit 'counts'"):
        to_absorbance([1.0], "counts")
    with pytest.raises(FormatError, match="a wavelength of -1 um cannot be"):
        to_wavenumbers([2.0, -1.0], "um")
