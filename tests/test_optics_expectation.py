import numpy as np
import pytest
from scipy.signal import find_peaks, peak_widths

from spectra.optics.expectation import expected
from spectra.optics.film import film_spectra
from spectra.optics.following import follow
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr
from spectra.optics.kramers_kronig import dispersion
from spectra.optics.material import InversionSettings
from spectra.optics.reflection import atr_absorbance
from tests.published_index import broadened

DIAMOND = Geometry(crystal="diamond", angle_deg=45.0)
GRID = np.arange(830.0, 4000.0, 1.86)  # the polyethylene page begins at 816 cm-1
PMMA, POLYSTYRENE, POLYETHYLENE = (
    "poly_methyl_methacrylate__Tsuda-BB",
    "polystyrene__Myers",
    "polyethylene__David",
)


def far_index(grid, index):
    """n_inf and pull that fit a published n best, given its k."""
    rest = index.real - dispersion(grid)(index.imag)
    design = np.stack([np.ones(grid.size), -((grid[0] / grid) ** 2)], axis=1)
    return np.linalg.lstsq(design, rest, rcond=None)[0]


def measured(index, geometry, contact, seed):
    noise = 2e-4 * np.random.default_rng(seed).standard_normal(GRID.size)
    return atr_absorbance(GRID, [index], [], geometry, contact) + noise


def known_contact(name, geometry, seed):
    index = broadened(name, GRID)
    n_inf, pull = far_index(GRID, index)
    settings = InversionSettings(n_inf=n_inf, pull=float(np.clip(pull, -0.1, 0.3)))
    spectrum = measured(index, geometry, 1.0, seed)
    return index, spectrum, invert_atr(GRID, spectrum, geometry, 1.0, settings)


def strong_bands(spectrum, prominence=0.008):
    tops, _ = find_peaks(spectrum, prominence=prominence)
    widths = peak_widths(spectrum, tops, rel_height=0.5)[0] * (GRID[1] - GRID[0])
    return GRID[tops], np.clip(widths, 6.0, 60.0)


@pytest.mark.parametrize("substrate", [POLYSTYRENE, POLYETHYLENE])
def test_pmma_films_are_predicted_from_bulk_spectra(substrate):
    # Exact simulation with published constants against a prediction that saw bulk ATR spectra only.
    film, spectrum, neat = known_contact(PMMA, DIAMOND, seed=1)
    bed, _, bare = known_contact(substrate, DIAMOND, seed=2)
    at, widths = strong_bands(spectrum)
    thicknesses = (10.0, 50.0, 200.0, 500.0, 1000.0, 2000.0)
    answer = expected(neat, bare, DIAMOND, at, widths, thicknesses)
    truth = film_spectra(GRID, film, bed, thicknesses, DIAMOND, n_inf=neat.n_inf).film
    places = follow(GRID, truth[:, None, :], answer.positions, widths)[:, 0]
    assert at.size >= 12
    assert np.all(answer.followed)
    assert np.abs(answer.positions - places).max() < 0.5


def test_the_pmma_carbonyl_moves_by_more_than_ten_wavenumbers():
    # From the exact simulation: 1736.5 for a film of 10 nm, 1722 cm-1 at 2 um (pages of Tsuda et al.).
    _, _, neat = known_contact(PMMA, DIAMOND, seed=3)
    answer = expected(neat, None, DIAMOND, [1723.0], [24.0], (10.0, 2000.0))
    thin, thick = answer.positions[:, 0]
    assert thin == pytest.approx(1736.0, abs=1.0)
    assert thick == pytest.approx(1723.0, abs=1.5)
    assert answer.neat_positions[0] == pytest.approx(thick, abs=1.0)
