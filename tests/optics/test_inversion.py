import copy

import numpy as np
import pytest
import tmm
from scipy.signal import find_peaks, peak_widths

from spectra.errors import SettingError, SpectraError
from spectra.noise import estimate_noise
from spectra.optics.atr import atr_absorbance
from spectra.optics.geometry import Geometry
from spectra.optics.inversion import invert_atr, invert_transmission
from spectra.optics.material import Material, Unsolved, bridged
from spectra.optics.settings import InversionSettings
from spectra.optics.tracking import follow, position_noise
from tests.published_index import broadened, far_index, page, partnered

DIAMOND = Geometry(crystal="diamond", angle_deg=45.0)
GERMANIUM = Geometry(crystal="germanium", angle_deg=45.0)
GRID = np.arange(660.0, 3980.0, 1.86)
PMMA = "poly_methyl_methacrylate__Tsuda-BB"
NOISE = 2e-4


def noisy(spectrum, seed=1):
    return spectrum + NOISE * np.random.default_rng(seed).standard_normal(spectrum.size)


def k_range(material):
    """Lowest and highest k over the variants, point by point."""
    every = np.concatenate([material.k[None], material.variants.imag])
    return every.min(axis=0), every.max(axis=0)


def knowing(grid, index):
    """Settings that know n_inf and pull."""
    n_inf, pull = far_index(grid, index)
    return InversionSettings(n_inf=n_inf, n_inf_error=0.0, pull=pull, pull_error=0.0)


# Pages whose n and k are partners as published, then those that must be partnered (a grid of 7.7 cm-1, or n
# and k of different origin). Bands of k 0.02 to 0.6 are judged, where noise alone leaves 0.5 % and 0.1 cm-1.
AS_PUBLISHED = (
    PMMA,
    "polystyrene__Myers",
    "ethanol__Myers",
    "toluene__Myers",
    "oleic_acid__McGinty",
)
PARTNERED = (
    "poly_methyl_methacrylate__Zhang-Tomson",
    "poly_methyl_methacrylate__Zhang-Mitsubishi",
    "polycarbonate__Zhang",
    "polyethylene_terephthalate__Zhang",
    "polydimethylsiloxane__Zhang-10-1",
    "polydimethylsiloxane__Zhang-5-1",
    "polyethylene__David",
)


@pytest.mark.parametrize(
    ("geometry", "contact", "least"),
    [(DIAMOND, 1.0, 60), (DIAMOND, 0.5, 40), (GERMANIUM, 1.0, 20), (GERMANIUM, 0.5, 10)],
)
def test_absorption_index_of_real_materials_is_recovered(geometry, contact, least):
    judged = 0
    for name in AS_PUBLISHED + PARTNERED:
        grid = GRID[page(name)[0][0] + 14.0 < GRID]
        index = broadened(name, grid) if name in AS_PUBLISHED else partnered(name, grid)
        spectrum = noisy(atr_absorbance(grid, [index], [], geometry, contact))
        found = invert_atr(grid, spectrum, geometry, contact, knowing(grid, index))
        tops, _ = find_peaks(index.imag, prominence=0.02)
        widths = np.clip(peak_widths(index.imag, tops, rel_height=0.5)[0] * 1.86, 6.0, 60.0)
        places = follow(grid, index.imag[None], grid[tops], widths)[0]
        got = follow(grid, found.k[None], places, widths)[0]
        strengths = np.interp(places, grid, index.imag)
        blurred = position_noise(grid, found.k, found.k_noise, got, widths)
        quiet = np.interp(places, grid, found.k_noise) < 0.005 * strengths
        clear = quiet & (blurred < 0.1) & (strengths < 0.6)
        np.testing.assert_allclose(np.interp(got, grid, found.k)[clear], strengths[clear], rtol=0.02)
        assert np.all(np.abs(got - places)[clear] < np.where(strengths < 0.3, 0.3, 1.0)[clear])
        judged += int(clear.sum())
    assert judged >= least


def test_another_forward_calculation_is_inverted():
    # Truth by the PyPI package tmm, one point at a time.
    grid = np.arange(1500.0, 1950.0, 2.0)
    index = broadened(PMMA, grid)
    tangent = np.radians(45.0)
    spectrum = [
        -np.log10(0.5 * sum(tmm.coh_tmm(p, [2.4, n], [np.inf, np.inf], tangent, 1e7 / nu)["R"] for p in "sp"))
        for nu, n in zip(grid, index, strict=True)
    ]
    found = invert_atr(grid, spectrum, Geometry(index=2.4, angle_deg=45.0), 1.0, knowing(grid, index))
    inside = (grid > 1650.0) & (grid < 1850.0)
    np.testing.assert_allclose(found.k[inside], index.imag[inside], rtol=0.02)


