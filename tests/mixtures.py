"""Spectra of real materials and their mixtures, computed from open optical constants, and their bands.

``python -m tests.mixtures`` prints how many materials are found again and how many proposals are false.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations, permutations

import numpy as np

from reference_bands import BandTable, load
from spectra.assignment.coherence import FoundBands
from spectra.assignment.matching import propose
from tests.optical_constants import PAGES, absorption, maxima, read_constants

# One page for each material; the settings of the matching were chosen on these, alone and mixed 80 to 20.
CHOSEN_ON = {
    "poly_methyl_methacrylate__Tsuda-BB": "PMMA",
    "polystyrene__Myers": "PS",
    "polycarbonate__Zhang": "PC",
    "polyethylene_terephthalate__Zhang": "PET",
    "polydimethylsiloxane__Zhang-10-1": "PDMS",
    "polyethylene__David": "PE",
    "polyetherimide__Zhang": "PEI",
    "ethanol__Myers": "EtOH",
    "toluene__Myers": "Tol",
    "oleic_acid__McGinty": "OA",
    "H2O__Rowe-273K": "H2O",
    "SiO2__Franta": "SiO2",
}
# Pages of other samples or laboratories, looked at only after the settings were fixed.
KEPT_BACK = (
    "poly_methyl_methacrylate__Zhang-Mitsubishi",
    "poly_methyl_methacrylate__Zhang-Tomson",
    "polydimethylsiloxane__Zhang-5-1",
    "H2O__Segelstein",
    "SiO2__Kischkat",
)
MATERIALS = {page: entry[0] for page, entry in PAGES.items()} | {
    "poly_methyl_methacrylate__Zhang-Mitsubishi": "poly(methyl methacrylate)",
    "polydimethylsiloxane__Zhang-5-1": "silicone",
}
LOWEST, HIGHEST, STEP = 500.0, 4000.0, 2.0  # cm-1
SHARE = 0.015  # of the highest value: a maximum this prominent counts as found
DIAMOND = 2.4
# The grease is the same polymer as the rubber: infrared cannot tell them apart.
SAME = {"silicone grease": "silicone"}


@dataclass
class Tally:
    """How many true materials were found again, and what else was proposed."""

    spectra: int = 0
    true: int = 0
    found: int = 0
    major: int = 0  # of the found, those that are the larger part of their spectrum
    false: int = 0

    @property
    def recall(self) -> float:
        """Share of the true materials that were proposed."""
        return self.found / self.true

    @property
    def precision(self) -> float:
        """Share of the proposals that were true."""
        return self.found / (self.found + self.false)

    @property
    def false_per_spectrum(self) -> float:
        """False proposals a spectrum."""
        return self.false / self.spectra


def spectrum(parts: dict[str, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return wavenumbers and absorption of a mixture by volume, where all its pages have data."""
    pages = [absorption(page) for page in parts]
    low = max(LOWEST, *(x[0] for x, _ in pages))
    high = min(HIGHEST, *(x[-1] for x, _ in pages))
    grid = np.arange(np.ceil(low), high, STEP)
    signal = sum(share * np.interp(grid, *page) for share, page in zip(parts.values(), pages, strict=True))
    return grid, np.asarray(signal)


def internal_reflection(parts: dict[str, float]) -> tuple[np.ndarray, np.ndarray]:
    """Return wavenumbers and ATR absorbance of one page: diamond, one reflection at 45 degrees, s and p mean.

    Fresnel's equations for a half-infinite sample, written here so that nothing of the project is used.
    """
    (page,) = parts
    wavenumbers, n, k = read_constants(page)
    grid = np.arange(max(LOWEST, np.ceil(wavenumbers[0])), min(HIGHEST, wavenumbers[-1]), STEP)
    index = np.interp(grid, wavenumbers, n) + 1j * np.clip(np.interp(grid, wavenumbers, k), 0, None)
    cosine = np.cos(np.pi / 4)
    inside = index * np.sqrt(1 - (DIAMOND * np.sin(np.pi / 4) / index) ** 2)
    inside = np.where(inside.imag < 0, -inside, inside)  # the wave dies away from the crystal
    s = (DIAMOND * cosine - inside) / (DIAMOND * cosine + inside)
    p = (index**2 * cosine - DIAMOND * inside) / (index**2 * cosine + DIAMOND * inside)
    return grid, -np.log10((np.abs(s) ** 2 + np.abs(p) ** 2) / 2)


