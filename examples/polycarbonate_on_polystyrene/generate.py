"""Compute the reference spectra of this example; only film/jtpolys.jdx was measured as a film.

    python -m examples.polycarbonate_on_polystyrene.generate     rewrites the computed files, byte for byte

The absorption index k of each material is measured and published (tests/data/optical_constants, CC0, sources
in SOURCES.md there). A film of thickness d has the absorbance A = 4 pi k nu d / ln 10.

**Why absorption alone.** A free film 2 um thick reflects 5 % at each face, and the two reflections interfere:
a wave of about 1500 cm-1 period, 0.04 absorbance to either side of its mean, would run through the spectrum.
The measured film shows no such wave (its baseline stays within 0.01), so it was held in or on something of
nearly its own index. Reflection and interference are therefore left out.

**Line shape.** The polystyrene page was measured at 2 cm-1, so its transmittance is blurred by the missing
width, (4^2 - 2^2)^0.5 = 3.46 cm-1. The other pages lie on a grid of 7.7 cm-1: a cubic spline is drawn through
them, nothing is blurred, and bands narrower than about 15 cm-1 stay too low and too wide.

Thickness, wavenumber scale, drift and noise are drawn from one fixed seed. Nothing else varies between the
bare films, so they are more alike than films made on different days.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from examples.instrument import Array, blur, columns, drift, jcamp, noise_level, run

HERE = Path(__file__).parent
CONSTANTS = HERE.parents[1] / "tests" / "data" / "optical_constants"
SEED = 19880412

STEP = 1.92881146  # that of the measured film
FIRST, LAST = 265, 2074  # multiples of STEP: 511 to 4000 cm-1, where every page has data
FINE = 8
MISSING_WIDTH = (4.0**2 - 2.0**2) ** 0.5
SCALE_SCATTER = 1e-4  # relative, 0.3 cm-1 at 3000: how well spectrometers agree, common practice, no source

BARE_UM = 2.1  # by least squares of the measured film on the constants of both materials
BARE_FILMS = 5
NEAT_UM = (0.5, 1.0, 2.0)
PAGES = {
    "polycarbonate": "polycarbonate__Zhang",
    "pmma": "poly_methyl_methacrylate__Zhang-Mitsubishi",
    "pet": "polyethylene_terephthalate__Zhang",
    "pdms": "polydimethylsiloxane__Zhang-10-1",
}
NAMES = {
    "polycarbonate": "polycarbonate",
    "pmma": "poly(methyl methacrylate)",
    "pet": "poly(ethylene terephthalate)",
    "pdms": "polydimethylsiloxane",
}

LABEL = "computed from measured optical constants by examples/polycarbonate_on_polystyrene/generate.py"


def absorption_index(page: str, nu: Array) -> Array:
    """Return k of a page of optical constants at ``nu``, cm-1."""
    table = np.loadtxt(CONSTANTS / f"{page}.csv", delimiter=",", skiprows=1)
    return np.maximum(CubicSpline(table[:, 0], table[:, 2])(nu), 0.0)


def film(page: str, thickness_um: float, width: float, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return wavenumbers and transmittance of one film as a spectrometer records it."""
    fine = (STEP / FINE) * np.arange(FIRST * FINE, LAST * FINE + 1)
    scale = 1 + SCALE_SCATTER * rng.normal()
    index = absorption_index(page, fine / scale)
    ratio = 10 ** -(4 * np.pi * index * fine * thickness_um * 1e-4 / np.log(10))
    if width:
        ratio = blur(ratio, STEP / FINE, width)
    nu = fine[::FINE]
    return nu, ratio[::FINE] * 10 ** -drift(nu, rng, 2e-3) + noise_level(nu) * rng.normal(size=nu.size)


def make() -> dict[str, str]:
    """Return every computed file: name in this folder, text."""
    rng = np.random.default_rng(SEED)
    files: dict[str, str] = {}
    for i in range(1, BARE_FILMS + 1):
        thickness = BARE_UM * (1 + 0.1 * rng.normal())
        files[f"bare/polystyrene_{i}.dx"] = jcamp(
            *film("polystyrene__Myers", thickness, MISSING_WIDTH, rng),
            title=f"polystyrene film {i}, {thickness:.2f} um (computed)",
            yunits="TRANSMITTANCE",
            remarks=[f"{LABEL};", "optical constants: T. L. Myers et al., Appl. Spectrosc. 72, 535 (2018)"],
            factor=1e-6,
        )
    for short, page in PAGES.items():
        folder = "neat" if short == "polycarbonate" else "other"
        for thickness in NEAT_UM:
            nu, ratio = film(page, thickness, 0.0, rng)
            head = (
                f"# {LABEL};\n"
                f"# optical constants: X. Zhang et al., JQSRT 252, 107063 (2020)\n"
                f"# {NAMES[short]} film, {thickness} um\n"
                "wavenumber (cm-1),absorbance\n"
            )
            body = columns(nu, -np.log10(ratio), separator=",", decimals=5)
            files[f"{folder}/{short}_{thickness:.1f}um.csv"] = head + body
    return files


if __name__ == "__main__":
    run(make, HERE, "Compute the reference films of the example polycarbonate on polystyrene.")
