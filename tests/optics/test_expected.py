import numpy as np
import pytest
from scipy.signal import find_peaks, peak_widths

from spectra.errors import SpectraError
from spectra.optics.atr import atr_absorbance
from spectra.optics.expected import expected, optical_bound
from spectra.optics.film import film_spectra
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr, invert_transmission
from spectra.optics.material import Unsolved, known_material
from spectra.optics.settings import InversionSettings
from spectra.optics.tracking import follow
from tests.published_index import broadened, far_index

DIAMOND = Geometry(crystal="diamond", angle_deg=45.0)
GRID = np.arange(830.0, 4000.0, 1.86)  # the polyethylene page begins at 816 cm-1
PMMA, POLYSTYRENE, POLYETHYLENE = (
    "poly_methyl_methacrylate__Tsuda-BB",
    "polystyrene__Myers",
    "polyethylene__David",
)


def measured(index, geometry, contact, seed):
    noise = 2e-4 * np.random.default_rng(seed).standard_normal(GRID.size)
    return atr_absorbance(GRID, [index], [], geometry, contact) + noise


def known_contact(name, geometry, seed):
    index = broadened(name, GRID)
    n_inf, pull = far_index(GRID, index)
    settings = InversionSettings(n_inf=n_inf, pull=pull)
    spectrum = measured(index, geometry, 1.0, seed)
    return index, spectrum, invert_atr(GRID, spectrum, geometry, 1.0, settings)


def strong_bands(spectrum, prominence=0.008):
    tops, _ = find_peaks(spectrum, prominence=prominence)
    widths = peak_widths(spectrum, tops, rel_height=0.5)[0] * (GRID[1] - GRID[0])
    return GRID[tops], np.clip(widths, 6.0, 60.0)


def interval(answer):
    """Central 95 % of the equally likely positions, thin film first, shape (2, t + 1, b)."""
    return np.quantile(answer.scenarios, [0.025, 0.975], axis=0)


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
    assert np.all(np.isfinite(answer.thin_positions))
    assert np.abs(answer.positions - places).max() < 0.5


@pytest.mark.parametrize("substrate", [POLYSTYRENE, POLYETHYLENE])
def test_pmma_films_stay_within_the_stated_uncertainty_when_contact_is_not_known(substrate):
    rng = np.random.default_rng(8)
    film, bed = broadened(PMMA, GRID), broadened(substrate, GRID)
    thicknesses = (10.0, 50.0, 200.0, 500.0, 1000.0, 2000.0)
    held = []
    for seed in range(4):
        materials = []
        for index, low in ((film, 0.85), (bed, 0.5)):
            n_inf, pull = far_index(GRID, index)
            settings = InversionSettings(n_inf=n_inf + rng.uniform(-0.05, 0.05), pull=pull)
            spectrum = measured(index, DIAMOND, rng.uniform(low, 1.0), seed)
            materials.append(invert_atr(GRID, spectrum, DIAMOND, (low, 1.0), settings))
        at, widths = strong_bands(materials[0].absorbance)
        answer = expected(materials[0], materials[1], DIAMOND, at, widths, thicknesses)
        truth = film_spectra(GRID, film, bed, thicknesses, DIAMOND, n_inf=1.47).film
        places = follow(GRID, truth[:, None, :], answer.positions, widths)[:, 0]
        low, high = interval(answer)
        held.append((low[1:] <= places) & (places <= high[1:]))
    assert np.mean(np.concatenate(held, axis=1)) > 0.9


def test_the_pmma_carbonyl_moves_by_more_than_ten_wavenumbers():
    # From the exact simulation: 1736.5 for a film of 10 nm, 1722 cm-1 at 2 um (pages of Tsuda et al.).
    _, _, neat = known_contact(PMMA, DIAMOND, seed=3)
    answer = expected(neat, None, DIAMOND, [1723.0], [24.0], (10.0, 2000.0))
    thin, thick = answer.positions[:, 0]
    assert thin == pytest.approx(1736.0, abs=1.0)
    assert thick == pytest.approx(1723.0, abs=1.5)
    assert answer.neat_positions[0] == pytest.approx(thick, abs=1.0)


