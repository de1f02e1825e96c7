"""Trials of the comparisons with known truth: how often intervals hold and verdicts are right.

``python -m tests.studytrial [--repeats N] [--seed N] [--only PART]`` prints counts with exact binomial
intervals. Amounts are drawn from normal distributions here, spot by spot; nothing of the package makes them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import ends, split_scatter, spread_pivots
from spectra.comparison.conditions import KEPT, judge_kept
from spectra.comparison.populations import count_populations
from spectra.comparison.recipes import compare_recipes
from spectra.comparison.requirement import CONFORMS, Requirement, judge_requirement
from spectra.comparison.settings import ComparisonSettings
from spectra.comparison.spread import coating_variation
from spectra.comparison.treatment import compare_bands
from spectra.groups import Group, Instrument, Specimen
from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.model import learn_study
from spectra.verification.preparation import level
from spectra.verification.sample import judge_sample
from tests import scenes
from tests.layouttrial import learned
from tests.scenes import GRID, bands_of, mean_substrate, reflection_absorbance
from tests.trials import SINGLE, Tally, run_parts, scene_of, stack

SETTINGS = ComparisonSettings()


def nested(rng, specimens, spots, mean=1.0, between=0.0, within=0.1, measuring=0.0, bare=0.0, degrees=10.0):
    """Amounts of a nested design; the bare spots' variance is estimated with ``degrees`` of freedom."""
    counts = [spots] * specimens if isinstance(spots, int) else spots
    pieces = mean + between * rng.normal(size=len(counts)) + bare * rng.normal()
    names = tuple(f"s{i}" for i, count in enumerate(counts) for _ in range(count))
    scatter = np.hypot(within, measuring)
    values = np.repeat(pieces, counts) + scatter * rng.normal(size=len(names))
    known = rng.chisquare(degrees) / degrees
    return Amounts(
        values, names, spot_variance=measuring**2 * known, bare_variance=bare**2 * known, degrees=degrees,
        nm_per_amount=1000.0,
    )  # fmt: skip


