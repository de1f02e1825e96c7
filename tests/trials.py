"""Trials with known truth: how often the decision is right, counted, with exact binomial intervals.

``python -m tests.trials [--real FOLDER] [--small] [--seed N]`` prints a table. Spectra come from
:mod:`tests.scenes`, which shares no code with the package; FOLDER may hold measured replicate spectra
(fabric_*.csv, protein.csv, ester_series.csv), which are read and never stored.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.capability import Yardstick, set_yardstick
from spectra.detection.presence import decide_presence
from spectra.detection.settings import PresenceSettings
from spectra.findings import CANNOT_TELL, PRESENT, Presence
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.statistics import binomial_interval
from spectra.variation.model import Variation, learn
from spectra.variation.settings import VariationSettings
from tests import scenes
from tests.classical import called_present, neat_spots
from tests.scenes import GRID, PAIRS, REAL_PAIRS, USABLE, WRONG, Scene, film_response, known_error, spots

DECISION, PRESENCE, VARIATION = DecisionSettings(), PresenceSettings(), VariationSettings()
SINGLE = [name for name, (_, substrate) in PAIRS.items() if len(substrate) == 1]
DOUBLE = [name for name, (_, substrate) in PAIRS.items() if len(substrate) == 2]
NOISES, COATED = (1e-4, 2e-4, 1e-3), (1, 3, 6)
FILM_TOLERANCE = 0.1  # of a band against the film computed by optics


@dataclass
class Tally:
    """Counts of one row of the table: how often something happened, of how often it could."""

    counts: dict[str, list[int]] = field(default_factory=dict)
    values: dict[str, list[float]] = field(default_factory=dict)

    def add(self, row: str, happened: bool) -> None:
        """Count one case."""
        entry = self.counts.setdefault(row, [0, 0])
        entry[0] += int(happened)
        entry[1] += 1

    def note(self, row: str, value: float) -> None:
        """Keep one value."""
        self.values.setdefault(row, []).append(value)

    def lines(self) -> Iterator[str]:
        """Rows as text: count, share and its exact 95 % interval; quantiles of values."""
        for row, (count, of) in self.counts.items():
            low, high = binomial_interval(count, of)
            yield f"{row:78s} {count:5d} / {of:5d}  {count / of:6.1%}  [{low:6.1%}, {high:6.1%}]"
        for row, values in self.values.items():
            quantiles = np.quantile(values, [0.05, 0.5, 0.95])
            yield f"{row:78s} n {len(values):4d}  5/50/95 %: " + " ".join(f"{q:.3g}" for q in quantiles)


def run_parts(about: str | None, parts: Mapping[str, Callable[..., None]], repeats: int, seed: int) -> None:
    """Run the parts of a trial that the command line asks for, each with random numbers of its own."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--repeats", type=int, default=repeats)
    parser.add_argument("--seed", type=int, default=seed)
    parser.add_argument("--only", choices=parts)
    given = parser.parse_args()
    for name, part in parts.items():
        if given.only in (None, name):
            tally, start = Tally(), time.perf_counter()
            part(tally, np.random.default_rng([given.seed, len(name)]), given.repeats)
            print(f"\n{name} ({time.perf_counter() - start:.0f} s)")
            print("\n".join(tally.lines()), flush=True)


def stack(rows: np.ndarray, grid: np.ndarray = GRID, usable: np.ndarray = USABLE) -> Stack:
    """Spots as specimens of their own."""
    names = tuple(f"spot {i}" for i in range(len(rows)))
    return Stack(grid, rows, names, names, usable)


def film_shape(scene: Scene, contact_error: float = 0.0) -> Shape:
    """Expected film from the scene's own optics; amounts are in nm."""
    return Shape(
        film_response(scene, 1.0), 1.0, lambda nm: film_response(scene, nm), contact_error, FILM_TOLERANCE
    )


@dataclass(frozen=True)
class Bench:
    """One bare set, learned, and the coating looked for."""

    scene: Scene
    bare: Stack
    shape: Shape
    variation: Variation
    yardstick: Yardstick

    def decide(self, rows: np.ndarray) -> Presence:
        """Judge one sample."""
        found = decide_presence(
            stack(rows), self.variation, {"coating": self.shape}, DECISION, PRESENCE, self.yardstick
        )
        return found["coating"]


