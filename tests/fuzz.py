"""Mutated files: reading must end in spectra or in one of our errors, soon, and in little memory.

``python -m tests.fuzz --files 200000`` works through so many files, each made from the seed and its own
number alone, so that any of them can be made again: ``--first N --files 1 --keep FOLDER``. The files are
read in worker processes, one after the other, so that a crash of a compiled library is counted like any
other failure. A small share runs with the tests.
"""

from __future__ import annotations

import argparse
import io
import resource
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from spectra.errors import CoatproofError
from spectra.reading import read
from spectra.spectrum import Origin, Spectrum
from spectra.writing.jcamp_file import write_jcamp
from spectra.writing.jcamp_lines import ENCODINGS
from tests.places import DATA

SEEDS = DATA / "reading"
LONGEST_SECONDS = 5.0
MOST_MEGABYTES = 1000
_CHUNK = 5000
_HANGS_AFTER = 45.0  # seconds without a new file: the signal did not get through
PAGES = b"""##TITLE= pages
##DATA TYPE= INFRARED SPECTRUM
##NTUPLES= INFRARED SPECTRUM
##SYMBOL= X, Y, T
##VAR_DIM= 12, 12, 2
##UNITS= 1/CM, ABSORBANCE, SECONDS
##FIRST= 1800, , 0
##LAST= 1690, , 60
##FACTOR= 1, 0.001, 1
##PAGE= T=0
##DATA TABLE= (X++(Y..Y)), XYDATA
1800 10 20 50 120 300 620
1740 550 250 100 40 20 15
##PAGE= T=60
##DATA TABLE= (X++(Y..Y)), XYDATA
1800A0J0T%s
1690C0
##END NTUPLES=
##END=
"""