def unknown_contact(contact=0.93):
    spectrum = measured(broadened(PMMA, GRID), DIAMOND, contact, seed=4)
    return spectrum, invert_atr(GRID, spectrum, DIAMOND, (0.85, 1.0), InversionSettings(n_inf=1.46))


def test_unknown_contact_widens_what_is_expected():
    _, _, sure = known_contact(PMMA, DIAMOND, seed=1)
    _, unsure = unknown_contact()
    widths = [
        np.ptp(interval(answer), axis=0)[0, 0]
        for answer in (expected(neat, None, DIAMOND, [1724.0], [22.0]) for neat in (sure, unsure))
    ]
    assert widths[1] > 1.3 * widths[0]


def test_bands_of_one_coating_move_together():
    _, neat = unknown_contact()
    answer = expected(neat, None, DIAMOND, [1724.0, 1142.0], [22.0, 30.0])
    carbonyl, ether = answer.scenarios[:, 0].T
    assert np.corrcoef(carbonyl, ether)[0, 1] > 0.8
    assert answer.error[0][0] == pytest.approx(answer.scenarios[:, 1, 0].std())


def test_strength_of_the_signal_inherits_what_is_not_known():
    # Oracle: invert again with each contact, and compare the signal per nm itself.
    spectrum, neat = unknown_contact()
    answer = expected(neat, None, DIAMOND, [1724.0], [22.0])
    scales = []
    for contact in np.linspace(0.85, 1.0, 7):
        one = invert_atr(GRID, spectrum, DIAMOND, contact, InversionSettings(n_inf=1.46))
        shape = expected(one, None, DIAMOND).shape
        scales.append(shape @ answer.shape / (answer.shape @ answer.shape))
    by_contact = np.std(scales)
    assert 0.9 * by_contact < answer.strength_error < 3.0 * by_contact
    assert np.median(answer.strengths) == pytest.approx(1.0, abs=0.05)


def test_thin_shape_is_the_limit_of_the_spectra():
    _, _, neat = known_contact(PMMA, DIAMOND, seed=1)
    _, _, bare = known_contact(POLYSTYRENE, DIAMOND, seed=2)
    answer = expected(neat, bare, DIAMOND, [1724.0], [22.0], (0.1,))
    np.testing.assert_allclose(answer.film[0] / 0.1, answer.shape, rtol=1e-2, atol=2e-6)
    coated, without = film_spectra(GRID, neat.index, bare.index, [0.1, 0.0], DIAMOND, 1.0, neat.n_inf).coated
    np.testing.assert_allclose((coated - without) / 0.1, answer.growth, rtol=1e-2, atol=2e-6)


def test_contact_of_the_sample_scales_a_thin_film():
    _, _, neat = known_contact(PMMA, DIAMOND, seed=1)
    full, half = (expected(neat, None, DIAMOND, [1724.0], [22.0], contact=c) for c in (1.0, 0.5))
    np.testing.assert_allclose(half.shape, 0.5 * full.shape, rtol=1e-9)
    assert half.thin_positions == pytest.approx(full.thin_positions, abs=0.01)


def test_a_transmission_reference_predicts_an_atr_sample():
    # Transmission of a free film has its maximum where nu k has; the thin film on diamond elsewhere.
    index = broadened(PMMA, GRID)
    n_inf, pull = far_index(GRID, index)
    spectrum = 4e-7 * np.pi * GRID * index.imag * 1500.0 / np.log(10.0)
    neat = invert_transmission(GRID, spectrum, 1500.0, InversionSettings(n_inf=n_inf, pull=pull))
    answer = expected(neat, None, DIAMOND, [1733.0, 1149.0], [20.0, 30.0], (20.0,))
    truth = film_spectra(GRID, index, 1.5, [20.0], DIAMOND, n_inf=n_inf).film
    places = follow(GRID, truth, answer.positions[0], [20.0, 30.0])[0]
    assert answer.positions[0] == pytest.approx(places, abs=0.3)
    assert np.all(answer.thin_positions > answer.neat_positions + 1.0)