@pytest.mark.parametrize(
    "geometry",
    [
        Geometry(crystal="diamond", angle_deg=45.0, reflections=3),
        Geometry(crystal="zinc selenide", angle_deg=45.0, s_share=0.3, spread_deg=3.0),
        Geometry(index=3.42, angle_deg=39.0, s_share=1.0),
    ],
)
def test_any_geometry_is_inverted(geometry):
    index = broadened(PMMA, GRID)
    spectrum = atr_absorbance(GRID, [index], [], geometry, 0.9)
    found = invert_atr(GRID, spectrum, geometry, 0.9, knowing(GRID, index))
    assert found.convergence.reached
    np.testing.assert_allclose(found.k, index.imag, atol=3e-3)


def test_the_answer_gives_the_measured_spectrum():
    index = broadened("polystyrene__Myers", GRID)
    spectrum = noisy(atr_absorbance(GRID, [index], [], DIAMOND, 0.8))
    found = invert_atr(GRID, spectrum, DIAMOND, 0.8, InversionSettings(n_inf=1.55))
    again = atr_absorbance(GRID, [found.index], [], DIAMOND, 0.8)
    np.testing.assert_allclose(again, spectrum, atol=1.1 * max(5e-5, 0.5 * estimate_noise(spectrum)))
    for variant in found.variants:
        again = atr_absorbance(GRID, [variant], [], DIAMOND, 0.8)
        np.testing.assert_allclose(again, spectrum, atol=1.1 * max(5e-5, 0.5 * estimate_noise(spectrum)))


def test_unknown_contact_is_bounded_from_below():
    index = broadened(PMMA, GRID)
    spectrum = noisy(atr_absorbance(GRID, [index], [], DIAMOND, 1.0))
    found = invert_atr(GRID, spectrum, DIAMOND, (0.5, 1.0), InversionSettings(n_inf=1.47))
    low, high = found.contact
    assert high == 1.0
    # Less contact than 1 - 10^-A cannot give A, whatever k (arithmetic).
    assert low > 1.0 - 10.0 ** -spectrum.max()
    assert [found.moves[i] for i in range(4)] == [-1.0, -0.5, 0.5, 1.0]
    assert found.moved[:4] == ("contact",) * 4


def test_strength_grows_as_contact_falls():
    index = broadened("oleic_acid__McGinty", GRID)
    spectrum = atr_absorbance(GRID, [index], [], DIAMOND, 0.75)
    found = invert_atr(GRID, spectrum, DIAMOND, (0.5, 1.0), knowing(GRID, index))
    low, high = k_range(found)
    at = int(np.argmax(index.imag))
    np.testing.assert_allclose(found.k[at], index.imag[at], rtol=0.01)
    strengths = found.variants[:, at].imag
    assert np.all(np.diff(strengths[:4]) < 0)
    assert low[at] == strengths.min() < found.k[at] < strengths.max() == high[at]


def untidy(spectrum):
    """Baseline offset below zero, slope, noise, a gap."""
    values = noisy(spectrum) - 0.004 + 2e-6 * (GRID - 2000.0)
    values[(GRID > 1900.0) & (GRID < 2700.0)] = np.nan
    return values


def test_untidy_spectra_are_inverted():
    index = broadened(PMMA, GRID)
    spectrum = untidy(atr_absorbance(GRID, [index], [], DIAMOND, 0.95))
    found = invert_atr(GRID, spectrum, DIAMOND, (0.85, 1.0), InversionSettings(n_inf=1.47))
    assert found.convergence.reached
    every = (found.k, *found.variants.imag)
    places = np.array([follow(GRID, one[None], np.array([1733.0]), np.array([22.0])) for one in every])
    assert places.min() - 0.5 < 1733.3 < places.max() + 0.5  # maximum of k of the page, broadened


def test_a_mask_does_what_a_gap_does():
    index = broadened(PMMA, GRID)
    spectrum = noisy(atr_absorbance(GRID, [index], [], DIAMOND))
    usable = (GRID < 1900.0) | (GRID > 2700.0)
    masked = invert_atr(GRID, np.where(usable, spectrum, 9.0), DIAMOND, 1.0, usable=usable)
    gapped = invert_atr(GRID, np.where(usable, spectrum, np.nan), DIAMOND, 1.0)
    np.testing.assert_array_equal(masked.index, gapped.index)


def test_an_uneven_grid_is_resampled():
    uneven = np.geomspace(1400.0, 1950.0, 500)
    found = invert_atr(uneven, atr_absorbance(uneven, [broadened(PMMA, uneven)], [], DIAMOND), DIAMOND, 1.0)
    assert found.wavenumbers.shape == uneven.shape
    np.testing.assert_allclose(np.diff(found.wavenumbers), 550.0 / 499.0, rtol=1e-9)


def test_no_absorption_at_all_is_no_failure():
    found = invert_atr(GRID, noisy(0.0 * GRID), DIAMOND)
    assert isinstance(found, Material)
    assert np.abs(found.k).max() < 2e-3


