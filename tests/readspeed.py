"""How fast and how lean reading is, side by side with jcamp, pandas and numpy in one run.

Run with ``python -m tests.readspeed``; it takes about two minutes and prints a table. Times are those of
the processor, the best of several rounds, the candidates taking turns, so that a busy machine matters little;
memory is the peak that tracemalloc sees (it knows numpy's buffers), without the file's own bytes in the page
cache.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import jcamp
import numpy as np
import pandas as pd

from spectra.reading import read
from spectra.spectrum import Origin, Spectrum
from spectra.writing.jcamp_file import write_jcamp
from spectra.writing.jcamp_lines import ENCODINGS


def film(points: int, seed: int = 1) -> Spectrum:
    """An invented film: bands on a slope, with noise."""
    x = np.linspace(400.0, 4000.0, points)
    noise = np.random.default_rng(seed).normal(0.0, 1e-4, points)
    bands = 0.5 * np.exp(-(((x - 1700.0) / 20.0) ** 2)) + 0.3 * np.exp(-(((x - 2900.0) / 40.0) ** 2))
    return Spectrum(x, 0.05 + 1e-6 * x + bands + noise, Origin("film"))


FORMS = {"%.6f": ",", "%10.4f": " ", "%.9e": ","}


def write_two_columns(path: Path, spectrum: Spectrum, form: str = "%.6f") -> None:
    """Two columns, as most programs export them, without a header."""
    np.savetxt(
        path, np.column_stack([spectrum.wavenumbers, spectrum.absorbance]), form, delimiter=FORMS[form]
    )


def best_times(candidates: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Shortest time of each candidate, in seconds."""
    best = dict.fromkeys(candidates, float("inf"))
    for _ in range(rounds):
        for name, run in candidates.items():
            start = time.process_time()
            with contextlib.redirect_stdout(io.StringIO()):  # jcamp prints its checks
                run()
            best[name] = min(best[name], time.process_time() - start)
    return best


def peak_bytes(run: Callable[[], object]) -> int:
    """Most memory that was held at one time beyond what was held before."""
    tracemalloc.start()
    try:
        run()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def large_jcamp(folder: Path, points: int, rounds: int) -> list[str]:
    """One long AFFN file: this reader against jcamp."""
    path = folder / "long.dx"
    write_jcamp(film(points), path, encoding="AFFN", y_factor=1e-6)
    times = best_times({"read": lambda: read(path), "jcamp": lambda: jcamp.readfile(str(path))}, rounds)
    size = path.stat().st_size
    lines = [f"AFFN, {points} points, {size / 1e6:.1f} MB:"]
    lines += [f"  {name:<14}{seconds:8.3f} s" for name, seconds in times.items()]
    lines.append(f"  jcamp / read  {times['jcamp'] / times['read']:8.1f}   (wanted: at least 5)")
    lines.append(f"  memory / file {peak_bytes(lambda: read(path)) / size:8.1f}   (wanted: at most 10)")
    return lines


def encodings(folder: Path, points: int, rounds: int) -> list[str]:
    """The same spectrum in every encoding."""
    paths = {}
    for encoding in ENCODINGS:
        paths[encoding] = folder / f"{encoding}.dx"
        write_jcamp(film(points), paths[encoding], encoding=encoding, y_factor=1e-6)
    times = best_times({name: lambda path=path: read(path) for name, path in paths.items()}, rounds)
    lines = [f"{points} points in every encoding:"]
    for name, path in paths.items():
        size = path.stat().st_size
        ratio, floor = peak_bytes(lambda path=path: read(path)) / size, 16 * points / size
        lines.append(
            f"  {name:<14}{times[name]:8.3f} s, memory / file {ratio:5.1f}   (wanted: at most 10; "
            f"the decoded numbers alone {floor:.1f})"
        )
    return lines


def many_two_columns(folder: Path, files: int, rounds: int, form: str) -> list[str]:
    """Many short files of two columns: this reader against numpy and pandas."""
    paths = [folder / f"film_{i:04}.csv" for i in range(files)]
    for i, path in enumerate(paths):
        write_two_columns(path, film(1800, i), form)
    mark = FORMS[form].strip() or None
    times = best_times(
        {
            "read": lambda: [read(path) for path in paths],
            "numpy.loadtxt": lambda: [np.loadtxt(path, delimiter=mark) for path in paths],
            "pandas.read_csv": lambda: [pd.read_csv(path, header=None, sep=mark or r"\s+") for path in paths],
        },
        rounds,
    )
    lines = [f"{files} two-column files of 1800 points, {form}:"]
    lines += [f"  {name:<16}{seconds:8.3f} s" for name, seconds in times.items()]
    lines.append(f"  read / loadtxt  {times['read'] / times['numpy.loadtxt']:8.2f}   (wanted: at most 2.5)")
    lines.append(f"  read / read_csv {times['read'] / times['pandas.read_csv']:8.2f}")
    return lines


def large_two_columns(folder: Path, points: int, rounds: int) -> list[str]:
    """One long file of two columns."""
    path = folder / "long.csv"
    write_two_columns(path, film(points))
    size = path.stat().st_size
    times = best_times(
        {
            "read": lambda: read(path),
            "numpy.loadtxt": lambda: np.loadtxt(path, delimiter=","),
            "pandas.read_csv": lambda: pd.read_csv(path, header=None),
        },
        rounds,
    )
    lines = [f"one two-column file of {points} points, {size / 1e6:.1f} MB:"]
    lines += [f"  {name:<16}{seconds:8.3f} s" for name, seconds in times.items()]
    lines.append(f"  read / loadtxt  {times['read'] / times['numpy.loadtxt']:8.2f}   (wanted: at most 2)")
    lines.append(f"  memory / file   {peak_bytes(lambda: read(path)) / size:8.1f}   (wanted: at most 3)")
    return lines


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description="How fast and how lean reading is.")
    parser.add_argument("--points", type=int, default=1_000_000, help="points of the long files")
    parser.add_argument("--files", type=int, default=1000, help="number of short files")
    parser.add_argument("--rounds", type=int, default=3, help="the best of so many")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        for part in parts(Path(name), options.points, options.files, options.rounds):
            print("\n".join(part), flush=True)


def parts(folder: Path, points: int, files: int, rounds: int) -> Iterator[list[str]]:
    """Lines of each comparison, as it is done."""
    yield large_jcamp(folder, points, rounds)
    yield encodings(folder, points, rounds)
    yield large_two_columns(folder, points, rounds)
    yield large_two_columns(folder, 5 * points // 2, rounds)
    for form in FORMS:
        yield many_two_columns(folder, files, rounds, form)


if __name__ == "__main__":
    main()