def components(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Variances between and within specimens, and the coating's own variation."""
    designs = [(3, 3), (5, 3), (5, 5), (10, 5), (5, [2, 3, 4, 6, 8])]
    for specimens, spots in designs:
        for between, within in ((0.05, 0.15), (0.1, 0.1), (0.2, 0.05)):
            for _ in range(repeats):
                amounts = nested(rng, specimens, spots, between=between, within=within, measuring=0.05)
                _count_components(tally, amounts, between, within, f"{specimens} x {spots}")


def _count_components(tally: Tally, amounts: Amounts, between: float, within: float, design: str) -> None:
    found = split_scatter(amounts)
    pivots = spread_pivots(found, amounts.bare_variance, amounts.degrees)
    low, high = ends(pivots.between, 0.95)
    tally.add(f"variance between specimens covered, {design}", low <= between**2 <= high)
    low, high = ends(pivots.within, 0.95)
    tally.add(f"variance within specimens covered, {design}", low <= within**2 + 0.05**2 <= high)
    low, high = ends(coating_variation(amounts, found, pivots).points, 0.95)
    tally.add(f"coating's variation covered, {design}", low <= np.hypot(between, within) <= high)


def recipes(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Simultaneous intervals of differences: all that are formed must hold together."""
    for count in (2, 3, 5):
        for specimens in (2, 3, 4, 6):
            for spread in (1.0, 4.0):
                for _ in range(repeats // 2):
                    scatter = np.linspace(1.0, spread, count)
                    truth = rng.normal(size=count)
                    given = {
                        f"r{i}": nested(rng, specimens, 2, truth[i], 0.1 * scatter[i], 0.05, bare=0.0)
                        for i in range(count)
                    }
                    _count_recipes(tally, given, truth, f"scatter 1 to {spread:g}", spread == 1.0)


def _count_recipes(tally: Tally, given, truth, row: str, alike: bool) -> None:
    where = {name: i for i, name in enumerate(given)}
    ways = [("own", None), ("own", "r0")] + ([("pooled", None), ("pooled", "r0")] if alike else [])
    for scatter, against in ways:
        found = compare_recipes(given, replace(SETTINGS, scatter=scatter), against)
        held = all(d.low <= truth[where[d.samples[0]]] - truth[where[d.samples[1]]] <= d.high for d in found)
        what = "against one" if against else "all pairs"
        tally.add(f"differences of recipes hold together, {what}, {scatter} scatter, {row}", held)
        tally.add(
            f"  of these {len(given)} recipes of {given['r0'].means.size} specimens, {what}, {scatter}", held
        )


def kept(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Share kept: the interval, and 'nothing lost' at the margin."""
    for pieces in (3, 5, 8):
        for share in (1.0, 0.9, 0.5):
            for _ in range(repeats):
                known, offset = rng.chisquare(10.0) / 10.0, 0.02 * rng.normal()
                bare = {"bare_variance": 0.02**2 * known, "degrees": 10.0}
                truth = rng.normal(1.0, 0.15, pieces)
                before = Amounts(*_spots(rng, truth, offset, "s"), **bare)
                after = Amounts(*_spots(rng, share * truth, offset, "s"), **bare)
                _count_kept(tally, before, after, share, "paired")
                other = Amounts(*_spots(rng, share * rng.normal(1.0, 0.15, pieces), offset, "w"), **bare)
                _count_kept(tally, before, other, share, "other specimens")


def _spots(rng, truth, offset, letter):
    """Three spots on every specimen, and the specimens' names."""
    values = np.repeat(truth, 3) + offset + 0.03 * rng.normal(size=3 * truth.size)
    return values, tuple(f"{letter}{i // 3}" for i in range(values.size))


def _count_kept(tally: Tally, before: Amounts, after: Amounts, share: float, how: str) -> None:
    found = judge_kept(before, after, SETTINGS)
    held = found.share_low is not None and found.share_low <= share <= found.share_high
    tally.add(f"share kept covered, {how}, true {share:.0%}", held)
    if share == 0.9:
        tally.add(f"'nothing lost' at the margin, {how}", found.verdict == KEPT)
    if share == 1.0:
        tally.add(
            f"'nothing lost' where nothing is, {how}, {before.means.size} specimens", found.verdict == KEPT
        )


def populations(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Two populations of spots: half at half the amount; and one, of several forms."""
    for pieces, spots in ((20, 1), (5, 4), (4, 3), (10, 6)):
        for scatter in (0.05, 0.1, 0.15):
            for _ in range(repeats):
                base = nested(rng, pieces, spots, within=scatter)
                half = rng.permutation(np.arange(len(base)) % 2)
                two = replace(base, values=base.values * np.where(half, 0.5, 1.0))
                row = f"{pieces} x {spots} spots, scatter {scatter:.0%}"
                tally.add(f"two populations flagged, {row}", count_populations(two, SETTINGS).count == 2)
        _one_population(tally, rng, repeats, pieces, spots)


def _one_population(tally: Tally, rng: np.random.Generator, repeats: int, pieces: int, spots: int) -> None:
    """One population must not be called two."""
    for _ in range(3 * repeats):
        base = nested(rng, pieces, spots, between=float(rng.choice([0.0, 0.1, 0.3])), within=0.1)
        flat = rng.uniform(0.5, 1.5, len(base))
        skew = np.exp(0.4 * rng.normal(size=len(base)))
        for form, values in (("normal", base.values), ("even", flat), ("skewed", skew)):
            found = count_populations(replace(base, values=values), SETTINGS)
            tally.add(f"one population called two, {form}, {pieces} x {spots}", found.count == 2)


def requirement(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Chance of 'conforms' for what just does not, and of the opposite."""
    for pieces, spots in ((3, 3), (5, 3), (8, 4)):
        for _ in range(repeats):
            amounts = nested(rng, pieces, spots, 0.1, 0.01, 0.01, measuring=0.005, bare=0.003)
            asked = Requirement(least_nm=100.0001)
            tally.add(f"conforms, thickness just below, {pieces} x {spots}", _says(amounts, asked, CONFORMS))
            asked = Requirement(least_nm=99.9999)
            tally.add(
                f"does not conform, thickness just enough, {pieces} x {spots}",
                _says(amounts, asked, "does not conform"),
            )
            varied = nested(rng, pieces, spots, 1.0, 0.15, 0.2, measuring=0.1)
            tally.add(
                f"conforms, variation just too large, {pieces} x {spots}",
                _says(varied, Requirement(most_variation=0.2499), CONFORMS),
            )
            tally.add(
                f"does not conform, variation just small enough, {pieces} x {spots}",
                _says(varied, Requirement(most_variation=0.2501), "does not conform"),
            )


def _says(amounts: Amounts, asked: Requirement, verdict: str) -> bool:
    return judge_requirement(amounts, asked).verdict == verdict


def treated(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Treated against untreated: nothing changed, or one band moved by twice the margin or lost."""
    for name in SINGLE:
        for _ in range(max(1, repeats // 20)):
            scene = scene_of(name, noise=2e-4, scatter=0.03)
            bare = scenes.spots(scene, rng, 6)
            for what in ("nothing", "moved", "halved"):
                change, position = change_of(scene, rng, what)
                found = judge_treated_spots(bare, scenes.spots(scene, rng, 4) + change)
                said = found.substrate.chemistry
                tally.add(f"treated material called changed, {what}", said.verdict == "changed")
                tally.add(f"treated material called unchanged, {what}", said.verdict == "unchanged")
                if position:
                    near = [abs(p - position) for reason in said.reasons for p in places_of(reason)]
                    tally.add(f"  the right band named, {what}", min(near, default=99.0) < 20.0)


def change_of(scene, rng, what: str):
    """What moving or halving one strong band does to a spectrum, and where."""
    if what == "nothing":
        return 0.0, None
    bands = bands_of(scene.substrate[0])
    heights = bands.imag.max(axis=1)
    places = GRID[np.argmax(bands.imag, axis=1)]
    strong = np.flatnonzero((heights > 0.3 * heights.max()) & (places > 700.0) & (places < 3200.0))
    i = int(rng.choice(strong))
    other = bands[i] / 2
    if what == "moved":
        other = np.interp(GRID - 8.0, GRID, bands[i].real) + 1j * np.interp(GRID - 8.0, GRID, bands[i].imag)
    before = mean_substrate(scene)
    after = before + other - bands[i]
    change = reflection_absorbance(after, contact=scene.touch) - reflection_absorbance(
        before, contact=scene.touch
    )
    return change, float(places[i])


def places_of(reason) -> list[float]:
    """Positions that a reason names."""
    many = reason.values.get("positions", ())
    one = reason.values.get("position")
    return [*many, *([] if one is None else [one])]


def judge_treated_spots(bare, rows):
    """Judge a treated sample of a study without coatings."""
    stacks = {("bare", "substrate"): stack(bare), ("coated", "treated"): stack(rows)}
    pieces = tuple(Specimen(f"spot {i}", ()) for i in range(len(bare)))
    material = Group("bare", "substrate", "ATR", pieces)
    sample = Group("coated", "treated", "ATR", pieces[: len(rows)])
    instrument = Instrument(index=2.4, angle_deg=45.0)
    study = Study("invented", None, "", instrument, material, {}, {"treated": sample})
    stages, _ = level(stacks, study.settings)
    measured = Measured(sample, stages.raw["coated", "treated"], stages.levelled["coated", "treated"])
    return judge_sample(measured, study, learn_study(study, stages))


def washed(tally: Tally, rng: np.random.Generator, repeats: int) -> None:
    """Chemistry before against after: half of the film washed off, bands as before or all moved."""
    for name in SINGLE:
        for _ in range(max(1, repeats // 40)):
            scene = scene_of(name, noise=2e-4, scatter=0.03)
            study, model = learned(scene, rng)
            bare = stack(scenes.spots(scene, rng, 6))
            before = _looked_at(study, model, bare, scenes.spots(scene, rng, 3, 100.0))
            for what, moved in (("nothing changed", 0.0), ("all bands moved by 8 cm-1", 8.0)):
                rows = scenes.spots(scene, rng, 3, 50.0, moved=moved)
                after = _looked_at(study, model, bare, rows)
                decision = study.settings.decision
                pairs = {
                    "coating": (before.coatings["coating"].bands, after.coatings["coating"].bands),
                    "substrate": (before.substrate.bands, after.substrate.bands),
                }
                for part, bands in pairs.items():
                    said = compare_bands(*bands, decision).verdict
                    for verdict in ("changed", "unchanged"):
                        tally.add(f"washed, {what}: {part} {verdict}", said == verdict)


def _looked_at(study: Study, model, bare, rows):
    """Judge one coated sample of a study."""
    stages, _ = level({("bare", "substrate"): bare, ("coated", "sample"): stack(rows)}, study.settings)
    key = ("coated", "sample")
    return judge_sample(
        Measured(study.samples["sample"], stages.raw[key], stages.levelled[key]), study, model
    )


PARTS = {f.__name__: f for f in (components, recipes, kept, populations, requirement, treated, washed)}


def main() -> None:
    """Print the counts."""
    run_parts(__doc__, PARTS, repeats=400, seed=12)


if __name__ == "__main__":
    main()
