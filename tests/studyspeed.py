"""How long a study takes to decide: ``python -m tests.studyspeed [SPOTS ...]``.

Five bare, three neat and so many coated spots of 1,800 points, in memory: from spectra on a common grid to
verdicts, after all imports. The classical chain (baseline, levelling, band by band) runs on the same spectra
in the same process; the ratio of the two is what counts, not the seconds.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from spectra.groups import Group, Instrument, Specimen
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.model import BARE, learn_study
from spectra.verification.preparation import level
from spectra.verification.result import SampleFinding
from spectra.verification.sample import judge_sample
from tests.classical import called_present, neat_spots
from tests.scenes import GRID, PAIRS, USABLE, Scene, spots

INDEX, ANGLE = 2.4, 45.0  # of the crystal in tests.scenes


def stack(rows: np.ndarray) -> Stack:
    """Spots, each a specimen of its own."""
    names = tuple(f"s{i}" for i in range(len(rows)))
    return Stack(GRID, rows, names, names, USABLE)


def group(role: str, name: str) -> Group:
    """A group measured by ATR."""
    return Group(role, name, "ATR", (Specimen("a", ()),), coatings=("film",) if role == "coated" else ())


def study(
    names: Iterable[str] = ("sample",),
    contacts: tuple[float | None, float | None] = (None, None),
    watch: tuple[str, ...] = (),
    materials: tuple[str | None, str | None] = (None, None),
) -> Study:
    """One coating, the scenes' crystal; ``contacts`` and ``materials`` are of substrate and coating."""
    bare, neat = contacts
    below, above = materials
    return Study(
        title="scene",
        file=None,
        sha256="",
        instrument=Instrument(index=INDEX, angle_deg=ANGLE),
        substrate=replace(group("bare", "substrate"), contact=bare, material=below),
        coatings={"film": replace(group("neat", "film"), contact=neat, material=above)},
        samples={name: replace(group("coated", name), contact=bare) for name in names},
        watch=watch,
    )


def decide_all(one: Study, bare: Stack, neat: Stack, coated: Mapping[str, Stack]) -> Iterator[SampleFinding]:
    """Run the whole chain on spectra that are on a common grid already; samples in the order given."""
    raw = {BARE: bare, ("neat", "film"): neat, **{("coated", name): rows for name, rows in coated.items()}}
    stages, _ = level(raw, one.settings)
    model = learn_study(one, stages)
    for name in coated:
        at = ("coated", name)
        yield judge_sample(Measured(one.samples[name], stages.raw[at], stages.levelled[at]), one, model)


def decide(bare: Stack, neat: Stack, coated: Stack) -> SampleFinding:
    """Run the whole chain on one sample."""
    return next(decide_all(study(), bare, neat, {"sample": coated}))


def main(counts: list[int]) -> None:
    """Print seconds, ratio and peak memory for each number of coated spots."""
    rng = np.random.default_rng(1)
    scene = Scene(*PAIRS["protein on polylactide"])
    bare, neat = stack(spots(scene, rng, 5)), stack(neat_spots(scene, rng))
    for count in counts:
        coated = stack(spots(scene, rng, count, 20.0))
        decide(bare, neat, coated)  # the first run pays for tables that stay in memory
        started = time.perf_counter()
        verdict = decide(bare, neat, coated).coatings["film"].presence.verdict
        middle = time.perf_counter()
        found = called_present(bare, neat, coated)
        ended = time.perf_counter()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{count:5d} coated spots: joint {middle - started:.2f} s ({verdict}), classical "
            f"{ended - middle:.2f} s (called present: {found}), ratio "
            f"{(middle - started) / (ended - middle):.2f}, peak {peak:.0f} MB"
        )


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [24, 240, 2400])
