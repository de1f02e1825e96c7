"""Faults planted in the source one at a time: which of them no test notices.

Run with ``python -m tests.mutation PACKAGE ... --coverage FILE [--sample N] [--seed S] [--record FILE]`` (the
extra ``mutation`` of the project installs what it needs). The faults are those of the PyPI package
cosmic-ray: a sign, a comparison, a number, a truth value, a condition or a loop changed. At every place one
change is drawn, with a fixed seed. Types, decorators and ``strict=`` of zip are left alone: they decide
nothing.

FILE is a record of the package coverage that knows which test ran which line::

    pytest --cov=spectra --cov-context=test --cov-report= --junitxml=times.xml

Every fault is planted in a copy of the checkout, and the tests that ran its line are run there, the
quickest first, until one fails or their usual times add up to ``--seconds``. A fault that no test reaches
counts as unnoticed; a run that takes far too long counts as noticed.
"""

from __future__ import annotations

import argparse
import ast
import csv
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from xml.etree import ElementTree

from tests.places import ROOT

ARITHMETIC = ("Add", "Sub", "Mul", "Div")
ORDERS = ("Lt", "LtE", "Gt", "GtE")
OPPOSITES = (("Eq", "NotEq"), ("Is", "IsNot"))
OTHERS = (
    "ReplaceUnaryOperator_USub_UAdd",
    "ReplaceUnaryOperator_Delete_Invert",
    "ReplaceUnaryOperator_Delete_Not",
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ExceptionReplacer",
    "NumberReplacer",
    "ZeroIterationForLoop",
)
KEPT = ("spectra", "reference_bands", "tests", "examples", "pyproject.toml", "README.md", "DEVELOPERS.md")
SLOW = 6.0  # times the usual time of the chosen tests, beyond which a run counts as one that never ends
START = 40.0  # seconds for the start of a run on a busy machine
NO_RUN = 70  # status of a process in which no test was begun
NOTICED, MISSED, UNREACHED, ENDLESS = "noticed", "unnoticed", "no test", "endless"


@dataclass(frozen=True)
class Fault:
    """One change of the source, and what became of it."""

    module: str
    line: int
    column: int
    operator: str
    occurrence: int
    change: str = ""
    outcome: str = ""
    tests: int = 0
    seconds: float = 0.0


def operators() -> list[str]:
    """Names of the changes, as cosmic-ray calls them."""
    swaps = [f"ReplaceBinaryOperator_{old}_{new}" for old in ARITHMETIC for new in ARITHMETIC if old != new]
    swaps += ["ReplaceBinaryOperator_BitAnd_BitOr", "ReplaceBinaryOperator_BitOr_BitAnd"]
    swaps += ["ReplaceBinaryOperator_Pow_Mul", "ReplaceBinaryOperator_FloorDiv_Mul"]
    swaps += [f"ReplaceComparisonOperator_{old}_{new}" for old in ORDERS for new in ORDERS if old != new]
    for one, other in OPPOSITES:
        swaps += [f"ReplaceComparisonOperator_{one}_{other}", f"ReplaceComparisonOperator_{other}_{one}"]
    return [f"core/{name}" for name in (*swaps, *OTHERS)]


