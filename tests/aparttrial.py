"""Trials of what stands apart, with known truth: who is named, and how often somebody who belongs is.

``python -m tests.aparttrial [--repeats N] [--seed N] [--only PART]`` prints counts with exact binomial
intervals. Spectra come from :mod:`tests.scenes`, which shares no code with the package.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.apart.coated import THICK_NM, Films, examine_coated
from spectra.apart.groups import APART, TWO_KINDS, Examined, Outsider, examine
from spectra.apart.likeness import Context
from spectra.apart.members import members_of, spots_of
from spectra.apart.settings import ApartSettings
from spectra.comparison.forming import form_amounts
from spectra.comparison.specimens import SpecimenRule, judge_specimens
from spectra.detection.capability import set_yardstick, spot_amounts
from spectra.statistics import detectable_factor
from spectra.variation.model import Variation, learn
from tests.scenes import (
    GRID,
    WRONG,
    Scene,
    bands_of,
    film_of,
    film_response,
    neat_spots,
    reflection_absorbance,
    spots,
)
from tests.trials import (
    DECISION,
    DOUBLE,
    PRESENCE,
    SINGLE,
    VARIATION,
    Tally,
    run_parts,
    scene_of,
    set_up,
    stack,
)

APART_SETTINGS = ApartSettings()
ALPHA = 0.005  # of a bare set: half the study's
RULE = SpecimenRule(DECISION.alpha, DECISION.power, 0.95, APART_SETTINGS.remark)
COARSE = replace(VARIATION, step=APART_SETTINGS.step)
FAULTS = ("unit", "inverted", "scale", "noise")


def look(scene, rows, neat=True, role="bare") -> Examined:
    """Examine a group of spots, each a specimen."""
    members = members_of(stack(rows), VARIATION, APART_SETTINGS.step)
    apply = members.reduction.apply
    bulk = film_response(scene, 5000.0) if neat else None
    context = Context(
        GRID, {"coating": apply(film_response(scene, 1.0))},
        {} if bulk is None else {"coating": apply(bulk)}, role=role,
    )  # fmt: skip
    return examine(members, context, APART_SETTINGS, ALPHA)


def random_scene(rng, names):
    """A pair at one of three noises and scatters."""
    return scene_of(
        str(rng.choice(names)), noise=float(rng.choice([1e-4, 2e-4, 1e-3])),
        scatter=float(rng.choice([0.0, 0.03, 0.1])),
    )  # fmt: skip


def clean_limit(scene, rows) -> float:
    """Thickness that three coated specimens would show with this clean bare set, nm."""
    variation = learn(stack(rows), VARIATION)
    curves = {"coating": variation.reduction.apply(film_response(scene, 1.0))}
    yardstick = set_yardstick(variation, curves, PRESENCE)
    widening = yardstick.widenings[0]
    error = yardstick.errors[0] * np.sqrt(1 / 3 + 1 / len(rows)) * widening.factor
    return float(error * detectable_factor(DECISION.alpha, DECISION.power, widening.degrees))


def clean(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Sets in which all belong."""
    for kind, names in (("one component", SINGLE), ("two components", DOUBLE)):
        for count in (3, 4, 5, 6, 8, 10):
            for _ in range(repeats):
                found = look(scene := random_scene(rng, names), spots(scene, rng, count))
                said = found.kind in (APART, TWO_KINDS)
                tally.add(f"clean bare set, somebody named, {kind}", said)
                tally.add("clean bare set, somebody named, all", said)
                tally.add("clean bare set called wide", found.kind == "wide")


