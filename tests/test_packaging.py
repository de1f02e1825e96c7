"""What an installation takes along: every package and every file that the code opens."""

import tomllib
from fnmatch import fnmatchcase

from tests.places import ROOT

SETUP = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
TOPS = ("spectra", "reference_bands")


def test_every_package_is_installed():
    found = {
        ".".join(file.parent.relative_to(ROOT).parts)
        for top in TOPS
        for file in (ROOT / top).rglob("__init__.py")
    }
    assert len(found) >= 4
    assert set(SETUP["packages"]) == found


def test_every_data_file_is_installed():
    def taken(file):
        return any(
            fnmatchcase(file.relative_to(ROOT / package.replace(".", "/")).as_posix(), pattern)
            for package, patterns in SETUP["package-data"].items()
            if file.is_relative_to(ROOT / package.replace(".", "/"))
            for pattern in patterns
        )

    files = [file for top in TOPS for file in (ROOT / top).rglob("*") if file.is_file()]
    data = [file for file in files if file.suffix not in {".py", ".pyc", ".md"}]
    assert len(data) >= 20
    assert [file.relative_to(ROOT).as_posix() for file in data if not taken(file)] == []
