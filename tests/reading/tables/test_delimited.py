"""Delimited text: what may be assumed, what must be asked, and which line is wrong."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.errors import AmbiguityError, FormatError
from spectra.reading import read

X = np.arange(400.0, 4000.0, 10.0)
A = 0.02 + 0.5 * np.exp(-(((X - 1700) / 30) ** 2)) + 0.2 * np.exp(-(((X - 2900) / 60) ** 2))


def written(tmp_path, text: str, name: str = "film.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def columns(x=X, y=A, head: str = "", form: str = "{:.4f},{:.6f}\n") -> str:
    return head + "".join(form.format(a, b) for a, b in zip(x, y, strict=True))


@pytest.mark.parametrize(
    ("text", "assumed"),
    [
        (columns(), ["abscissa from 400 to 3990 taken as cm-1", "taken as absorbance: bands point up"]),
        (columns(y=10**-A), ["taken as cm-1", "taken as transmittance (fraction): bands point down"]),
        (columns(y=100 * 10**-A), ["taken as cm-1", "taken as percent transmittance: bands point down"]),
        (columns(x=1e4 / X), ["wavelengths from 2.5063 to 25 taken as um", "taken as absorbance"]),
        (columns(x=1e7 / X), ["taken as nm: even in wavenumber", "taken as absorbance"]),
        (
            columns(head="Wavelength,Absorbance\n", x=1e7 / X),
            ["wavelengths from 2506.27 to 25000 taken as nm"],
        ),
    ],
)
def test_units_are_told_from_the_values_and_said(text, assumed, tmp_path):
    (spectrum,) = read(written(tmp_path, text))
    assert spectrum.wavenumbers[[0, -1]] == pytest.approx([400, 3990], rel=1e-4)
    assert len(spectrum.origin.assumed) == len(assumed)
    for said, expected in zip(spectrum.origin.assumed, assumed, strict=True):
        assert expected in said


@pytest.mark.parametrize(
    ("text", "message"),
    [
        # 2600 to 3590 cm-1, or nm: 3846 to 2786 cm-1
        (
            columns(x=X[:100] + 2200, y=A[100:200]),
            r"as cm-1 it means 2600 to 3590 cm-1, as nm 2786 to 3846 cm-1",
        ),
        (
            columns(head="cm-1,%T\n"),
            r"no value exceeds 0\.52: as percent the absorbance is 2\.28 to 3\.70, as fraction",
        ),
        (columns(x=1e4 / X, head="cm-1,A\n"), r"stated in cm-1, but its values 2\.5063 to 25 look like um"),
        (columns(head="um,A\n"), r"stated in um, but its values 400 to 3990 look like nm or cm-1"),
        (
            columns(y=0.5 + 0 * A, head="cm-1,\n"),
            r"have no unit: they may be absorbance from 0\.5 to 0\.5, or transm",
        ),
        (
            columns(y=-A / 10, head="cm-1,\n"),
            r"have no unit: they may be absorbance from -0\.052 to -0\.002; state",
        ),
        (
            "".join(f"{x:.0f},5,0,{i % 90 + 10:03d}\n" for i, x in enumerate(X)),
            r"'400,5,0,010' is 400, 5, 0, 010 if",
        ),
        (
            "".join(f"{i + 1},{i % 900 + 100};{i % 9 + 1},{i % 800 + 150}\n" for i in range(50)),
            r"is \d+ if the comma marks",
        ),
    ],
    ids=[
        "cm-1 or nm",
        "percent or fraction",
        "um as cm-1",
        "cm-1 as um",
        "A or T",
        "inverted",
        "two or four columns",
        "thousands",
    ],
)
def test_two_readings_with_different_numbers_are_shown(text, message, tmp_path):
    with pytest.raises(AmbiguityError, match=message):
        read(written(tmp_path, text))


@pytest.mark.parametrize(
    ("head", "unit", "said"),
    [
        ("absorbance of film 7\ncm-1,film 7\n", "absorbance", "bands point up"),
        ("film 7, transmission\nx,y\n", "absorbance", "bands point up"),
        ("absorbance over cm-1\nx,y\n", "absorbance", "taken as absorbance, which is named above the table"),
        ("120 nm film on glass\nx,y\n", "absorbance", "abscissa from 400 to 3990 taken as cm-1"),
        ("mode: transmission\nx,y\n", "absorbance", "bands point up"),
        (
            "in transmission\nordinate: absorbance\nx,y\n",
            "absorbance",
            "taken as absorbance, which is named above",
        ),
        ("film 7, transmission\ncm-1,absorbance\n", "absorbance", ""),
        ("resolution 4 cm-1\nx,y\n", "absorbance", "abscissa from 400 to 3990 taken as cm-1"),
    ],
)
def test_words_above_the_table_count_less_than_column_names(head, unit, said, tmp_path):
    (spectrum,) = read(written(tmp_path, columns(head=head)))
    assert spectrum.origin.y_unit == unit
    assert any(said in clause for clause in spectrum.origin.assumed) or not said


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            columns(head="y: transmittance\nx,y\n"),
            "stated as transmittance, but the bands point up, as in abs",
        ),
        (
            columns(y=10**-A, head="y: absorbance\nx,y\n"),
            "stated as absorbance, but the bands point down, as",
        ),
        (
            columns(x=1e7 / X, head="x: cm-1\nx,y\n"),
            r"stated in cm-1, but its values 2506\.27 to 25000 look like nm",
        ),
    ],
)
def test_words_above_the_table_that_the_values_contradict(text, message, tmp_path):
    with pytest.raises(AmbiguityError, match=message):
        read(written(tmp_path, text))


def test_rows_and_columns_that_both_look_like_axes(tmp_path):
    table = np.random.default_rng(1).uniform(0, 1, (20, 20)).round(3)
    table[0], table[:, 0] = np.arange(20) * 100.0 + 400, np.arange(20) * 100.0 + 400
    text = "\n".join(",".join(map(str, row)) for row in table)
    with pytest.raises(
        AmbiguityError, match="19 spectra of 20 points in columns, or 19 spectra of 19 points in rows"
    ):
        read(written(tmp_path, text))


@pytest.mark.parametrize("names", ["spot {}", "{}", "sample {} (absorbance)"])
def test_numbered_names_are_not_taken_for_an_axis(names, tmp_path):
    head = "wavenumber (cm-1)," + ",".join(names.format(i) for i in range(1, 13)) + "\n"
    rows = "".join(
        f"{x}," + ",".join(f"{a * i:.5f}" for i in range(1, 13)) + "\n" for x, a in zip(X, A, strict=True)
    )
    spectra = read(written(tmp_path, head + rows))
    assert len(spectra) == 12
    assert all(len(spectrum) == X.size for spectrum in spectra)
    gappy = (head + rows).replace(",", ";").replace(".", ",").replace("0,02000;", ";", 1)
    spectra = read(written(tmp_path, gappy))
    assert [len(spectrum) for spectrum in spectra] == [X.size] * 12
    assert np.isnan(spectra[0].absorbance[0])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (columns().replace("1700.0000,", "1700.0000;"), r"line 131: '1700.0000;0.520000' stands between"),
        (
            columns(form="{:.4f};{:.6f}\n").replace("1700.0000;0.52", "1700.0000;O.52"),
            r"line 131, column 2: 'O\.520",
        ),
        (columns().replace("1710.0000,", "1690.0000,"), r"line 132: the abscissa turns from 1700 to 1690"),
        (columns().replace("1710.0000,", "1700.0000,"), r"line 132: the abscissa 1700 is given twice"),
        (columns() + "39", r"line 361: '39' has too few numbers; was the file cut off"),
        (columns().replace("1700.0000,", "next scan\n1700.0000,"), "line 131: 'next scan' stands between"),
        (
            columns().replace("400.0000,0.02", "400.0000,dark", 1),
            "the row '400.0000 dark0000' above the table looks",
        ),
        (columns(form="{0:.4f}\n"), "found one column of numbers"),
        (columns()[:72], r"found 4 points; a spectrum needs at least 10"),
        ("4000 1\n3999 2\n3998 3\n", "found 3 points"),
        ("hello\nworld\n", "found no table of numbers"),
        (columns(form="NaN,{1:.6f}\n"), "line 1: the abscissa is not a number"),
        (columns(form="{0:.4f},NaN\n", head="cm-1,A\n"), "not one ordinate is a number"),
        (columns(y=A * 1e5), "neither absorbance nor transmittance"),
        ("1," * 60_000 + "1\n" + "1," * 60_000 + "1\n", "more than 50000 cells"),
    ],
)
def test_broken_text_names_the_place(text, message, tmp_path):
    with pytest.raises(FormatError, match=message):
        read(written(tmp_path, text))


def test_columns_without_a_spectrum_are_named(tmp_path):
    rows = "".join(f";{x};{a:.5f};;25,0;{2 * a:.5f}\n" for x, a in zip(X, A, strict=True)).replace(".", ",")
    head = ";cm-1;film (absorbance);remarks;degrees;other (absorbance)\n"
    first, second = read(written(tmp_path, head + rows))
    assert [one.origin.part for one in (first, second)] == ["film (absorbance)", "other (absorbance)"]
    assert "column 'degrees' left out: empty or of one value throughout" in first.origin.assumed
    assert np.allclose(second.absorbance, 2 * first.absorbance, atol=2e-5)


def test_an_empty_cell_does_not_shift_its_row(tmp_path):
    # Both rows hold two numbers; only counting the delimiters tells in which column the second stands.
    rows = "".join(f"{x:.1f};{a:.5f};\n{x - 5:.1f};;{2 * a:.5f}\n" for x, a in zip(X[::-1], A, strict=True))
    first, second = read(written(tmp_path, "cm-1;absorbance;absorbance\n" + rows))
    assert np.isnan(first.absorbance[::2]).all()
    assert np.isnan(second.absorbance[1::2]).all()


@pytest.mark.parametrize("missing", ["NaN", "", "n/a", "-"])
def test_a_gap_in_the_first_line_is_no_heading(missing, tmp_path):
    text = columns(head="cm-1,absorbance\n").replace("400.0000,0.020000", f"400.0000,{missing}")
    (spectrum,) = read(written(tmp_path, text))
    assert len(spectrum) == X.size
    assert np.isnan(spectrum.absorbance[0])


def test_rounded_axis_is_rebuilt_and_said(tmp_path):
    x = np.linspace(400, 800, 1001)  # steps of 0.4, written without decimals
    text = "cm-1,absorbance\n" + "".join(f"{round(a)},{0.1 + 0.1 * (i % 5):.2f}\n" for i, a in enumerate(x))
    (spectrum,) = read(written(tmp_path, text))
    assert np.allclose(spectrum.wavenumbers, x, atol=0.5)
    assert spectrum.origin.repairs == ("even axis rebuilt from abscissae rounded to 1",)
    (fault,) = spectrum.origin.faults
    assert fault.code == "axis-rounded"
    assert "the points are 0.4 apart" in fault.found


def test_transmittance_at_or_below_zero_is_counted_and_masked(tmp_path):
    y = 10**-A
    y[[50, 51]] = 0.0, -0.001
    (spectrum,) = read(written(tmp_path, columns(y=y, head="cm-1,transmittance\n")))
    assert np.flatnonzero(np.isnan(spectrum.absorbance)).tolist() == [50, 51]
    (fault,) = spectrum.origin.faults
    assert (fault.code, fault.where) == ("transmittance-not-positive", "900.0 to 910.0 cm-1")
    assert fault.found.startswith("2 of 360 ratios")


DIALECTS = [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), (" ", "."), (" ", ",")]


@given(
    st.sampled_from(DIALECTS),
    st.integers(1, 6),
    st.integers(2, 6),
    st.booleans(),
    st.sampled_from(["", "\ufeff", "# note\n", "line one\nline two: 7\n\n"]),
    st.sampled_from(["\n", "\r\n", "\r", " \n"]),
    st.integers(0, 2**32 - 1),
)
@settings(max_examples=80, deadline=None)
def test_values_survive_every_dialect(dialect, x_digits, y_digits, descending, preface, line_break, seed):
    delimiter, decimal = dialect
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(1.0, 3.0, 40)) + 500.0
    y = rng.normal(0.5, 0.3, 40)
    if descending:
        x, y = x[::-1], y[::-1]
    lines = [
        f"{a:.{x_digits}f}{delimiter}{b:.{y_digits}f}".replace(".", decimal)
        for a, b in zip(x, y, strict=True)
    ]
    expected = np.array([[float(cell.replace(",", ".")) for cell in line.split(delimiter)] for line in lines])
    if descending:
        expected = expected[::-1]
    head = f"cm-1{delimiter}absorbance"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.txt"
        path.write_text(preface + line_break.join([head, *lines]), encoding="utf-8", newline="")
        (spectrum,) = read(path)
    assert np.array_equal(spectrum.wavenumbers, expected[:, 0])
    assert np.array_equal(spectrum.absorbance, expected[:, 1])
