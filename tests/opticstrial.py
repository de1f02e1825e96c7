"""Trial with known truth: do the stated optical uncertainties cover it?

``python -m tests.opticstrial [CASES] [SEED]`` prints a table with counts and exact binomial intervals.

Each case draws a material (published k, its Kramers-Kronig partner n), a crystal, a prior for the contact
fraction and a true contact from it, an n_inf and a pull wrong within their priors, and noise of 2e-4. The
bulk spectrum is simulated and inverted with nothing but the priors; intervals of 95 % are then compared with
the truth, for the expected position in films of 10 and 500 nm on polystyrene. Half of the spectra have a gap
at 1900-2700 cm-1, as diamond often leaves.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks, peak_widths
from scipy.stats import binomtest

from spectra.optics.atr import atr_absorbance
from spectra.optics.expected import Expected, expected
from spectra.optics.film import film_spectra
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr
from spectra.optics.material import Unsolved, known_material
from spectra.optics.settings import InversionSettings
from spectra.optics.tracking import follow
from tests.published_index import broadened, far_index, partnered

MATERIALS = (
    "poly_methyl_methacrylate__Tsuda-BB",
    "poly_methyl_methacrylate__Zhang-Tomson",
    "polystyrene__Myers",
    "polycarbonate__Zhang",
    "polyethylene_terephthalate__Zhang",
    "polydimethylsiloxane__Zhang-10-1",
    "polyethylene__David",
    "ethanol__Myers",
    "toluene__Myers",
    "oleic_acid__McGinty",
)
PRIORS = ((0.5, 1.0), (0.7, 1.0), (0.85, 1.0))
FILMS_NM = (10.0, 500.0)
NOISE = 2e-4
FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Case:
    """What was drawn."""

    material: str
    crystal: str
    prior: tuple[float, float]
    contact: float
    index_error: float
    pull_error: float
    gap: bool
    seed: int


def draw(rng: np.random.Generator) -> Case:
    """Draw one case."""
    prior = PRIORS[int(rng.integers(len(PRIORS)))]
    return Case(
        material=str(rng.choice(MATERIALS)),
        crystal=str(rng.choice(["diamond", "germanium"])),
        prior=prior,
        contact=float(rng.uniform(*prior)),
        index_error=float(rng.uniform(-0.05, 0.05)),
        pull_error=float(rng.uniform(-0.015, 0.015)),
        gap=bool(rng.integers(2)),
        seed=int(rng.integers(1 << 30)),
    )


def run(case: Case) -> tuple[str, dict[str, list[bool]]]:
    """Return how the inversion ended and, by quantity, whether each band's interval holds the truth."""
    grid = grid_of(case.material)
    index = partnered(case.material, grid)
    geometry = Geometry(crystal=case.crystal, angle_deg=45.0)
    noise = NOISE * np.random.default_rng(case.seed).standard_normal(grid.size)
    spectrum = atr_absorbance(grid, [index], [], geometry, case.contact) + noise
    usable = ~((grid > 1900.0) & (grid < 2700.0)) if case.gap else None
    n_inf, pull = far_index(grid, index)
    settings = InversionSettings(n_inf=n_inf + case.index_error, pull=pull + case.pull_error)
    neat = invert_atr(grid, spectrum, geometry, case.prior, settings, usable)
    if isinstance(neat, Unsolved):
        return neat.code, {}
    at, widths = bands(grid, spectrum)
    bed = broadened("polystyrene__Myers", grid)
    answer = expected(neat, known_material(grid, bed), geometry, at, widths, FILMS_NM)
    if not isinstance(answer, Expected):
        return answer.code, {}
    film = film_spectra(grid, index, bed, FILMS_NM, geometry, n_inf=n_inf).film
    places = follow(grid, film[:, None, :], answer.positions, widths)[:, 0]
    low, high = np.quantile(answer.scenarios[:, 1:], [0.025, 0.975], axis=0)
    intervals = {
        f"expected at {nm:g} nm": (low[row], places[row], high[row]) for row, nm in enumerate(FILMS_NM)
    }
    strongest = int(np.argmax(np.interp(at, grid, spectrum)))
    results = {name: held(*interval) for name, interval in intervals.items()}
    for name, interval in intervals.items():
        results[f"strongest band: {name}"] = held(*(ends[[strongest]] for ends in interval))
    return "solved", results


def grid_of(material: str) -> FloatArray:
    """Grid of a spectrometer within the page."""
    low = {"polyethylene__David": 830.0, "oleic_acid__McGinty": 770.0}.get(material, 650.0)
    return np.arange(low, 3990.0, 1.86)


def bands(grid: FloatArray, spectrum: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Maxima that stand out by 3 % of the strongest band, and by fifty times the noise; their widths."""
    tops, _ = find_peaks(spectrum, prominence=max(0.03 * float(spectrum.max()), 50.0 * NOISE))
    widths = peak_widths(spectrum, tops, rel_height=0.5)[0] * (grid[1] - grid[0])
    return grid[tops], np.clip(widths, 6.0, 300.0)


def held(low: FloatArray, truth: FloatArray, high: FloatArray) -> list[bool]:
    """Whether each interval holds the truth; bands that were lost (said so) are left out."""
    known = np.isfinite(low) & np.isfinite(truth)
    return [bool(a <= b <= c) for a, b, c in zip(low[known], truth[known], high[known], strict=True)]


def main(cases: int = 500, seed: int = 1) -> None:
    """Run the trial and print its table."""
    rng = np.random.default_rng(seed)
    started, ends = time.perf_counter(), Counter[str]()
    counts: dict[str, list[bool]] = {}
    for _ in range(cases):
        case = draw(rng)
        end, results = run(case)
        ends[end] += 1
        for name, values in results.items():
            details = (
                () if "strongest" in name else (f"{name}, {case.crystal}", f"{name}, prior {case.prior}")
            )
            for key in (name, *details):
                counts.setdefault(key, []).extend(values)
    print(f"{cases} cases, seed {seed}, {time.perf_counter() - started:.0f} s: {dict(ends)}")
    for name, values in sorted(counts.items()):
        hits, total = sum(values), len(values)
        ends_of = binomtest(hits, total).proportion_ci()
        share = f"{100 * hits / total:5.1f} %  ({100 * ends_of.low:.1f}-{100 * ends_of.high:.1f})"
        print(f"{name:42s} {hits:5d} of {total:5d} bands = {share}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
