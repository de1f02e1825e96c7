"""What the page for developers says of the tree is true of the tree."""

from __future__ import annotations

import re

import pytest

from tests.places import ROOT, TESTS
from tests.test_floors import FLOORS

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SOURCES = {
    file.relative_to(ROOT).as_posix(): file.read_text(encoding="utf-8")
    for folder in ("spectra", "reference_bands", "tests", "examples")
    for file in (ROOT / folder).rglob("*.py")
}
PACKAGES = {
    file.parent.relative_to(ROOT / "spectra").as_posix() for file in (ROOT / "spectra").rglob("__init__.py")
} - {"."}
DEFINED = set(re.findall(r"^\s*(?:def|class) (\w+)", "\n".join(SOURCES.values()), re.MULTILINE))


def section(title: str, text: str = TEXT) -> str:
    """The text under a heading."""
    return re.split(r"^## ", text.split(f"## {title}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]


def names(text: str) -> list[str]:
    """Everything between single backticks, outside blocks of commands."""
    return re.findall(r"(?<!`)`([^`\n]+)`(?!`)", re.sub(r"```.*?```", "", text, flags=re.DOTALL))


def steps(text: str = TEXT) -> list[tuple[set[str], str]]:
    """The numbered steps of the way of one spectrum: packages in bold, and the text of each."""
    found = re.split(r"^\d+\. ", section("The way of one spectrum", text), flags=re.MULTILINE)[1:]
    found = [step.split("\n\n")[0] for step in found]
    return [(set(re.findall(r"\*\*`(\w+)`\*\*", step)), step) for step in found]


def untrue(text: str = TEXT) -> list[str]:
    """Names of the way that no module, function or record of the step's packages bears."""
    faults = []
    for packages, step in steps(text):
        inside = {
            name.split("/")[-1].removesuffix(".py") if name.endswith(".py") else name
            for name in SOURCES
            if any(name.startswith(f"spectra/{package}/") for package in packages)
        }
        inside |= {file.parent.name for p in packages for file in (ROOT / "spectra" / p).rglob("*.py")}
        defined = set(
            re.findall(
                r"^(?:def|class) (\w+)|^([A-Z_]+)\b",
                "\n".join(
                    s for n, s in SOURCES.items() if any(n.startswith(f"spectra/{p}/") for p in packages)
                ),
                re.MULTILINE,
            )
        )
        known = inside | {name for pair in defined for name in pair} | packages
        known |= {"Spectrum", "Origin", "Fault", "Stack", "front_door", "result.json"}
        for name in names(step):
            parts = [part for part in re.split(r"[./]", name) if part]
            if name not in known and not all(part in known for part in parts):
                faults.append(name)
    return faults


def test_every_package_is_on_the_way_of_one_spectrum() -> None:
    told = set().union(*(packages for packages, _ in steps()))
    assert told == {package for package in PACKAGES if "/" not in package}


def test_every_name_on_the_way_is_one_of_its_package() -> None:
    assert untrue() == []


def test_a_planted_untruth_is_found() -> None:
    lie = TEXT.replace("`model.learn`", "`model.guess`").replace("`line_shape`", "`lineshape`")
    assert untrue(lie) == ["lineshape", "model.guess"]
    assert "model.learn" in names(TEXT)


def test_the_table_of_floors_is_the_one_that_is_enforced() -> None:
    rows = re.findall(r"^\| ([a-z ]+) \| (`.*`) \|$", section("Floors"), re.MULTILINE)
    told = {floor: set(names(cells)) for floor, cells in rows}
    assert told == {floor: set(inside.split()) for floor, inside in FLOORS.items()}
    assert [floor for floor, _ in rows] == list(reversed(FLOORS))


@pytest.mark.parametrize("title", ["Trials and benchmarks", "Adding things"])
def test_every_command_that_is_named_can_be_run(title: str) -> None:
    commands = re.findall(r"python -m ([\w.]+)", section(title))
    assert commands
    for name in commands:
        file = ROOT / (name.replace(".", "/") + ".py")
        assert file.is_file(), name
        assert "__main__" in file.read_text(encoding="utf-8"), name


def test_every_trial_is_listed() -> None:
    """A module of tests that can be run is a trial; those that only make data are told elsewhere."""
    trials = {
        file.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".")
        for file in TESTS.rglob("*.py")
        if '\nif __name__ == "__main__"' in file.read_text(encoding="utf-8")
    }
    told = set(re.findall(r"python -m (tests[\w.]*)", TEXT))
    assert trials - told == set()


@pytest.mark.parametrize("name", [n for n in names(TEXT) if "/" in n and " " not in n and n.isascii()])
def test_every_path_that_is_named_is_there(name: str) -> None:
    """Paths as the page writes them: from the root, from ``spectra`` or with capitals for any name."""
    if re.search(r"[A-Z]{4}|\*|^/|\|", name):
        return
    clean = name.rstrip("/")
    places = [ROOT / clean, ROOT / "spectra" / clean, ROOT / "spectra" / "reading" / clean]
    places += [ROOT / "spectra" / "report" / clean, ROOT / "spectra" / f"{clean}.py"]
    assert any(place.exists() for place in places), name


def undefined(text: str) -> list[str]:
    """Dotted names whose last part is no function, class, field, constant or module."""
    modules = {name.split("/")[-1].removesuffix(".py") for name in SOURCES} | PACKAGES
    everything = "\n".join(SOURCES.values())
    dotted = [n for n in names(text) if re.fullmatch(r"[A-Za-z_]+(\.[A-Za-z_]+)+", n)]
    files = (".toml", ".json", ".py", ".md", ".csv", ".actual", ".html")
    last = {name: name.split(".")[-1] for name in dotted if not name.endswith(files)}
    return [
        name
        for name, part in last.items()
        if part not in DEFINED | modules and not re.search(rf"^\s*{part}\b.*[:=]", everything, re.MULTILINE)
    ]


def test_every_dotted_name_is_defined() -> None:
    assert undefined(TEXT) == []
    assert undefined(TEXT.replace("`state.State`", "`state.Stage`")) == ["state.Stage"]
