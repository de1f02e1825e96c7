import numpy as np
import pytest

from spectra.errors import SettingError
from spectra.optics.atr import atr_absorbance
from spectra.optics.depth import effective_thickness, penetration_depth
from spectra.optics.display import LEFT_BY_DEPTH, scale_depth
from spectra.optics.geometry import CRYSTALS, Geometry, crystal_index, plausible, rays


def test_germanium_agrees_with_a_newer_measurement():
    # Burnett, Kaplan, Stover, Phenis, Proc. SPIE 9974, 99740X (2016): Sellmeier fit, uncertainty below 1e-4.
    squared = np.array([3.0, 5.0, 8.0, 10.0, 12.0]) ** 2
    terms = ((0.4886331, 1.393959), (14.5142535, 0.1626427), (0.0091224, 752.19))
    newer = np.sqrt(1.0 + sum(a * squared / (squared - c) for a, c in terms))
    found = CRYSTALS["germanium"].index(1e4 / np.sqrt(squared))
    np.testing.assert_allclose(found, newer, atol=2e-3)


def test_silicon_agrees_with_a_newer_measurement():
    # Edwards, Ochoa, Appl. Opt. 19, 4130 (1980): Herzberger fit in L = 1 / (w^2 - 0.028).
    w = np.array([3.0, 5.0, 8.0, 10.0])
    lens = 1.0 / (w**2 - 0.028)
    newer = 3.41983 + 0.159906 * lens - 0.123109 * lens**2 + 1.26878e-6 * w**2 - 1.95104e-9 * w**4
    # The two laboratories differ by 0.004.
    np.testing.assert_allclose(CRYSTALS["silicon"].index(1e4 / w), newer, atol=5e-3)


@pytest.mark.parametrize(
    ("crystal", "index"), [("diamond", 2.38), ("zinc selenide", 2.41), ("germanium", 4.0)]
)
def test_crystals_have_their_handbook_index_at_1000(crystal, index):
    # Handbook values to three figures, from memory.
    assert crystal_index(Geometry(crystal=crystal), [1000.0])[0] == pytest.approx(index, abs=0.006)


def test_a_given_index_goes_before_the_table():
    assert crystal_index(Geometry(crystal="diamond", index=2.4), [1000.0, 2000.0]).tolist() == [2.4, 2.4]


def test_unknown_crystal_names_those_of_the_table():
    with pytest.raises(SettingError, match=r"'dimond' is not in the table; expected one of diamond, zinc"):
        Geometry(crystal="dimond")


def test_impossible_angle_names_its_range():
    with pytest.raises(SettingError, match=r"'angle_deg' of Geometry is 95.0 degrees; expected 20"):
        Geometry(crystal="diamond", angle_deg=95.0)


def test_spread_of_angles_is_even_and_centred():
    parts = rays(Geometry(index=2.4, angle_deg=45.0, spread_deg=3.0))
    angles, weights = np.array(parts).T
    assert weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert np.degrees(angles @ weights) == pytest.approx(45.0, abs=1e-12)
    # An even spread of half-width b has variance b^2 / 3.
    assert weights @ (np.degrees(angles) - 45.0) ** 2 == pytest.approx(3.0, rel=1e-12)


def test_unknown_angle_leaves_the_angles_that_reflect_totally():
    angles = [g.angle_deg for g in plausible(Geometry(crystal="diamond"))]
    assert angles == [45.0, 60.0]  # 39 degrees gives 2.38 sin 39 = 1.498, just below an index of 1.5
    assert plausible(Geometry(technique="transmission")) == (Geometry(technique="transmission"),)


# Worked values for a sample of index 1.5, um, recomputed from the formulas of Harrick and du Pre
# (Appl. Opt. 5, 1739, 1966; typed from memory, checked against the exact Fresnel calculation below).
DEPTHS = [
    # n1, angle, wavenumber, dp, de_s, de_p, de_mean
    (2.4, 45.0, 1000.0, 2.0052, 2.9084, 5.8169, 4.3627),
    (2.4, 45.0, 1700.0, 1.1795, 1.7108, 3.4217, 2.5663),
    (2.4, 45.0, 2900.0, 0.6914, 1.0029, 2.0058, 1.5044),
    (2.4, 60.0, 1000.0, 1.1062, 1.1346, 1.9294, 1.5320),
    (2.4, 60.0, 1700.0, 0.6507, 0.6674, 1.1350, 0.9012),
    (2.4, 60.0, 2900.0, 0.3814, 0.3912, 0.6653, 0.5283),
    (4.0, 45.0, 1000.0, 0.6637, 0.4096, 0.8192, 0.6144),
    (4.0, 45.0, 1700.0, 0.3904, 0.2409, 0.4819, 0.3614),
    (4.0, 45.0, 2900.0, 0.2289, 0.1412, 0.2825, 0.2119),
    (4.0, 60.0, 1000.0, 0.5097, 0.2224, 0.4230, 0.3227),
    (4.0, 60.0, 1700.0, 0.2998, 0.1308, 0.2488, 0.1898),
    (4.0, 60.0, 2900.0, 0.1758, 0.0767, 0.1458, 0.1113),
]


@pytest.mark.parametrize(("n1", "angle", "nu", "dp", "de_s", "de_p", "de"), DEPTHS)
def test_depths_have_their_worked_values(n1, angle, nu, dp, de_s, de_p, de):
    assert penetration_depth([nu], n1, angle, 1.5)[0] == pytest.approx(dp, abs=6e-5)
    for share, value in ((1.0, de_s), (0.0, de_p), (0.5, de)):
        assert effective_thickness([nu], n1, angle, 1.5, share)[0] == pytest.approx(value, abs=6e-5)