# What tends to break readers: huge and odd numbers, signs, marks, and the words of the formats.
TOKENS = [
    *b"1e999 -1e308 99999999999999999999 0 -0 NaN inf 1,5 1.234,5 ? ## $$ @ S99999999 T % E e5".split(),
    *b"1,234.5 4000 cm-1 %T absorbance # ; , | ' XFD1048576 (XY..XY) <a> </Series>".split(),
    b'length="2000000000"',
    *(
        b"##END=\n",
        b"##XYDATA= (X++(Y..Y))\n",
        b"##NPOINTS= 2000000000\n",
        b"##NPOINTS= -1\n",
        b"##YFACTOR= 0\n",
    ),
    *(b"##XFACTOR= 1e-300\n", b"##TITLE=\n", b"##PAGE= N=1\n", b"##NTUPLES= X\n", b"<!DOCTYPE x [", b'"'),
    *(b"\x1a", b"\r\n", b"\r", b"\n", b"\t", b" ", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", "\u00b5m".encode()),
]


def seeds() -> list[tuple[str, bytes]]:
    """Name and content of every seed: the small test files, and a film in every JCAMP-DX encoding."""
    paths = sorted(path for path in SEEDS.iterdir() if path.is_file() and path.suffix != ".md")
    found = [(path.name, path.read_bytes()) for path in paths]
    found.sort(key=lambda seed: seed[0] != "comma.csv")
    x = np.linspace(1690.0, 1800.0, 40)
    film = Spectrum(x, 0.02 + 0.5 * np.exp(-(((x - 1740.0) / 12.0) ** 2)), Origin("film"))
    with tempfile.TemporaryDirectory() as folder:
        for encoding in ENCODINGS:
            path = Path(folder) / f"{encoding}.dx"
            write_jcamp(film, path, encoding=encoding, y_factor=1e-4)
            found.append((path.name, path.read_bytes()))
        path = Path(folder) / "blocks.dx"
        write_jcamp([film, Spectrum(x**1.01, film.absorbance, film.origin)], path, y_factor=1e-4)
        found.append((path.name, path.read_bytes()))
    found.append(("pages.dx", PAGES))
    return found


def mutated(number: int, seed: int, files: Sequence[tuple[str, bytes]]) -> tuple[str, bytes]:
    """Return name and content of mutated file ``number``."""
    rng = np.random.default_rng([seed, number])
    name, data = files[int(rng.integers(len(files)))]
    if (
        name.endswith((".h5", ".mat")) and rng.random() < 0.9
    ):  # each is read by a process of its own, which takes time
        name, data = files[0]
    if data.startswith(b"PK") and rng.random() < 0.7:
        return name, _mutated_archive(data, rng)
    for _ in range(int(rng.integers(1, 4))):
        data = MUTATIONS[int(rng.integers(len(MUTATIONS)))](data, rng, files)
    return name, data[:500_000]


def _mutated_archive(data: bytes, rng: np.random.Generator) -> bytes:
    """Mutate a member of an archive and pack it again."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {info.filename: archive.read(info) for info in archive.infolist()}
    target = sorted(members)[int(rng.integers(len(members)))]
    for _ in range(int(rng.integers(1, 4))):
        mutate = MUTATIONS[int(rng.integers(len(MUTATIONS) - 1))]
        members[target] = mutate(members[target], rng, ())
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, content in members.items():
            archive.writestr(zipfile.ZipInfo(member), content)
    return packed.getvalue()


def _span(data: bytes, rng: np.random.Generator) -> tuple[int, int]:
    start = int(rng.integers(len(data) + 1))
    return start, min(len(data), start + int(rng.integers(1, 1 + min(400, len(data) + 1))))


def _flip(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    if not data:
        return data
    changed = np.frombuffer(data, np.uint8).copy()
    where = rng.integers(len(data), size=int(rng.integers(1, 8)))
    changed[where] = rng.integers(256, size=where.size)
    return changed.tobytes()


def _cut(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    start, stop = _span(data, rng)
    return data[:start] + data[stop:]


def _repeat(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    start, stop = _span(data, rng)
    return data[:stop] + data[start:stop] * int(rng.integers(1, 20)) + data[stop:]


def _insert(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    at = int(rng.integers(len(data) + 1))
    return data[:at] + TOKENS[int(rng.integers(len(TOKENS)))] + data[at:]


def _replace(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    old, new = (TOKENS[int(i)] for i in rng.integers(len(TOKENS), size=2))
    return data.replace(old, new, int(rng.integers(1, 200)))


def _shorten(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    return data[: int(rng.integers(len(data) + 1))]


def _swap_lines(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    lines = data.split(b"\n")
    i, j = rng.integers(len(lines), size=2)
    lines[int(i)], lines[int(j)] = lines[int(j)], lines[int(i)]
    return b"\n".join(lines)


def _swap_letters(data: bytes, rng: np.random.Generator, _: object) -> bytes:
    old, new = rng.integers(32, 127, size=2)
    return data.replace(bytes([int(old)]), bytes([int(new)]))


def _splice(data: bytes, rng: np.random.Generator, files: Sequence[tuple[str, bytes]]) -> bytes:
    _, other = files[int(rng.integers(len(files)))]
    return data[: int(rng.integers(len(data) + 1))] + other[int(rng.integers(len(other))) :]


Mutation = Callable[[bytes, np.random.Generator, Sequence[tuple[str, bytes]]], bytes]
# The last one needs other files and is not used inside archives.
MUTATIONS: tuple[Mutation, ...] = (
    _flip,
    _cut,
    _repeat,
    _insert,
    _replace,
    _shorten,
    _swap_lines,
    _swap_letters,
    _splice,
)


def _late(*_: object) -> None:
    raise TimeoutError(f"reading took more than {LONGEST_SECONDS:g} s")


def outcome(path: Path) -> str:
    """Read a file and say how it ended; raises whatever is neither spectra nor one of our errors."""
    try:
        spectra = read(path)
    except CoatproofError as error:
        if not str(error).startswith(str(path)):
            raise AssertionError(f"the message does not name the file: {error}") from error
        return type(error).__name__
    if not spectra or not all(isinstance(spectrum, Spectrum) for spectrum in spectra):
        raise AssertionError(f"reading gave {spectra!r}")
    return "spectra"


def run(
    numbers: Sequence[int],
    seed: int = 1,
    keep: Path | None = None,
    show: Callable[[str], None] = print,
    begin: Callable[[int], None] = lambda _: None,
) -> Counter[str]:
    """Read mutated files ``numbers``; failures are shown, and kept if ``keep`` is a folder."""
    files = seeds()
    counts: Counter[str] = Counter()
    previous = signal.signal(signal.SIGALRM, _late)
    try:
        with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
            warnings.simplefilter("error")
            for number in numbers:
                begin(number)
                name, data = mutated(number, seed, files)
                path = Path(folder) / name
                path.write_bytes(data)
                began = time.monotonic()
                try:
                    signal.setitimer(signal.ITIMER_REAL, LONGEST_SECONDS)
                    counts[outcome(path)] += 1
                    if time.monotonic() - began > LONGEST_SECONDS:
                        _late()  # the signal was caught on its way
                except BaseException as error:
                    if isinstance(error, KeyboardInterrupt):
                        raise
                    counts["failure"] += 1
                    show(f"file {number} ({name}): {''.join(traceback.format_exception(error))}")
                    if keep is not None:
                        keep.mkdir(parents=True, exist_ok=True)
                        (keep / f"{number}_{name}").write_bytes(data)
                finally:
                    signal.setitimer(signal.ITIMER_REAL, 0)
    finally:
        signal.signal(signal.SIGALRM, previous)
    return counts


def _work(options: argparse.Namespace) -> None:
    """Work through one chunk, each number written down as it begins; the counts are the last line."""
    with options.progress.open("wb", buffering=0) as progress:

        def begin(number: int) -> None:
            progress.seek(0)
            progress.write(f"{number:12}".encode())

        counts = run(
            range(options.first, options.first + options.files), options.seed, options.keep, begin=begin
        )
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print("COUNTS", megabytes, *(f"{name}={count}" for name, count in sorted(counts.items())), flush=True)


def _supervised(options: argparse.Namespace, first: int, count: int) -> tuple[list[str], int, str]:
    """Run one worker; return its output, the number it came to, and what ended it ("" if it was done)."""
    with tempfile.TemporaryDirectory() as folder:
        progress, output = Path(folder) / "number", Path(folder) / "output"
        command = [sys.executable, "-m", "tests.fuzz", "--worker", f"--first={first}", f"--files={count}"]
        command += [f"--seed={options.seed}", f"--progress={progress}"]
        command += [f"--keep={options.keep}"] if options.keep else []
        with output.open("w") as stream, subprocess.Popen(command, stdout=stream) as worker:
            number, since = first, time.monotonic()
            while worker.poll() is None:
                time.sleep(0.2)
                current = int(progress.read_text() or first) if progress.exists() else first
                if current != number:
                    number, since = current, time.monotonic()
                if time.monotonic() - since > _HANGS_AFTER:
                    worker.kill()
                    return [], number, "hang"
            number = int(progress.read_text() or first) if progress.exists() else first
        ended = "" if worker.returncode == 0 else f"crash ({worker.returncode})"
        return output.read_text().splitlines(), number, ended


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the trial; the exit status is 1 if anything failed."""
    parser = argparse.ArgumentParser(description="Read mutated files.")
    parser.add_argument("--files", type=int, default=200_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=None, help="folder for files that failed")
    parser.add_argument("--worker", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--progress", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.worker:
        _work(options)
        return 0
    total: Counter[str] = Counter()
    most, began, first, last = 0, time.monotonic(), options.first, options.first + options.files
    while first < last:
        count = min(_CHUNK, last - first)
        lines, number, ended = _supervised(options, first, count)
        print("".join(f"{line}\n" for line in lines if not line.startswith("COUNTS")), end="")
        if ended:
            # what the worker had counted is lost with it: its files before this one are read again
            print(f"file {number}: {ended}", flush=True)
            total["crash or hang"] += 1
            lines, _, _ = _supervised(options, first, number - first) if number > first else ([], 0, "")
            first = number + 1
        else:
            first += count
        for line in lines:
            if line.startswith("COUNTS"):
                megabytes, *counts = line.split()[1:]
                most = max(most, int(megabytes))
                total.update({entry.split("=")[0]: int(entry.split("=")[1]) for entry in counts})
        print(f"{first - options.first} files, {time.monotonic() - began:.0f} s, {dict(total)}", flush=True)
    print(f"peak memory of a worker {most} MB (at most {MOST_MEGABYTES} wanted); {dict(total)}")
    return int(bool(total["failure"] or total["crash or hang"] or most > MOST_MEGABYTES))


if __name__ == "__main__":
    sys.exit(main())
