"""Presence of a film that was recognised: its shape, its specimens' scatter, its bands in one state."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import nct, t
from statsmodels.stats.multitest import multipletests

from spectra.decision import DecisionSettings
from spectra.detection.capability import average_sample, spot_amounts
from spectra.detection.film import fitted_shape, recognised, specimen_scatter
from spectra.detection.identity import Identity
from spectra.detection.settings import PresenceSettings
from spectra.filmfit.account import BandFate
from spectra.findings import CANNOT_TELL, PRESENT, Presence, Reason
from spectra.optics.shape import Shape
from spectra.variation.model import Variation
from tests.filmcases import learned, scene_of
from tests.scenes import GRID, film_response, spots
from tests.studyspeed import stack

DECISION, SETTINGS = DecisionSettings(), PresenceSettings()
NAMED = Identity(True, 0.99, (1540.0, 1650.0), 1.0)
SHAPE = Shape(np.ones(3), nm_per_amount=500.0)


@dataclass(frozen=True)
class MadeUp:
    """As much of an account as presence looks at."""

    bands: tuple[BandFate, ...] = ()
    amount: float = 40.0
    low: float = 32.0
    high: float = 50.0
    degrees: float = 10.0
    chi_square: float = 1.1
    mode: float = 40.0
    curve: Any = None

    @property
    def listed(self) -> tuple[BandFate, ...]:
        return tuple(band for band in self.bands if band.narrow)


def band(expected: float, **changes: Any) -> BandFate:
    base = BandFate(
        position=expected, width=40.0, expected=expected, shift=0.0, shift_error=0.3,
        place_error=0.3, ratio=1.0,
        ratio_error=0.05, shift_reach=0.3, ratio_reach=0.05, share=0.25, strength=1.0, narrow=True,
        moved=False, resized=False, height=0.02, own=1.0,
    )  # fmt: skip
    return replace(base, **changes)


def figures(*reasons: str) -> Presence:
    return Presence(
        CANNOT_TELL, tuple(Reason(code, {}) for code in reasons), 0.08, 0.06, 0.1, 0.01, 0.02, 1e-9, 3, 3,
        evidence=20.0, degrees=10.0, pattern_p=1e-9,
    )  # fmt: skip


BANDS = (band(1240.0), band(1540.0), band(1650.0), band(3290.0, narrow=False))


def found(*reasons: str, bands: tuple[BandFate, ...] = BANDS, shape: Shape = SHAPE) -> Presence:
    account: Any = MadeUp(bands)
    return recognised(figures(*reasons), account, NAMED, shape, DECISION, SETTINGS)


def test_doubts_about_the_unmoved_pattern_are_settled() -> None:
    settled = found("pattern-differs", "bare-set-differs", "no-band-alone", "few-bare")
    assert settled.verdict == PRESENT
    codes = [reason.code for reason in settled.reasons]
    assert codes == ["amount-above-critical", "recognised", "bands-found", "few-bare"]
    assert settled.remedies == ()
    assert settled.pattern_p is None
    assert settled.chi_square == 1.1


def test_a_twin_that_cannot_be_told_apart_stays_a_doubt() -> None:
    doubtful = found("inseparable")
    assert doubtful.verdict == CANNOT_TELL
    assert doubtful.reasons[0].code == "inseparable"
    assert doubtful.remedies


def test_the_thickness_is_the_film_fits_and_never_negative() -> None:
    one = found()
    assert (one.thickness_low_nm, one.thickness_nm, one.thickness_high_nm) == (32.0, 40.0, 50.0)
    assert one.critical_nm == pytest.approx(0.01 * 500.0)
    assert one.detectable_nm == pytest.approx(0.02 * 500.0)
    without = found(shape=Shape(np.ones(3)))
    assert (without.thickness_nm, without.detectable_nm) == (None, None)


def test_every_narrow_band_has_one_state_by_falling_wavenumber() -> None:
    mixed = (BANDS[0], replace(BANDS[1], ratio=0.02), replace(BANDS[2], ratio_reach=0.5), BANDS[3])
    said = found(bands=mixed).band_evidence
    assert [b.position for b in said] == [1650.0, 1540.0, 1240.0]
    assert [b.masked for b in said] == [True, False, False]
    assert [b.supports for b in said] == [False, False, True]
    reason = next(r for r in found(bands=mixed).reasons if r.code == "bands-found")
    assert reason.values["found"] == [1240.0]
    assert (reason.values["looked_at"], reason.values["masked"]) == (2, 1)
    assert said[2].amount == pytest.approx(0.08)
    assert said[2].error == pytest.approx(0.08 * 0.05)


def test_single_bands_share_their_error_as_holm_says() -> None:
    # statsmodels' Holm over Student's t of the heights of the bands that are not masked.
    ratios = (0.05, 0.11, 0.14, 0.3, 0.9)
    bands = tuple(band(1000.0 + 100.0 * i, ratio=r) for i, r in enumerate(ratios))
    p_values = [t.sf(r / 0.05, 10.0) for r in ratios]
    rejected, adjusted = multipletests(p_values, alpha=SETTINGS.bands.alpha, method="holm")[:2]
    said = found(bands=bands).band_evidence[::-1]
    np.testing.assert_allclose([b.p_adjusted for b in said], adjusted, rtol=1e-9)
    assert [b.supports for b in said] == rejected.tolist()


# -- with a learned bare set ------------------------------------------------------------------------


def variation_of() -> Variation:
    variation = learned().variation
    assert variation is not None
    return variation


def test_the_fitted_shape_gives_the_amount_of_the_fitted_film() -> None:
    variation, points = variation_of(), variation_of().reduction.points
    curve = np.interp(points, GRID, film_response(scene_of(), 40.0))
    account: Any = MadeUp(curve=curve)
    fitted = fitted_shape(Shape(np.ones(GRID.size), nm_per_amount=500.0), account, variation, GRID)
    # A unit is 500 nm: 40 nm are 0.08 of it, and 0.08 of the shape are the film's curve again.
    np.testing.assert_allclose(
        0.08 * np.interp(points, GRID, fitted.curve), curve, atol=1e-3 * np.abs(curve).max()
    )


def test_a_bands_limits_are_those_of_its_relative_height() -> None:
    for said in found().band_evidence:
        # A unit is 0.08; the band's height is known to a twentieth of it, ten degrees of freedom.
        error = 0.08 * 0.05
        critical = t.isf(SETTINGS.bands.alpha, 10.0)
        assert (said.amount, said.error) == pytest.approx((0.08, error))
        assert said.critical_amount == pytest.approx(error * critical)
        power = nct.sf(critical, 10.0, said.detectable_amount / error)
        assert power == pytest.approx(DECISION.power, abs=2e-3)
        assert (said.low, said.high) == (said.position - 40.0, said.position + 40.0)


def scatter_of(factors: tuple[float, ...]) -> tuple[tuple[float, float], float]:
    """Scatter of specimens whose films differ by these factors, and that of their amounts' logarithms."""
    model, scene, rng = learned(), scene_of(), np.random.default_rng(3)
    rows = np.concatenate([spots(scene, rng, 3, 60.0 * f) for f in factors])
    coated = replace(stack(rows), specimens=tuple(f"s{i // 3}" for i in range(len(rows))))
    yardstick = model.yardsticks["ATR", ("film",)]
    sample = average_sample(coated, variation_of())
    amounts = spot_amounts(coated, variation_of(), yardstick)[:, 0].reshape(-1, 3).mean(axis=1)
    own = np.var(amounts, ddof=1) / len(factors) / amounts.mean() ** 2
    return specimen_scatter(0, sample, variation_of(), yardstick, SETTINGS.uneven), float(own)


def test_specimens_that_differ_scatter_and_those_alike_do_not() -> None:
    (variance, degrees), own = scatter_of((0.5, 1.0, 1.6))
    assert degrees == 2.0
    assert 0.5 * own < variance < own  # less what the bare spots' scatter explains
    # Alike but for the contact of their spots, 5 % each, which scales a film's bands along.
    assert scatter_of((1.0, 1.0, 1.0))[0][0] < 0.05**2 / 3.0


def test_one_specimen_has_no_scatter_of_its_own() -> None:
    model, rows = learned(), spots(scene_of(), np.random.default_rng(3), 3, 60.0)
    coated = replace(stack(rows), specimens=("a",) * 3)
    sample = average_sample(coated, variation_of())
    assert specimen_scatter(0, sample, variation_of(), model.yardsticks["ATR", ("film",)], 0.05) == (0.0, 1.0)
