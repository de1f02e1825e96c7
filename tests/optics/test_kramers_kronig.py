import numpy as np
import pytest
from scipy.special import dawsn

from spectra.errors import SpectraError
from spectra.optics.kramers_kronig import dispersion
from tests.dispersion import kramers_kronig
from tests.published_index import page


@pytest.mark.parametrize("name", ["polystyrene__Myers", "toluene__Myers"])
def test_published_index_follows_from_published_absorption(name):
    # Myers et al., Appl. Spectrosc. 72, 535 (2018). The anchor is the page's own index at its upper end.
    # Twenty cm-1 at each end are left out: the page's n runs away logarithmically at 400 cm-1, where its
    # k was cut off.
    nu, n, k = page(name)
    found = kramers_kronig(nu, k, anchor=(nu[-1], n[-1]))
    inside = (nu > nu[0] + 20.0) & (nu < nu[-1] - 20.0)
    assert np.sqrt(np.mean((found - n)[inside] ** 2)) < 0.002


def test_another_laboratory_too():
    # PMMA, Tsuda et al., Opt. Express 26, 6899 (2018): an analytic oscillator model, whole range.
    nu, n, k = page("poly_methyl_methacrylate__Tsuda-BB")
    found = kramers_kronig(nu, k, anchor=(nu[-1], n[-1]))
    assert np.sqrt(np.mean((found - n) ** 2)) < 5e-4


def lorentz(nu):
    """Exact eps = 2.25 + one oscillator, and its complex index."""
    return np.sqrt(2.25 + 0.06 * 1700.0**2 / (1700.0**2 - nu**2 - 40j * nu) / 10.0)


def test_a_lorentz_oscillator_is_reproduced():
    nu = np.arange(300.0, 6000.0, 1.0)
    index = lorentz(nu)
    found = kramers_kronig(nu, index.imag, n_inf=1.5)
    np.testing.assert_allclose(found, index.real, atol=3e-4)


def test_a_gaussian_band_gives_dawson_s_integral():
    # Hilbert transform of exp(-x^2) is 2/sqrt(pi) times Dawson's integral (Abramowitz, Stegun, chapter 7).
    nu = np.arange(20.0, 8000.0, 1.0)
    width = 30.0
    k = 0.2 * np.exp(-(((nu - 2000.0) / width) ** 2))
    rise = dispersion(nu)(k)
    near = 0.2 * 2.0 / np.sqrt(np.pi) * dawsn((2000.0 - nu) / width)
    far = 0.2 * width * np.sqrt(np.pi) / (np.pi * (2000.0 + nu))  # the mirror band, as a point
    np.testing.assert_allclose(rise, near + far, atol=2e-4)


def test_even_and_uneven_grids_agree():
    nu = np.linspace(450.0, 3900.0, 1800)
    k = 0.1 / (1.0 + ((nu - 1700.0) / 15.0) ** 2) + 0.02
    taper = 60.0 * float(nu[1] - nu[0])
    even = kramers_kronig(nu, k, n_inf=1.5, taper=taper)
    # One point moved by a tenth of a step makes the grid uneven and hardly changes the curve. What is left is
    # the difference between a band-limited curve and straight lines at 16 points over the band.
    nudged = nu.copy()
    nudged[5] += 0.1 * (nu[1] - nu[0])
    uneven = kramers_kronig(
        nudged, 0.1 / (1.0 + ((nudged - 1700.0) / 15.0) ** 2) + 0.02, n_inf=1.5, taper=taper
    )
    np.testing.assert_allclose(even, uneven, atol=3e-4)


def test_an_anchor_is_met():
    nu = np.arange(400.0, 4000.0, 2.0)
    k = 0.1 / (1.0 + ((nu - 1700.0) / 15.0) ** 2)
    found = kramers_kronig(nu, k, anchor=(3000.0, 1.47))
    assert np.interp(3000.0, nu, found) == pytest.approx(1.47, abs=1e-12)


def test_many_spectra_at_once():
    nu = np.arange(400.0, 4000.0, 2.0)
    k = np.random.default_rng(1).uniform(0.0, 0.3, (3, nu.size))
    operator = dispersion(nu)
    np.testing.assert_allclose(operator(k), [operator(row) for row in k], rtol=0, atol=1e-14)


def test_wrong_calls_are_refused():
    nu = np.array([400.0, 500.0, 700.0])
    with pytest.raises(SpectraError, match=r"found an uneven grid"):
        dispersion(nu)
