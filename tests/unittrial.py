"""How often a unit that no file states is understood, with known truth.

``python -m tests.unittrial [--seed N] [--small]`` prints a table. The spectra are computed from published
optical constants (CC0, ``data/optical_constants``), as transmission through films of three thicknesses and
as one reflection on diamond at 45 degrees, and read from the public-domain JCAMP-DX files. Each is altered in
eleven ways, written as absorbance, transmittance and percent transmittance into a text file without a
header, and read: right, wrong, or refused. Sets are five such files of one folder: one spectrum in five
heights and base lines. The formulas stand here and share no code with the package.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from spectra.errors import ReadingError
from spectra.reading import read, read_alike
from spectra.reading.together import FileRead
from spectra.statistics import binomial_interval
from spectra.units import UNSTATED
from tests.optical_constants import FOLDER, read_constants
from tests.places import DATA
from tests.scenes import GRID as VAPOUR_GRID
from tests.scenes import vapour_shape

Array = NDArray[np.float64]

GRID = np.arange(650.0, 4000.1, 2.0)
NOISE = 2e-4  # of one scan's average, absorbance; common practice, no source
FULL = {"absorbance": None, "transmittance": 1.0, "percent transmittance": 100.0}
TOPS = (0.035, 0.5, 1.5)  # strongest band of the films, absorbance
ANOTHER = "poly_methyl_methacrylate__Tsuda-BB"  # the substrate whose bands are taken off
INFRARED = ("dupinc2", "fixinc2", "jtpolys", "pacdec1", "sqzdupd1")
WORST_FIRST = ("wrong", "refused without a remedy", "refused", "right")
FEWEST = 400  # points of the grid that a page must cover
CRYSTAL = 2.38  # index of diamond at 45 degrees; n above 1.68 is not reflected totally


@dataclass(frozen=True, eq=False)
class Truth:
    """One real spectrum: where it comes from, wavenumbers and absorbance."""

    name: str
    x: Array
    a: Array


def real_spectra() -> Iterator[Truth]:
    """Films and reflections of every page of constants, and the public files."""
    for page in sorted(file.stem for file in FOLDER.glob("*.csv")):
        x, n, k = read_constants(page)
        film = np.interp(GRID, x, k * x, left=np.nan, right=np.nan)
        kept = np.isfinite(film)
        if np.count_nonzero(kept) < FEWEST:
            continue
        for top in TOPS:
            yield Truth(f"{page} {top:g}", GRID[kept], film[kept] / film[kept].max() * top)
        if n.max() < 1.68:
            yield Truth(f"{page} ATR", GRID[kept], np.interp(GRID, x, attenuated(n, k))[kept])
    for name in INFRARED:
        for spectrum in read(DATA / "reading" / "jcamp" / f"{name}.jdx")[:1]:
            kept = np.isfinite(spectrum.absorbance)
            yield Truth(name, spectrum.wavenumbers[kept], spectrum.absorbance[kept])


def attenuated(n: Array, k: Array) -> Array:
    """Absorbance of one unpolarised reflection at 45 degrees, by Fresnel's equations (textbook form)."""
    index, cosine = n + 1j * k, np.sqrt(0.5)
    inside = np.sqrt(index**2 - CRYSTAL**2 * 0.5 + 0j)
    s = (CRYSTAL * cosine - inside) / (CRYSTAL * cosine + inside)
    p = (index**2 * cosine - CRYSTAL * inside) / (index**2 * cosine + CRYSTAL * inside)
    return np.asarray(-np.log10((np.abs(s) ** 2 + np.abs(p) ** 2) / 2))


def gas(x: Array, of: str) -> Array:
    """Lines of water vapour or the band of carbon dioxide at low resolution, greatest value one."""
    if of == "vapour":
        return np.asarray(np.interp(x, VAPOUR_GRID, vapour_shape(), left=0.0, right=0.0))
    return np.asarray(np.exp(-(((x - 2360) / 12) ** 2)) + 0.8 * np.exp(-(((x - 2337) / 13) ** 2)))


