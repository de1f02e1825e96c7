"""Every way of laying a table out, as a small file with the numbers it must give."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spectra.reading import READERS, read
from tests.places import DATA

FILES = DATA / "reading"

# The two invented curves that every file holds, by rising wavenumber.
WAVENUMBERS = np.arange(1690.0, 1801.0, 10.0)
SPOT_1 = np.array([0.015, 0.02, 0.04, 0.10, 0.25, 0.55, 0.62, 0.30, 0.12, 0.05, 0.02, 0.01])
SPOT_2 = np.array([0.025, 0.03, 0.09, 0.28, 0.47, 0.41, 0.22, 0.10, 0.06, 0.04, 0.03, 0.02])

X_HINT = "abscissa taken as cm-1, which is named above the table"
Y_ABOVE = "ordinate taken as absorbance, which is named above the table"
Y_SEEN = "ordinates from 0.01 to 0.62 taken as absorbance: bands point up"
Y_SEEN_TWICE = "ordinates of 2 spectra from 0.01 to 0.62 taken as absorbance: bands point up"
ONE_SPECTRUM = {
    "ascending.csv": (),
    "bars.txt": (),
    "blanks.txt": (),
    "blanks_decimal_comma.txt": ("decimal commas",),
    "bom_crlf.csv": (),
    "comma.csv": (),
    "comments.csv": (X_HINT, Y_ABOVE),
    "fraction.csv": (),
    "index_column.csv": ("column 'first column' left out: it counts the rows",),
    "latin1.csv": (),
    "long_header.txt": (Y_SEEN,),
    "micrometres.csv": (),
    "mixed_marks.csv": (),
    "nanometres.csv": (),
    "other_locale_header.csv": (),
    "percent.csv": (),
    "quoted.csv": (),
    "quoted_decimal_comma.csv": ("decimal commas",),
    "scientific.txt": (),
    "semicolon_decimal_comma.csv": ("decimal commas",),
    "sheet.ods": (),
    "tab.txt": (Y_SEEN,),
    "thousands_blank.csv": ("decimal commas",),
    "thousands_comma.txt": (),
    "thousands_point.csv": ("decimal commas",),
    "trailing.csv": (),
    "utf16.txt": (),
}
TWO_SPECTRA = {
    "arrays.mat": ["absorbance column 1", "absorbance column 2"],
    "arrays.npz": ["absorbance row 1", "absorbance row 2"],
    "columns.csv": ["spot 1", "spot 2"],
    "film.animl": ["invented film, spot 1", "invented film, spot 2"],
    "pairs.csv": ["spot 1 (absorbance)", "spot 2 (absorbance)"],
    "rows.csv": ["spot 1", "spot 2"],
    "rows_named.csv": ["spot 1", "spot 2"],
    "sheets.xlsx": ["spots: spot 1", "spots: spot 2"],
    "text_column.csv": ["absorbance", "absorbance of spot 2"],
}
OTHERS = {"arrays.h5", "gap.csv", "pairs_unequal.csv"}
UNITS = {
    "fraction.csv": ("cm-1", "transmittance"),
    "micrometres.csv": ("um", "absorbance"),
    "nanometres.csv": ("nm", "absorbance"),
    "percent.csv": ("cm-1", "percent transmittance"),
}


def test_every_file_is_covered():
    files = {path.name for path in FILES.iterdir() if path.is_file() and path.suffix != ".md"}
    assert files == set(ONE_SPECTRUM) | set(TWO_SPECTRA) | OTHERS


def test_every_reader_but_one_has_a_file():
    used = {
        spectrum.origin.reader
        for path in FILES.iterdir()
        if path.suffix not in ("", ".md")
        for spectrum in read(path)
    }
    assert used == set(READERS) - {"JCAMP-DX", "numpy array"}  # JCAMP-DX stands in a folder of its own


@pytest.mark.parametrize("name", ONE_SPECTRUM)
def test_one_spectrum(name):
    (spectrum,) = read(FILES / name)
    assert np.allclose(spectrum.wavenumbers, WAVENUMBERS, rtol=1e-8, atol=0)  # wavelengths have nine digits
    assert np.allclose(spectrum.absorbance, SPOT_1, rtol=0, atol=1e-8)  # percent has six decimals
    assert (spectrum.origin.x_unit, spectrum.origin.y_unit) == UNITS.get(name, ("cm-1", "absorbance"))
    assert spectrum.origin.assumed == ONE_SPECTRUM[name]
    assert spectrum.origin.repairs == ()
    assert spectrum.origin.faults == ()
    assert spectrum.origin.part == ""
    assert spectrum.origin.title == Path(name).stem
    assert len(spectrum.origin.sha256) == 64


@pytest.mark.parametrize("name", TWO_SPECTRA)
def test_two_spectra(name):
    first, second = read(FILES / name)
    assert np.array_equal(first.wavenumbers, WAVENUMBERS)
    assert np.array_equal(second.wavenumbers, WAVENUMBERS + (name == "pairs.csv"))
    assert np.allclose(first.absorbance, SPOT_1, rtol=0, atol=1e-15)
    assert np.allclose(second.absorbance, SPOT_2, rtol=0, atol=1e-15)
    assert [spectrum.origin.part for spectrum in (first, second)] == TWO_SPECTRA[name]
    assert {spectrum.origin.y_unit for spectrum in (first, second)} == {"absorbance"}


def test_what_was_left_out_is_named():
    assert read(FILES / "text_column.csv")[0].origin.assumed == ("column 'remark' left out: text",)
    assert read(FILES / "sheets.xlsx")[0].origin.assumed == (
        "sheet 'notes' left out: it holds no table of numbers",
        "column 'remark' left out: text",
        Y_SEEN_TWICE,
    )
    assert read(FILES / "arrays.npz")[0].origin.assumed == (
        "array 'wavenumbers' taken as the abscissa",
        "array 'temperature' left out: its shape (3,) does not fit the abscissa",
    )


def test_hdf5_with_units_as_attributes():
    pytest.importorskip("h5py")
    (spectrum,) = read(FILES / "arrays.h5")
    assert np.array_equal(spectrum.wavenumbers, WAVENUMBERS)
    assert np.array_equal(spectrum.absorbance, SPOT_1)
    assert spectrum.origin.assumed == ("array 'film/axis' taken as the abscissa",)


def test_gaps_stay_gaps():
    (spectrum,) = read(FILES / "gap.csv")
    gaps = np.isnan(spectrum.absorbance)
    assert WAVENUMBERS[gaps].tolist() == [1720, 1770]
    assert np.array_equal(spectrum.absorbance[~gaps], SPOT_1[~gaps])
    (fault,) = spectrum.origin.faults
    assert (fault.code, fault.where) == ("missing-ordinates", "1720.0 to 1770.0 cm-1")
    assert fault.found == "2 of 12 ordinates are missing"


def test_pairs_of_different_length():
    first, second = read(FILES / "pairs_unequal.csv")
    assert np.array_equal(first.absorbance, SPOT_1)
    assert np.array_equal(second.wavenumbers, WAVENUMBERS[2:] + 1)
    assert np.array_equal(second.absorbance, SPOT_2[2:])
