"""What starting costs: help answers before anything heavy is imported, and the front door is lazy."""

import ast
import importlib
import json
import subprocess
import sys

import pytest

import spectra
from tests.places import ROOT
from tests.studies import write_study

HEAVY = (
    *("numpy", "scipy", "pandas", "pybaselines", "matplotlib", "pydantic", "jinja2", "jcamp"),
    *("rich", "python_calamine", "h5py", "importlib.metadata"),
)
LIST_HEAVY = f"print(json.dumps([name for name in {HEAVY!r} if name in sys.modules]), file=sys.stderr)"


def run(code):
    """Run code in a fresh interpreter; return its output and the heavy modules it loaded."""
    script = f"import atexit, json, sys\natexit.register(lambda: {LIST_HEAVY})\n{code}"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=False, timeout=60
    )
    return done, json.loads(done.stderr.splitlines()[-1])


@pytest.mark.parametrize("words", [["--help"], ["verify", "--help"], ["look", "-h"], ["new", "--help"], []])
def test_help_loads_nothing_heavy(words):
    done, loaded = run(f"from spectra.cli.commands import main\nmain({words!r}, prog_name='coatproof')")
    assert "Usage: coatproof" in done.stdout + done.stderr
    assert loaded == []


def test_the_watch_over_heavy_modules_can_see_one():
    """The guard above is shown to fail on a planted import."""
    _, loaded = run("import numpy, rich")
    assert set(loaded) >= {"numpy", "rich"}


def test_the_front_door_loads_nothing_until_it_is_used():
    _, loaded = run("import spectra; spectra.CoatproofError; dir(spectra)")
    assert loaded == []


def test_every_public_name_is_reachable_and_comes_from_the_module_that_defines_it():
    assert len(spectra.__all__) == len(set(spectra.__all__)) >= 10
    for name in spectra.__all__:
        found = getattr(spectra, name)
        assert found.__name__ == name
        if name != "CoatproofError":
            assert found is getattr(importlib.import_module(found.__module__), name)


def test_the_names_promised_agree_with_the_names_reachable():
    assert set(spectra.__all__) == set(spectra._HOMES)
    assert set(spectra.__all__) <= set(dir(spectra))
    assert {"read", "load_study", "verify", "write_report", "Spectrum", "CoatproofError"} <= set(
        spectra.__all__
    )
    star = {}
    exec("from spectra import *", star)
    assert set(spectra.__all__) == set(star) - {"__builtins__"}


def test_no_public_name_hides_a_module():
    """A module named as its function would give one or the other, depending on what was imported first."""
    modules = {path.stem for path in (ROOT / "spectra").iterdir()}
    assert not modules & set(spectra.__all__)


def test_an_unknown_name_says_what_there_is():
    with pytest.raises(AttributeError, match=r"has no attribute 'raed'; it offers .*\bread\b"):
        spectra.raed  # noqa: B018


def test_a_study_loads_without_the_stages(tmp_path):
    """What a study file says can be asked without the libraries that judge it."""
    study = write_study(tmp_path)
    done, loaded = run(f"import spectra; print(spectra.load_study({str(study)!r}).title)")
    assert done.stdout.strip() == "Invented mist coat"
    assert not set(loaded) & {"scipy", "pandas", "pybaselines", "matplotlib", "jcamp", "jinja2"}


def test_every_package_says_what_comes_in_and_what_goes_out():
    homes = [home for home in (ROOT / "spectra").rglob("__init__.py") if home.parent != ROOT / "spectra"]
    assert len(homes) > 15
    for home in homes:
        subject, _, rest = ast.get_docstring(ast.parse(home.read_text(encoding="utf-8"))).partition("\n\n")
        assert len(subject.splitlines()) == 1, home
        assert rest.startswith("In: "), home
        assert " Out: " in rest.replace("\n", " "), home
