import numpy as np
import pytest
import tmm
from scipy.optimize import brentq

from spectra.errors import SettingError
from spectra.optics.atr import atr_absorbance, atr_growth, bulk_response
from spectra.optics.depth import penetration_depth
from spectra.optics.fresnel import amplitudes, normal_index, transmittance
from spectra.optics.geometry import Geometry

DIAMOND = Geometry(index=2.4, angle_deg=45.0)
GERMANIUM = Geometry(index=4.0, angle_deg=45.0)


def random_stack(rng):
    layers = int(rng.integers(0, 5))
    first = [float(rng.uniform(1.0, 4.0))]
    others = [complex(rng.uniform(0.5, 3.5), rng.uniform(0.0, 1.0)) for _ in range(layers + 1)]
    thicknesses = list(10.0 ** rng.uniform(0.0, 3.7, layers))
    return first + others, thicknesses, float(rng.uniform(0.0, 1.5)), float(rng.uniform(400.0, 4000.0))


def test_two_hundred_random_stacks_agree_with_the_tmm_package():
    # PyPI package tmm: transfer matrices, an independent formulation.
    rng = np.random.default_rng(20)
    worst = 0.0
    for _ in range(200):
        indices, thicknesses, angle, nu = random_stack(rng)
        q = indices[0] * np.sin(angle)
        for polarisation in "sp":
            other = tmm.coh_tmm(polarisation, indices, [np.inf, *thicknesses, np.inf], angle, 1e7 / nu)
            r = amplitudes([nu], indices, thicknesses, q, polarisation).r[0]
            t = transmittance([nu], indices, thicknesses, q, polarisation)[0]
            worst = max(worst, abs(abs(r) ** 2 - other["R"]), abs(t - other["T"]))
    assert worst < 1e-10


@pytest.mark.parametrize(("n1", "known"), [(2.4, 0.28470327), (4.0, 0.81544593)])
def test_at_45_degrees_rp_is_rs_squared(n1, known):
    # Exact identity of a bulk isotropic sample; values at n + ik = 1.5 + 0.2i.
    q = n1 * np.sqrt(0.5)
    s, p = (abs(amplitudes([1700.0], [n1, 1.5 + 0.2j], [], q, pol).r[0]) ** 2 for pol in "sp")
    assert s**2 == pytest.approx(known, abs=6e-9)
    assert p == pytest.approx(s**2, abs=1e-12)


def test_the_identity_holds_for_any_sample():
    rng = np.random.default_rng(3)
    sample = rng.uniform(0.5, 3.0, 300) + 1j * rng.uniform(0.0, 2.0, 300)
    nu = np.full(300, 1500.0)
    for n1 in (2.4, 3.42, 4.0):
        s, p = (np.abs(amplitudes(nu, [n1, sample], [], n1 * np.sqrt(0.5), pol).r) ** 2 for pol in "sp")
        np.testing.assert_allclose(p, s**2, atol=1e-12)


# Exact absorbance over the slope of a weak absorber, 1700 cm-1, n = 1.5.
LINEARITY = {
    2.4: {0.02: 0.992, 0.05: 0.973, 0.10: 0.928, 0.20: 0.815, 0.30: 0.704, 0.50: 0.527},
    4.0: {0.02: 0.999, 0.05: 0.997, 0.10: 0.993, 0.20: 0.983, 0.30: 0.968, 0.50: 0.927},
}


@pytest.mark.parametrize("n1", [2.4, 4.0])
def test_strong_bands_are_less_than_linear(n1):
    geometry = Geometry(index=n1, angle_deg=45.0)
    weak = atr_absorbance([1700.0], [1.5 + 1e-6j], [], geometry)[0] / 1e-6
    for k, share in LINEARITY[n1].items():
        found = atr_absorbance([1700.0], [1.5 + 1j * k], [], geometry)[0]
        assert found / (weak * k) == pytest.approx(share, abs=6e-4)


# Shift of the ATR maximum of one Lorentz oscillator (n_inf 1.5) against its transmission maximum, cm-1.
STRENGTHS = (0.05, 0.1, 0.2, 0.3, 0.5, 0.8)
SHIFTS = [
    (2.4, 45.0, 1730.0, 20.0, (-1.0, -2.0, -3.8, -5.5, -8.4, -12.3)),
    (2.4, 45.0, 1650.0, 40.0, (-2.1, -4.0, -7.7, -11.0, -17.0, -24.9)),
    (2.4, 45.0, 1100.0, 60.0, (-3.3, -6.2, -11.8, -16.9, -25.9, -37.9)),
    (2.4, 60.0, 1730.0, 20.0, (-0.5, -1.1, -2.1, -3.2, -5.4, -8.9)),
    (4.0, 45.0, 1730.0, 20.0, (-0.3, -0.6, -1.2, -1.8, -2.9, -4.6)),
    (4.0, 45.0, 1650.0, 40.0, (-0.7, -1.3, -2.4, -3.6, -5.8, -9.2)),
]


