"""Tests stand in folders named after the packages they test, and every package has such a folder."""

from tests.places import ROOT, TESTS


def packages():
    """Folders of code, as the folders of tests should be named."""
    homes = [*(ROOT / "spectra").rglob("__init__.py"), *(ROOT / "reference_bands").rglob("__init__.py")]
    inside = {file.parent.relative_to(ROOT).as_posix().removeprefix("spectra/") for file in homes}
    return inside - {"spectra"}


def test_every_folder_of_tests_is_named_after_a_package():
    folders = {file.parent.relative_to(TESTS).as_posix() for file in TESTS.rglob("test_*.py")} - {"."}
    assert len(folders) >= 15
    assert folders <= packages()


def test_every_package_has_tests_of_its_own():
    tops = {name for name in packages() if "/" not in name}
    with_tests = {folder.name for folder in TESTS.iterdir() if any(folder.glob("test_*.py"))}
    assert tops <= with_tests | {"filmfit"}


def test_every_folder_of_tests_is_a_package():
    """Two files of one name in two folders must not meet."""
    for file in TESTS.rglob("test_*.py"):
        assert (file.parent / "__init__.py").is_file(), file
