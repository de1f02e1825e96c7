"""Trial of film against blend with known truth: which is said to fit, and how often the wrong one.

``python -m tests.layouttrial [--repeats N] [--seed N]`` prints counts with exact binomial intervals. Spectra
come from :mod:`tests.scenes`; optical constants are found by the package from bare and neat spectra as in a
study, contacts unknown.
"""

from __future__ import annotations

import numpy as np

from spectra.comparison.layouts import FILM, MIXED, judge_layout
from spectra.comparison.settings import ComparisonSettings
from spectra.detection.capability import average_sample
from spectra.groups import Group, Instrument, Specimen
from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.layout import layout_changes
from spectra.verification.model import StudyModel, learn_study
from spectra.verification.preparation import level
from spectra.verification.sample import judge_sample
from tests.scenes import (
    MATERIALS,
    PAIRS,
    Scene,
    bands_of,
    film_of,
    neat_spots,
    reflection_absorbance,
    spots,
    substrate_spot,
)
from tests.trials import SINGLE, Tally, run_parts, scene_of, stack

SETTINGS = ComparisonSettings()
TECHNIQUE = "ATR"
THICK_NM = 1e5


def learned(
    scene: Scene, rng: np.random.Generator, bare: int = 6, layout: str = "film"
) -> tuple[Study, StudyModel]:
    """What a study learns from bare and neat spectra."""
    raw = {
        ("bare", "substrate"): stack(spots(scene, rng, bare)),
        ("neat", "coating"): stack(neat_spots(scene, rng)),
    }
    pieces = tuple(Specimen(f"spot {i}", ()) for i in range(bare))
    material = Group("bare", "substrate", TECHNIQUE, pieces)
    coating = Group("neat", "coating", TECHNIQUE, pieces[:3], layout=layout)
    sample = Group("coated", "sample", TECHNIQUE, pieces[:3], coatings=("coating",))
    instrument = Instrument(index=2.4, angle_deg=45.0)
    study = Study("invented", None, "", instrument, material, {"coating": coating}, {"sample": sample})
    stages, _ = level(raw, study.settings)
    return study, learn_study(study, stages)


def blend_spots(scene: Scene, rng: np.random.Generator, count: int, share: float) -> np.ndarray:
    """Spots of the coating mixed into the substrate by volume, thicker than the light is deep."""
    coating = film_of(scene.coating)
    mixed = [(1.0 - share) * substrate_spot(scene, rng) + share * coating for _ in range(count)]
    return np.vstack([spots(scene, rng, 1, THICK_NM, film=eps)[0] for eps in mixed])


def island_spots(scene: Scene, rng: np.random.Generator, count: int, share: float) -> np.ndarray:
    """Spots of which a share of the area is covered by thick coating."""
    open_ = 10.0 ** -spots(scene, rng, count)
    bulk = 10.0 ** -reflection_absorbance(film_of(scene.coating), contact=scene.touch)
    return -np.log10((1.0 - share) * open_ + share * bulk)


def judged(model: StudyModel, rows: np.ndarray, stated: str = FILM):
    """Which fits, of one sample."""
    coarse, table = model.coarse, model.predictions["coating", TECHNIQUE].table
    if coarse is None or table is None:
        raise AssertionError("the scenes' geometry is known")
    sample = average_sample(stack(rows), coarse)
    film, *mixed = layout_changes(table, coarse.reduction)
    mean = sample.reduced.mean(axis=0)
    ground = model.grounds[TECHNIQUE]
    return judge_layout(ground, (mean, sample.variance), film, mixed, stated, SETTINGS.layout_evidence)


def layouts(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Films of many thicknesses, moved films, blends and islands of the same strength."""
    for name in SINGLE:
        for _ in range(repeats):
            scene = scene_of(name, noise=2e-4, scatter=float(rng.choice([0.0, 0.03, 0.1])))
            _, model = learned(scene, rng)
            scale = model.predictions["coating", TECHNIQUE].nm_per_amount or 400.0
            for nm in (5.0, 20.0, 60.0, 200.0, 600.0):
                share = min(0.5, nm / scale)
                row = f"as strong as {nm:g} nm"
                uneven = nm * np.exp(0.3 * rng.normal(size=3))
                film = np.vstack([spots(scene, rng, 1, d)[0] for d in uneven])
                _count(tally, judged(model, film).fits, FILM, f"film, {row}")
                moved = spots(scene, rng, 3, nm, moved=8.0)
                _count(tally, judged(model, moved).fits, FILM, f"film with all bands moved by 8 cm-1, {row}")
                if nm < 100.0:
                    patchy = spots(scene, rng, 3, nm, bare_share=0.8)
                    _count(tally, judged(model, patchy).fits, FILM, f"film on a fifth of every spot, {row}")
                wet = film_of(scene.coating) + 0.1 * bands_of("acetic acid").sum(axis=0)
                damp = spots(scene, rng, 3, nm, film=wet)
                _count(tally, judged(model, damp).fits, FILM, f"film with a tenth of acid, {row}")
                _count(tally, judged(model, blend_spots(scene, rng, 3, share)).fits, MIXED, f"blend, {row}")
                islands = island_spots(scene, rng, 3, share)
                _count(tally, judged(model, islands).fits, MIXED, f"thick islands, {row}")


def chemistry(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Blends stated as mixed and as film: their verdicts, and the share found."""
    for name in SINGLE:
        for _ in range(max(1, repeats // 2)):
            scene = scene_of(name, noise=2e-4, scatter=0.03)
            benches = {layout: learned(scene, rng, layout=layout) for layout in (MIXED, FILM)}
            bare = stack(spots(scene, rng, 6))
            for share in (0.03, 0.1, 0.2):
                rows = stack(blend_spots(scene, rng, 3, share))
                for layout, (study, model) in benches.items():
                    raw = {("bare", "substrate"): bare, ("coated", "sample"): rows}
                    found = judge_rows(study, model, raw)
                    row = f"blend of {share:.0%} stated as {layout}"
                    tally.add(f"present, {row}", found.presence.verdict == "present")
                    tally.add(f"unchanged, {row}", found.chemistry.verdict == "unchanged")
                    tally.add(f"WRONGLY changed, {row}", found.chemistry.verdict == "changed")
                    if layout == MIXED:
                        low, high = found.presence.amount_low or 0.0, found.presence.amount_high or 0.0
                        tally.add(f"interval of the share holds it, {row}", low <= share <= high)
                        tally.note(
                            f"share found over the true one, {row}", (found.presence.amount or 0) / share
                        )


def judge_rows(study: Study, model: StudyModel, raw):
    """What is found about the coating of one sample."""
    stages, _ = level(raw, study.settings)
    key = ("coated", "sample")
    measured = Measured(study.samples["sample"], stages.raw[key], stages.levelled[key])
    return judge_sample(measured, study, model).coatings["coating"]


def _count(tally: Tally, fits: str, truth: str, row: str) -> None:
    wrong = MIXED if truth == FILM else FILM
    kind = row.split(", ")[0]
    tally.add(f"right one said to fit: {row}", fits == truth)
    tally.add(f"WRONG one said to fit: {kind}", fits == wrong)
    tally.add("WRONG one said to fit: all", fits == wrong)


PARTS = {"layouts": layouts, "chemistry": chemistry}


def main() -> None:
    """Print the counts."""
    if any(scene_of(name).coating not in MATERIALS for name in PAIRS):
        raise SystemExit("a pair's coating has no oscillators")
    run_parts(__doc__, PARTS, repeats=4, seed=3)


if __name__ == "__main__":
    main()