def set_up(scene: Scene, rng: np.random.Generator, bare: int, shape: Shape | None = None) -> Bench:
    """Measure and learn bare spots."""
    shape = shape or film_shape(scene)
    measured = stack(spots(scene, rng, bare))
    variation = learn(measured, VARIATION)
    curve = variation.reduction.apply(shape.curve)
    return Bench(scene, measured, shape, variation, set_yardstick(variation, {"coating": curve}, PRESENCE))


def scene_of(name: str, **changes: float) -> Scene:
    """Scene of a pair."""
    coating, substrate = {**PAIRS, **REAL_PAIRS}[name]
    return Scene(coating, substrate, **changes)


def covers(found: Presence, truth: float) -> bool:
    """Whether the interval of the amount holds the truth."""
    return found.amount_low is not None and found.amount_low <= truth <= (found.amount_high or 0.0)


def error_rates(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """False alarms, detection at the stated detectable amount, coverage and wrong coatings, cell by cell.

    Every bare set judges two bare samples; every third also answers the longer questions.
    """
    for i in range(repeats):
        for kind, names in (("one component", SINGLE), ("two components", DOUBLE)):
            for scatter in (0.0, 0.03, 0.10):
                for bare in (3, 5, 8):
                    name = names[(i + bare) % len(names)]
                    bench = set_up(scene_of(name, scatter=scatter, noise=NOISES[i % 3]), rng, bare)
                    cell = f"{kind}, scatter {scatter:.0%}, {bare} bare"
                    for count in (COATED[i // 3 % 3], COATED[(i // 3 + 1) % 3]):
                        _count_nothing(tally, bench.decide(spots(bench.scene, rng, count)), cell)
                    if i % 3 == 0:
                        _count_something(tally, rng, bench, bare, COATED[i // 3 % 3])


def _count_nothing(tally: Tally, found: Presence, cell: str) -> None:
    """Count one bare sample."""
    for row in (cell, "all cells"):
        tally.add(f"null called present: {row}", found.verdict == PRESENT)
    tally.add("null called cannot tell: all cells", found.verdict == CANNOT_TELL)
    tally.add("null above the joint critical amount: all cells", bool((found.p_value or 0.0) < 0.01))
    tally.add("interval covers the amount, nothing there", covers(found, 0.0))


def _count_something(tally: Tally, rng: np.random.Generator, bench: Bench, bare: int, count: int) -> None:
    """Count a film of the stated detectable thickness, and a wrong coating."""
    limit = bench.decide(spots(bench.scene, rng, count)).detectable_amount or 0.0
    if np.isfinite(limit):
        found = bench.decide(spots(bench.scene, rng, count, limit))
        for row in (f"{bare} bare", "all cells"):
            tally.add(f"found at the stated detectable amount: {row}", found.verdict == PRESENT)
            tally.add(f"interval covers the detectable amount: {row}", covers(found, limit))
    nm = float(rng.choice([1.0, 3.0, 10.0, 30.0, 100.0, 300.0]))
    wrong = bench.decide(spots(bench.scene, rng, count, nm, WRONG[bench.scene.coating]))
    for row in ("30 to 300 nm" if nm > 10.0 else "1 to 10 nm", "all"):
        tally.add(f"wrong coating called present: {row}", wrong.verdict == PRESENT)


def detection(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Thin films at the standard condition: 5 bare, 3 coated, noise 2e-4, 3 % scatter."""
    for name in {**PAIRS, **REAL_PAIRS}:
        for _ in range(repeats):
            bench = set_up(scene_of(name), rng, 5)
            tally.note(
                f"stated detectable nm: {name}", bench.decide(spots(bench.scene, rng, 3)).detectable_nm or 0
            )
            for nm in (1.0, 2.0):
                found = bench.decide(spots(bench.scene, rng, 3, nm))
                tally.add(f"{nm:g} nm found: {name}", found.verdict == PRESENT)
            patchy = bench.decide(spots(bench.scene, rng, 3, 20.0, None, 0.8))
            tally.add("20 nm on a fifth of every spot found", patchy.verdict == PRESENT)


def against_classical(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Thinnest film found in 95 % of cases by the joint model and by the classical chain, same spectra."""
    for name in SINGLE:
        scene = scene_of(name)
        benches = [set_up(scene, rng, 5) for _ in range(repeats)]
        bare = [bench.bare for bench in benches]
        neat = [stack(neat_spots(scene, rng)) for _ in benches]
        thinnest = {"joint": float("nan"), "classical": float("nan")}
        for nm in 0.25 * 2.0 ** np.arange(0.0, 11.5, 0.5):
            samples = [spots(scene, rng, 3, float(nm)) for _ in benches]
            if np.isnan(thinnest["joint"]):
                found = [b.decide(rows).verdict == PRESENT for b, rows in zip(benches, samples, strict=True)]
                thinnest["joint"] = float(nm) if np.mean(found) >= 0.95 else float("nan")
            found = [
                called_present(b, n, stack(rows)) for b, n, rows in zip(bare, neat, samples, strict=True)
            ]
            if np.mean(found) >= 0.95:
                thinnest["classical"] = float(nm)
                break
        for label, value in thinnest.items():
            tally.note(f"thinnest film found in 95 %, nm, {label}: {name}", value)


def efficiency(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Error of the amount against the bound of the known covariance, 8 bare and 3 coated spots."""
    for name in {**PAIRS, **REAL_PAIRS}:
        scene = scene_of(name)
        bound = known_error(scene, rng) * np.sqrt(1 / 3 + 1 / 8)
        errors = [
            (set_up(scene, rng, 8).decide(spots(scene, rng, 3, 0.5)).amount or 0.0) - 0.5
            for _ in range(repeats)
        ]
        tally.note(f"error over bound: {name}", float(np.sqrt(np.mean(np.square(errors))) / bound))


def other_substrate(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Bare set of another composition than the sample's substrate; no coating."""
    changes: dict[str, Callable[[Scene], Scene]] = {
        "a tenth of another polymer": lambda s: replace(
            s, substrate=(*s.substrate, "polyolefin" if "polyolefin" not in s.substrate else "polyether"),
            share=0.9, composition=0.0,
        ),
        "stronger shares of the same two": lambda s: replace(s, share=0.8),
    }  # fmt: skip
    for label, change in changes.items():
        for i in range(repeats):
            for name in SINGLE if "tenth" in label else DOUBLE:
                scene = scene_of(name)
                other = change(scene)
                found = set_up(scene, rng, 5).decide(spots(other, rng, COATED[i % 3]))
                tally.add(f"other substrate called present: {label}", found.verdict == PRESENT)
                tally.add(f"other substrate cannot tell: {label}", found.verdict == CANNOT_TELL)
                tally.add(f"other substrate, right region named: {label}", _right_region(found, scene, other))


def _right_region(found: Presence, scene: Scene, other: Scene) -> bool:
    """Whether a named stretch holds a change of at least a fifth of the greatest one."""
    mean = [scenes.reflection_absorbance(scenes.mean_substrate(s), contact=s.touch) for s in (scene, other)]
    change = np.abs(mean[1] - mean[0]) * USABLE
    return any(
        change[(m.low <= GRID) & (m.high >= GRID)].max(initial=0.0) > 0.2 * change.max()
        for m in found.misfits[:3]
    )


def real_fabrics(tally: Tally, rng: np.random.Generator, folder: Path, splits: int) -> None:
    """Measured replicates of twelve fabrics: five spots as bare, five as sample, with and without a spike."""
    grid, fabrics, protein, usable = read_fabrics(folder)
    shape = Shape(protein)
    for i in range(splits):
        order = rng.permutation(10)
        here, other = i % 12, (i + 1 + int(rng.integers(11))) % 12
        variation = learn(stack(fabrics[here][order[:5]], grid, usable), VARIATION)
        yardstick = set_yardstick(variation, {"protein": variation.reduction.apply(protein)}, PRESENCE)

        def verdict(rows: np.ndarray, variation=variation, yardstick=yardstick) -> Presence:  # type: ignore[no-untyped-def]
            sample = stack(rows, grid, usable)
            return decide_presence(sample, variation, {"protein": shape}, DECISION, PRESENCE, yardstick)[
                "protein"
            ]

        sample = fabrics[here][order[5:]]
        nothing = verdict(sample)
        tally.add("real fabric, nothing added, called present", nothing.verdict == PRESENT)
        tally.add("real fabric, nothing added, called cannot tell", nothing.verdict == CANNOT_TELL)
        tally.add("real fabric, interval covers nothing", covers(nothing, 0.0))
        for spike in (0.03, 0.1):
            found = verdict(sample + spike * protein)
            tally.add(f"real fabric, spike of {spike:g}, called present", found.verdict == PRESENT)
        foreign = verdict(fabrics[other][rng.permutation(10)[:5]])
        tally.add("real fabric, another fabric as bare set, called present", foreign.verdict == PRESENT)
        tally.add("real fabric, another fabric as bare set, cannot tell", foreign.verdict == CANNOT_TELL)


def read_fabrics(folder: Path) -> tuple[np.ndarray, list[np.ndarray], np.ndarray, np.ndarray]:
    """Grid, spots of every fabric, mean protein spectrum and usable points."""
    from scipy.interpolate import CubicSpline

    tables = [
        np.genfromtxt(f, delimiter=",", skip_header=1)[::-1] for f in sorted(folder.glob("fabric_*.csv"))
    ]
    grid = tables[0][:, 0]
    fabrics = [CubicSpline(t[:, 0], t[:, 1:])(np.clip(grid, t[0, 0], t[-1, 0])).T for t in tables]
    table = np.genfromtxt(folder / "protein.csv", delimiter=",", skip_header=1)[::-1]
    protein = CubicSpline(table[:, 0], table[:, 1:].mean(axis=1))(grid)
    usable = ~(((grid >= 1900) & (grid <= 2700)) | (grid >= 3550))
    return grid, fabrics, protein, usable


def real_esters(tally: Tally, folder: Path) -> None:
    """Blends of an ester: lowest level as bare, thirty per cent minus it as neat; one row a level."""
    file = folder / "ester_series.csv"
    header = file.read_text(encoding="utf-8").splitlines()[0].split(",")[1:]
    table = np.genfromtxt(file, delimiter=",", skip_header=1)
    table = table[np.argsort(table[:, 0])]
    grid, rows = table[:, 0], table[:, 1:].T
    levels = [float(name.split("%")[0]) for name in header]
    usable = ~(((grid >= 1900) & (grid <= 2700)) | (grid >= 3550) | (grid < 650))
    grid, rows = _even(grid, rows)
    usable = np.interp(grid, table[:, 0], usable.astype(float)) > 0.5
    by_level = {
        level: rows[[i for i, v in enumerate(levels) if v == level]] for level in dict.fromkeys(levels)
    }
    lowest = min(by_level)
    neat = by_level[max(by_level)].mean(axis=0) - by_level[lowest].mean(axis=0)
    variation = learn(stack(by_level[lowest], grid, usable), VARIATION)
    before = None
    for level, spots_here in by_level.items():
        if level == lowest:
            continue
        found = decide_presence(
            stack(spots_here, grid, usable), variation, {"ester": Shape(neat)}, DECISION, PRESENCE
        )["ester"]
        row = f"ester {level:g} %"
        tally.add(f"{row}: present", found.verdict == PRESENT)
        for value in (found.amount_low, found.amount, found.amount_high):
            tally.note(f"{row}: amount and its interval", value or 0.0)
        tally.note(f"{row}: amount per per cent", (found.amount or 0.0) / (level - lowest))
        if before is not None:
            tally.add("ester level above the one before, intervals apart", found.amount_low > before)
        before = found.amount_high


def _even(grid: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Same points on an even grid."""
    even = np.linspace(grid[0], grid[-1], grid.size)
    return even, np.array([np.interp(even, grid, row) for row in rows])


# Title of each part of the table: the trial, and its repeats in the small and in the full version.
TRIALS: dict[str, tuple[Callable[[Tally, np.random.Generator, int], None], int, int]] = {
    "detection": (detection, 1, 20),
    "against the classical chain": (against_classical, 1, 20),
    "other substrate": (other_substrate, 1, 15),
    "efficiency": (efficiency, 2, 20),
    "error rates": (error_rates, 1, 50),
}


def run(small: bool, seed: int, real: Path | None, only: str | None = None) -> Iterator[str]:
    """Run the trials, yielding the table's lines as they come."""
    plans = {title: (trial, counts) for title, (trial, *counts) in TRIALS.items()}
    if real is not None:
        plans = {
            "real fabrics": (lambda tally, rng, count: real_fabrics(tally, rng, real, count), [12, 200]),
            "real esters": (lambda tally, _rng, _count: real_esters(tally, real), [1, 1]),
            **plans,
        }
    for title, (trial, counts) in plans.items():
        if only and only != title:
            continue
        begun, tally = time.process_time(), Tally()
        trial(tally, np.random.default_rng(seed), counts[0 if small else 1])
        yield f"-- {title} ({time.process_time() - begun:.0f} s of processor time)"
        yield from tally.lines()


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--small", action="store_true")
    parser.add_argument("--seed", type=int, default=2025)
    parser.add_argument("--real", type=Path)
    parser.add_argument("--only", help="one part of the table, by its title")
    arguments = parser.parse_args()
    for line in run(arguments.small, arguments.seed, arguments.real, arguments.only):
        print(line, flush=True)


if __name__ == "__main__":
    main()
