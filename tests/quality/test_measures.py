"""Measures of one spectrum against known truth: noise, zero filling, gases, fringes."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.quality.measures import measure_quality
from spectra.reading import read
from spectra.reading.units.evidence import weigh
from spectra.spectrum import Origin, Spectrum
from tests.places import DATA, ROOT

DISK = DATA / "reading" / "jcamp"
LINES = ROOT / "spectra" / "data" / "water_vapour_lines.csv"
X = np.arange(400.0, 4000.0, 1.0)


def bands(x: np.ndarray = X) -> np.ndarray:
    """An invented film: seven bands 12 to 120 cm-1 wide."""
    centres = [
        (720, 12, 0.1),
        (1100, 30, 0.3),
        (1240, 25, 0.2),
        (1450, 15, 0.1),
        (1730, 20, 0.4),
        (2900, 60, 0.1),
    ]
    shape = sum(h * np.exp(-4 * np.log(2) * ((x - c) / w) ** 2) for c, w, h in centres)
    return 0.02 + shape + 0.05 * np.exp(-(((x - 3300) / 120) ** 2))


def spectrum(y: np.ndarray, x: np.ndarray = X) -> Spectrum:
    return Spectrum(x, y, Origin("film.csv"))


def noise(level: float, size: int = X.size, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, level, size)


@pytest.mark.parametrize("level", [1e-5, 1e-4, 1e-3])
def test_noise_level(level):
    quality = measure_quality(spectrum(bands() + noise(level)))
    assert quality.typical_noise == pytest.approx(level, rel=0.25)
    for low, _, found in quality.noise:
        if low >= 1900:  # elsewhere narrow bands add to it
            assert found == pytest.approx(level, rel=0.3)


def test_noise_by_region():
    rising = 1e-4 * np.where(X < 700, 20.0, 1.0)
    quality = measure_quality(spectrum(bands() + noise(1.0) * rising))
    levels = {low: level for low, _, level in quality.noise}
    assert levels[400.0] == pytest.approx(2e-3, rel=0.3)
    assert levels[2450.0] == pytest.approx(1e-4, rel=0.3)


def zero_filled(factor: int, level: float = 1e-4) -> Spectrum:
    """A spectrum every 2 cm-1, interpolated to 2 / factor by zero filling its Fourier transform."""
    coarse = X[::2]
    values = bands(coarse) + noise(level, coarse.size)
    ramp = np.interp(coarse, coarse[[0, -1]], values[[0, -1]])
    transform = np.fft.rfft(values - ramp)
    size = coarse.size * factor
    fine = np.fft.irfft(np.pad(transform, (0, size // 2 + 1 - transform.size)), size)
    x = coarse[0] + np.arange(size) * 2.0 / factor
    y = fine * factor + np.interp(x, coarse[[0, -1]], values[[0, -1]])
    return spectrum(y[: -2 * factor], x[: -2 * factor])


@pytest.mark.parametrize("factor", [1, 2, 4, 8])
def test_zero_filling_and_resolution(factor):
    quality = measure_quality(zero_filled(factor))
    assert quality.zero_filling == factor
    assert quality.resolution == pytest.approx(4.0, rel=0.01)
    assert quality.typical_noise == pytest.approx(1e-4, rel=0.35)


@pytest.mark.parametrize("name", ["fixinc1", "jtpolys", "pacdec1", "fixdec1"])
def test_smooth_bands_are_not_taken_for_zero_filling(name):
    (found,) = read(DISK / f"{name}.jdx")
    assert measure_quality(found).zero_filling == 1


def vapour(strength: float, resolution: float = 4.0) -> np.ndarray:
    """Water vapour from the HITRAN 2012 list, broadened here a second time: strongest line ``strength``."""
    table = np.loadtxt(LINES, delimiter=",", skiprows=2)
    sigma = resolution / 2.3548
    curve = np.zeros_like(X)
    for position, intensity in table[table[:, 1] > 1e-22][:, :2]:
        curve += intensity * np.exp(-0.5 * ((X - position) / sigma) ** 2)
    return strength * curve / curve.max()


def carbon_dioxide(strength: float, resolution: float = 2.0) -> np.ndarray:
    """The stretching band as a rigid rotor (Herzberg 1945: 2349.1 cm-1, B = 0.39), scaled to ``strength``."""
    curve = np.zeros_like(X)
    for j in range(0, 70, 2):
        population = (2 * j + 1) * np.exp(-0.39 * j * (j + 1) / (0.695 * 296))
        for position in (2349.1 + 0.78 * (j + 1), 2349.1 - 0.78 * j):
            curve += population * np.exp(-0.5 * ((X - position) / (resolution / 2.3548)) ** 2)
    return strength * curve / curve.max()


@pytest.mark.parametrize("strength", [0.02, -0.01, 0.003])
@pytest.mark.parametrize("gas", ["vapour", "carbon_dioxide"])
def test_strength_of_gases(gas, strength):
    shape = vapour(strength, 2.0) if gas == "vapour" else carbon_dioxide(strength)
    found = getattr(measure_quality(spectrum(bands() + shape + noise(2e-5))), gas)
    assert found is not None
    assert found.strength == pytest.approx(strength, rel=0.1)
    assert abs(found.certainty) > 6


def test_no_vapour_where_there_is_none():
    quality = measure_quality(spectrum(bands() + noise(1e-4)))
    assert quality.vapour is not None
    assert quality.carbon_dioxide is not None
    assert abs(quality.vapour.strength) < 2e-3
    assert abs(quality.carbon_dioxide.strength) < 5e-4


@pytest.mark.parametrize("period", [17.0, 41.7, 133.0])
def test_fringes(period):
    y = bands() + 0.004 * np.cos(2 * np.pi * X / period) + noise(1e-4)
    found = measure_quality(spectrum(y)).fringes
    assert found is not None
    assert found.period == pytest.approx(period, rel=0.02)
    assert found.amplitude == pytest.approx(0.004, rel=0.1)
    # d n = N / (2 dnu): 5 fringes in 1000 cm-1 are 16.7 um at n = 1.5 (textbook formula)
    assert found.optical_thickness_um == pytest.approx(1e4 / (2 * period), rel=0.02)


def test_a_short_range_gives_no_measure():
    x = np.arange(900.0, 1100.0, 2.0)
    quality = measure_quality(spectrum(bands(x), x))
    assert quality.vapour is None
    assert quality.carbon_dioxide is None
    assert quality.fringes is None


@pytest.mark.parametrize("path", sorted(DISK.glob("[!o]*.jdx")), ids=lambda path: path.stem)
def test_bands_of_real_spectra_point_the_right_way(path):
    # Twelve public files, 16 spectra: as absorbance up, as transmittance down
    for found in read(path):
        x = found.wavenumbers
        assert weigh(x, found.absorbance).looks["absorbance"].upward > 0.4
        scores = weigh(x, 10**-found.absorbance).scores
        assert max(scores, key=scores.get) == "transmittance"


def test_what_has_no_bands_points_nowhere():
    x = np.arange(400.0, 4000.0, 10.0)
    assert weigh(x, np.full(x.size, 0.3)).looks["absorbance"].upward == 0.0
    assert weigh(x, np.full(x.size, np.nan)) is None
    assert abs(weigh(x, np.linspace(0, 1, x.size)).looks["absorbance"].upward) < 0.4