def alterations(truth: Truth) -> Iterator[tuple[str, Array]]:
    """The eleven ways in which a spectrum is altered; the last two are done to what is written."""
    x, a, top = truth.x, truth.a, float(truth.a.max())
    page = read_constants(ANOTHER)
    other = np.interp(x, page[0], page[2] * page[0])
    lines = min(top, 0.1)
    yield "as it is", a
    yield "weak", a * 0.02 / top
    yield "strong", a * 3.0 / top
    yield "offset", a + 0.3
    yield "slope", a + 0.2 * np.linspace(0.0, 1.0, x.size)
    yield "negative vapour", a - 0.3 * lines * gas(x, "vapour")
    yield "negative CO2", a - lines * gas(x, "CO2")
    yield "strong CO2", a + lines * gas(x, "CO2")
    yield "negative substrate", a - min(0.4 * top, 0.2) * other / other.max()
    yield "one spike", a
    yield "first point 0", a


def written(how: str, a: Array, unit: str, rng: np.random.Generator) -> Array:
    """Ordinates as a file holds them, from high wavenumbers to low."""
    noise, full = rng.normal(0.0, NOISE, a.size), FULL[unit]
    y = a + noise if full is None else full * (10.0**-a + np.log(10.0) * noise)
    y = y[::-1].copy()
    if how == "one spike":
        y[rng.integers(30, y.size - 30)] *= rng.choice([-1.0, 0.0, 4.0])
    if how == "first point 0":
        y[0] = 0.0
    return y


def put(path: Path, x: Array, y: Array) -> Path:
    """Write two columns without a header."""
    np.savetxt(path, np.column_stack([x[::-1], y]), "%.6g", delimiter=",")
    return path


def outcome(found: FileRead | ReadingError, unit: str) -> str:
    """``right``, ``wrong`` or ``refused``; a refusal must name the line that settles it."""
    if isinstance(found, ReadingError):
        return "refused" if 'ordinate = "' in str(found) else "refused without a remedy"
    return "right" if found.spectra[0].origin.y_unit == unit else "wrong"


def singles(truths: Sequence[Truth], rng: np.random.Generator) -> Iterator[tuple[str, str, str]]:
    """Each altered spectrum in each unit, read alone: alteration, unit, outcome."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.csv"
        for truth in truths:
            for how, a in alterations(truth):
                for unit in FULL:
                    put(path, truth.x, written(how, a, unit, rng))
                    yield how, unit, outcome(read_alike([path], [UNSTATED])[0], unit)


def sets(truths: Sequence[Truth], rng: np.random.Generator, size: int = 5) -> Iterator[tuple[str, str, str]]:
    """Five specimens of each altered spectrum, in heights and base lines of their own, read together."""
    with tempfile.TemporaryDirectory() as name:
        paths = [Path(name) / f"film_{i}.csv" for i in range(size)]
        for truth in truths:
            for how, a in alterations(truth):
                for unit in FULL:
                    for path in paths:
                        piece = a * rng.uniform(0.6, 1.2) + rng.uniform(0.0, 0.05)
                        put(path, truth.x, written(how, piece, unit, rng))
                    found = {outcome(one, unit) for one in read_alike(paths, [UNSTATED] * size)}
                    yield how, unit, next(worst for worst in WORST_FIRST if worst in found)


def table(rows: Sequence[tuple[str, str, str]]) -> Iterator[str]:
    """Counts by alteration, and in all with exact intervals."""
    ways = dict.fromkeys(how for how, _, _ in rows)
    for how in ways:
        mine = Counter(found for way, _, found in rows if way == how)
        yield f"  {how:20}" + "".join(f"{word} {count:5d}   " for word, count in sorted(mine.items()))
    for word in ("wrong", "refused", "refused without a remedy"):
        count = sum(found == word for _, _, found in rows)
        low, high = binomial_interval(count, len(rows))
        yield f"  {word:26} {count:5d} of {len(rows)}  {count / len(rows):.2%} [{low:.2%}, {high:.2%}]"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="How often an unstated unit is understood.")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--small", action="store_true", help="every sixth spectrum only")
    options = parser.parse_args(arguments)
    truths = list(real_spectra())[:: 6 if options.small else 1]
    rng = np.random.default_rng(options.seed)
    print(f"{len(truths)} spectra, eleven alterations, three units; single files:")
    print("\n".join(table(list(singles(truths, rng)))), flush=True)
    print("sets of five files:")
    print("\n".join(table(list(sets(truths, rng)))))


if __name__ == "__main__":
    main()
