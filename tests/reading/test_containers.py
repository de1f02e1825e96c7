"""Spreadsheets, named arrays and AnIML beyond the files of the table shapes."""

from __future__ import annotations

import base64

import numpy as np
import openpyxl
import pytest
import scipy.io

from spectra.errors import AmbiguityError, FormatError
from spectra.reading import read

X = np.linspace(4000.0, 400.0, 61)
A = 0.02 + 0.5 * np.exp(-(((X - 1700) / 90) ** 2))


def saved_sheet(tmp_path, rows, title="data"):
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    path = tmp_path / "film.xlsx"
    book.save(path)
    return path


def test_sheet_with_text_numbers_and_gaps(tmp_path):
    rows = [["cm-1", "absorbance"], *([float(x), float(a)] for x, a in zip(X, A, strict=True))]
    rows[5][1] = None
    rows[9] = [f"{X[8]:.1f}".replace(".", ","), f"{A[8]:.6f}".replace(".", ",")]  # typed in as text
    (spectrum,) = read(saved_sheet(tmp_path, rows))
    assert np.flatnonzero(np.isnan(spectrum.absorbance[::-1])).tolist() == [4]
    assert spectrum.absorbance[::-1][8] == pytest.approx(A[8], abs=1e-6)


def test_sheet_with_a_word_among_the_numbers_names_row_and_column(tmp_path):
    rows = [["cm-1", "absorbance"], *([float(x), float(a)] for x, a in zip(X, A, strict=True))]
    rows[20][1] = "saturated"
    with pytest.raises(
        FormatError, match=r"film\.xlsx \[data\]: row 21, column 2: 'saturated' is not a number"
    ):
        read(saved_sheet(tmp_path, rows))


def test_workbook_without_a_table(tmp_path):
    with pytest.raises(FormatError, match="no sheet holds a table of numbers"):
        read(saved_sheet(tmp_path, [["notes"], ["nothing measured"]]))


def test_several_sheets_with_spectra_are_all_read(tmp_path):
    path = saved_sheet(tmp_path, [["cm-1", "absorbance"], *zip(X.tolist(), A.tolist(), strict=True)], "bare")
    book = openpyxl.load_workbook(path)
    other = book.create_sheet("coated")
    for row in [["cm-1", "absorbance"], *zip(X.tolist(), (2 * A).tolist(), strict=True)]:
        other.append(row)
    book.save(path)
    bare, coated = read(path)
    assert [spectrum.origin.part for spectrum in (bare, coated)] == ["bare", "coated"]
    assert np.allclose(coated.absorbance, 2 * bare.absorbance)


def test_damaged_workbook(tmp_path):
    path = saved_sheet(tmp_path, [["cm-1", "absorbance"], [1.0, 2.0]])
    data = path.read_bytes()
    path.write_bytes(data[:1000] + b"\x00" * 200 + data[1200:])
    with pytest.raises(FormatError, match="damaged"):
        read(path)


def saved_arrays(tmp_path, **arrays):
    path = tmp_path / "film.npz"
    np.savez_compressed(path, **arrays)
    return path


@pytest.mark.parametrize("name", ["wavenumbers", "wn", "x", "cm-1", "axis", "nu", "grid"])
def test_names_of_the_abscissa(name, tmp_path):
    (spectrum,) = read(saved_arrays(tmp_path, **{name: X, "absorbance": A}))
    assert np.array_equal(spectrum.absorbance[::-1], A)
    assert spectrum.origin.assumed[0] == f"array {name!r} taken as the abscissa"


def test_units_in_the_names(tmp_path):
    (spectrum,) = read(saved_arrays(tmp_path, wavelength_um=1e4 / X, transmittance=10**-A))
    assert (spectrum.origin.x_unit, spectrum.origin.y_unit) == ("um", "transmittance")
    assert np.allclose(spectrum.absorbance[::-1], A)


@pytest.mark.parametrize("dtype", ["<f4", ">f8", "<i4", "<u2"])
def test_other_number_types(dtype, tmp_path):
    counts = np.round(1000 * A).astype(dtype)
    (spectrum,) = read(saved_arrays(tmp_path, wavenumbers=X, absorbance=counts))
    assert np.array_equal(spectrum.absorbance[::-1], counts.astype(float))


@pytest.mark.parametrize(
    ("arrays", "error", "message"),
    [
        (
            {"p": X, "q": X + 1, "y": A},
            AmbiguityError,
            "any of the arrays p, q may be the abscissa; name one of them",
        ),
        ({"wavenumbers": X, "y": np.outer(A, A)}, AmbiguityError, "array 'y' is square"),
        (
            {"wavenumbers": X, "y": A[:-1]},
            FormatError,
            "no array fits the abscissa 'wavenumbers' of 61 points",
        ),
        ({"y": A}, FormatError, r"found no abscissa among the arrays y"),
        ({"text": np.array(["a"])}, FormatError, r"found no abscissa among the arrays \(none\)"),
    ],
)
def test_arrays_that_cannot_be_matched(arrays, error, message, tmp_path):
    with pytest.raises(error, match=message):
        read(saved_arrays(tmp_path, **arrays))


