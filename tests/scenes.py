"""Invented spectra with known truth: films on substrates seen by attenuated total reflection.

A generator of its own: it imports nothing of ``spectra``. Materials are sums of Gauss-Lorentz oscillators
(real and imaginary part from the Faddeeva function, so that they obey Kramers-Kronig exactly), or measured
optical constants (CC0, see tests/data/optical_constants/SOURCES.md). Every spot is computed by exact Fresnel
formulas for crystal | film | substrate, mean of s and p, and then disturbed: contact, band-to-band scatter,
composition, moisture, drift, vapour, wavenumber jitter, detector noise.

Band positions are rounded from what handbooks agree on; strengths are of the right order only. Nothing here
is a measurement of a named product.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.special import wofz

from tests.places import DATA, ROOT

GRID = np.arange(400.0, 4000.0, 2.0)
USABLE = ~(((GRID > 1900) & (GRID < 2700)) | (GRID > 3550))
CRYSTAL, ANGLE = 2.4, np.radians(45.0)

# Position, full width and greatest absorption index of each band.
MATERIALS = {
    "protein": """3290 150 .18, 3070 60 .03, 2960 60 .04, 1650 50 .30, 1540 50 .20, 1450 40 .06, 1400
        40 .05, 1240 50 .06, 1080 60 .03""",
    "polylactide": """2995 20 .02, 2945 20 .015, 1750 22 .32, 1452 18 .07, 1382 16 .06, 1360 14 .05, 1265
        22 .06, 1180 30 .22, 1128 20 .13, 1083 24 .28, 1043 20 .16, 955 18 .04, 870 16 .05,
        755 16 .03""",
    "polycaprolactone": """2944 24 .10, 2865 20 .07, 1724 22 .30, 1470 16 .04, 1417 14 .03, 1396 14 .03, 1366
        14 .04, 1293 16 .10, 1240 20 .12, 1172 28 .20, 1107 16 .05, 1047 16 .06, 961 14 .05,
        732 14 .05""",
    "cellulose": """3330 250 .15, 2900 60 .04, 1430 30 .05, 1370 25 .05, 1315 20 .05, 1160 25 .12, 1105
        30 .20, 1055 35 .30, 1030 35 .32, 985 30 .15, 898 18 .04, 660 80 .10""",
    "polysaccharide": """3360 300 .13, 2880 80 .04, 1650 50 .09, 1590 50 .09, 1420 30 .05, 1378 25 .07, 1320
        30 .04, 1150 25 .10, 1065 50 .25, 1028 40 .25, 895 20 .05""",
    "polyether": """2880 50 .12, 1467 16 .05, 1342 14 .07, 1280 16 .05, 1240 16 .05, 1145 20 .14, 1100
        22 .35, 1060 20 .10, 960 16 .12, 842 16 .12""",
    "terephthalate": """2965 30 .015, 1715 22 .45, 1408 10 .07, 1340 18 .10, 1245 35 .40, 1100 35 .30, 1018
        10 .12, 970 14 .06, 872 12 .07, 725 14 .35""",
    "polyolefin": """2918 20 .30, 2850 16 .22, 1462 16 .06, 1377 12 .03, 1165 20 .01, 973 12 .015, 720 10
        .04""",
    "lignin": """3400 300 .08, 2935 80 .05, 1705 40 .03, 1595 40 .08, 1510 16 .10, 1460 20 .07, 1422
        20 .06, 1268 30 .10, 1220 40 .10, 1125 30 .10, 1032 25 .09, 855 20 .03""",
    "water": "3400 350 .28, 1640 80 .12, 650 250 .25",
    "acetic acid": "3000 500 .10, 1760 30 .08, 1710 35 .30, 1410 35 .12, 1290 45 .16, 935 60 .10",
}  # fmt: skip
MEASURED = {
    "PMMA": "poly_methyl_methacrylate__Zhang-Tomson",
    "PC": "polycarbonate__Zhang",
    "PDMS": "polydimethylsiloxane__Zhang-10-1",
    "SiO2": "SiO2__Kischkat",
    "PS": "polystyrene__Myers",
    "PET": "polyethylene_terephthalate__Zhang",
    "PE": "polyethylene__David",
}
BACKGROUND = 1.5**2  # dielectric constant far from every band
MOISTURE = 0.004  # greatest share of water in a substrate; differs between spots

PAIRS = {
    "protein on polylactide": ("protein", ("polylactide",)),
    "polysaccharide on polycaprolactone": ("polysaccharide", ("polycaprolactone",)),
    "polysaccharide on cellulose": ("polysaccharide", ("cellulose",)),
    "polyether on terephthalate": ("polyether", ("terephthalate",)),
    "lignin on polyolefin": ("lignin", ("polyolefin",)),
    "protein on polylactide + polycaprolactone": ("protein", ("polylactide", "polycaprolactone")),
    "polyether on cellulose + terephthalate": ("polyether", ("cellulose", "terephthalate")),
}
REAL_PAIRS = {
    "PMMA on PS": ("PMMA", ("PS",)),
    "PC on PE": ("PC", ("PE",)),
    "PDMS on PET": ("PDMS", ("PET",)),
    "SiO2 on PS": ("SiO2", ("PS",)),
}
# A coating that shares bands with the expected one, and is not it.
WRONG = {
    "protein": "polyether",
    "polysaccharide": "polyether",
    "polyether": "polysaccharide",
    "lignin": "protein",
}


@cache
def bands_of(material: str) -> np.ndarray:
    """Complex dielectric contribution of every band, shape (bands, points)."""
    if material in MEASURED:
        return _pieces(index_of(material) ** 2 - BACKGROUND)
    rows = [entry.split() for entry in MATERIALS[material].split(",")]
    return np.array([oscillator(*(float(v) for v in row)) for row in rows])


def _pieces(eps: np.ndarray) -> np.ndarray:
    """Cut measured constants into stretches of 60 cm-1, each with its own Kramers-Kronig real part.

    The last piece is what the stretches do not explain of the real part (absorption outside the grid).
    """
    knots = np.arange(GRID[0], GRID[-1] + 60.0, 60.0)
    windows = np.maximum(0.0, 1.0 - np.abs(GRID - knots[:, None]) / 60.0)
    imaginary = windows * eps.imag
    pieces = kramers_kronig(imaginary) + 1j * imaginary
    return np.vstack([pieces, eps - pieces.sum(axis=0)])


def kramers_kronig(imaginary: np.ndarray) -> np.ndarray:
    """Real part that belongs to each row of Im eps, shape (rows, points).

    Maclaurin's rule: K. Ohta and H. Ishida, Appl. Spectrosc. 42, 952 (1988).
    """
    return np.asarray(imaginary @ _maclaurin().T * (4.0 * (GRID[1] - GRID[0]) / np.pi))


@cache
def _maclaurin() -> np.ndarray:
    """Weights of the odd neighbours of every point, shape (points, points)."""
    odd = (np.arange(GRID.size)[:, None] - np.arange(GRID.size)) % 2 == 1
    return np.asarray(np.divide(GRID, GRID**2 - GRID[:, None] ** 2, where=odd, out=np.zeros(odd.shape)))


def oscillator(position: float, width: float, index: float) -> np.ndarray:
    """Dielectric function of one band: two thirds of its width Gaussian, the rest Lorentzian."""
    sigma, gamma = 0.67 * width / 2.3548, 0.33 * width / 2.0

    def response(at: float) -> np.ndarray:
        return wofz((GRID - at + 1j * gamma) / (np.sqrt(2.0) * sigma))

    centre = wofz(1j * gamma / (np.sqrt(2.0) * sigma)).real
    # Im eps = 2 n k at the band; the second term makes eps(-nu) the conjugate of eps(nu).
    return 1j * 2.0 * 1.5 * index / centre * (response(position) - response(-position))


@cache
def index_of(material: str) -> np.ndarray:
    """Complex refractive index of a measured material or a page of constants, on the grid; ends are held."""
    page = MEASURED.get(material, material)
    table = np.genfromtxt(DATA / "optical_constants" / f"{page}.csv", delimiter=",", skip_header=1)
    table = table[np.isfinite(table).all(axis=1)]
    table = table[np.argsort(table[:, 0])]
    n, k = (np.interp(GRID, table[:, 0], table[:, i]) for i in (1, 2))
    return n + 1j * np.maximum(k, 0.0)


def reflection_absorbance(
    substrate: np.ndarray, film: np.ndarray | None = None, nm: float = 0.0, contact: float = 1.0
) -> np.ndarray:
    """ATR absorbance of crystal | film | substrate from dielectric functions, shape (points,).

    Fresnel coefficients with normal components of the wave vector; mean of s and p at one reflection. The
    crystal touches the share ``contact`` of the spot, the rest reflects totally.
    """
    sine = CRYSTAL * np.sin(ANGLE)
    crystal_z = CRYSTAL * np.cos(ANGLE)
    substrate_z = _normal(substrate, sine)
    total = np.zeros(GRID.size)
    for p_wave in (False, True):
        if film is None or nm == 0.0:
            r = _step(CRYSTAL**2, crystal_z, substrate, substrate_z, p_wave)
        else:
            film_z = _normal(film, sine)
            phase = np.exp(2j * 2.0 * np.pi * GRID * 1e-7 * nm * film_z)
            front = _step(CRYSTAL**2, crystal_z, film, film_z, p_wave)
            back = _step(film, film_z, substrate, substrate_z, p_wave)
            r = (front + back * phase) / (1.0 + front * back * phase)
        total += 0.5 * np.abs(r) ** 2
    return -np.log10(1.0 - contact * (1.0 - total))


def _normal(eps: np.ndarray, sine: float) -> np.ndarray:
    """Normal component of the wave vector over the vacuum one; decaying into the medium."""
    root = np.sqrt(eps - sine**2 + 0j)
    return np.where(root.imag < 0, -root, root)


def _step(eps_a, z_a, eps_b, z_b, p_wave: bool) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Fresnel coefficient of the step from a to b."""
    if p_wave:
        return (eps_b * z_a - eps_a * z_b) / (eps_b * z_a + eps_a * z_b)
    return (z_a - z_b) / (z_a + z_b)


