"""What is written is read back: by this project, by a second decoder, and by jcamp where it is right."""

from __future__ import annotations

import tempfile
from pathlib import Path

import jcamp
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.errors import OutputError
from spectra.reading import read
from spectra.spectrum import Origin, Spectrum
from spectra.units import from_absorbance
from spectra.writing.csv_file import write_csv
from spectra.writing.jcamp_file import write_jcamp
from spectra.writing.jcamp_lines import ENCODINGS
from tests import decoder


def film(points: int = 300, title: str = "film", step: float = 2.0) -> Spectrum:
    x = 1000.0 + step * np.arange(points)
    y = 0.02 + 0.5 * np.exp(-(((x - x.mean()) / 30) ** 2))
    y[:20] = 0.02  # repeats
    y[-3:] = [-0.01, 0.0, 0.01]
    return Spectrum(x, y, Origin(f"{title}.csv", title=title))


def table_lines(path: Path) -> list[str]:
    lines = path.read_text().splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("##XYDATA")) + 1
    stop = next(i for i, line in enumerate(lines) if i > start and line.startswith("##"))
    return lines[start:stop]


ordinates = st.lists(
    st.one_of(st.integers(-3000, 3000), st.just(0), st.just(7), st.none()), min_size=12, max_size=120
).filter(lambda values: any(value is not None for value in values))


@given(
    ordinates,
    st.sampled_from(ENCODINGS),
    st.sampled_from([1e-3, 1e-4, 2.5e-4, 0.0078125]),
    st.booleans(),
    st.sampled_from(["\n", "\r\n"]),
    st.floats(400, 3000),
    st.floats(0.1, 20),
)
@settings(max_examples=150, deadline=None)
def test_round_trip_over_encodings(counts, encoding, factor, descending, line_break, first, step):
    y = np.array([np.nan if count is None else count * factor for count in counts])
    spectrum = Spectrum(first + step * np.arange(y.size), y, Origin("film"))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.dx"
        write_jcamp(
            spectrum, path, encoding=encoding, y_factor=factor, descending=descending, line_break=line_break
        )
        (found,) = read(path)
        lines = table_lines(path) if "##XYDATA" in path.read_text() else None
        assert max(len(line) for line in path.read_text().splitlines()) <= 80
    assert np.allclose(found.wavenumbers, spectrum.wavenumbers, rtol=1e-14, atol=0)
    assert np.allclose(found.absorbance, y, rtol=1e-12, atol=0, equal_nan=True)
    assert found.origin.repairs == ()
    assert {fault.code for fault in found.origin.faults} <= {"missing-ordinates"}
    if lines is not None:
        expected, _ = decoder.decode(lines)
        order = slice(None, None, -1) if descending else slice(None)
        assert np.allclose(np.array(expected)[order] * factor, y, rtol=1e-12, atol=0, equal_nan=True)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_encodings_take_less_room_in_turn(encoding, tmp_path):
    path = tmp_path / "film.dx"
    write_jcamp(film(), path, encoding=encoding, y_factor=1e-4)
    sizes = {"AFFN": 2100, "PAC": 2100, "SQZ": 1800, "DIF": 1300, "DIFDUP": 1150}
    assert path.stat().st_size < sizes[encoding]
    forms = {"AFFN": " 200", "PAC": "+200", "SQZ": "B00", "DIF": "B00%%", "DIFDUP": "B00%"}
    assert forms[encoding] in table_lines(path)[0]


@pytest.mark.parametrize("encoding", ["AFFN", "PAC", "DIF"])
def test_jcamp_reads_what_is_written(encoding, tmp_path, capsys):
    # jcamp 1.3.2; it loses points of the other two encodings (JCAMP_NOTES.md)
    path = tmp_path / "film.dx"
    write_jcamp(film(), path, encoding=encoding, y_factor=1e-4)
    theirs = jcamp.readfile(str(path))
    assert np.allclose(theirs["x"], film().wavenumbers)
    assert np.allclose(theirs["y"], film().absorbance, atol=0.5e-4)
    assert "failed" not in capsys.readouterr().out


def test_nine_digits_by_default(tmp_path):
    path = tmp_path / "film.dx"
    write_jcamp(film(), path)
    (found,) = read(path)
    assert np.max(np.abs(found.absorbance - film().absorbance)) <= 0.5e-9


@pytest.mark.parametrize("unit", ["transmittance", "reflectance"])
def test_other_ordinates(unit, tmp_path):
    path = tmp_path / "film.dx"
    write_jcamp(film(), path, y_unit=unit)
    (found,) = read(path)
    assert found.origin.y_unit == unit
    assert np.allclose(found.absorbance, film().absorbance, atol=1e-8)


