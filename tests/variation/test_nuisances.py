"""Shapes that say nothing: what they span, against numpy's own polynomials."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.variation.binning import Reduction
from spectra.variation.nuisances import contact_response, known_shapes


def left(shapes: np.ndarray, curve: np.ndarray) -> float:
    """Share of a curve that no combination of the shapes is."""
    rest = curve - np.linalg.lstsq(shapes.T, curve, rcond=None)[0] @ shapes
    return float(np.linalg.norm(rest) / np.linalg.norm(curve))


def shapes_of(low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    grid = np.arange(low, high, 4.0)
    reduction = Reduction(grid, ((0, grid.size, 1),))
    return known_shapes(grid, reduction, 4.0), grid


@pytest.mark.parametrize(
    ("low", "high", "degree"), [(400.0, 3600.0, 5), (700.0, 2000.0, 2), (1500.0, 1900.0, 1)]
)
def test_a_baseline_bends_once_in_600_wavenumbers_and_no_more(low: float, high: float, degree: int) -> None:
    shapes, points = shapes_of(low, high)
    u = (points - points.mean()) / np.ptp(points)
    for power in range(degree + 1):
        assert left(shapes, u**power + 0.1) < 1e-9
    beyond = np.polynomial.legendre.Legendre.basis(degree + 1, domain=[points[0], points[-1]])(points)
    assert left(shapes, beyond) > 0.5


def test_a_narrow_band_is_no_baseline() -> None:
    shapes, points = shapes_of(400.0, 3600.0)
    assert left(shapes, np.exp(-4.0 * np.log(2.0) * ((points - 1150.0) / 30.0) ** 2)) > 0.95


def test_contact_changes_absorbance_as_its_formula_says() -> None:
    # A = -log10(1 - p (1 - R)): central difference with p.
    lost = np.linspace(0.05, 0.6, 5)
    absorbance = lambda p: -np.log10(1.0 - p * lost)  # noqa: E731
    slope = (absorbance(0.8 + 1e-6) - absorbance(0.8 - 1e-6)) / 2e-6
    ratio = slope / contact_response(absorbance(0.8))
    np.testing.assert_allclose(ratio, ratio[0], rtol=1e-6)
