"""Trial with known truth: are wrongly stated materials told, and right ones left alone?

``python -m tests.statements [SEEDS]`` prints a table.

Spectra of measured optical constants (CC0, 18 pages of 12 materials) and of the invented materials of
``tests.scenes``, by transmission and by ATR on diamond and germanium, three spots each with noise, contact
and drift, go through the chain's own baseline and band finding. Each is stated as what it is, and as every
other material of the tables. Materials that infrared cannot tell apart are no wrong statements for one
another: celluloses, chitins, proteins with polyamide, silicone and its grease.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from reference_bands import BandTable, load
from spectra.assignment.coherence import FoundBands
from spectra.assignment.settings import MatchingSettings, MaterialSettings
from spectra.assignment.statement import bands_of, check_material
from spectra.errors import SpectraError
from spectra.findings import CANNOT_TELL, DOUBTFUL
from spectra.groups import Group
from spectra.peaks.reference import measure_reference
from spectra.peaks.settings import PeakSettings
from spectra.preprocessing.baseline import subtract_baselines
from spectra.preprocessing.settings import BaselineSettings
from spectra.spectrum import Stack
from spectra.statistics import binomial_interval
from tests import scenes
from tests.optical_constants import PAGES, read_constants

GRID = np.arange(500.0, 3990.0, 2.0)
MEASURED = {page: material for page, (material, _, _) in PAGES.items() if not page.startswith("Si-O")} | {
    "poly_methyl_methacrylate__Zhang-Mitsubishi": "poly(methyl methacrylate)",
    "polydimethylsiloxane__Zhang-5-1": "silicone",
}
INVENTED = {
    "protein": "gelatin",
    "polylactide": "polylactide",
    "polycaprolactone": "polycaprolactone",
    "cellulose": "cellulose I",
    "polysaccharide": "chitosan",
    "polyether": "poly(ethylene glycol)",
    "terephthalate": "poly(ethylene terephthalate)",
    "polyolefin": "polyethylene",
    "lignin": "lignin",
    "water": "water (liquid)",
}
ALIKE = (
    {"silicone", "silicone grease"},
    {"cellulose I", "cellulose II", "cotton", "bacterial cellulose"},
    {"gelatin", "collagen", "keratin", "zein", "silk fibroin (beta-sheet)", "silk fibroin (random coil)"}
    | {"polyamide"},
    {"alpha-chitin", "beta-chitin", "chitosan"},
)
CRYSTALS = {"diamond": 2.4, "germanium": 4.0}
MODES = ("transmission", *CRYSTALS)
NOISES = (1e-4, 5e-4, 2e-3)
FEW = 3  # bands: spectra with fewer are counted apart
NEAT = Group("neat", "film", "ATR", ())


@dataclass
class Tally:
    """What became of the statements."""

    right: int = 0
    doubted: int = 0
    wrong: int = 0
    told: int = 0
    open: int = 0  # of the wrong ones, those of which nothing could be said
    unnoticed: Counter[tuple[str, str]] = field(default_factory=Counter)


def index_of(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Wavenumbers and n + ik of a page or of an invented material."""
    if name in INVENTED:
        index = np.sqrt(scenes.BACKGROUND + scenes.bands_of(name).sum(axis=0))
        return GRID, np.interp(GRID, scenes.GRID, index.real) + 1j * np.interp(GRID, scenes.GRID, index.imag)
    wavenumbers, n, k = read_constants(name)
    grid = GRID[(wavenumbers[0] <= GRID) & (wavenumbers[-1] >= GRID)]
    return grid, np.interp(grid, wavenumbers, n) + 1j * np.clip(np.interp(grid, wavenumbers, k), 0, None)