@dataclass(frozen=True)
class Scene:
    """One way of measuring one pair; every disturbance has its size.

    ``scatter`` is per band, ``composition`` the relative scatter of the first component's share, ``jitter``
    in cm-1 at 1000 cm-1, ``vapour`` and ``drift`` in absorbance, ``contact`` the relative scatter,
    ``moisture`` the greatest share of water. ``strengths`` are those of every substrate band, material by
    material, of one specimen; none for all one.
    """

    coating: str
    substrate: tuple[str, ...]
    scatter: float = 0.03
    composition: float = 0.15
    noise: float = 2e-4
    jitter: float = 0.02
    vapour: float = 5e-4
    drift: float = 5e-4
    contact: float = 0.05
    touch: float = 0.8
    share: float = 0.5
    moisture: float = MOISTURE
    strengths: tuple[tuple[float, ...], ...] = ()


@cache
def vapour_shape() -> np.ndarray:
    """Water vapour at 4 cm-1 with a triangular line, greatest value one."""
    file = ROOT / "spectra" / "data" / "water_vapour_lines.csv"
    lines = np.genfromtxt(file, delimiter=",", skip_header=2)
    curve = np.zeros(GRID.size)
    for position, strength in lines[lines[:, 1] > 1e-22]:
        near = np.abs(GRID - position) < 4.0
        curve[near] += strength * (1.0 - np.abs(GRID[near] - position) / 4.0)
    return curve / curve.max()


