"""The faults of jcamp 1.3.2 listed in JCAMP_NOTES.md: each minimal case, read right here and wrong there."""

from __future__ import annotations

import io
import re
from importlib.metadata import version

import jcamp
import numpy as np
import pytest

from spectra.errors import PromiseError
from spectra.reading import read
from tests.places import DATA, ROOT

DISK = DATA / "reading" / "jcamp"
NOTES = ROOT / "spectra" / "reading" / "JCAMP_NOTES.md"
HEAD = (
    "##TITLE= film\n##JCAMP-DX= 4.24\n##DATA TYPE= INFRARED SPECTRUM\n##XUNITS= 1/CM\n##YUNITS= ABSORBANCE\n"
    "##XFACTOR= 1\n##YFACTOR= 1\n##FIRSTX= 400\n##LASTX= 411\n##NPOINTS= 12\n"
)
FORM = "##XYDATA= (X++(Y..Y))\n"
RAMP = [1.0, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]
PLAIN = "400 1 2 3 4 5 6\n406 7 8 9 10 11 12\n"

# Number in the notes -> file, and the ordinates it holds.
CASES = {
    1: (HEAD + FORM + PLAIN.replace("6\n", "6 $$ first line\n", 1), RAMP),
    2: (HEAD.replace("##YFACTOR= 1\n", "##YFACTOR= 1 $$ exact\n") + FORM + PLAIN, RAMP),
    3: (HEAD + FORM.replace("\n", " $$ table\n") + PLAIN, RAMP),
    4: (HEAD + FORM + "400A5S2\n", [15.0] * 12),
    5: (HEAD + FORM + "400AJS1\n411A2\n", RAMP),
    6: (HEAD + FORM + "400 50 51 52 53 54 55\n406 56 57E8E9 60 61\n", [50.0 + i for i in range(12)]),
    7: (HEAD + "##XY DATA= (X++(Y..Y))\n" + PLAIN, RAMP),
    8: (HEAD + "##XYDATA= (X++ (Y..Y))\n" + PLAIN, RAMP),
    9: (HEAD + FORM + PLAIN + "\x1a", RAMP),
    10: (HEAD + FORM + "400 1 2 3 4\n404EJJJ\n407HJJJJ\n411A2\n", RAMP),
    11: (HEAD + FORM + "400 1 ? 3 4 5 6\n406 7 8 9 10 11 12\n", [1.0, np.nan, *RAMP[2:]]),
    12: (
        HEAD.partition("##XFACTOR")[0] + "##NTUPLES= INFRARED SPECTRUM\n##SYMBOL= X, Y\n##VAR_DIM= 12, 12\n"
        "##UNITS= 1/CM, ABSORBANCE\n##FIRST= 400,\n##LAST= 411,\n##FACTOR= 1, 1\n##PAGE= N=1\n"
        "##DATA TABLE= (X++(Y..Y)), XYDATA\n" + PLAIN + "##END NTUPLES=\n",
        RAMP,
    ),
}
CASES = {
    number: (text + "##END=\n" if number != 9 else text, expected)
    for number, (text, expected) in CASES.items()
}


def theirs(text: str) -> list[float] | None:
    """Ordinates jcamp reads; None if it raises."""
    try:
        return list(jcamp.read(io.BytesIO(text.encode()))["y"])
    except Exception:
        return None


@pytest.mark.parametrize("number", CASES)
def test_minimal_cases_are_read_right(number, tmp_path):
    text, expected = CASES[number]
    path = tmp_path / "film.dx"
    path.write_text(text)
    (spectrum,) = read(path)
    assert np.array_equal(spectrum.absorbance, expected, equal_nan=True)
    assert np.array_equal(spectrum.wavenumbers, np.arange(400.0, 412.0))


@pytest.mark.skipif(version("jcamp") != "1.3.2", reason="the notes are about version 1.3.2")
@pytest.mark.parametrize("number", CASES)
def test_the_notes_are_true(number, capsys):
    text, expected = CASES[number]
    found = theirs(text)
    capsys.readouterr()
    assert found is None or len(found) != len(expected) or not np.array_equal(found, expected, equal_nan=True)


SECOND = HEAD.replace("film", "second") + FORM + PLAIN.replace(" 1 ", " 2 ") + "##END=\n"


def test_two_blocks_without_link(tmp_path, capsys):
    # Case 13
    text = HEAD + FORM + PLAIN + "##END=\n" + SECOND
    path = tmp_path / "film.dx"
    path.write_text(text)
    assert [spectrum.origin.title for spectrum in read(path)] == ["film", "second"]
    if version("jcamp") == "1.3.2":
        assert jcamp.read(io.BytesIO(text.encode()))["title"] == "second"
        assert "children" not in jcamp.read(io.BytesIO(text.encode()))
    capsys.readouterr()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            HEAD.replace("NPOINTS= 12", "NPOINTS= 24") + FORM + PLAIN,
            "NPOINTS promises 24 points, the table holds 12",
        ),
        (HEAD + FORM + "400A%%%%%\n405B%%%%%%\n411B\n", "the check ordinate is 2, but line 12 ended at 1"),
        (HEAD + FORM + PLAIN.replace("406", "416"), "begins at 416, but .* give 406"),
    ],
    ids=["case 14", "case 15 Y", "case 15 X"],
)
def test_promises_that_are_only_printed(text, message, tmp_path, capsys):
    # Cases 14 and 15: there a line on the standard output, here an error.
    path = tmp_path / "film.dx"
    path.write_text(text + "##END=\n")
    with pytest.raises(PromiseError, match=message):
        read(path)
    if version("jcamp") == "1.3.2":
        found = jcamp.read(io.BytesIO(path.read_bytes()))
        assert found["y"].size == 12
        assert capsys.readouterr().out


# Case 16: the public test disk
POINTS = {"o05.jdx": (8192, 7020), "dupinc2.jdx": (3734, 3731)}


@pytest.mark.skipif(version("jcamp") != "1.3.2", reason="the notes are about version 1.3.2")
@pytest.mark.parametrize("name", POINTS)
def test_points_lost_from_the_public_files(name, capsys):
    promised, found = POINTS[name]
    assert jcamp.readfile(str(DISK / name))["y"].size == found < promised
    capsys.readouterr()


@pytest.mark.skipif(version("jcamp") != "1.3.2", reason="the notes are about version 1.3.2")
@pytest.mark.parametrize("name", ["fixinc2.jdx", "xyinc1.jdx", "jtpolys.jdx", "sqzdupd1.jdx"])
def test_public_files_that_are_not_read(name):
    with pytest.raises(Exception, match=r"Unknown character|ufunc|index out of range"):
        jcamp.readfile(str(DISK / name))


def test_every_case_stands_in_the_notes():
    numbered = [int(found) for found in re.findall(r"^(\d+)\. ", NOTES.read_text(), re.MULTILINE)]
    assert numbered == list(range(1, 17))
