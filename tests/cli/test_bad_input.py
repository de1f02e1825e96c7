"""Bad input through the real command: one message that names file and place, exit 2, nothing left behind."""

import io
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image

from spectra.cli.commands import main
from tests.places import ROOT
from tests.studies import SMALL, everything_in, write_spectra


def picture():
    """A real picture, made by a general-purpose library."""
    target = io.BytesIO()
    Image.linear_gradient("L").save(target, format="PNG")
    return target.getvalue()


PNG = picture()
NMR = """\
##TITLE= a proton spectrum (invented)
##JCAMP-DX= 5.00
##DATA TYPE= NMR SPECTRUM
##XUNITS= HZ
##YUNITS= ARBITRARY UNITS
##FIRSTX= 0
##LASTX= 9
##NPOINTS= 10
##XFACTOR= 1
##YFACTOR= 1
##FIRSTY= 1
##XYDATA= (X++(Y..Y))
0 1 2 3 4 5
5 6 7 8 9 10
##END=
"""


def rows(count=200, columns="{x},{y}", **fifty):
    """Two columns of an invented spectrum; ``fifty`` replaces x or y in row 50, counted from 0."""
    values = [{"x": 1000 + 4 * i, "y": round(0.1 + 0.001 * (i % 7), 3)} for i in range(count)]
    if fifty:
        values[50] |= fifty
    header = columns.format(x="wavenumber (cm-1)", y="absorbance")
    return "\n".join([header, *(columns.format_map(row) for row in values), ""]).encode()


# What stands in bare/bad.csv, and what the message must say of it beside its name.
BAD_FILES = {
    "empty": (b"", r"empty"),
    "blank": (b"\n \n\t\n", r"empty"),
    "text without numbers": (b"Dear colleague,\nthe spectra follow by post.\n", r"no table of numbers"),
    "one column": (rows(columns="{y}"), r"column"),
    "three points": (rows(count=3), r"3 points"),
    "an image": (PNG, r"picture|image|PNG"),
    "nothing but NaN": (rows(columns="{x},NaN"), r"NaN|number|finite"),
    "NaN on the axis": (rows(x="NaN"), r"line 52"),
    "a word among the numbers": (rows(y="high"), r"line 52"),
    "one wavenumber twice, with another ordinate": (rows(x=1196), r"1196"),
    "wavenumbers in no order": (rows(x=3000), r"line 5\d: .*abscissa turns .* sort the file"),
    "a spectrum of another kind": (NMR.encode(), r"NMR SPECTRUM"),
}


def refused(folder, *words):
    """The message of a refused call that left nothing behind."""
    before = everything_in(folder)
    result = CliRunner().invoke(main, [str(word) for word in words], prog_name="coatproof")
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("coatproof: ")
    assert result.stderr.count("coatproof: ") == 1, "one message"
    assert "Traceback" not in result.stderr
    assert everything_in(folder) == before
    return result.stderr


@pytest.fixture
def study(tmp_path):
    file = write_spectra(tmp_path) / "study.toml"
    file.write_text(SMALL, encoding="utf-8")
    return file


@pytest.mark.parametrize(("content", "said"), BAD_FILES.values(), ids=BAD_FILES)
def test_a_file_that_holds_no_infrared_spectrum(study, content, said):
    bad = study.parent / "bare" / "bad.csv"
    bad.write_bytes(content)
    told = refused(study.parent, "verify", study)
    assert "bad.csv" in told
    assert told.count("\n") == 1, "one line, not a page"
    assert re.search(said, told), told


@pytest.mark.parametrize("content", [BAD_FILES[name][0] for name in ("empty", "three points", "an image")])
@pytest.mark.parametrize("role", ["neat", "coated"])
def test_the_same_in_every_role_and_without_a_study_file(study, monkeypatch, role, content):
    folder = study.parent
    monkeypatch.chdir(folder)
    (folder / role / "bad.csv").write_bytes(content)
    words = [w for r in ("bare", "neat", "coated") for w in (f"--{r}", *sorted((folder / r).iterdir()))]
    assert f"{role}/bad.csv" in refused(folder, "verify", *words)


