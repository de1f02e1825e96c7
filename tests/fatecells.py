"""What may have happened to a film: the cells of the trial of every band's fate, with the truth of each.

A bench is one pair of coating and substrate as one study meets it, with contacts drawn from what the study
assumes when they are not stated. A cell draws one sample for a bench. Nothing of ``spectra`` is used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from tests.films import Film, edited, film_in_bands, new_band, split, with_residue
from tests.optical_constants import FOLDER
from tests.scenes import MATERIALS, MEASURED, PAIRS, REAL_PAIRS, Scene, film_of, specimen_of, spots
from tests.visibility import (
    BROAD,
    HEIGHT_BOUND,
    SHIFT_BOUND,
    Visible,
    residue_bounds,
    thickness_bound,
    visible,
)

MARGIN = 4.0  # cm-1: the decision's own, a setting
THICKNESSES_NM = (20.0, 28.0, 40.0, 56.0, 80.0, 112.0, 160.0, 200.0)
BARE, COATED = 6, 4
NESTED_BARE, NESTED_COATED = (4, 2), (3, 3)  # specimens, spots on each
SURE = 6.0  # standard errors of the bound: critical value and power with room for six bare spots
ACID, ACID_SHARE = "acetic acid", 0.15

# Materials that are one, or stages of one, under several names: infrared cannot be asked to tell them apart.
KINDS = {
    "water": "H2O",
    "H2O__Segelstein": "H2O",
    "H2O__Rowe-273K": "H2O",
    "blood__Rowe": "H2O",
    "Si-O__Herguedas-SiO0.31": "silica",
    "Si-O__Herguedas-SiO0.61": "silica",
    "Si-O__Herguedas-SiO1.10": "silica",
    "Si-O__Herguedas-SiO1.71": "silica",
    "Si-O__Herguedas-SiO1.89": "silica",
    "Si-O__Herguedas-SiO1.92": "silica",
    "SiO2__Franta": "silica",
    "SiO2__Kischkat": "silica",
    "poly_methyl_methacrylate__Tsuda-BB": "PMMA",
    "poly_methyl_methacrylate__Zhang-Mitsubishi": "PMMA",
    "poly_methyl_methacrylate__Zhang-Tomson": "PMMA",
    "polydimethylsiloxane__Zhang-10-1": "PDMS",
    "polydimethylsiloxane__Zhang-5-1": "PDMS",
    "polyethylene_terephthalate__Zhang": "PET",
    "terephthalate": "PET",
    "polyethylene__David": "PE",
    "polyolefin": "PE",
}


def kind(material: str) -> str:
    """Return what a material is, whatever its name."""
    page = MEASURED.get(material, material)
    return KINDS.get(page, page)


def every_material() -> list[str]:
    """Return all oscillator materials and all pages of optical constants."""
    return [*MATERIALS, *sorted(file.stem for file in FOLDER.glob("*.csv"))]


def _on_some_bed(material: str) -> tuple[str, tuple[str, ...]]:
    """A material as the coating of a substrate that it is not."""
    return material, ("polylactide" if kind(material) == kind("polyolefin") else "polyolefin",)


# Every material once as the coating that is looked for, then the pairs of the trials.
NO_BAND = ("TiO2__Kischkat",)  # within its page, from 700 cm-1
STRANGERS = {f"{m} as coating": _on_some_bed(m) for m in every_material() if m not in NO_BAND}
TRIAL_PAIRS = {**PAIRS, **REAL_PAIRS}
ALL = {**TRIAL_PAIRS, **STRANGERS}


@dataclass(frozen=True, eq=False)
class Bench:
    """One pair in one study: its scene, contact of the neat layer, and the specimens' design."""

    pair: str
    scene: Scene
    neat_contact: float
    nested: bool

    @property
    def film(self) -> Film:
        """The unchanged coating in bands."""
        return film_in_bands(self.scene.coating)

    def visible(self, nm: float) -> Visible:
        """Bounds at the pair's usual contact, so that all studies of a pair have the same."""
        bare, coated = BARE, COATED
        if self.nested:  # spots of one specimen share half of their scatter; counted as if they shared none
            bare, coated = int(np.prod(NESTED_BARE)), int(np.prod(NESTED_COATED))
        return visible(usual_scene(self.pair), nm, coated, bare)


def usual_scene(pair: str) -> Scene:
    """Return the scene of a pair with no study's own contact."""
    coating, substrate = ALL[pair]
    return Scene(coating, substrate, composition=0.03)


def draw_bench(pair: str, nested: bool, rng: np.random.Generator) -> Bench:
    """Draw contacts evenly from what is assumed of them: 0.85 to 1 neat, most of 0.5 to 1 on a substrate."""
    scene = replace(usual_scene(pair), touch=float(rng.uniform(0.6, 0.95)))
    return Bench(pair, scene, float(rng.uniform(0.85, 1.0)), nested)