def idle_spans(source: str) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Spans of the text in which a change decides nothing: types, decorators, ``strict=``."""
    idle: list[ast.expr] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.AnnAssign | ast.arg) and node.annotation:
            idle.append(node.annotation)
        if isinstance(node, ast.FunctionDef):
            idle += [*([node.returns] if node.returns else []), *node.decorator_list]
        if isinstance(node, ast.ClassDef):
            idle += node.decorator_list
        if isinstance(node, ast.keyword) and node.arg == "strict":
            idle.append(node.value)
    return [((n.lineno, n.col_offset), (n.end_lineno or 0, n.end_col_offset or 0)) for n in idle]


def places(module: str, source: str) -> Iterator[list[Fault]]:
    """Yield, for every place of a module, the faults that can be planted there."""
    import parso  # noqa: F401  # before cosmic-ray, whose own order of imports fails
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator

    idle = idle_spans(source)
    tree = get_ast(source)
    found: dict[tuple[int, int, str], list[Fault]] = {}
    for name in operators():
        operator = get_operator(name)()
        spots = (spot for node in ast_nodes(tree) for spot in operator.mutation_positions(node))
        for occurrence, (start, _) in enumerate(spots):
            if not any(low <= start < high for low, high in idle):
                kind = name.split("_")[0]
                found.setdefault((*start, kind), []).append(Fault(module, *start, name, occurrence))
    yield from found.values()


def draw_faults(modules: Sequence[str], sample: int | None, seed: int) -> tuple[list[Fault], int]:
    """Draw one fault a place, then a sample of the places; also how many places there are."""
    chance = random.Random(seed)
    every = [
        chance.choice(choices)
        for module in modules
        for choices in places(module, (ROOT / module).read_text(encoding="utf-8"))
    ]
    if sample is None or sample >= len(every):
        return every, len(every)
    chosen = set(chance.sample(range(len(every)), sample))
    return [fault for i, fault in enumerate(every) if i in chosen], len(every)


@dataclass(frozen=True)
class Named:
    """Tests that are run for every fault, by name: quick files that were written since the record."""

    tests: tuple[str, ...]

    def tests_of(self, _: Fault) -> list[str]:
        """Return all of them."""
        return list(self.tests)

    def usual_time(self, _: str) -> float:
        """Take a file for half a minute."""
        return 30.0


class Reach:
    """Which tests ran which line, and how long each usually takes."""

    def __init__(self, record: Path, times: Sequence[Path], seconds: float) -> None:
        from coverage import CoverageData

        self.data = CoverageData(str(record))
        self.data.read()
        self.files = {Path(name).as_posix(): name for name in self.data.measured_files()}
        self.times = {test: taken for table in times for test, taken in usual_times(table).items()}
        self.seconds = seconds

    def tests_of(self, fault: Fault) -> list[str]:
        """Return the tests worth running for a fault, the quickest first; those of its package lead."""
        name = next((full for short, full in self.files.items() if short.endswith("/" + fault.module)), None)
        if name is None:
            return []
        by_line = self.data.contexts_by_lineno(name)
        tests = _tests(by_line.get(fault.line, []))
        for low, high in self._around(fault):
            tests = tests or _tests(c for line in range(low, high + 1) for c in by_line.get(line, []))
        own = "tests/" + fault.module.split("/")[1] + "/"
        total, chosen = 0.0, []
        for test in sorted(
            tests, key=lambda test: (self.usual_time(test) - 2.0 * test.startswith(own), test)
        ):
            total += self.usual_time(test)
            if chosen and total > self.seconds:
                break
            chosen.append(test)
        return chosen

    def _around(self, fault: Fault) -> list[tuple[int, int]]:
        """Lines of the statement and the function around a fault, then of the module."""
        tree = ast.parse((ROOT / fault.module).read_text(encoding="utf-8"))
        around = [
            (node.lineno, node.end_lineno or node.lineno)
            for node in ast.walk(tree)
            if isinstance(node, ast.stmt) and node.lineno <= fault.line <= (node.end_lineno or node.lineno)
        ]
        return [*sorted(around, key=lambda span: span[1] - span[0]), (1, 10_000)]

    def usual_time(self, test: str) -> float:
        """Return the seconds a test took when it was recorded; one where that is not known."""
        return self.times.get(_plain(test), 1.0)


def _tests(contexts: Iterator[str] | Sequence[str]) -> set[str]:
    return {context.rpartition("|")[0] for context in contexts if "|" in context}


def _plain(test: str) -> str:
    """Test name as both coverage and the table of times write it."""
    path, _, name = test.partition("::")
    return f"{path.removesuffix('.py').replace('/', '.')}.{name.replace('::', '.')}"


def usual_times(table: Path) -> dict[str, float]:
    """Seconds of every test, from a table in JUnit's form that pytest writes."""
    cases = ElementTree.parse(table).iter("testcase")  # our own file
    return {f"{case.get('classname')}.{case.get('name')}": float(case.get("time", "1")) for case in cases}


def planted(fault: Fault) -> tuple[str, str]:
    """Return the text with the fault in it, and the change in one line."""
    import parso  # noqa: F401
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    before = (ROOT / fault.module).read_text(encoding="utf-8")
    after = mutate_code(before, get_operator(fault.operator)(), fault.occurrence)
    old, new = before.splitlines(), after.splitlines()
    changed = [(a.strip(), b.strip()) for a, b in zip(old, new, strict=False) if a != b]
    return after, " -> ".join(changed[0]) if changed else ""


def run_tests(tests: Sequence[str], limit: float) -> str:
    """Run tests in a process of their own, forked from this one with the libraries loaded already."""
    child = os.fork()
    if child == 0:
        _be_the_run(tests)
    end = time.monotonic() + limit
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            if code not in (0, 1, 2):  # passed, failed, could not be loaded
                raise RuntimeError(f"pytest ended with {code} on {' '.join(tests)}")
            return MISSED if code == 0 else NOTICED
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return ENDLESS


def _be_the_run(tests: Sequence[str]) -> None:
    """Become the run of some tests; never returns."""
    os.setsid()
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    sys.dont_write_bytecode = True
    code = NO_RUN
    try:
        import hypothesis
        import pytest

        phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)  # a failure is enough, unshrunk
        hypothesis.settings.register_profile("faults", phases=phases, database=None, derandomize=True)
        hypothesis.settings.load_profile("faults")
        loaded = ("-W", "ignore::pytest.PytestAssertRewriteWarning")  # hypothesis is here before pytest
        code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *loaded, *tests]))
    except BaseException:
        traceback.print_exc()
        code = NO_RUN
    finally:
        os._exit(code)


def try_faults(faults: Sequence[Fault], reach: Reach | Named, record: Path) -> list[Fault]:
    """Plant every fault in turn, write what became of it as it becomes known, and return it all."""
    tried = []
    with record.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, [field.name for field in fields(Fault)])
        table.writeheader()
        for fault in faults:
            tried.append(_try_fault(fault, reach))
            print(tried[-1].outcome, fault.module, fault.line, f"{tried[-1].seconds} s", flush=True)
            table.writerow(asdict(tried[-1]))
            file.flush()
    return tried


