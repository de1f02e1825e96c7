"""Speed of the optics, beside a loop over the PyPI package tmm in the same run.

``python -m tests.opticspeed`` prints processor times of one core (best of five), so that other work on the
machine hardly counts. The tmm loop does one point, one polarisation and one thickness a call; it runs on a
part of the points and is scaled up.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import tmm

from spectra.optics.atr import atr_absorbance
from spectra.optics.expected import expected
from spectra.optics.film import film_spectra
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr
from spectra.optics.material import known_material
from spectra.optics.settings import InversionSettings
from tests.published_index import broadened, far_index

GEOMETRY = Geometry(index=2.4, angle_deg=45.0)
POINTS, THICKNESSES = 1800, 50


def seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """Shortest processor time of several runs."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def tmm_film(grid: np.ndarray, film: np.ndarray, bed: np.ndarray, thicknesses: np.ndarray) -> np.ndarray:
    """Coated spectra by one call a point."""
    angle = np.radians(45.0)
    rows = []
    for d in thicknesses:
        row = [
            0.5 * sum(tmm.coh_tmm(p, [2.4, a, b], [np.inf, d, np.inf], angle, 1e7 / nu)["R"] for p in "sp")
            for nu, a, b in zip(grid, film, bed, strict=True)
        ]
        rows.append(-np.log10(row))
    return np.array(rows)


def main() -> None:
    """Print the table."""
    grid = np.linspace(650.0, 3990.0, POINTS)
    film, bed = broadened("poly_methyl_methacrylate__Tsuda-BB", grid), broadened("polystyrene__Myers", grid)
    d = np.linspace(1.0, 2000.0, THICKNESSES)
    ours = seconds(lambda: film_spectra(grid, film, bed, d, GEOMETRY))
    part, few = slice(0, POINTS, 12), d[::25]
    loop = seconds(lambda: tmm_film(grid[part], film[part], bed[part], few), repeats=1)
    loop *= POINTS / grid[part].size * THICKNESSES / few.size
    same = film_spectra(grid[part], film[part], bed[part], few, GEOMETRY).coated
    worst = np.abs(same - tmm_film(grid[part], film[part], bed[part], few)).max()
    print(f"coated spectra and film part, {THICKNESSES} thicknesses x {POINTS} points: {1e3 * ours:.1f} ms")
    print(f"the coated spectra alone by a tmm loop (scaled): {loop:.1f} s, {loop / ours:.0f} times as long")
    print(f"largest difference of the two: {worst:.1e}")
    for name in ("poly_methyl_methacrylate__Tsuda-BB", "polystyrene__Myers"):
        index = broadened(name, grid)
        n_inf, pull = far_index(grid, index)
        settings = InversionSettings(n_inf=n_inf, pull=pull)
        noise = 2e-4 * np.random.default_rng(1).standard_normal(POINTS)
        spectrum = atr_absorbance(grid, [index], [], GEOMETRY, 0.95) + noise
        for contact in (0.95, (0.85, 1.0), (0.5, 1.0)):
            took = seconds(lambda: invert_atr(grid, spectrum, GEOMETRY, contact, settings))  # noqa: B023
            print(f"inversion of {name.split('__')[0]}, contact {contact}: {1e3 * took:.0f} ms")
        neat = invert_atr(grid, spectrum, GEOMETRY, (0.85, 1.0), settings)
        at = np.linspace(800.0, 3100.0, 12)
        took = seconds(lambda: expected(neat, known_material(grid, bed), GEOMETRY, at))  # noqa: B023
        print(f"  expected positions, 12 bands, 10 thicknesses, with intervals: {1e3 * took:.0f} ms")


if __name__ == "__main__":
    main()
