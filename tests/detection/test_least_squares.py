"""Amounts and their errors against statsmodels' generalised least squares on the raw spectra."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.detection.least_squares import (
    Widening,
    bare_variance,
    fit_shapes,
    leave_out,
    specimen_means,
    specimen_variance,
    widen,
)
from spectra.variation.model import nuisance_basis
from spectra.variation.subspace import orthonormal, project_out
from tests.smallbench import COATING, bare_set, bump, draw, gls

VARIATION = bare_set()
BASIS = nuisance_basis(VARIATION)
SHAPES = np.array([COATING, bump(1085.0, 12.0)])


def test_amounts_errors_and_residuals_are_those_of_generalised_least_squares() -> None:
    spectrum = draw(1, 5, 0.01 * COATING)[0]
    fit = fit_shapes(BASIS, VARIATION.whiten(SHAPES), VARIATION.whiten(spectrum[None, :]))
    amounts, covariance, residual = gls(SHAPES, spectrum, VARIATION.spots)
    assert fit.amounts[0] == pytest.approx(amounts, rel=1e-6)
    assert fit.covariance == pytest.approx(covariance, rel=1e-6)
    # Whitened residual back in absorbance: equal beside the nuisances, which take part in the oracle's fit.
    assert fit.residuals[0] == pytest.approx(
        project_out(BASIS, VARIATION.whiten(residual[None, :]))[0], abs=1e-8
    )


@given(st.floats(-5.0, 5.0), st.floats(-5.0, 5.0), st.floats(-3.0, 3.0), st.floats(-3.0, 3.0))
def test_amounts_add_and_nuisances_do_not_count(a: float, b: float, offset: float, substrate: float) -> None:
    spectrum = a * SHAPES[0] + b * SHAPES[1] + offset + substrate * VARIATION.spots.mean(axis=0)
    fit = fit_shapes(BASIS, VARIATION.whiten(SHAPES), VARIATION.whiten(spectrum[None, :]))
    assert fit.amounts[0] == pytest.approx([a, b], abs=1e-8)
    assert np.abs(fit.residuals).max() < 1e-7


def test_every_spectrum_is_fitted_by_itself() -> None:
    spectra = VARIATION.whiten(draw(4, 6, 0.02 * COATING))
    shapes = VARIATION.whiten(SHAPES)
    together = fit_shapes(BASIS, shapes, spectra)
    for row, spectrum in enumerate(spectra):
        alone = fit_shapes(BASIS, shapes, spectrum[None, :])
        assert together.amounts[row] == pytest.approx(alone.amounts[0], rel=1e-12)
        assert together.residuals[row] == pytest.approx(alone.residuals[0], abs=1e-12)


def test_a_shape_that_is_a_nuisance_has_no_amount_and_no_certainty() -> None:
    shapes = VARIATION.whiten(np.array([np.full(60, 0.3), COATING]))
    fit = fit_shapes(BASIS, shapes, VARIATION.whiten(draw(1, 7)))
    assert fit.covariance[0, 0] > 1e6
    plain = fit_shapes(BASIS, shapes[1:], VARIATION.whiten(draw(1, 7)))
    assert fit.covariance[1, 1] == pytest.approx(plain.covariance[0, 0], rel=1e-3)


def test_twins_share_an_amount_that_neither_is_sure_of() -> None:
    twins = VARIATION.whiten(np.array([COATING, COATING]))
    fit = fit_shapes(BASIS, twins, VARIATION.whiten((0.4 * COATING)[None, :]))
    alone = fit_shapes(BASIS, twins[:1], twins[:1]).covariance[0, 0]
    assert fit.amounts[0] == pytest.approx([0.2, 0.2], rel=1e-6)
    assert fit.covariance[0, 0] > 1e6 * alone
    # What both add up to is as sure as one alone.
    assert np.ones(2) @ fit.amounts[0] == pytest.approx(0.4, rel=1e-6)


def test_means_of_specimens_are_those_of_pandas() -> None:
    rows, names = draw(7, 8), ("b", "a", "b", "c", "a", "b", "c")
    table = pd.DataFrame(rows).groupby(list(names), sort=False).mean()
    assert specimen_means(rows, names) == pytest.approx(table.to_numpy(), rel=1e-12)


@pytest.mark.parametrize(("spots", "bare_spots"), [(1, 1), (1, 4), (2, 4), (4, 4), (9, 4)])
@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_variance_of_a_specimens_mean_is_that_of_drawn_ones(
    spots: int, bare_spots: int, share: float
) -> None:
    rng = np.random.default_rng(3)

    def drawn(count: int) -> float:
        own = np.sqrt(share) * rng.normal(size=(40_000, 1))
        return float(np.var((own + np.sqrt(1.0 - share) * rng.normal(size=(40_000, count))).mean(axis=1)))

    known = bare_set(share=share, per_unit=bare_spots)
    expected = max(1.0, drawn(spots) / drawn(bare_spots))  # more spots than the bare ones had do not count
    assert specimen_variance(spots, known) == pytest.approx(expected, rel=0.05)


def test_variance_of_a_specimen_where_the_bare_set_says_less() -> None:
    assert specimen_variance(5, bare_set()) == 1.0  # one spot on each bare specimen: nothing is known
    one = bare_set(specimens=("b",) * 6)
    assert specimen_variance(4, one) == pytest.approx(0.25)  # spots of one piece stand in for specimens


def test_variance_of_the_bare_mean() -> None:
    assert bare_variance(VARIATION) == pytest.approx(1.0 / 6.0)
    assert bare_variance(VARIATION, (2,)) == pytest.approx(1.0 / 5.0)


def test_left_out_specimens_are_judged_by_the_others_alone() -> None:
    left_out = leave_out(VARIATION, VARIATION.whiten(SHAPES))
    for i, spot in enumerate(VARIATION.spots):
        others = np.delete(VARIATION.spots, i, axis=0)
        amounts, covariance, residual = gls(SHAPES, spot, others)
        variance = 1.0 + 1.0 / len(others)
        assert left_out.z[i] == pytest.approx(amounts / np.sqrt(variance * np.diag(covariance)), rel=1e-5)
        squares = np.linalg.solve(VARIATION.factor, residual) ** 2 / variance
        assert left_out.squares[i] == pytest.approx(squares, rel=1e-5, abs=1e-10)


def test_left_out_specimens_of_a_true_model_scatter_by_one() -> None:
    z = np.concatenate(
        [
            leave_out(bare_set(seed=seed), VARIATION.whiten(SHAPES)).z.ravel()
            for seed in range(40)
        ]
    )  # fmt: skip
    assert np.mean(z) == pytest.approx(0.0, abs=0.15)
    assert np.mean(z**2) == pytest.approx(1.0, abs=0.2)


def test_widening_is_the_update_of_a_scaled_inverse_chi_square_prior() -> None:
    # Gelman et al., Bayesian Data Analysis (3rd ed.), section 2.6: degrees add, squares add.
    z = np.array([0.5, -1.5, 2.0])
    found = widen(z, 5.0)
    assert found.degrees == 8.0
    assert found.factor**2 == pytest.approx((5.0 * 1.0 + 3.0 * np.mean(z**2)) / 8.0)
    assert widen(z, 0.0).factor == pytest.approx(np.sqrt(np.mean(z**2)))
    assert widen(np.zeros(4), 4.0).factor == pytest.approx(np.sqrt(0.5))


def test_critical_value_of_a_widened_error() -> None:
    # Student's t at 9 degrees of freedom and 5 %, one-sided: 1.833 (any table of t).
    assert Widening(2.0, 9.0).critical(0.05) == pytest.approx(2.0 * 1.833, abs=1e-3)


@given(st.integers(1, 5))
def test_projecting_out_leaves_nothing_along_the_basis_and_is_done_once(count: int) -> None:
    rng = np.random.default_rng(count)
    basis = orthonormal(rng.normal(size=(count, 20)))
    rows = rng.normal(size=(3, 20))
    once = project_out(basis, rows)
    assert np.abs(once @ basis.T).max() < 1e-10
    assert project_out(basis, once) == pytest.approx(once, abs=1e-10)