def test_matlab_vectors_and_what_is_no_number(tmp_path):
    path = tmp_path / "film.mat"
    scipy.io.savemat(
        path, {"wn": X, "absorbance": A, "name": "film", "cell": np.array([1, "a"], dtype=object)}
    )
    (spectrum,) = read(path)
    assert np.array_equal(spectrum.absorbance[::-1], A)


def test_hdf5_that_refers_to_another_file(tmp_path):
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "film.h5"
    with h5py.File(path, "w") as file:
        file["wavenumbers"] = X
        file.create_dataset("absorbance", shape=(61,), dtype="f8", external=[("other.bin", 0, 61 * 8)])
    with pytest.raises(FormatError, match="dataset 'absorbance' refers to another file"):
        read(path)


def test_hdf5_that_claims_too_much(tmp_path):
    h5py = pytest.importorskip("h5py")
    path = tmp_path / "film.h5"
    with h5py.File(path, "w") as file:
        file.create_dataset("y", shape=(10**9,), dtype="f8", chunks=(10**6,), compression="gzip")
    assert path.stat().st_size < 1e6
    with pytest.raises(FormatError, match="holds more than 101 MB of numbers"):
        read(path)


COUNTED = "<StartValue><D>4000</D></StartValue><Increment><D>-60</D></Increment>"
COUNTED = f"<AutoIncrementedValueSet>{COUNTED}</AutoIncrementedValueSet>"
NAMESPACE = "urn:org:astm:animl:schema:core:draft:0.90"


def animl(y: str, x: str = COUNTED, unit: str = '<Unit label="1/cm"/>', length: str = "61") -> str:
    return (
        f'<AnIML xmlns="{NAMESPACE}"><ExperimentStep name="film"><Result>'
        f'<SeriesSet name="s" length="{length}">'
        f'<Series name="x" dependency="independent" seriesType="Float64">{x}{unit}</Series>'
        f'<Series name="Absorbance" dependency="dependent" seriesType="Float32">{y}</Series>'
        "</SeriesSet></Result></ExperimentStep></AnIML>"
    )


def packed(values, kind="<f4") -> str:
    return (
        f"<EncodedValueSet>{base64.b64encode(np.asarray(values, kind).tobytes()).decode()}</EncodedValueSet>"
    )


def listed(values) -> str:
    return f"<IndividualValueSet>{''.join(f'<F>{value!r}</F>' for value in values)}</IndividualValueSet>"


@pytest.mark.parametrize(
    "y", [packed(A), listed(A.tolist()), listed(A[:30].tolist()) + listed(A[30:].tolist())]
)
def test_animl_values(y, tmp_path):
    path = tmp_path / "film.animl"
    path.write_text(animl(y))
    (spectrum,) = read(path)
    assert np.array_equal(spectrum.wavenumbers[::-1], X)
    assert np.allclose(spectrum.absorbance[::-1], A, rtol=1e-7)
    assert spectrum.origin.y_unit == "absorbance"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (animl(packed(A[:-1])), "series 'Absorbance' holds 60 values, its set promises 61"),
        (animl("<EncodedValueSet>a%b</EncodedValueSet>"), "packed values are damaged"),
        (animl(packed(A), unit='<Unit label="s"/>'), "no series set has an infrared axis"),
        (animl(packed(A), length="many"), "length is 'many'; expected the number of points"),
        (animl("<IndividualValueSet><F>high</F></IndividualValueSet>"), "'high' is not a number"),
        (animl(packed(A)).replace("Float32", "String"), "packed values of type 'String'"),
        (
            animl(packed(A), x="<AutoIncrementedValueSet/>"),
            "a counted series without start value or increment",
        ),
        (animl(packed(A))[:-9], "is broken XML"),
    ],
)
def test_broken_animl(text, message, tmp_path):
    path = tmp_path / "film.animl"
    path.write_text(text)
    with pytest.raises(FormatError, match=message):
        read(path)


def test_animl_units_in_si_form(tmp_path):
    path = tmp_path / "film.animl"
    unit = '<Unit label="?"><SIUnit factor="1E-6" exponent="1">m</SIUnit></Unit>'
    path.write_text(animl(packed(A), x=listed((1e4 / X).tolist()), unit=unit))
    (spectrum,) = read(path)
    assert spectrum.origin.x_unit == "um"
    assert np.allclose(spectrum.wavenumbers[::-1], X)