def spectrum(name: str, mode: str) -> tuple[np.ndarray, np.ndarray]:
    """Wavenumbers and absorbance: a thin film of 0.5 at most, or one reflection at 45 degrees."""
    grid, index = index_of(name)
    if mode == "transmission":
        absorbance = index.imag * grid
        return grid, 0.5 * absorbance / absorbance.max()
    crystal, cosine = CRYSTALS[mode], np.cos(np.pi / 4)
    inside = index * np.sqrt(1 - (crystal * np.sin(np.pi / 4) / index) ** 2)
    inside = np.where(inside.imag < 0, -inside, inside)  # the wave dies away from the crystal
    s = (crystal * cosine - inside) / (crystal * cosine + inside)
    p = (index**2 * cosine - crystal * inside) / (index**2 * cosine + crystal * inside)
    return grid, -np.log10((np.abs(s) ** 2 + np.abs(p) ** 2) / 2)


def measured(name: str, mode: str, noise: float, seed: int) -> FoundBands | None:
    """Bands of three spots as the chain finds them; None where no band rises above the noise."""
    grid, clean = spectrum(name, mode)
    rng = np.random.default_rng(seed)
    rows = [
        clean * (1 + 0.03 * rng.normal())
        + noise * rng.normal(size=grid.size)
        + 0.003 * rng.normal() * np.cos((grid - 400.0) / 1500.0)
        for _ in range(3)
    ]
    stack = Stack(grid, rows, ("a", "b", "c"), ("a", "b", "c"), ~((grid > 2280.0) & (grid < 2390.0)))
    stack = subtract_baselines(stack, BaselineSettings())
    try:
        return bands_of(stack, measure_reference(stack, name, PeakSettings()).peaks)
    except SpectraError:
        return None


def alike(one: str, other: str) -> bool:
    """Whether two materials cannot be told apart."""
    return one == other or any(one in group and other in group for group in ALIKE)


def count(
    names: dict[str, str],
    table: BandTable,
    seeds: int = 1,
    modes: tuple[str, ...] = MODES,
    every: int = 1,
) -> dict[str, Tally]:
    """Count statements about spectra of three bands and more, and about those with fewer.

    ``every`` takes the right one and each so many of the others only.
    """
    tallies = {"three bands or more": Tally(), "fewer": Tally()}
    for name, found in _spectra(names, seeds, modes):
        tally = tallies["three bands or more" if found.positions.size >= FEW else "fewer"]
        for stated in dict.fromkeys((names[name], *table.materials[::every])):
            _count_one(tally, names[name], stated, found, table)
    return tallies


def _spectra(names: dict[str, str], seeds: int, modes: tuple[str, ...]) -> Iterator[tuple[str, FoundBands]]:
    for name in names:
        for mode in modes:
            for number, noise in enumerate(NOISES):
                for seed in range(seeds):
                    if (found := measured(name, mode, noise, 100 * seed + number)) is not None:
                        yield name, found


def _count_one(tally: Tally, true: str, stated: str, found: FoundBands, table: BandTable) -> None:
    if stated != true and alike(stated, true):
        return
    check = check_material(NEAT, stated, found, table, MaterialSettings(), MatchingSettings())
    if stated == true:
        tally.right += 1
        tally.doubted += check.verdict == DOUBTFUL
        return
    tally.wrong += 1
    tally.told += check.verdict == DOUBTFUL
    tally.open += check.verdict == CANNOT_TELL
    if check.verdict not in (DOUBTFUL, CANNOT_TELL):
        tally.unnoticed[true, stated] += 1


def main(seeds: int = 3) -> None:
    """Print the table."""
    table = load()
    for title, names in (("measured constants", MEASURED), ("invented materials", INVENTED)):
        for kind, tally in count(names, table, seeds).items():
            if not tally.right:
                continue
            low, high = binomial_interval(tally.doubted, tally.right)
            print(f"{title}, {kind}: {tally.doubted} of {tally.right} right statements doubted", end=" ")
            print(
                f"({100 * low:.1f} to {100 * high:.1f} %); {tally.told} of {tally.wrong} wrong ones told",
                end=" ",
            )
            print(f"({100 * tally.told / tally.wrong:.1f} %), {tally.open} left open")
            pairs = ", ".join(f"{a} as {b} {n}" for (a, b), n in tally.unnoticed.most_common(12))
            print(f"  most often unnoticed: {pairs}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