@dataclass(frozen=True, eq=False)
class Sample:
    """One sample and what is true of it.

    Attributes
    ----------
    nm
        Thickness; 0 for a bare sample.
    film : ndarray, shape (points,)
        Dielectric function of the layer.
    shift, height : ndarray, shape (bands,)
        What became of every band of the coating, cm-1 and relative.
    target
        The band that the cell is about, or None.
    scene
        How it was measured, where that differs from the bare spots.
    facts
        More to record.
    """

    nm: float
    film: np.ndarray
    shift: np.ndarray
    height: np.ndarray
    target: int | None = None
    scene: Scene | None = None
    facts: dict[str, object] = field(default_factory=dict)


Cell = Callable[[Bench, np.random.Generator], Sample | None]


def measure(bench: Bench, sample: Sample | None, rng: np.random.Generator) -> tuple[np.ndarray, list[str]]:
    """Measure bare spots (no sample) or those of a sample: rows and the specimen of each."""
    scene = (sample.scene if sample else None) or bench.scene
    nm, film = (sample.nm, sample.film) if sample else (0.0, None)
    if not bench.nested:
        rows = spots(scene, rng, COATED if sample else BARE, nm, film=film)
        return rows, [f"s{i + 1}" for i in range(len(rows))]
    pieces, each = NESTED_COATED if sample else NESTED_BARE
    rows, names = [], []
    for piece in range(pieces):
        own, thick = specimen_of(scene, rng), nm * np.exp(0.10 * rng.normal())
        for _ in range(each):
            rows.append(spots(own, rng, 1, float(thick * np.exp(0.05 * rng.normal())), film=film)[0])
            names.append(f"s{piece + 1}")
    return np.array(rows), names


def unchanged(bench: Bench, _rng: np.random.Generator, nm: float) -> Sample:
    """Film with nothing changed; 0 nm is a bare sample."""
    count = len(bench.film.parts)
    facts: dict[str, object] = {}
    if nm >= 10.0:
        facts = {"visible_share": bench.visible(nm).share}
    elif nm:
        facts = {"bound_allows": thickness_bound(usual_scene(bench.pair), nm, COATED, BARE) < nm / SURE}
    return Sample(nm, bench.film.eps, np.zeros(count), np.ones(count), facts=facts)


def _any_thickness(bench: Bench, rng: np.random.Generator) -> Sample:
    return unchanged(bench, rng, float(rng.choice(THICKNESSES_NM)))


def _with(sample: Sample, bench: Bench, shift: np.ndarray, height: np.ndarray, target: int | None) -> Sample:
    film = edited(bench.film, shift, height)
    return replace(sample, film=film, shift=shift, height=height, target=target)


def _changed_band(sample: Sample, bench: Bench, band: int, by: float, times: float) -> Sample:
    """The sample with one band changed."""
    shift, height = sample.shift.copy(), sample.height.copy()
    shift[band], height[band] = by, times
    seen = bench.visible(sample.nm)
    facts = sample.facts | {"bounds": [float(seen.shift[band]), float(seen.height[band])]}
    return replace(_with(sample, bench, shift, height, band), facts=facts)


def _either_way(rng: np.random.Generator) -> float:
    return float(rng.choice([-1.0, 1.0]))


def one_moved(bench: Bench, rng: np.random.Generator, margins: float, broad: bool = False) -> Sample | None:
    """One visible band moved up or down by so many margins."""
    sample = _any_thickness(bench, rng)
    seen = bench.visible(sample.nm).shift <= SHIFT_BOUND
    able = np.flatnonzero(seen & bench.film.clear & ((bench.film.widths > BROAD) == broad))
    if not able.size:
        return None
    return _changed_band(sample, bench, int(rng.choice(able)), _either_way(rng) * margins * MARGIN, 1.0)


def one_weaker(bench: Bench, rng: np.random.Generator, times: float) -> Sample | None:
    """One visible band weaker, or lost."""
    sample = _any_thickness(bench, rng)
    seen = bench.visible(sample.nm).height <= HEIGHT_BOUND
    able = np.flatnonzero(seen & bench.film.clear & (bench.film.widths <= BROAD))
    return _changed_band(sample, bench, int(rng.choice(able)), 0.0, times) if able.size else None


def _ranked(bench: Bench) -> np.ndarray:
    """Narrow bands, the strongest first."""
    film = bench.film
    return np.argsort(-np.where(film.clear & (film.widths <= BROAD), film.heights, 0.0))


def strongest_moved(bench: Bench, rng: np.random.Generator, margins: float, nm: float) -> Sample:
    """The strongest narrow band moved, whether the substrate hides it or not."""
    first = int(_ranked(bench)[0])
    return _changed_band(unchanged(bench, rng, nm), bench, first, _either_way(rng) * margins * MARGIN, 1.0)


