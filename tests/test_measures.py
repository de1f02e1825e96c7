"""The house's measures, read from the source: parameters, lines of a function and of a file, no copies.

What does not keep them yet is named below with its size, and may not grow: a measure that everything may
break measures nothing. Each rule is shown to fail on a planted fault.
"""

from __future__ import annotations

import ast
from collections import defaultdict

from tests.test_floors import read_sources

MOST_PARAMETERS, LONGEST_FUNCTION, LONGEST_FILE, SMALLEST_COPY = 6, 45, 300, 40

# Public functions whose further parameters are options by keyword only, and those still to be cut.
MANY_PARAMETERS = {
    "spectra.settings.setting": 7,
    "spectra.study.loading.study_from_files": 10,
    "spectra.writing.jcamp_file.write_jcamp": 8,
    "spectra.chemistry.band_tests._look_for_band": 7,
    "spectra.chemistry.shifts.measure_shift": 7,
    "spectra.detection.bands.model_bands": 7,
    "spectra.detection.bands.rule_detectable": 8,
    "spectra.detection.design.plan_measurement": 7,
    "spectra.detection.design._design": 8,
    "spectra.detection.design._fewest": 7,
    "spectra.detection.spiking.recover_spikes": 7,
    "spectra.detection.spiking._try": 7,
    "spectra.optics.expected.expected": 7,
    "spectra.optics.expected.optical_bound": 8,
    "spectra.optics.film.film_spectra": 7,
}

LONG_FUNCTIONS = {
    "spectra.chemistry.rows._row": 50,
    "spectra.detection.film.recognised": 55,
    "spectra.optics.expected.expected": 50,
    "spectra.reading.arrays.array_traces": 55,
    "spectra.reading.tables.cells.table_from_rows": 50,
    "spectra.verification.films.fit_films": 50,
}

LONG_FILES = {
    "spectra.filmfit.model": 420,
    "spectra.filmfit.posterior": 380,
    "spectra.filmfit.search": 380,
    "spectra.findings": 480,
    "spectra.page.application": 420,
    "spectra.page.desk": 360,
    "spectra.reading.arrays": 340,
    "spectra.reading.trace": 340,
    "spectra.report.figures.canvas": 420,
    "spectra.report.figures.key": 420,
    "spectra.report.figures.overlay": 370,
    "spectra.report.tables.findings": 350,
    "spectra.report.view": 430,
    "spectra.report.words.numerals": 380,
    "spectra.study.form": 350,
}

COPIES = {"_size"}  # of an amount with its thickness, in the report's plan and while measuring


def functions(texts):
    """Yield the dotted name and the node of every function, methods included."""
    for module, text in texts.items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                yield f"{module}.{node.name}", node


def parameters(node):
    """Count the parameters of a function, self and cls apart."""
    given = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
    return sum(argument.arg not in ("self", "cls") for argument in given)


def code_lines(node):
    """Count the lines of a function without its docstring."""
    doc = ast.get_docstring(node, clean=False)
    return node.end_lineno - node.lineno + 1 - (len(doc.splitlines()) if doc else 0)


def faults(texts):
    """Return everything beyond the measures that is not named above, or has grown since."""
    found = []
    for name, node in functions(texts):
        if parameters(node) > MANY_PARAMETERS.get(name, MOST_PARAMETERS):
            found.append(f"{name} takes {parameters(node)} parameters")
        if code_lines(node) > LONG_FUNCTIONS.get(name, LONGEST_FUNCTION):
            found.append(f"{name} has {code_lines(node)} lines")
    for module, text in texts.items():
        lines = len(text.splitlines())
        if lines > LONG_FILES.get(module, LONGEST_FILE):
            found.append(f"{module} has {lines} lines")
    return found


def copies(texts):
    """Return the functions whose bodies are the same, letter by letter."""
    bodies = defaultdict(list)
    for name, node in functions(texts):
        body = ast.Module(node.body[1:] if ast.get_docstring(node) else node.body, [])
        if sum(1 for _ in ast.walk(body)) >= SMALLEST_COPY and node.name not in COPIES:
            bodies[ast.dump(body)].append(name)
    return [names for names in bodies.values() if len(names) > 1]


def test_functions_and_files_keep_the_measures():
    assert faults(read_sources()) == []


def test_nothing_is_written_twice():
    assert copies(read_sources()) == []


def test_what_is_named_as_beyond_the_measures_is_there():
    texts = read_sources()
    named = {name for name, _ in functions(texts)}
    assert set(MANY_PARAMETERS) | set(LONG_FUNCTIONS) <= named
    assert set(LONG_FILES) <= set(texts)


def test_planted_faults_are_found():
    many = "def f(a, b, c, *, d, e, g, h):\n    return a"
    long = "def f():\n" + "    x = 1\n" * 45
    method = "class C:\n    def f(self, a, b, c, d, e, g):\n        return a"
    planted = {"spectra.units": many, "spectra.noise": long, "spectra.groups": method}
    assert faults(planted) == ["spectra.units.f takes 7 parameters", "spectra.noise.f has 46 lines"]
    assert faults({"spectra.units": "x = 1\n" * 301}) == ["spectra.units has 301 lines"]
    body = (
        "    y = [i * i + 1 for i in range(10) if i % 2]\n    z = {k: v for k, v in zip(y, y)}\n    return z"
    )
    pair = {"spectra.units": f"def f():\n{body}", "spectra.noise": f'def g():\n    """Say."""\n{body}'}
    assert copies(pair) == [["spectra.units.f", "spectra.noise.g"]]
    assert copies({**pair, "spectra.noise": pair["spectra.noise"].replace("+ 1", "+ 2")}) == []