def bands(grid: np.ndarray, signal: np.ndarray) -> FoundBands:
    """Return the maxima of a spectrum as found bands, their positions known to half a step."""
    found = maxima(grid, signal, SHARE)
    errors = np.full(found.positions.size, STEP / 2)
    return FoundBands(found.positions, errors, found.prominences, found.widths, (grid[0], grid[-1]))


def tally(
    mixtures: list[dict[str, float]],
    table: BandTable,
    measured: Callable[[dict[str, float]], tuple[np.ndarray, np.ndarray]] = spectrum,
) -> Tally:
    """Propose materials for the spectrum of every mixture and count."""
    result = Tally()
    for parts in mixtures:
        true = {MATERIALS[page] for page in parts}
        proposed = {SAME.get(p.material, p.material) for p in propose(bands(*measured(parts)), table)}
        result.spectra += 1
        result.true += len(true)
        result.found += len(true & proposed)
        result.major += MATERIALS[max(parts, key=parts.__getitem__)] in proposed
        result.false += len(proposed - true)
    return result


def alone() -> list[dict[str, float]]:
    """Every chosen-on page alone."""
    return [{page: 1.0} for page in CHOSEN_ON]


def eighty_to_twenty() -> list[dict[str, float]]:
    """Every ordered pair of chosen-on pages, 80 to 20 by volume."""
    return [{a: 0.8, b: 0.2} for a, b in permutations(CHOSEN_ON, 2)]


def half_and_half() -> list[dict[str, float]]:
    """Every pair of chosen-on pages, half and half: a mixture no setting was chosen on."""
    return [{a: 0.5, b: 0.5} for a, b in combinations(CHOSEN_ON, 2)]


def kept_back() -> list[dict[str, float]]:
    """Every kept-back page alone."""
    return [{page: 1.0} for page in KEPT_BACK]


def kept_back_mixed() -> list[dict[str, float]]:
    """Every kept-back page 80 to 20, either way, with every chosen-on page of another material."""
    pairs = [(a, b) for a in KEPT_BACK for b in CHOSEN_ON if MATERIALS[a] != MATERIALS[b]]
    return [{x: 0.8, y: 0.2} for a, b in pairs for x, y in ((a, b), (b, a))]


def every_page() -> list[dict[str, float]]:
    """Every page alone, chosen on or kept back."""
    return [{page: 1.0} for page in (*CHOSEN_ON, *KEPT_BACK)]


# name -> mixtures, and how they are measured
SETS = {
    "alone": (alone, spectrum),
    "eighty_to_twenty": (eighty_to_twenty, spectrum),
    "half_and_half": (half_and_half, spectrum),
    "kept_back": (kept_back, spectrum),
    "kept_back_mixed": (kept_back_mixed, spectrum),
    "in_atr": (every_page, internal_reflection),
}


def count(name: str, table: BandTable) -> Tally:
    """Count one of the sets."""
    make, measured = SETS[name]
    return tally(make(), table, measured)


if __name__ == "__main__":
    for name in SETS:
        counted = count(name, load())
        print(
            f"{name}: {counted.spectra} spectra, {counted.found} of {counted.true} materials found,", end=" "
        )
        print(f"{counted.major} of them the larger part; {counted.false} false proposals", end=" ")
        print(f"({counted.false_per_spectrum:.2f} a spectrum, precision {counted.precision:.2f})")