@pytest.mark.parametrize(("n1", "angle"), [(2.4, 45.0), (2.4, 60.0), (4.0, 45.0), (4.0, 60.0)])
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_effective_thickness_is_the_limit_of_the_exact_absorbance(n1, angle, share):
    nu, k = np.array([1000.0, 2900.0]), 1e-5
    exact = atr_absorbance(nu, [1.5 + 1j * k], [], Geometry(index=n1, angle_deg=angle, s_share=share))
    transmitted = 4e-4 * np.pi * nu * k * effective_thickness(nu, n1, angle, 1.5, share) / np.log(10.0)
    np.testing.assert_allclose(transmitted, exact, rtol=3e-4)


def test_depth_is_sensitive_to_index_and_angle():
    # Diamond, 45 degrees, 1000 cm-1, and the angle series at index 1.5, um.
    for n2, dp in ((1.40, 1.659), (1.45, 1.805), (1.55, 2.303), (1.60, 2.813), (1.65, 4.010)):
        assert penetration_depth([1000.0], 2.4, 45.0, n2)[0] == pytest.approx(dp, abs=6e-4)
    for angle, dp in ((41.0, 3.325), (43.0, 2.430), (47.0, 1.746), (49.0, 1.568)):
        assert penetration_depth([1000.0], 2.4, angle, 1.5)[0] == pytest.approx(dp, abs=6e-4)


@pytest.mark.parametrize(("n1", "critical"), [(2.4, 38.68), (4.0, 22.02)])
def test_total_reflection_starts_at_the_critical_angle(n1, critical):
    """arcsin(n2/n1) for a sample of index 1.5 (Snell's law)."""
    assert np.degrees(np.arcsin(1.5 / n1)) == pytest.approx(critical, abs=0.006)
    assert penetration_depth([1000.0], n1, critical + 0.01, 1.5)[0] > 20.0
    with pytest.raises(SettingError, match="below the critical angle"):
        penetration_depth([1000.0], n1, critical - 0.01, 1.5)


def test_no_total_reflection_is_said():
    with pytest.raises(SettingError, match=r"30 degrees is below the critical angle .* index 1.5"):
        penetration_depth([1000.0], 2.4, 30.0, 1.5)


def film_thickness_factor(n1: float, angle_deg: float, n2: float, n3: float, s_share: float = 0.5) -> float:
    """Return effective thickness over true thickness of a film much thinner than the penetration depth.

    s: 4 n21 cos(theta) / (1 - n31^2); p: the same times
    ((1 + n32^4) sin^2(theta) - n31^2) / ((1 + n31^2) sin^2(theta) - n31^2). From memory after
    Harrick, du Pre, Appl. Opt. 5, 1739 (1966).
    """
    n21, n31_2, n32_4 = n2 / n1, (n3 / n1) ** 2, (n3 / n2) ** 4
    sine2 = np.sin(np.radians(angle_deg)) ** 2
    s = 4.0 * n21 * np.cos(np.radians(angle_deg)) / (1.0 - n31_2)
    p = s * ((1.0 + n32_4) * sine2 - n31_2) / ((1.0 + n31_2) * sine2 - n31_2)
    return float(s_share * s + (1.0 - s_share) * p)


@pytest.mark.parametrize("n1", [2.4, 4.0])
@pytest.mark.parametrize("n3", [1.0, 1.5])
def test_film_factor_is_the_limit_of_the_exact_absorbance(n1, n3):
    nu, k, d = np.array([1700.0]), 1e-5, 0.05
    for share in (0.0, 1.0):
        geometry = Geometry(index=n1, angle_deg=45.0, s_share=share)
        exact = atr_absorbance(nu, [1.5 + 1j * k, n3], [d], geometry)[0]
        factor = film_thickness_factor(n1, 45.0, 1.5, n3, share)
        assert 4e-7 * np.pi * 1700.0 * k * factor * d / np.log(10.0) == pytest.approx(exact, rel=2e-3)


def test_depth_scaling_levels_equal_weak_bands():
    nu = np.array([900.0, 1700.0, 2900.0])
    geometry = Geometry(index=2.4, angle_deg=45.0)
    spectrum = atr_absorbance(nu, [1.5 + 1e-4j], [], geometry)
    scaled = scale_depth(nu, spectrum, geometry)
    np.testing.assert_allclose(scaled.values / scaled.values[0], nu / nu[0], rtol=1e-3)  # A ~ nu k d


def test_depth_scaling_does_not_undo_the_shift():
    # Multiplying by nu moves a maximum by about gamma^2 / (8 nu): 0.03 cm-1 here, against a
    # shift of -5 cm-1.
    nu = np.arange(1650.0, 1800.0, 0.02)
    index = np.sqrt(2.25 + 0.0105 * 1730.0**2 / (1730.0**2 - nu**2 - 20j * nu))
    geometry = Geometry(index=2.4, angle_deg=45.0)
    spectrum = atr_absorbance(nu, [index], [], geometry)
    scaled = scale_depth(nu, spectrum, geometry)
    assert nu[np.argmax(spectrum)] < 1726.0
    assert abs(nu[np.argmax(scaled.values)] - nu[np.argmax(spectrum)]) < 0.1
    assert "shift and broadening of strong bands" in LEFT_BY_DEPTH == scaled.left