@pytest.mark.parametrize(
    ("geometry", "scale", "n_inf", "code", "words"),
    [
        (Geometry("transflection"), 1.0, 1.5, "no-model", "transflection is not ATR; compare"),
        (Geometry(crystal="diamond"), 1.0, 1.5, "unknown-geometry", "crystal or angle is not stated"),
        (DIAMOND, 1.0, 1.75, "no-total-reflection", "index 1.75 is above 1.68"),
        (DIAMOND, 5.0, 1.5, "not-converged", "not normalised"),
    ],
)
def test_what_cannot_be_inverted_is_a_finding(geometry, scale, n_inf, code, words):
    spectrum = scale * atr_absorbance(GRID, [broadened(PMMA, GRID)], [], DIAMOND)
    found = invert_atr(GRID, spectrum, geometry, settings=InversionSettings(n_inf=n_inf))
    assert isinstance(found, Unsolved)
    assert found.code == code
    assert words in found.message


def test_an_index_near_the_limit_of_total_reflection_is_carried_one_sided_or_refused():
    # 1.66 + 0.05 is above the limit of 1.683 of diamond at 45 degrees: that end of the prior has no solution.
    index = broadened(PMMA, GRID) + 0.19
    spectrum = atr_absorbance(GRID, [index.real + 0.1j * index.imag], [], DIAMOND)
    found = invert_atr(GRID, spectrum, DIAMOND, 1.0, InversionSettings(n_inf=1.66))
    if isinstance(found, Unsolved):
        assert found.code == "not-converged"
    else:
        assert {"n_inf", "pull"} <= set(found.moved)
        assert max(m for m, name in zip(found.moves, found.moved, strict=True) if name == "n_inf") < 1.0


def test_too_little_contact_is_a_finding():
    spectrum = atr_absorbance(GRID, [broadened(PMMA, GRID)], [], DIAMOND)
    found = invert_atr(GRID, spectrum, DIAMOND, contact=0.6)
    assert isinstance(found, Unsolved)
    assert found.code == "too-strong"
    assert "more than a contact of 0.6 can give" in found.message


def test_transmission_with_known_thickness_is_beer_s_law():
    # A = 4 pi nu k d / ln 10 of the published k; n follows.
    index = broadened("polystyrene__Myers", GRID)
    spectrum = noisy(4e-7 * np.pi * GRID * index.imag * 3000.0 / np.log(10.0))
    n_inf, pull = far_index(GRID, index)
    found = invert_transmission(GRID, spectrum, 3000.0, InversionSettings(n_inf=n_inf, pull=pull))
    np.testing.assert_allclose(found.k, index.imag, atol=2e-3)
    inside = (GRID > 900.0) & (GRID < 3900.0)
    assert np.sqrt(np.mean((found.index.real - index.real)[inside] ** 2)) < 0.002
    assert "thickness" not in found.moved


def test_transmission_without_thickness_keeps_its_range():
    index = broadened("polystyrene__Myers", GRID)
    spectrum = 4e-7 * np.pi * GRID * index.imag * 3000.0 / np.log(10.0)
    found = invert_transmission(GRID, spectrum)
    low, high = k_range(found)
    at = int(np.argmax(index.imag))
    assert low[at] == pytest.approx(0.15 * index.imag[at] / index.imag.max(), rel=1e-3)
    assert high[at] == pytest.approx(0.75 * index.imag[at] / index.imag.max(), rel=1e-3)
    assert low[at] < index.imag[at] < high[at]


def test_transmission_of_nothing_is_a_finding():
    found = invert_transmission(GRID, -0.01 + 0.0 * GRID)
    assert isinstance(found, Unsolved)
    assert "nowhere above zero" in found.message


def test_wrong_input_is_refused():
    with pytest.raises(SpectraError, match=r"found \(3,\) wavenumbers and \(2,\) ordinates"):
        bridged([1.0, 2.0, 3.0], [1.0, 2.0])
    with pytest.raises(SpectraError, match=r"only 0 usable points; expected 8"):
        bridged(GRID, np.full(GRID.size, np.nan))
    with pytest.raises(SettingError, match=r"'n_inf' of InversionSettings is 0.5; expected 1.2"):
        InversionSettings(n_inf=0.5)


def test_noise_is_estimated_from_estimate_noise():
    rng = np.random.default_rng(2)
    spectrum = atr_absorbance(GRID, [broadened(PMMA, GRID)], [], DIAMOND)
    assert estimate_noise(spectrum + 5e-4 * rng.standard_normal(GRID.size)) == pytest.approx(5e-4, rel=0.15)


def test_a_material_cannot_be_changed():
    found = invert_atr(GRID, noisy(0.0 * GRID), DIAMOND, 1.0)
    for one in (found, copy.deepcopy(found)):
        with pytest.raises(ValueError, match="read-only"):
            one.index[0] = 0.0