def mean_substrate(scene: Scene) -> np.ndarray:
    """Dielectric function of the substrate without any scatter."""
    shares = [scene.share, 1.0 - scene.share] if len(scene.substrate) == 2 else [1.0]
    parts = [s * bands_of(m).sum(axis=0) for s, m in zip(shares, scene.substrate, strict=True)]
    return BACKGROUND + sum(parts) + 0.5 * MOISTURE * bands_of("water").sum(axis=0)


def film_of(coating: str) -> np.ndarray:
    """Dielectric function of the coating."""
    if coating not in MATERIALS:
        return index_of(coating) ** 2
    return BACKGROUND + bands_of(coating).sum(axis=0)


def film_response(scene: Scene, nm: float) -> np.ndarray:
    """Change of absorbance by a film of the coating on the mean substrate, at the mean contact."""
    substrate = mean_substrate(scene)
    coated = reflection_absorbance(substrate, film_of(scene.coating), nm, scene.touch)
    return coated - reflection_absorbance(substrate, contact=scene.touch)


def spots(
    scene: Scene,
    rng: np.random.Generator,
    count: int,
    nm: float = 0.0,
    coating: str | None = None,
    bare_share: float = 0.0,
    moved: float = 0.0,
    film: np.ndarray | None = None,
) -> np.ndarray:
    """Measure ``count`` spots with a film of ``nm`` on each, shape (count, points).

    ``coating`` puts another material on than the scene's, ``film`` any dielectric function; ``bare_share``
    leaves that share of every spot uncoated; ``moved`` shifts every band of the film, cm-1.
    """
    film = film_of(coating or scene.coating) if film is None else film
    if moved:
        film = np.interp(GRID - moved, GRID, film.real) + 1j * np.interp(GRID - moved, GRID, film.imag)
    rows = [_spot(scene, rng, film, nm, bare_share) for _ in range(count)]
    return np.array(rows)