def test_unknown_thickness_of_the_reference_is_carried():
    index = broadened(PMMA, GRID)
    spectrum = 4e-7 * np.pi * GRID * index.imag * 1500.0 / np.log(10.0)
    answer = expected(invert_transmission(GRID, spectrum), None, DIAMOND, [1733.0], [20.0])
    low, high = interval(answer)[:, 0, 0]
    assert low < 1735.7 < high  # as in the test of the carbonyl above
    assert high - low > 1.0


def test_an_atr_reference_predicts_a_transmission_sample():
    _, _, neat = known_contact(PMMA, DIAMOND, seed=1)
    through = Geometry("transmission")
    answer = expected(neat, None, through, [1724.0], [22.0], (20.0, 200.0))
    index = broadened(PMMA, GRID)
    truth = film_spectra(GRID, index, 1.5, [20.0, 200.0], through, n_inf=neat.n_inf).film
    places = follow(GRID, truth, answer.positions[0], [22.0])
    assert answer.positions == pytest.approx(places, abs=0.3)


def test_a_thin_film_in_transmission_follows_the_general_law():
    # To first order a film between media 1 and n3 absorbs 4 pi nu d Im(N^2) / (1 + n3) at normal incidence
    # (first-order expansion of the Fresnel equations for n3 real).
    nu, index, n3 = np.array([1700.0]), 1.5 + 0.2j, 1.5
    film = film_spectra(nu, index, n3, [0.01], Geometry("transmission")).film[0]
    law = 4e-7 * np.pi * nu * 0.01 * (index**2).imag / (1.0 + n3) / np.log(10.0)
    assert film == pytest.approx(law, rel=1e-3)


def test_what_has_no_model_is_a_finding():
    neat = known_material(GRID, broadened(PMMA, GRID))
    other = expected(neat, None, Geometry("diffuse reflectance"))
    assert isinstance(other, Unsolved)
    assert "compare it with its like only" in other.message
    unknown = expected(neat, None, Geometry(crystal="diamond"))
    assert isinstance(unknown, Unsolved)
    assert unknown.code == "unknown-geometry"


def test_a_band_that_is_not_there_is_lost_not_invented():
    _, neat = unknown_contact()
    answer = expected(neat, None, DIAMOND, [1724.0, 2440.0], [22.0, 12.0])
    assert np.isfinite(answer.thin_positions[0])
    assert np.isnan(answer.thin_positions[1]) or answer.thin_error[1] > 0.5  # at best a bump of noise


def test_unknown_crystal_bounds_what_may_be_optical():
    spectrum = measured(broadened(PMMA, GRID), DIAMOND, 0.95, seed=5)
    bound = optical_bound(GRID, spectrum, Geometry(angle_deg=45.0), [1724.0, 1480.0], [22.0, 11.0])
    assert 11.0 < bound[0] < 20.0  # 12 cm-1 on diamond, its true crystal
    assert bound[1] < 5.0
    known = optical_bound(GRID, spectrum, DIAMOND, [1724.0, 1480.0], [22.0, 11.0])
    assert np.all(known <= bound)


def test_a_spectrum_no_crystal_can_give_has_no_bound():
    spectrum = 20.0 * measured(broadened(PMMA, GRID), DIAMOND, 1.0, seed=5)
    bound = optical_bound(GRID, spectrum, Geometry(), [1724.0])
    assert isinstance(bound, Unsolved)
    assert "was it normalised" in bound.message


def test_references_on_different_grids_meet():
    _, _, neat = known_contact(PMMA, DIAMOND, seed=1)
    other = np.arange(820.0, 4000.0, 4.0)
    bare = known_material(other, broadened(POLYSTYRENE, other))
    answer = expected(neat, bare, DIAMOND, [1724.0], [22.0])
    assert answer.film.shape == (10, GRID.size)
    short = known_material(other[:200], broadened(POLYSTYRENE, other[:200]))
    with pytest.raises(SpectraError, match=r"known from 820 to 1616 cm-1, the coating from 830"):
        expected(neat, short, DIAMOND)