def swapped(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """One or two coated files among the bare ones."""
    for kind, names in (("one component", SINGLE), ("two components", DOUBLE)):
        for count in (5, 6, 8, 10):
            for times in (3.0, 10.0, 100.0):
                for _ in range(repeats):
                    scene = random_scene(rng, names)
                    rows = spots(scene, rng, count)
                    nm = times * clean_limit(scene, rows)
                    _count(tally, scene, rows, spots(scene, rng, 1, nm), f"{times:g}x, {kind}")
                    if times > 3.0:
                        _count(tally, scene, rows, spots(scene, rng, 2, nm), f"{times:g}x, {kind}")


def _count(tally: Tally, scene, rows, coated, row: str) -> None:
    """Put coated spots at the end of a bare set."""
    mixed = np.vstack([rows[: len(rows) - len(coated)], coated])
    found = look(scene, mixed)
    truth = {f"spot {i}" for i in range(len(rows) - len(coated), len(rows))}
    named = {item.name for item in found.outsiders} if found.kind in (APART, TWO_KINDS) else set()
    tally.add(f"{len(coated)} coated among the bare, exactly named, {row}", named == truth)
    tally.add("a wrong file named", bool(named - truth))
    if named == truth:
        kinds = {item.like.kind for item in found.outsiders}
        tally.add("  and called the coating", kinds <= {"coating", "neat"})


def faults(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Plain faults of one of six files."""
    for _ in range(repeats):
        scene = random_scene(rng, [*SINGLE, *DOUBLE])
        rows = spots(scene, rng, 6)
        wrong = {
            "unit": 10.0 ** -rows[5],
            "inverted": -rows[5],
            "scale": 100.0 * rows[5],
            "noise": rows[5] + 10 * scene.noise * rng.normal(size=GRID.size) * 3,
        }
        for kind, row in wrong.items():
            found = look(scene, np.vstack([rows[:5], row]))
            said = [(item.name, item.like.kind) for item in found.outsiders]
            tally.add(f"plain fault named, {kind}", said == [("spot 5", kind)])


def specimens(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Three specimens of one spot: all coated alike, or one of them not at all."""
    for bare in (3, 5, 8):
        for _ in range(10 * repeats):
            scene = random_scene(rng, [*SINGLE, *DOUBLE])
            bench = set_up(scene, rng, bare)
            for nm, row in ((0.0, "nothing"), (2.0, "2 nm"), (10.0, "10 nm")):
                films = nm * np.exp(0.3 * rng.normal(size=3))
                found = _by_specimen(bench, np.vstack([spots(scene, rng, 1, d)[0] for d in films]))
                out = [item.stands_out for item in found.values()]
                tally.add(f"all coated alike (uneven by 30 %), somebody remarked on, {row}", any(out))
            films = [*(10.0 * np.exp(0.2 * rng.normal(size=2))), 0.0]
            found = _by_specimen(bench, np.vstack([spots(scene, rng, 1, d)[0] for d in films]))
            out = [item.stands_out for item in found.values()]
            tally.add("one of three uncoated at 10 nm, exactly named", out == [False, False, True])


def _by_specimen(bench, rows):
    """Verdicts on the specimens of one sample."""
    measured = stack(rows)
    presence = bench.decide(rows)
    values = spot_amounts(measured, bench.variation, bench.yardstick)[:, 0]
    amounts = form_amounts(
        values, measured.specimens, 0, bench.variation, bench.yardstick, (bench.shape, presence)
    )
    return judge_specimens(amounts, presence.verdict, RULE)


@dataclass(frozen=True)
class Look:
    """What coated spots of one scene are looked at with."""

    scene: Scene
    bare: Variation
    films: Films
    context: Context

    def outsiders(self, rows: np.ndarray) -> tuple[Outsider, ...]:
        """Who is named among coated spots."""
        members = spots_of(stack(rows), self.bare.reduction, COARSE)
        found = examine_coated(members, self.bare, self.films, self.context, APART_SETTINGS, ALPHA / 2.0)
        return found.outsiders


def look_at(scene: Scene, rng: np.random.Generator, count: int) -> Look:
    """Learn from bare spots."""
    bare = stack(spots(scene, rng, count))
    variation = learn(bare, COARSE)
    apply = variation.reduction.apply
    films = Films(
        {"coating": apply(film_response(scene, 1.0))},
        np.array([apply(film_response(scene, nm)) for nm in THICK_NM]),
    )
    neat = {"coating": apply(reflection_absorbance(film_of(scene.coating), contact=0.95))}
    context = Context(GRID, films.thin, neat, {"substrate": apply(bare.mean)}, "coated")
    return Look(scene, variation, films, context)


def coated(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Coated samples: all belong, or one or two spots are bare, neat, of another substrate or coating."""
    for bare in (4, 6, 8):
        for count in (3, 5, 8):
            for nm in (10.0, 30.0, 100.0, 300.0):
                for _ in range(repeats):
                    scene = random_scene(rng, [*SINGLE, *DOUBLE])
                    look = look_at(scene, rng, bare)
                    rows = np.vstack([spots(scene, rng, 1, d)[0] for d in uneven(rng, nm, count)])
                    for what, row in clean_samples(scene, rng, nm, count).items():
                        said = bool(look.outsiders(row))
                        tally.add(f"coated alike, somebody named, {what}", said)
                        tally.add("coated alike, somebody named, all", said)
                    for what, wrong in strangers(scene, rng, nm).items():
                        _count_coated(tally, look, np.vstack([rows[:-1], wrong[:1]]), 1, (what, nm))
                        if count > 4:
                            _count_coated(tally, look, np.vstack([rows[:-2], wrong]), 2, (what, nm))


def uneven(rng: np.random.Generator, nm: float, count: int) -> np.ndarray:
    """Thicknesses that scatter by 30 %."""
    return nm * np.exp(0.3 * rng.normal(size=count))


def clean_samples(scene, rng: np.random.Generator, nm: float, count: int) -> dict[str, np.ndarray]:
    """Samples in which all belong: uneven, patchy, changed, and with a residue that differs by spot."""
    film, acid = film_of(scene.coating), bands_of("acetic acid").sum(axis=0)
    patchy = nm * np.where(rng.permutation(count) < count // 2, 0.4, 1.0)
    wet = [spots(scene, rng, 1, d, film=film + 0.1 * rng.random() * acid)[0] for d in uneven(rng, nm, count)]
    return {
        "uneven by 30 %": np.vstack([spots(scene, rng, 1, d)[0] for d in uneven(rng, nm, count)]),
        "half at 0.4 of the amount": np.vstack([spots(scene, rng, 1, d)[0] for d in patchy]),
        "all bands moved by 8 cm-1": np.vstack(
            [spots(scene, rng, 1, d, moved=8.0)[0] for d in uneven(rng, nm, count)]
        ),
        "an acid, 0 to 10 % by spot": np.vstack(wet),
    }


def strangers(scene, rng: np.random.Generator, nm: float) -> dict[str, np.ndarray]:
    """Two spectra of each kind that does not belong among coated ones."""
    others = [name for name in SINGLE if scene_of(name).substrate[0] not in scene.substrate]
    other = replace(scene_of(str(rng.choice(others))), noise=scene.noise, scatter=scene.scatter)
    return {
        "bare": spots(scene, rng, 2),
        "neat": neat_spots(scene, rng, 2),
        "other substrate": spots(other, rng, 2, nm, scene.coating),
        "other coating": spots(scene, rng, 2, nm, WRONG[scene.coating]),
    }


def _count_coated(tally: Tally, look: Look, rows, wrong: int, row: tuple[str, float]) -> None:
    """Count one coated sample whose last spots do not belong."""
    what, nm = row
    found = look.outsiders(rows)
    truth = {f"spot {i}" for i in range(len(rows) - wrong, len(rows))}
    named = {item.name for item in found}
    films = "10 nm" if nm < 20.0 else "30 to 300 nm"
    tally.add(f"{wrong} {what} among the coated, exactly named, {films}", named == truth)
    tally.add(f"  a wrong spot named, {what}", bool(named - truth))
    if named == truth:
        tally.add(f"  and called so, {what}", {item.like.kind for item in found} <= CALLED[what])


CALLED = {
    "bare": {"bare"},
    "neat": {"neat"},
    "other substrate": {"other", "group"},
    "other coating": {"other", "bare"},
}

PARTS = {f.__name__: f for f in (clean, swapped, faults, specimens, coated)}


def main() -> None:
    """Print the counts."""
    run_parts(__doc__, PARTS, repeats=4, seed=5)


if __name__ == "__main__":
    main()