def specimen_of(scene: Scene, rng: np.random.Generator, between: float = 0.5) -> Scene:
    """Draw one specimen: the share ``between`` of every variance lies between specimens, the rest within."""
    own, rest = np.sqrt(between), np.sqrt(1.0 - between)
    strengths = [1.0 + own * scene.scatter * rng.normal(size=len(bands_of(m))) for m in scene.substrate]
    share = scene.share * (1.0 + own * scene.composition * rng.normal())
    return replace(
        scene,
        strengths=tuple(tuple(row) for row in strengths),
        touch=scene.touch * np.exp(own * scene.contact * rng.normal()),
        share=float(np.clip(share, 0.05, 0.95)),
        scatter=rest * scene.scatter,
        contact=rest * scene.contact,
        composition=rest * scene.composition,
    )


def neat_spots(scene: Scene, rng: np.random.Generator, count: int = 3, contact: float = 0.95) -> np.ndarray:
    """Bulk coating pressed on the crystal, shape (count, points)."""
    bulk = reflection_absorbance(film_of(scene.coating), contact=contact)
    spread = 1.0 + 0.01 * rng.normal(size=(count, 1))
    return bulk * spread + scene.noise * rng.normal(size=(count, GRID.size))


def _spot(
    scene: Scene, rng: np.random.Generator, film: np.ndarray, nm: float, bare_share: float
) -> np.ndarray:
    """One spot with all its disturbances."""
    substrate = substrate_spot(scene, rng)
    touch = min(1.0, scene.touch * np.exp(scene.contact * rng.normal()))
    absorbance = reflection_absorbance(substrate, film, nm, touch)
    if bare_share:
        open_spot = reflection_absorbance(substrate, contact=touch)
        absorbance = -np.log10((1 - bare_share) * 10.0**-absorbance + bare_share * 10.0**-open_spot)
    stretched = GRID * (1.0 + scene.jitter * rng.normal() / 1000.0)
    absorbance = np.interp(GRID, stretched, absorbance)
    absorbance = absorbance + scene.vapour * rng.normal() * vapour_shape() + _drift(scene, rng)
    return absorbance + scene.noise * _detector() * rng.normal(size=GRID.size)


def substrate_spot(scene: Scene, rng: np.random.Generator) -> np.ndarray:
    """Substrate of one spot: composition, every band's strength, moisture."""
    eps = BACKGROUND + scene.moisture * rng.random() * bands_of("water").sum(axis=0)
    shares = [1.0]
    if len(scene.substrate) == 2:
        first = float(np.clip(scene.share * (1.0 + scene.composition * rng.normal()), 0.05, 0.95))
        shares = [first, 1.0 - first]
    own = scene.strengths or (1.0,) * len(shares)
    for share, material, strength in zip(shares, scene.substrate, own, strict=True):
        bands = bands_of(material)
        heights = strength + scene.scatter * rng.normal(size=len(bands))
        if material in MEASURED:
            heights[-1] = 1.0  # the background is no band
        eps = eps + share * heights @ bands
    return eps


def _drift(scene: Scene, rng: np.random.Generator) -> np.ndarray:
    """Slow baseline: offset, slope and a wave."""
    u = (GRID - 2200.0) / 1800.0
    wave = np.sin(2.0 * np.pi * (u * rng.uniform(0.3, 1.2) + rng.random()))
    return scene.drift * (rng.normal() + rng.normal() * u + rng.normal() * wave)


def _detector() -> np.ndarray:
    """Relative noise: higher towards both ends of the range."""
    return 1.0 + 2.0 * np.exp(-(GRID - 400.0) / 150.0) + 0.5 * np.exp((GRID - 4000.0) / 400.0)


def known_error(scene: Scene, rng: np.random.Generator, draws: int = 600) -> float:
    """Smallest standard error of the thickness in one spot, nm, if the scatter of bare spots were known.

    Generalised least squares with the true covariance (Gauss-Markov): the disturbances' covariance from
    noiseless draws, which span few directions, and the detector's noise. Usable points only.
    """
    quiet = replace(scene, noise=0.0)
    rows = spots(quiet, rng, draws)[:, USABLE]
    deviations = (rows - rows.mean(axis=0)) / np.sqrt(draws - 1.0)
    noise = scene.noise * _detector()[USABLE]
    shape = film_response(scene, 1.0)[USABLE] / noise
    scaled = deviations / noise
    inner = np.linalg.solve(np.eye(draws) + scaled @ scaled.T, scaled @ shape)
    return float(1.0 / np.sqrt(shape @ shape - (scaled @ shape) @ inner))