def test_uneven_axis_is_written_point_by_point(tmp_path):
    spectrum = Spectrum(
        np.sort(np.random.default_rng(1).uniform(400, 4000, 50)), np.arange(50) / 50, Origin("film")
    )
    path = tmp_path / "film.dx"
    write_jcamp(spectrum, path)
    assert "##XYPOINTS= (XY..XY)" in path.read_text()
    (found,) = read(path)
    assert np.array_equal(found.wavenumbers, spectrum.wavenumbers)
    assert np.allclose(found.absorbance, spectrum.absorbance, atol=1e-9)


def test_several_spectra_become_blocks(tmp_path):
    path = tmp_path / "films.dx"
    write_jcamp([film(title="bare"), film(40, title="coated")], path)
    found = read(path)
    assert [(spectrum.origin.title, len(spectrum)) for spectrum in found] == [("bare", 300), ("coated", 40)]


def test_titles_cannot_break_the_file(tmp_path):
    path = tmp_path / "film.dx"
    title = "a $$ b ## c\n##NPOINTS= 7 " + "x" * 200
    write_jcamp(film(title=title), path)
    (found,) = read(path)
    assert found.origin.title.startswith("a $ b # c #NPOINTS= 7 xxx")
    assert max(map(len, path.read_text().splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"encoding": "ZIP"}, "encoding 'ZIP' is unknown; expected one of AFFN, PAC, SQZ, DIF, DIFDUP"),
        ({"y_unit": "percent transmittance"}, "cannot be written; expected one of absorbance, transmittance"),
        ({"y_factor": 0.0}, "y_factor is 0; expected a positive number"),
        ({"y_factor": 1e-18}, "y_factor 1e-18 is too fine"),
    ],
)
def test_what_cannot_be_written(arguments, message, tmp_path):
    with pytest.raises(OutputError, match=message):
        write_jcamp(film(), tmp_path / "film.dx", **arguments)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("write", [write_jcamp, write_csv])
def test_files_are_not_replaced_unasked(write, tmp_path):
    path = tmp_path / "film"
    path.write_text("mine")
    with pytest.raises(OutputError, match="exists already"):
        write(film(), path)
    assert path.read_text() == "mine"
    write(film(), path, overwrite=True)
    assert path.read_text() != "mine"
    with pytest.raises(OutputError, match="cannot be written"):
        write(film(), tmp_path / "none" / "film")
    with pytest.raises(OutputError, match="there is no spectrum to write"):
        write([], tmp_path / "empty")
    assert [file.name for file in tmp_path.iterdir()] == ["film"]


@given(
    st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ".")]),
    st.sampled_from(["absorbance", "transmittance", "percent transmittance"]),
    st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None)
def test_round_trip_of_text(marks, unit, seed):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.5, 3, 60)) + 700
    y = rng.uniform(-0.1, 1.5, 60)
    y[rng.integers(60)] = np.nan
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.csv"
        write_csv(Spectrum(x, y, Origin("film")), path, y_unit=unit, delimiter=marks[0], decimal=marks[1])
        (found,) = read(path)
    assert np.array_equal(found.wavenumbers, x)
    assert found.origin.y_unit == unit
    written = from_absorbance(found.absorbance, unit)
    assert np.allclose(written, from_absorbance(y, unit), rtol=1e-12, atol=0, equal_nan=True)
    if unit == "absorbance":
        assert np.array_equal(found.absorbance, y, equal_nan=True)


def test_pandas_reads_the_text(tmp_path):
    path = tmp_path / "films.csv"
    write_csv([film(title="bare"), film(title="coated")], path, delimiter=";", decimal=",")
    frame = pd.read_csv(path, sep=";", decimal=",")
    assert list(frame.columns) == ["wavenumber (cm-1)", "bare (absorbance)", "coated (absorbance)"]
    assert np.array_equal(frame["bare (absorbance)"], film().absorbance)


def test_spectra_on_different_axes_become_pairs(tmp_path):
    path = tmp_path / "films.csv"
    write_csv([film(), film(40, step=3.0)], path)
    first, second = read(path)
    assert np.array_equal(first.absorbance, film().absorbance)
    assert np.array_equal(second.wavenumbers, film(40, step=3.0).wavenumbers)


def test_marks_that_cannot_be_told_apart(tmp_path):
    with pytest.raises(OutputError, match="cannot be read back"):
        write_csv(film(), tmp_path / "film.csv", delimiter=",", decimal=",")