def oscillator(nu, centre, width, k_peak):
    """n + ik of one Lorentz oscillator, n_inf = 1.5, as strong as makes its largest k ``k_peak``."""

    def index(strength):
        return np.sqrt(2.25 + strength * centre * width / (centre**2 - nu**2 - 1j * width * nu))

    return index(brentq(lambda strength: index(strength).imag.max() - k_peak, 1e-3, 10.0))


@pytest.mark.parametrize(("n1", "angle", "centre", "width", "shifts"), SHIFTS)
def test_dispersion_moves_strong_bands_to_the_red(n1, angle, centre, width, shifts):
    nu = np.arange(centre - 150.0, centre + 150.0, 0.02)
    for k, shift in zip(STRENGTHS, shifts, strict=True):
        index = oscillator(nu, centre, width, k)
        atr = nu[np.argmax(atr_absorbance(nu, [index], [], Geometry(index=n1, angle_deg=angle)))]
        assert atr - nu[np.argmax(nu * index.imag)] == pytest.approx(shift, abs=0.071)


FILM_SIGNALS = [
    # n1, k, absorbance per nm on a polymer of the same index at 1730 cm-1
    (2.4, 0.05, 2.05e-4), (2.4, 0.10, 4.09e-4), (2.4, 0.30, 1.18e-3),
    (4.0, 0.05, 8.7e-5), (4.0, 0.10, 1.74e-4), (4.0, 0.30, 5.1e-4),
]  # fmt: skip


@pytest.mark.parametrize(("n1", "k", "signal"), FILM_SIGNALS)
def test_signal_of_a_thin_film(n1, k, signal):
    geometry = Geometry(index=n1, angle_deg=45.0)
    assert atr_growth([1730.0], [1.5 + 1j * k, 1.5], [0.0], geometry)[0] == pytest.approx(signal, rel=0.01)


@pytest.mark.parametrize(("n1", "signal"), [(2.4, 6.1e-4), (4.0, 3.4e-4)])
def test_a_film_in_air_signals_half_as_much(n1, signal):
    geometry = Geometry(index=n1, angle_deg=45.0)
    assert atr_growth([1730.0], [1.5 + 0.3j, 1.0], [0.0], geometry)[0] == pytest.approx(signal, rel=0.01)


@pytest.mark.parametrize(("geometry", "tolerance"), [(DIAMOND, 0.06), (GERMANIUM, 0.03)])
def test_film_growth_is_about_exponential(geometry, tolerance):
    # A(d) = A'(0) dp/2 (1 - exp(-2 d / dp)): within 6 % to 500 nm on diamond at k = 0.3, 3 % on germanium.
    nu, d = [1730.0], np.array([[20.0], [100.0], [200.0], [500.0]])
    dp = 1e3 * penetration_depth(nu, geometry.index, 45.0, 1.5)
    film = atr_absorbance(nu, [1.5 + 0.3j, 1.5], [d], geometry)
    start = atr_growth(nu, [1.5 + 0.3j, 1.5], [0.0], geometry)
    np.testing.assert_allclose(film, start * dp / 2.0 * (1.0 - np.exp(-2.0 * d / dp)), rtol=tolerance)


def test_a_thick_strong_film_falls_behind_the_exponential():
    # On diamond at 1 um the exponential is already more than a tenth too high: strong bands saturate.
    dp = 1e3 * penetration_depth([1730.0], 2.4, 45.0, 1.5)[0]
    film = atr_absorbance([1730.0], [1.5 + 0.3j, 1.5], [1000.0], DIAMOND)[0]
    start = atr_growth([1730.0], [1.5 + 0.3j, 1.5], [0.0], DIAMOND)[0]
    assert start * dp / 2.0 * (1.0 - np.exp(-2000.0 / dp)) > 1.1 * film


# Exact A/A0 of a substrate band (k 0.05) under a transparent film of the same index; A/A0 = exp(-2d/dp)
# then recovers d within 1 %.
ATTENUATION = [
    (10.0, (0.9902, 0.9857, 0.9716, 0.9571, 0.9160)),
    (50.0, (0.9519, 0.9305, 0.8658, 0.8031, 0.6448)),
    (100.0, (0.9060, 0.8658, 0.7494, 0.6448, 0.4155)),
    (200.0, (0.8208, 0.7494, 0.5613, 0.4155, 0.1725)),
    (500.0, (0.6100, 0.4857, 0.2352, 0.1111, 0.0123)),
]
PLACES = ((2.4, 1000.0), (2.4, 1460.0), (2.4, 2920.0), (4.0, 1460.0), (4.0, 2920.0))


