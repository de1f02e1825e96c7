"""Compute the invented spectra of this example. Nothing here was measured.

    python -m examples.gelatin_on_pcl.generate            rewrites the files of this folder, byte for byte

**Materials.** Each is a sum of Lorentz oscillators, eps = n_inf^2 + sum S nu0^2 / (nu0^2 - nu^2 - i g nu),
whose n and k obey Kramers-Kronig by construction (any optics textbook; no data needed). A band is given by
its position nu0, its width g and the absorption index k it would have alone, from which S = 2 n_inf k g/nu0.
Positions follow the literature named beside each table. Widths and k values are the writer's estimates, set
so that the strongest bands have the absorption index usual for such bands (0.2 to 0.3). Literature positions
of strong bands read by ATR lie below nu0 by about g*k, so amide I stands at 1650 and not at 1635.

**Spectra.** Light falls on crystal | film of thickness d | substrate from inside the crystal (diamond, n 2.4,
45 degrees, one reflection); exact Fresnel coefficients, s and p averaged. The gauze touches a share phi of
the spot, so that A = -log10(1 - phi (1 - R)). The ratio is blurred to 4 cm-1. Every spot has its own phi,
film thickness, and height and position of each substrate band. Drift, water vapour, carbon dioxide and
detector noise follow. The random numbers come from one fixed seed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from examples.instrument import Array, blur, columns, drift, jcamp, noise_level, run

HERE = Path(__file__).parent
SEED = 20240607

STEP, FINE = 1.928, 4  # cm-1 between points; points computed for each point kept
FIRST, LAST = 338, 2074  # multiples of STEP: 651.664 to 3998.672 cm-1
RESOLUTION = 4.0
CRYSTAL_INDEX, ANGLE = 2.4, np.radians(45.0)

LABEL = "invented data, computed by examples/gelatin_on_pcl/generate.py; not measured"


@dataclass(frozen=True)
class Band:
    """One oscillator: position and width in cm-1, absorption index of the band alone."""

    position: float
    width: float
    k: float


@dataclass(frozen=True)
class Material:
    """Index far above the infrared bands, and the bands."""

    n_inf: float
    bands: tuple[Band, ...]


# Carbonyl 1724 crystalline and 1737 amorphous: Unger et al., Appl. Spectrosc. 63, 1034 (2009). The others:
# Elzein et al., J. Colloid Interface Sci. 273, 381 (2004) and general literature, from memory.
CRYSTALLINE, AMORPHOUS = (1724.0, 1293.0), (1737.0, 1157.0)
PCL = Material(
    1.47,
    (
        Band(2949, 28, 0.050),
        Band(2865, 22, 0.035),
        Band(1737, 22, 0.100),
        Band(1724, 18, 0.280),
        Band(1471, 14, 0.030),
        Band(1418, 12, 0.020),
        Band(1365, 16, 0.050),
        Band(1293, 14, 0.080),
        Band(1240, 22, 0.130),
        Band(1190, 24, 0.160),
        Band(1170, 16, 0.180),
        Band(1157, 20, 0.060),
        Band(1107, 14, 0.070),
        Band(1047, 16, 0.060),
        Band(961, 16, 0.060),
        Band(732, 12, 0.050),
    ),
)

# Amide A 3299, II 1550, III 1238: a passage on gelatin composite films (paper not identified), which reads
# amide I at 1635 by ATR; single-helix collagen 1655 (passages citing Doyle et al. 1975). The rest and the
# water of ambient air (3450) and carboxylate (1400): general literature, from memory.
GELATIN = Material(
    1.50,
    (
        Band(3450, 350, 0.060),
        Band(3299, 180, 0.120),
        Band(3080, 60, 0.020),
        Band(2930, 70, 0.030),
        Band(1650, 52, 0.270),
        Band(1550, 46, 0.170),
        Band(1450, 35, 0.060),
        Band(1400, 35, 0.040),
        Band(1335, 30, 0.040),
        Band(1238, 40, 0.060),
        Band(1080, 60, 0.030),
    ),
)

# Browned gelatin: amide I falls towards the 1620 of aggregated strands (Jackson and Mantsch, Crit. Rev.
# Biochem. 30, 95, 1995, from memory); half of amide II and a third of amide A are lost; an acid or ketone
# carbonyl appears at 1712 as on oxidised polymers. Sizes are invented.
BROWNED = Material(
    1.50,
    (
        *(
            {1650: Band(1628, 60, 0.240), 1550: Band(1540, 46, 0.085), 3299: Band(3299, 200, 0.080)}.get(
                int(band.position), band
            )
            for band in GELATIN.bands
        ),
        Band(1712, 40, 0.060),
    ),
)

# Acetic acid, dimer and monomer: general solvent literature, from memory.
ACETIC_ACID = Material(
    1.36,
    (
        Band(3000, 500, 0.100),
        Band(1760, 30, 0.080),
        Band(1710, 35, 0.300),
        Band(1410, 35, 0.120),
        Band(1290, 45, 0.160),
        Band(935, 60, 0.100),
    ),
)


@dataclass(frozen=True)
class Recipe:
    """One way of coating: what the film is made of, how thick, and how many spots each specimen has."""

    film: Material
    acid_share: float
    thickness_nm: float
    specimens: dict[str, int]


BARE = {"A": 2, "B": 1, "C": 1, "D": 2, "E": 1, "F": 1}
NEAT_SPOTS = 3
KEPT, PATCHY_NM = 0.6, 90.0  # share that washing leaves; thickness of the uneven recipe where it is thick
RECIPES = {
    "aqueous": Recipe(GELATIN, 0.0, 90.0, {"W1": 3, "W2": 2, "W3": 3}),
    "acid": Recipe(GELATIN, 0.25, 110.0, {"S1": 3, "S2": 3, "S3": 2}),
    "hot": Recipe(BROWNED, 0.0, 90.0, {"H1": 2, "H2": 3, "H3": 3}),
}


def permittivity(material: Material, nu: Array) -> np.ndarray:
    """Return the complex relative permittivity, shape (n,)."""
    eps = np.full(nu.shape, material.n_inf**2, dtype=complex)
    for band in material.bands:
        strength = 2 * material.n_inf * band.k * band.width / band.position
        eps += strength * band.position**2 / (band.position**2 - nu**2 - 1j * band.width * nu)
    return eps


def reflectance(nu: Array, film: np.ndarray, thickness_nm: float, substrate: np.ndarray) -> Array:
    """Return R of crystal | film | substrate, unpolarised, from the permittivities of film and substrate."""
    tangential = (CRYSTAL_INDEX * np.sin(ANGLE)) ** 2
    eps = [np.full(nu.shape, CRYSTAL_INDEX**2, dtype=complex), film, substrate]
    normal = [np.sqrt(e - tangential) for e in eps]
    phase = np.exp(4j * np.pi * nu * thickness_nm * 1e-7 * normal[1])
    total = np.zeros(nu.shape)
    for weights in ([1, 1, 1], eps):  # s, p
        admittance = [q / w for q, w in zip(normal, weights, strict=True)]
        first, second = ((a - b) / (a + b) for a, b in pairwise(admittance))
        total += np.abs((first + second * phase) / (1 + first * second * phase)) ** 2
    return total / 2


def scattered(rng: np.random.Generator) -> Material:
    """Draw one piece of gauze: crystallinity 4 %, height of each band 2 %."""
    order = 1 + 0.04 * rng.normal()
    shares = {**dict.fromkeys(CRYSTALLINE, order), **dict.fromkeys(AMORPHOUS, 2 - order)}
    return vary(
        replace(PCL, bands=tuple(replace(b, k=b.k * shares.get(b.position, 1.0)) for b in PCL.bands)),
        rng,
        height=0.02,
        position=0.1,
    )


def vary(material: Material, rng: np.random.Generator, *, height: float, position: float) -> Material:
    """Draw heights (relative) and positions (cm-1) of every band anew."""
    return replace(
        material,
        bands=tuple(
            replace(b, k=b.k * (1 + height * rng.normal()), position=b.position + position * rng.normal())
            for b in material.bands
        ),
    )


def vapour(nu: Array) -> Array:
    """Return the absorbance of water vapour at 4 cm-1, greatest line 1 (lines: vapour_lines.csv)."""
    lines = np.loadtxt(HERE / "vapour_lines.csv", delimiter=",", comments="#")
    shapes = np.exp(-4 * np.log(2) * ((nu[:, None] - lines[:, 0]) / RESOLUTION) ** 2)
    summed = shapes @ lines[:, 1]
    return np.asarray(summed / summed.max())


def carbon_dioxide(nu: Array) -> Array:
    """Return the two branches of the gas band near 2349 cm-1 (envelope from memory), greatest value 1."""
    return 0.8 * np.exp(-(((nu - 2341) / 12) ** 2)) + np.exp(-(((nu - 2361) / 8) ** 2))


def measure(ratio: Array, fine: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """Bring a ratio on the fine grid to what a spectrometer records: wavenumbers and ratio."""
    nu, seen = fine[::FINE], blur(ratio, STEP / FINE, RESOLUTION)[::FINE]
    extra = drift(nu, rng, 2e-3) + 1.5e-3 * rng.normal() * vapour(nu)
    extra = extra + 3e-3 * rng.normal() * carbon_dioxide(nu)
    diamond = 1 + 2 * np.exp(-(((nu - 2100) / 180) ** 2))  # two-phonon absorption of the crystal
    return nu, seen * 10**-extra + diamond * noise_level(nu) * rng.normal(size=nu.size)


def spot(
    fine: Array,
    rng: np.random.Generator,
    piece: Material,
    film: np.ndarray | None = None,
    thickness_nm: float = 0.0,
) -> tuple[Array, Array]:
    """Record one spot on a piece of gauze."""
    base = permittivity(vary(piece, rng, height=0.015, position=0.1), fine)
    contact = rng.uniform(0.55, 0.9)
    whole = reflectance(fine, base if film is None else film, thickness_nm, base)
    return measure(1 - contact * (1 - whole), fine, rng)


def heading(what: str, ordinate: str, separator: str) -> str:
    """Return the head of a text file."""
    lines = [LABEL, what, "ATR, diamond, 45 degrees, one reflection; resolution 4 cm-1"]
    return "".join(f"# {line}\n" for line in lines) + f"wavenumber (cm-1){separator}{ordinate}\n"


def bare_file(what: str, nu: Array, ratio: Array) -> str:
    """Comma, decimal point, absorbance."""
    body = columns(nu, -np.log10(ratio), separator=",", decimals=5)
    return heading(what, "absorbance", ",") + body


def aqueous_file(what: str, nu: Array, ratio: Array) -> str:
    """Semicolon, decimal comma, absorbance, wavenumbers falling."""
    body = columns(nu[::-1], -np.log10(ratio)[::-1], separator=";", decimals=5, comma=True)
    return heading(what, "absorbance", ";") + body


def acid_file(what: str, nu: Array, ratio: Array) -> str:
    """Tab, percent transmittance."""
    return heading(what, "transmittance (%)", "\t") + columns(nu, 100 * ratio, separator="\t", decimals=4)


def hot_file(what: str, nu: Array, ratio: Array) -> str:
    """Blanks, transmittance as a fraction, wavenumbers falling."""
    body = columns(nu[::-1], ratio[::-1], separator="  ", decimals=6)
    return heading(what, "transmittance", "  ") + body


WRITERS = {"aqueous": aqueous_file, "acid": acid_file, "hot": hot_file}


def make() -> dict[str, str]:
    """Return every spectrum file: name in this folder, text."""
    rng = np.random.default_rng(SEED)
    fine = (STEP / FINE) * np.arange(FIRST * FINE, LAST * FINE + 1)
    files: dict[str, str] = {}
    for name, spots in BARE.items():
        piece = scattered(rng)
        for i in range(1, spots + 1):
            what = f"bare polycaprolactone gauze, specimen {name}, spot {i}"
            files[f"bare/{name}_{i}.csv"] = bare_file(what, *spot(fine, rng, piece))
    for i in range(1, NEAT_SPOTS + 1):
        gelatin = permittivity(GELATIN, fine)
        whole = reflectance(fine, gelatin, 0.0, gelatin)
        nu, ratio = measure(1 - rng.uniform(0.92, 0.99) * (1 - whole), fine, rng)
        files[f"neat/gelatin_{i}.dx"] = jcamp(
            nu,
            -np.log10(ratio),
            title=f"gelatin cast on the crystal, film {i} (invented)",
            yunits="ABSORBANCE",
            remarks=[LABEL, "ATR, diamond, 45 degrees, one reflection"],
            factor=1e-5,
        )
    pieces: dict[str, tuple[Material, float]] = {}
    for recipe in RECIPES:
        files |= coated(recipe, fine, rng, pieces)
    return files | washing_study(pieces, fine, np.random.default_rng(SEED + 1))


def washing_study(
    pieces: dict[str, tuple[Material, float]], fine: Array, rng: np.random.Generator
) -> dict[str, str]:
    """Return the files that only washing.toml names: a control, the washed pieces, an uneven recipe, a lot.

    ``pieces`` are those of the recipe from water, each with its thickness before washing.
    """
    gelatin = permittivity(GELATIN, fine)
    files: dict[str, str] = {}
    for name in ("K1", "K2", "K3"):
        what = f"gauze misted with water alone, specimen {name}"
        files[f"control/{name}_1.csv"] = bare_file(what, *spot(fine, rng, scattered(rng)))
    for name, spots in RECIPES["aqueous"].specimens.items():
        piece, before_nm = pieces[name]
        for i in range(1, spots + 1):
            left_nm = KEPT * before_nm * (1 + 0.10 * rng.normal())
            what = f"gelatin mist coat on polycaprolactone gauze, washed, specimen {name}, spot {i}"
            files[f"washed/{name}_{i}.csv"] = bare_file(what, *spot(fine, rng, piece, gelatin, left_nm))
    for name in ("P1", "P2", "P3"):
        piece = scattered(rng)
        for i in range(1, 5):
            # Every second spot under the fold of the gauze: half the coating.
            nm = PATCHY_NM * (1.0 if i % 2 else 0.5) * (1 + 0.05 * rng.normal())
            what = f"gelatin mist coat on polycaprolactone gauze, recipe patchy, specimen {name}, spot {i}"
            files[f"patchy/{name}_{i}.csv"] = bare_file(what, *spot(fine, rng, piece, gelatin, nm))
    for i in range(1, NEAT_SPOTS + 1):
        lot = permittivity(vary(GELATIN, rng, height=0.01, position=0.2), fine)
        whole = reflectance(fine, lot, 0.0, lot)
        nu, ratio = measure(1 - rng.uniform(0.92, 0.99) * (1 - whole), fine, rng)
        files[f"neat_b/gelatin_b_{i}.csv"] = bare_file(f"gelatin, second lot, film {i}", nu, ratio)
    return files


def coated(
    recipe: str, fine: Array, rng: np.random.Generator, pieces: dict[str, tuple[Material, float]]
) -> dict[str, str]:
    """Return the files of one recipe: thickness varies by 15 % between pieces, 10 % between spots.

    Each piece is entered in ``pieces`` with its thickness.
    """
    plan, files = RECIPES[recipe], {}
    for name, spots in plan.specimens.items():
        piece, mean_nm = scattered(rng), plan.thickness_nm * (1 + 0.15 * rng.normal())
        pieces[name] = (piece, mean_nm)
        for i in range(1, spots + 1):
            acid = plan.acid_share * (1 + 0.1 * rng.normal())
            film = (1 - acid) * permittivity(plan.film, fine) + acid * permittivity(ACETIC_ACID, fine)
            thickness = mean_nm * (1 + 0.10 * rng.normal())
            what = f"gelatin mist coat on polycaprolactone gauze, recipe {recipe}, specimen {name}, spot {i}"
            seen = spot(fine, rng, piece, film, thickness)
            files[f"{recipe}/{name}_{i}.txt"] = WRITERS[recipe](what, *seen)
    return files


if __name__ == "__main__":
    run(make, HERE, "Compute the invented spectra of the example gelatin on polycaprolactone.")
