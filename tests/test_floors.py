"""The house rules of imports, files, clocks and chance, read from the source text itself.

Each rule is shown to fail on planted faults: a guard that cannot fail guards nothing. A new module needs
a floor: add its name to the highest floor it may stand on, below everything that imports it.
"""

import ast
from functools import cache

import pytest

from tests.places import ROOT

PACKAGES = ("reference_bands", "spectra")

# From the ground up; names are those inside ``spectra``, and a package stands for everything in it. A module
# may import from its own floor and from those below. Within a floor there may be no ring of imports.
FLOORS = {
    "band tables": "reference_bands",
    "foundation": "errors units settings spectrum stretches noise statistics replicates groups findings "
    "decision",
    "files": "reading writing",
    "clean spectra": "preprocessing quality",
    "peaks": "peaks",
    "what is expected": "optics variation",
    "the film": "filmfit",
    "judgements": "detection chemistry assignment",
    "what is left": "residues comparison apart",
    "study": "study",
    "the chain": "verification",
    "report": "report",
    "front": "__init__ __main__ front_door cli page",
}

# Imports upward: none.
EXCEPTIONS: set[tuple[str, str]] = set()

MAY_OPEN = {
    "reference_bands.loading",
    "spectra.page.downloads",
    "spectra.page.folder",
    "spectra.page.study_file",
    "spectra.preprocessing.atmosphere",  # the water vapour lines that come with the package
    "spectra.reading",
    "spectra.report.__init__",
    "spectra.report.pdf",  # hands the typesetter its files
    "spectra.study.file_search",
    "spectra.study.loading",
    "spectra.study.positions",
    "spectra.writing",
}
MAY_ASK_THE_TIME = {
    "spectra.cli.commands",
    "spectra.cli.figure_commands",
    "spectra.cli.progress",
    "spectra.page.desk",
}

FILE_ACTS = "open read_text read_bytes write_text write_bytes fdopen mkdtemp"
LIBRARY_FILE_ACTS = "loadtxt genfromtxt fromfile memmap savetxt tofile read_csv read_excel"
OPENERS = {*FILE_ACTS.split(), *LIBRARY_FILE_ACTS.split()}
CLOCKS = {"time", "datetime.now", "datetime.today", "date.today", "datetime.utcnow"}
CHANCE = {"random", "secrets", "uuid"}


@cache
def read_sources():
    """Source text of every module, by dotted name; a package's own module is ``package.__init__``."""
    return {
        ".".join(file.relative_to(ROOT).with_suffix("").parts): file.read_text(encoding="utf-8")
        for package in PACKAGES
        for file in sorted((ROOT / package).rglob("*.py"))
    }


def full(names):
    """Dotted names of a line of FLOORS."""
    return [name if name in PACKAGES else f"spectra.{name}" for name in names.split()]


def sources():
    """A copy to plant faults in."""
    return dict(read_sources())


@cache
def nodes(text):
    """Every node of a source text; parsed once."""
    return tuple(ast.walk(ast.parse(text)))


@cache
def floor_of(module):
    """Number of the floor, 0 is the ground; None if the module is on none."""
    for number, names in enumerate(FLOORS.values()):
        if any(module == name or module.startswith(f"{name}.") for name in full(names)):
            return number
    return None


