"""Trial of every band's fate: one account of films with known truth.

``python -m tests.fatetrial [--plan NAME] [--cells NAME ...] [--pairs TEXT] [--repeats N] [--seed N]
[--jobs N] [--record FILE]`` decides studies whose truth :mod:`tests.fatecells` draws, writes one line of JSON
a sample and prints the figures of :mod:`tests.fatefigures`. Random numbers depend on seed, pair, design,
repeat and cell only, so that two versions of the code see the same spectra and can be compared sample by
sample.

One repeat is one study a pair and design: bare and neat spots are measured and learned once, and every cell
is one sample of it. Designs: ``flat`` (one spot a specimen, contacts unknown), ``known`` (the same spectra,
contacts stated), ``nested`` (3 specimens of 3 spots, with scatter between and within).
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np

from spectra.errors import CoatproofError
from spectra.findings import Chemistry
from spectra.spectrum import Stack
from spectra.verification.result import SampleFinding
from tests.fatecells import ACID, CELLS, STRANGERS, TRIAL_PAIRS, Bench, Sample, draw_bench, measure
from tests.fatefigures import report
from tests.scenes import GRID, MEASURED, REAL_PAIRS, USABLE, neat_spots
from tests.studyspeed import decide_all, study

Record = dict[str, Any]

# name -> (designs with their cells, pairs)
FILMS = [name for name in CELLS if not name.startswith(("all+", "all-22", "other-", "as "))]
THICK = ["unchanged-30", "unchanged-60", "unchanged-100", "unchanged-200"]
CONSTANTS = [f"{what}-{nm}" for what in ("unchanged", "all+12", "all-22", "other") for nm in (30, 60, 200)]
PLANS: dict[str, tuple[dict[str, list[str]], list[str]]] = {
    "table": (
        {
            "flat": FILMS,
            "known": THICK,
            "nested": ["bare", "unchanged-30", "unchanged-100", "moved-3", "contact-bare"],
        },
        list(TRIAL_PAIRS),
    ),
    "constants": ({"flat": CONSTANTS}, list(REAL_PAIRS)),
    "strangers": ({"flat": ["unchanged-60", *(n for n in CELLS if n.startswith("as "))]}, list(STRANGERS)),
}


@dataclass(frozen=True)
class Task:
    """One study."""

    pair: str
    design: str
    cells: tuple[str, ...]
    repeat: int
    seed: int
    named: bool = False


def tasks(
    plan: str, cells: Sequence[str], pairs: str, repeats: range, seed: int, named: bool
) -> Iterator[Task]:
    """Studies of a plan: all pairs once, then again."""
    designs, names = PLANS[plan]
    for repeat in repeats:
        for pair in names:
            for design, plan_cells in designs.items():
                chosen = tuple(c for c in plan_cells if not cells or c in cells or f"{design}:{c}" in cells)
                if chosen and pairs in pair:
                    yield Task(pair, design, chosen, repeat, seed, named)


def run(task: Task) -> list[Record]:
    """Decide one study."""
    records, begun = [], time.perf_counter()
    head = {"pair": task.pair, "design": task.design, "repeat": task.repeat, "seed": task.seed}
    bench = _set_up(task)[0]
    try:
        for cell, sample, finding in findings_of(task):
            ended = time.perf_counter()
            record = {"cell": cell, **head, **outcome(finding, sample, bench)}
            records.append(record | {"seconds": round(ended - begun, 3)})
            begun = time.perf_counter()
    except CoatproofError as refusal:
        records.append({"cell": "", **head, "refused": str(refusal), "seconds": 0.0})
    return records


def findings_of(task: Task) -> Iterator[tuple[str, Sample, SampleFinding]]:
    """Draw and decide every sample of one study."""
    bench, bare, neat = _set_up(task)
    samples: dict[str, Sample] = {}
    coated: dict[str, Stack] = {}
    for cell in task.cells:
        rng = _chance(task, cell)
        sample = CELLS[cell](bench, rng)
        if sample is not None:
            samples[cell], coated[cell] = sample, _stack(*measure(bench, sample, rng))
    contacts = (bench.scene.touch, bench.neat_contact) if task.design == "known" else (None, None)
    materials = (bench.scene.substrate[0], bench.scene.coating) if task.named else ("", "")
    below, above = (_material(name) for name in materials)
    one = study(list(coated), contacts, (ACID,), (below, above))
    decided = decide_all(one, bare, neat, coated)
    for (cell, sample), finding in zip(samples.items(), decided, strict=True):
        yield cell, sample, finding


def _chance(task: Task, *words: str) -> np.random.Generator:
    """Random numbers of one purpose; the designs flat and known see the same spectra."""
    design = "nested" if task.design == "nested" else "flat"
    names = [crc32(word.encode()) for word in (task.pair, design, *words)]
    return np.random.default_rng([task.seed, task.repeat, *names])


def _set_up(task: Task) -> tuple[Bench, Stack, Stack]:
    """Draw the bench and measure bare and neat."""
    rng = _chance(task)
    bench = draw_bench(task.pair, task.design == "nested", rng)
    bare = _stack(*measure(bench, None, rng))
    neat = neat_spots(bench.scene, rng, contact=bench.neat_contact)
    return bench, bare, _stack(neat, [f"s{i}" for i in range(len(neat))])


def _stack(rows: np.ndarray, specimens: Sequence[str]) -> Stack:
    names = tuple(f"spot {i}" for i in range(len(rows)))
    return Stack(GRID, rows, tuple(specimens), names, USABLE)


def _material(name: str) -> str | None:
    """What the band tables call a measured material."""
    called = {
        "PMMA": "poly(methyl methacrylate)",
        "PC": "polycarbonate",
        "PDMS": "silicone",
        "SiO2": "silica",
    }
    called |= {"PS": "polystyrene", "PET": "poly(ethylene terephthalate)", "PE": "polyethylene"}
    return called.get(name) if name in MEASURED else None


def first_named(chemistry: Chemistry) -> float | None:
    """Position that the first reason of a verdict names, cm-1; None if it names no band."""
    value = chemistry.reasons[0].values.get("position") if chemistry.reasons else None
    return None if value is None else float(value)


def outcome(finding: SampleFinding, sample: Sample, bench: Bench) -> Record:
    """Truth and finding of one sample, as plain data."""
    film = finding.coatings["film"]
    presence, first = film.presence, first_named(film.chemistry)
    places = bench.visible(max(sample.nm, 1.0)).places
    nearest = None if first is None else int(np.argmin(np.abs(places - first)))
    layer = getattr(finding, "layer", None)
    return {
        "nm": sample.nm,
        **sample.facts,
        "target": None if sample.target is None else float(places[sample.target]),
        "target_shift": None if sample.target is None else float(sample.shift[sample.target]),
        "layer": getattr(layer, "verdict", None),
        "presence": presence.verdict,
        "chemistry": film.chemistry.verdict,
        "reasons": [[r.code, r.values.get("position")] for r in film.chemistry.reasons],
        "presence_reasons": [r.code for r in presence.reasons],
        "first_is_target": nearest is not None and nearest == sample.target,
        "found_nm": [presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm],
        "detectable_nm": presence.detectable_nm,
        "judged_share": getattr(film, "judged_share", None),
        "unexplained": [u.position for u in finding.unexplained],
        "residue": finding.residues[ACID].verdict if ACID in finding.residues else None,
        "substrate": finding.substrate.chemistry.verdict,
        "bands": _bands(film.bands, sample, places),
    }


def _bands(bands: Sequence[Any], sample: Sample, places: np.ndarray) -> list[Record]:
    """What was said of each band, beside what is true of the band of the film that stands nearest."""
    rows = []
    for band in bands:
        near = int(np.argmin(np.abs(places - band.expected_position)))
        rows.append(
            {
                "position": band.expected_position,
                "away": float(band.expected_position - places[near]),
                "target": near == sample.target,
                "true_shift": float(sample.shift[near]),
                "true_height": float(sample.height[near]),
                "shift": band.shift,
                "low": band.shift_low,
                "high": band.shift_high,
                "verdict": band.verdict,
                "fate": getattr(band, "fate", None),
                "ratio": getattr(band, "ratio", None),
            }
        )
    return rows


def run_all(work: Sequence[Task], jobs: int) -> Iterator[Record]:
    """Decide all studies, in order, on so many processes."""
    if jobs == 1:
        for task in work:
            yield from run(task)
        return
    with ProcessPoolExecutor(jobs) as pool:
        for records in pool.map(run, work):
            yield from records


def main() -> None:
    """Run, record, report."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--plan", choices=PLANS, default="table")
    parser.add_argument("--cells", nargs="*", default=(), help="some cells only: NAME or DESIGN:NAME")
    parser.add_argument("--pairs", default="", help="pairs whose name holds this text")
    parser.add_argument("--repeats", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first repeat")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--named", action="store_true", help="tell the study what measured materials are")
    parser.add_argument("--record", type=Path, help="write one line of JSON a sample")
    parser.add_argument("--by", choices=("pair", "nm", "cell"), help="split every figure")
    asked = parser.parse_args()
    repeats = range(asked.first, asked.first + asked.repeats)
    work = list(tasks(asked.plan, asked.cells, asked.pairs, repeats, asked.seed, asked.named))
    records = []
    out = asked.record.open("w", encoding="utf-8") if asked.record else None
    for record in run_all(work, asked.jobs):
        records.append(record)
        if out:
            print(json.dumps(record), file=out, flush=True)
    if out:
        out.close()
    print("\n".join(report(records, asked.by)))


if __name__ == "__main__":
    main()