BAD_STUDIES = {
    "unknown key": (
        SMALL + 'coatngs = ["gelatin"]\n',
        "line 12, samples.aqueous.coatngs: unknown key; did you mean",
    ),
    "pattern without files": (
        SMALL.replace("neat/*.csv", "neat/*.dx"),
        "line 9, coatings.gelatin.spectra entry 1: ",
    ),
    "missing file": (
        SMALL.replace("neat/*.csv", "neat/a.csv"),
        "line 9, coatings.gelatin.spectra entry 1: no file",
    ),
    "a directory": (
        SMALL.replace("neat/*.csv", "neat"),
        "line 9, coatings.gelatin.spectra entry 1: 'neat' is a folder",
    ),
    "one file in two roles": (
        SMALL.replace("neat/*.csv", "bare/bare_1.csv"),
        "line 9, coatings.gelatin.spectra entry 1: bare/bare_1.csv is named already at",
    ),
    "mixed techniques": (
        SMALL + 'technique = "transmission"\n',
        "line 12, samples.aqueous.technique: measured by 'transmission', but the bare substrate by 'ATR'",
    ),
    "not TOML": (SMALL + "coatings = gelatin\n", "line 12, column 12: not TOML"),
    "setting out of range": (SMALL + "[settings]\nalpha = 2\n", "line 13, settings.alpha: found 2"),
}


@pytest.mark.parametrize(("text", "said"), BAD_STUDIES.values(), ids=BAD_STUDIES)
@pytest.mark.parametrize("command", ["verify", "overlay"])
def test_a_study_file_that_asks_for_the_impossible(study, command, text, said):
    study.write_text(text, encoding="utf-8")
    told = refused(study.parent, command, study)
    assert "study.toml" in told
    assert said in told


@pytest.mark.parametrize(
    ("role", "name", "said"),
    [
        ("bare", "bare/nowhere.csv", "--bare: no file 'bare/nowhere.csv'"),
        ("neat", "neat", "--neat: 'neat' is a folder"),
        ("coated", "bare/bare_1.csv", "--coated: bare/bare_1.csv is named already at --bare"),
        ("coated", "coated/*.dx", "--coated: 'coated/*.dx' matches no file"),
    ],
)
def test_files_named_one_by_one_that_cannot_be_used(study, monkeypatch, role, name, said):
    monkeypatch.chdir(study.parent)
    files = {
        "bare": sorted(Path("bare").iterdir()),
        "neat": sorted(Path("neat").iterdir()),
        "coated": sorted(Path("coated").iterdir()),
    }
    files[role] = [name]
    words = [word for role, names in files.items() for word in (f"--{role}", *names)]
    assert said in refused(study.parent, "verify", *words)


@pytest.mark.parametrize("command", ["verify", "overlay"])
@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nowhere.toml", "nowhere.toml: no such file"),
        ("bare", "bare: a folder; expected a study file"),
        ("bare/bare_1.csv", "is it a study file? Spectra are named with --bare, --neat and --coated"),
        ("empty.toml", "empty.toml: empty"),
        ("picture.toml", "picture.toml line 1: not UTF-8"),
    ],
)
def test_what_is_no_study_file(study, command, name, said):
    (study.parent / "empty.toml").write_bytes(b"")
    (study.parent / "picture.toml").write_bytes(PNG)
    assert said in refused(study.parent, command, study.parent / name)


@pytest.mark.parametrize("name", ["nowhere.csv", "bare", *BAD_FILES])
def test_look_names_the_file(study, name):
    bad = study.parent / name
    if name in BAD_FILES:
        bad = study.parent / "bad.csv"
        bad.write_bytes(BAD_FILES[name][0])
    assert str(bad) in refused(study.parent, "look", bad)


def test_spectra_that_share_no_range_cannot_be_brought_together(study):
    far = "\n".join(f"{100 + 2 * i},{0.1 + 0.01 * (i % 5)}" for i in range(150))
    for file in (study.parent / "coated").iterdir():
        text = f"wavenumber (cm-1),absorbance\n{far}\n402,0.{file.stem[-2:]}\n"
        file.write_text(text, encoding="utf-8")
    told = refused(study.parent, "verify", study)
    assert "cm-1" in told


@pytest.mark.parametrize("name", ["an image", "three points", "one wavenumber twice, with another ordinate"])
def test_the_same_from_a_shell(study, name):
    """A real process: one line on the error stream, nothing on the other, exit 2, nothing left."""
    (study.parent / "bare" / "bad.csv").write_bytes(BAD_FILES[name][0])
    before = everything_in(study.parent)
    done = subprocess.run(
        [sys.executable, "-m", "spectra", "verify", str(study)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    assert done.stderr.startswith("coatproof: ")
    assert "bad.csv" in done.stderr
    assert done.stderr.count("\n") == 1
    assert everything_in(study.parent) == before


def test_good_files_pass_the_same_door(study):
    """The bad list would prove nothing if good input were refused too; test_cli judges this study."""
    good = study.parent / "bare" / "bare_0.csv"
    assert CliRunner().invoke(main, ["look", str(good)]).exit_code == 0
    bad = study.parent / "bare" / "bad.csv"
    bad.write_bytes(rows())
    assert CliRunner().invoke(main, ["look", str(bad)]).exit_code == 0, "without its planted fault"