def imports_of(module, text, known):
    """Every module of ours that ``text`` imports, wherever it does so, with the line."""
    package = module.split(".")[:-1]
    for node in nodes(text):
        if isinstance(node, ast.Import):
            named = [(alias.name, "") for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            named = [(base, alias.name) for alias in node.names]
        else:
            continue
        for base, name in named:
            for target in (f"{base}.{name}", f"{base}.{name}.__init__", base, f"{base}.__init__"):
                if target in known:
                    yield target, node.lineno
                    break


def upward_imports(texts, known=()):
    """Imports from a higher floor, and modules on no floor; ``known`` are all modules."""
    faults = []
    for module, text in texts.items():
        own = floor_of(module)
        if own is None:
            faults.append(f"{module} stands on no floor: add it to FLOORS")
            continue
        for target, line in imports_of(module, text, known or texts):
            above = floor_of(target)
            if above is not None and above > own and (module, target) not in EXCEPTIONS:
                faults.append(f"{module} line {line} imports {target} from a floor above")
    return faults


def rings(texts):
    """Modules in rings of imports, and any on the way from one ring to another."""
    graph = {
        module: {target for target, _ in imports_of(module, text, texts)} - {module}
        for module, text in texts.items()
    }
    for module, target in EXCEPTIONS:
        graph[module].discard(target)
    left = dict(graph)
    while free := {m for m in left if not left[m] & left.keys() or not any(m in left[n] for n in left)}:
        left = {module: targets for module, targets in left.items() if module not in free}
    return sorted(left)


def may_open(module):
    return any(module == name or module.startswith(f"{name}.") for name in MAY_OPEN)


def dotted(node):
    """``a.b.c`` of an attribute or a name, as far as it is plain."""
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def forbidden_acts(texts):
    """Files opened, clocks read and dice thrown where they must not be."""
    faults = []
    for module, text in texts.items():
        for node in nodes(text):
            if isinstance(node, ast.Import | ast.ImportFrom):
                roots = [alias.name.split(".")[0] for alias in node.names]
                roots = [(node.module or "").split(".")[0]] if isinstance(node, ast.ImportFrom) else roots
                faults += _acts(module, node, "imports", set(roots) & CHANCE)
                faults += (
                    []
                    if module in MAY_ASK_THE_TIME
                    else _acts(module, node, "imports", set(roots) & {"time"})
                )
            if isinstance(node, ast.Call):
                name = dotted(node.func)
                last, two = name.rpartition(".")[2], ".".join(name.split(".")[-2:])
                if isinstance(node.func, ast.Attribute):
                    last = node.func.attr
                faults += [] if may_open(module) else _acts(module, node, "calls", {last} & OPENERS)
                faults += [] if module in MAY_ASK_THE_TIME else _acts(module, node, "calls", {two} & CLOCKS)
                faults += _acts(module, node, "calls", _dice(name, node))
    return faults


def _acts(module, node, does, what):
    return [f"{module} line {node.lineno} {does} {item}" for item in sorted(what)]


def _dice(name, node):
    """Chance without a seed: only a generator made from a given seed may be drawn from."""
    seeded = name.endswith("default_rng") and (node.args or node.keywords)
    return {name} if (".random." in name or name.endswith("default_rng")) and not seeded else set()


# -- the source as it is -----------------------------------------------------------------------------


def test_the_guards_look_at_every_module():
    found = set(sources())
    on_disk = sum(1 for package in PACKAGES for _ in (ROOT / package).rglob("*.py"))
    assert len(found) == on_disk >= 60
    assert {
        "spectra.__init__",
        "spectra.reading.__init__",
        "spectra.report.record",
        "reference_bands.table",
    } <= found
    looked_at = sum(len(list(imports_of(module, text, found))) for module, text in sources().items())
    assert looked_at >= 250


def test_imports_go_downward_only():
    assert upward_imports(sources()) == []


def test_no_ring_of_imports():
    assert rings(sources()) == []


def test_files_clocks_and_chance_stay_where_they_may():
    assert forbidden_acts(sources()) == []


def test_every_exception_is_still_needed():
    texts = sources()
    for module, target in EXCEPTIONS:
        assert target in {found for found, _ in imports_of(module, texts[module], texts)}


def test_every_permission_is_still_used():
    used = set()
    for module, text in sources().items():
        calls = [node.func for node in nodes(text) if isinstance(node, ast.Call)]
        names = {func.attr if isinstance(func, ast.Attribute) else dotted(func) for func in calls}
        used |= {module} if names & (OPENERS | {"monotonic", "today"}) else set()
    for name in MAY_OPEN | MAY_ASK_THE_TIME:
        assert any(module == name or module.startswith(f"{name}.") for module in used), name


def test_every_floor_is_inhabited_and_every_name_stands_on_one():
    texts = sources()
    named = [name for names in FLOORS.values() for name in full(names)]
    assert len(named) == len(set(named))
    assert {floor_of(module) for module in texts} >= set(range(len(FLOORS)))
    for names in FLOORS.values():
        for name in full(names):
            assert name in texts or f"{name}.__init__" in texts, f"{name} is gone: take it out of FLOORS"


# -- planted faults ----------------------------------------------------------------------------------

UPWARD = {
    "from": ("spectra.preprocessing.baseline", "from spectra.report.view import view"),
    "a package": ("spectra.preprocessing.baseline", "import spectra.report"),
    "a name of a package": ("spectra.preprocessing.baseline", "from spectra import verification"),
    "the front door": ("spectra.preprocessing.baseline", "from spectra import verify"),
    "the front door as a module": ("spectra.preprocessing.baseline", "import spectra"),
    "inside a function": (
        "spectra.units",
        "def f():\n    from spectra.preprocessing.baseline import subtract_baselines",
    ),
    "for types only": ("spectra.units", "if TYPE_CHECKING:\n    from spectra.study.records import Study"),
    "relative": (
        "spectra.reading.units.abscissa",
        "from ...preprocessing.common_grid import put_on_common_grid",
    ),
    "relative package": ("spectra.reading.units.abscissa", "from ... import preprocessing"),
    "from the lowest": ("reference_bands.table", "from spectra.errors import BandTableError"),
    "the exception of another": ("spectra.study.records", "from spectra.report.record import as_dict"),
    "no floor": ("spectra.attic", "x = 1"),
}


@pytest.mark.parametrize(("module", "text"), UPWARD.values(), ids=UPWARD)
def test_a_planted_upward_import_is_found(module, text):
    found = upward_imports({module: text}, known=sources())
    assert len(found) == 1, found
    assert found[0].startswith(module)


@pytest.mark.parametrize(
    "ring",
    [
        {"spectra.units": "from spectra.settings import setting", "spectra.settings": "import spectra.units"},
        {"spectra.reading.units.abscissa": "from spectra.reading import read"},
    ],
    ids=["two modules", "package and its part"],
)
def test_a_planted_ring_is_found(ring):
    texts = sources()
    for module, text in ring.items():
        texts[module] += "\n" + text + "\n"
    assert set(ring) <= set(rings(texts)) < {*texts}


ACTS = {
    "open": "open('a.csv')",
    "method": "Path('a.csv').open()",
    "text": "Path('a.csv').read_text(encoding='utf-8')",
    "of a call": "files('spectra').joinpath('a').read_bytes()",
    "numpy": "np.loadtxt('a.csv')",
    "pandas": "pd.read_csv('a.csv')",
    "import time": "import time",
    "from time": "from time import monotonic",
    "today": "datetime.date.today()",
    "now": "datetime.datetime.now()",
    "import random": "import random",
    "from random": "from random import shuffle",
    "uuid": "import uuid",
    "old numpy chance": "np.random.normal(0, 1)",
    "no seed": "np.random.default_rng()",
    "bare no seed": "default_rng()",
}


@pytest.mark.parametrize("text", ACTS.values(), ids=ACTS)
def test_a_planted_act_is_found(text):
    found = forbidden_acts({"spectra.peaks.finding": text})
    assert len(found) == 1, found
    assert found[0].startswith("spectra.peaks.finding line ")


def test_a_given_seed_and_a_given_generator_are_allowed():
    text = (
        "def f(seed: int, rng: np.random.Generator):\n    return np.random.default_rng(seed), rng.normal()\n"
    )
    assert forbidden_acts({"spectra.peaks.finding": text}) == []