def _try_fault(fault: Fault, reach: Reach | Named) -> Fault:
    tests = reach.tests_of(fault)
    text, change = planted(fault)
    if not tests:
        return replace(fault, change=change, outcome=UNREACHED)
    file = ROOT / fault.module
    before = file.read_text(encoding="utf-8")
    usual = sum(reach.usual_time(test) for test in tests)
    start = time.monotonic()
    try:
        for kept in file.parent.glob(f"__pycache__/{file.stem}.*.pyc"):
            kept.unlink()
        file.write_text(text, encoding="utf-8")
        outcome = run_tests(tests, START + SLOW * usual)
    finally:
        file.write_text(before, encoding="utf-8")
    taken = round(time.monotonic() - start, 1)
    return replace(fault, change=change, outcome=outcome, tests=len(tests), seconds=taken)


def print_counts(tried: Sequence[Fault], of_places: int) -> None:
    """Print the share noticed by package, and every fault that was not."""
    by_package: dict[str, Counter[str]] = {}
    for fault in tried:
        by_package.setdefault("/".join(fault.module.split("/")[:2]), Counter())[fault.outcome] += 1
    print(f"{len(tried)} faults of {of_places} places")
    for package, counts in sorted(by_package.items()):
        noticed = counts[NOTICED] + counts[ENDLESS]
        print(f"{package}: {noticed} of {counts.total()} noticed, {dict(counts)}")
    for fault in tried:
        if fault.outcome in (MISSED, UNREACHED):
            print(f"{fault.module}:{fault.line}: {fault.outcome}: {fault.change}")


def modules_of(names: Sequence[str]) -> list[str]:
    """Files of packages or single files, from the root of the checkout, without their settings."""
    found = [
        file
        for name in names
        for file in ([ROOT / name] if name.endswith(".py") else sorted((ROOT / name).glob("*.py")))
    ]
    return [f.relative_to(ROOT).as_posix() for f in found if f.name not in ("__init__.py", "settings.py")]


def copy_checkout(folder: Path) -> None:
    """Copy what the tests need; nothing is ever planted in the checkout itself."""
    for name in KEPT:
        here = ROOT / name
        if here.is_dir():
            shutil.copytree(here, folder / name)
        else:
            shutil.copy2(here, folder / name)


def parse(words: Sequence[str]) -> argparse.Namespace:
    """Read the command's words."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("names", nargs="+", metavar="PACKAGE", help="such as spectra/detection, or a file")
    tests = parser.add_mutually_exclusive_group(required=True)
    tests.add_argument("--coverage", type=Path, help="record with contexts")
    tests.add_argument("--tests", action="append", help="run this file of tests for every fault instead")
    parser.add_argument("--times", type=Path, action="append", default=[], help="table that --junitxml wrote")
    parser.add_argument("--sample", type=int, help="so many places, drawn at random; without: all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=15.0, help="of tests a fault")
    parser.add_argument(
        "--record", type=Path, default=Path("faults.csv"), help="table of what became of them"
    )
    parser.add_argument("--again", type=Path, help="only the faults that this table holds as unnoticed")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args(words)


def main(words: Sequence[str]) -> int:
    """Copy the checkout and plant faults there; this command runs itself again inside the copy."""
    chosen = parse(words)
    if chosen.inside:
        import hypothesis  # noqa: F401
        import pytest  # noqa: F401
        import scipy.optimize  # noqa: F401  # loaded once for all runs

        modules = modules_of(chosen.names)
        faults, of_places = draw_faults(modules, chosen.sample, chosen.seed)
        if chosen.again:
            faults = missed_before(modules, chosen.again)
        reach = (
            Named(tuple(chosen.tests))
            if chosen.tests
            else Reach(chosen.coverage, chosen.times, chosen.seconds)
        )
        print_counts(try_faults(faults, reach, chosen.record), of_places)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        copy_checkout(Path(folder))
        told = [str(Path(word).resolve()) if Path(word).is_file() and not word.endswith(".py") else word
                for word in words]  # fmt: skip
        if "--record" not in words:
            told += ["--record", str(chosen.record.resolve())]
        return subprocess.call([sys.executable, "-m", "tests.mutation", *told, "--inside"], cwd=folder)


def missed_before(modules: Sequence[str], table: Path) -> list[Fault]:
    """Return the faults that went unnoticed when the table was written, where the source still has them."""
    with table.open(newline="", encoding="utf-8") as file:
        before = {
            (row["module"], row["operator"], row["change"])
            for row in csv.DictReader(file)
            if row["outcome"] in (MISSED, UNREACHED)
        }
    likely = {(module, operator) for module, operator, _ in before}
    every = (
        fault
        for module in modules
        for choices in places(module, (ROOT / module).read_text(encoding="utf-8"))
        for fault in choices
        if (fault.module, fault.operator) in likely
    )
    return [fault for fault in every if (fault.module, fault.operator, planted(fault)[1]) in before]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