def test_a_film_dims_the_substrate():
    for d, shares in ATTENUATION:
        for (n1, nu), share in zip(PLACES, shares, strict=True):
            geometry = Geometry(index=n1, angle_deg=45.0)
            bare = atr_absorbance([nu], [1.5 + 0.05j], [], geometry)[0]
            coated = atr_absorbance([nu], [1.5, 1.5 + 0.05j], [d], geometry)[0]
            assert coated / bare == pytest.approx(share, abs=6e-5)
            dp = 1e3 * penetration_depth([nu], n1, 45.0, 1.5)[0]
            assert -0.5 * dp * np.log(coated / bare) == pytest.approx(d, rel=0.011)


# Polymer (1.5 + 0.1i) behind an air gap: A/A0 at 1000, 1700, 2900 cm-1.
GAPS = [
    (2.4, 20.0, (0.943, 0.906, 0.846)),
    (2.4, 50.0, (0.866, 0.784, 0.666)),
    (2.4, 100.0, (0.753, 0.624, 0.464)),
    (2.4, 200.0, (0.578, 0.413, 0.247)),
    (4.0, 20.0, (0.884, 0.814, 0.712)),
    (4.0, 50.0, (0.744, 0.618, 0.463)),
    (4.0, 100.0, (0.573, 0.413, 0.251)),
    (4.0, 200.0, (0.363, 0.207, 0.086)),
]


@pytest.mark.parametrize(("n1", "gap", "shares"), GAPS)
def test_an_air_gap_dims_the_sample(n1, gap, shares):
    nu, geometry = np.array([1000.0, 1700.0, 2900.0]), Geometry(index=n1, angle_deg=45.0)
    pressed = atr_absorbance(nu, [1.5 + 0.1j], [], geometry)
    lifted = atr_absorbance(nu, [1.0, 1.5 + 0.1j], [gap], geometry)
    np.testing.assert_allclose(lifted / pressed, shares, atol=6e-4)


@pytest.mark.parametrize("layer", [0, 1, 2])
def test_growth_with_any_layer_is_the_derivative(layer):
    rng = np.random.default_rng(5)
    nu = np.linspace(700.0, 3900.0, 40)
    layers = [rng.uniform(1.3, 1.8) + 1j * rng.uniform(0.0, 0.4, 40) for _ in range(4)]
    geometry = Geometry(index=2.4, angle_deg=50.0, reflections=3, s_share=0.3, spread_deg=2.0)
    at, step = [80.0, 300.0, 40.0], 1e-3
    below, above = list(at), list(at)
    below[layer] -= step
    above[layer] += step
    slope = atr_absorbance(nu, layers, above, geometry, 0.8) - atr_absorbance(
        nu, layers, below, geometry, 0.8
    )
    np.testing.assert_allclose(
        atr_growth(nu, layers, at, geometry, 0.8, layer=layer), slope / (2 * step), rtol=1e-5, atol=1e-10
    )


def test_slopes_of_a_bulk_sample_are_the_derivatives():
    rng = np.random.default_rng(6)
    nu = np.linspace(700.0, 3900.0, 60)
    index = rng.uniform(1.3, 1.8, 60) + 1j * rng.uniform(0.01, 0.6, 60)
    geometry = Geometry(index=2.4, angle_deg=45.0, reflections=2, s_share=0.4)
    absorbance, slopes = bulk_response(nu, index, geometry, 0.7)
    np.testing.assert_allclose(absorbance, atr_absorbance(nu, [index], [], geometry, 0.7), rtol=1e-12)
    step = 1e-6
    for direction, found in ((1.0, slopes.real), (1j, -slopes.imag)):
        ahead, _ = bulk_response(nu, index + direction * step, geometry, 0.7)
        behind, _ = bulk_response(nu, index - direction * step, geometry, 0.7)
        np.testing.assert_allclose(found, (ahead - behind) / (2 * step), rtol=1e-5, atol=1e-8)


def test_thicknesses_broadcast():
    nu = np.linspace(700.0, 3900.0, 30)
    together = atr_absorbance(nu, [1.5 + 0.1j, 1.6 + 0.01j], [np.array([[10.0], [500.0]])], DIAMOND, 0.9)
    apart = [atr_absorbance(nu, [1.5 + 0.1j, 1.6 + 0.01j], [d], DIAMOND, 0.9) for d in (10.0, 500.0)]
    np.testing.assert_allclose(together, apart, rtol=1e-13)


def test_a_little_gain_from_noise_stays_smooth():
    # k slightly below zero must not jump to the growing wave.
    index = 1.5 + 1j * np.array([-1e-6, 0.0, 1e-6])
    for q in (1.2, 1.7):
        assert np.ptp(normal_index(index, q).imag) < 1e-5
        assert np.ptp(normal_index(index, q).real) < 1e-5


def test_wrong_calls_are_refused():
    with pytest.raises(SettingError, match=r"2 indices for 1 layers; expected two more"):
        amplitudes([1000.0], [2.4, 1.5], [10.0], 1.7, "s")
    with pytest.raises(SettingError, match=r"unknown polarisation 'x'; expected s or p"):
        amplitudes([1000.0], [2.4, 1.5], [], 1.7, "x")