def all_moved(bench: Bench, rng: np.random.Generator, by: float | None = None, nm: float = 0.0) -> Sample:
    """Every band moved alike: by +12 or -22 cm-1 unless said."""
    sample = unchanged(bench, rng, nm) if nm else _any_thickness(bench, rng)
    by = float(rng.choice([12.0, -22.0])) if by is None else by
    return _with(sample, bench, np.full(sample.shift.size, by), sample.height, None)


def conformer(bench: Bench, rng: np.random.Generator) -> Sample:
    """Half of the strongest band stands 24 cm-1 lower, half of the next 14 cm-1."""
    sample, (first, second, *_) = _any_thickness(bench, rng), (*_ranked(bench), *_ranked(bench))
    moves = split(bench.film, int(first), 0.5, -24.0) + split(bench.film, int(second), 0.5, -14.0)
    return replace(sample, film=sample.film + moves)


def browned(bench: Bench, rng: np.random.Generator) -> Sample:
    """Strongest band 22 cm-1 lower, next half as strong and 10 lower, broad ones weaker, a new carbonyl."""
    sample, (first, second, *_) = _any_thickness(bench, rng), (*_ranked(bench), *_ranked(bench))
    shift, height = sample.shift.copy(), sample.height.copy()
    shift[second], height[second] = -10.0, 0.5
    shift[first], height[first] = -22.0, 0.85
    height[bench.film.widths > BROAD] = 0.67
    changed = _with(sample, bench, shift, height, None)
    return replace(changed, film=changed.film + new_band(1712.0, 40.0, 0.2 * bench.film.heights[first]))


def with_acid(bench: Bench, rng: np.random.Generator) -> Sample:
    """Acid left in an unchanged film."""
    sample = _any_thickness(bench, rng)
    film = with_residue(sample.film, ACID, ACID_SHARE)
    errors = residue_bounds(usual_scene(bench.pair), sample.nm, (ACID, ACID_SHARE), COATED, BARE)
    facts = {"acid_visible": bool((errors <= HEIGHT_BOUND).sum() >= 2)}
    return replace(sample, film=film, facts=sample.facts | facts)


def other_material(bench: Bench, rng: np.random.Generator, nm: float = 0.0) -> Sample:
    """Another material on the substrate, any of all of them."""
    nm = nm or float(rng.choice(THICKNESSES_NM))
    others = [m for m in every_material() if kind(m) not in strangers_not(bench)]
    material = str(rng.choice(others))
    return replace(unchanged(bench, rng, 0.0), nm=nm, film=film_of(material), facts={"material": material})


def stranger(bench: Bench, rng: np.random.Generator, material: str) -> Sample | None:
    """A given material instead of the coating; none where it is the coating or the substrate."""
    if kind(material) in strangers_not(bench):
        return None
    nm = float(rng.choice(THICKNESSES_NM))
    return replace(unchanged(bench, rng, 0.0), nm=nm, film=film_of(material), facts={"material": material})


def strangers_not(bench: Bench) -> set[str]:
    """Kinds that are no other material here: the coating itself and the substrate."""
    return {kind(m) for m in (bench.scene.coating, *bench.scene.substrate)}


# Disturbances far beyond those of the bare spots, with nothing else happening.
DISTURBANCES = {
    "humid": {"moisture": 0.02, "vapour": 5e-3},
    "contact": {"contact": 0.25},
    "drift": {"drift": 5e-3},
}


def disturbed(bench: Bench, rng: np.random.Generator, name: str, nm: float) -> Sample:
    """Bare or unchanged sample measured on a bad day."""
    return replace(unchanged(bench, rng, nm), scene=replace(bench.scene, **DISTURBANCES[name]))


CELLS: dict[str, Cell] = {
    "moved-1.5": partial(one_moved, margins=1.5),
    "moved-2": partial(one_moved, margins=2.0),
    "moved-3": partial(one_moved, margins=3.0),
    "lost": partial(one_weaker, times=0.0),
    "halved": partial(one_weaker, times=0.5),
    "strongest-1.5": partial(strongest_moved, margins=1.5, nm=60.0),
    "broad-3": partial(one_moved, margins=3.0, broad=True),
    "all-moved": all_moved,
    "conformer": conformer,
    "browned": browned,
    "acid": with_acid,
    "other": other_material,
    **{f"unchanged-{nm}": partial(unchanged, nm=float(nm)) for nm in (1, 10, 20, 30, 60, 100, 200)},
    "bare": partial(unchanged, nm=0.0),
    **{f"{name}-bare": partial(disturbed, name=name, nm=0.0) for name in DISTURBANCES},
    **{f"{name}-film": partial(disturbed, name=name, nm=60.0) for name in DISTURBANCES},
    **{f"all+12-{nm}": partial(all_moved, by=12.0, nm=float(nm)) for nm in (30, 60, 200)},
    **{f"all-22-{nm}": partial(all_moved, by=-22.0, nm=float(nm)) for nm in (30, 60, 200)},
    **{f"as {name}": partial(stranger, material=name) for name in every_material()},
    **{f"other-{nm}": partial(other_material, nm=float(nm)) for nm in (30, 60, 200)},
}
