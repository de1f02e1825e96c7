"""Two sources of one material, with known differences; intervals against scipy."""

import numpy as np
import pytest
from scipy import stats

from spectra.comparison.sources import compare_sources
from spectra.decision import DecisionSettings
from spectra.peaks.settings import PeakSettings
from spectra.spectrum import Stack

GRID = np.arange(900.0, 1900.0, 2.0)
PLACES, HEIGHTS = (1080.0, 1250.0, 1450.0, 1650.0), (0.3, 0.2, 0.25, 0.4)


def source(seed, places=PLACES, heights=HEIGHTS, count=4, wobble=0.3):
    """Invented neat spectra: Gaussian bands, contact 5 %, places and heights that repeat to some extent."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(count):
        contact = 1.0 + 0.05 * rng.normal()
        bands = [
            h * (1 + 0.02 * rng.normal()) * np.exp(-(((GRID - p - wobble * rng.normal()) / 15.0) ** 2))
            for p, h in zip(places, heights, strict=True)
        ]
        rows.append(contact * np.sum(bands, axis=0) + 2e-4 * rng.normal(size=GRID.size))
    names = tuple(f"n{i}" for i in range(count))
    return Stack(GRID, np.array(rows), names, names)


def compare(one, other):
    return compare_sources((one, other), ("a", "b"), "gelatin", PeakSettings(), DecisionSettings(), 0.5)


def test_two_lots_of_the_same_are_the_same():
    found = compare(source(1), source(2))
    assert found.verdict == "same"
    assert [band.verdict for band in found.bands] == ["same"] * 4
    assert all(band.ratio_low < 1.0 < band.ratio_high for band in found.bands)


def test_a_moved_band_is_named_and_the_others_are_not():
    found = compare(source(1), source(2, places=(1080.0, 1250.0, 1450.0, 1658.0)))
    assert found.verdict == "different"
    assert [round(band.position, -1) for band in found.bands if band.verdict == "different"] == [1650.0]
    (moved,) = [band for band in found.bands if band.verdict == "different"]
    assert moved.shift_low < 8.0 < moved.shift_high


def test_a_weaker_band_and_a_missing_band_are_different():
    weaker = compare(source(1), source(2, heights=(0.3, 0.1, 0.25, 0.4)))
    assert [round(band.position) for band in weaker.bands if band.verdict == "different"] == [1250]
    missing = compare(source(1), source(2, heights=(0.3, 0.0, 0.25, 0.4)))
    assert missing.verdict == "different"
    assert [band.shift for band in missing.bands if band.verdict == "different"] == [None]


def test_scattered_or_single_spectra_cannot_tell():
    assert compare(source(1, wobble=6.0), source(2, wobble=6.0)).verdict == "cannot tell"
    alone = compare(source(1, count=1), source(2))
    assert (alone.verdict, alone.bands, alone.spectra) == ("cannot tell", (), (1, 4))


def test_the_interval_of_a_shift_is_welchs():
    from spectra.comparison.sources import _measure
    from spectra.peaks.finding import find_peaks

    one, other = source(3), source(4)
    middle = (one.mean + other.mean) / 2.0
    bands = find_peaks(GRID, middle, PeakSettings())
    places = [_measure(bands, GRID, stack.absorbance, PeakSettings(), 0.5)[0][:, 3] for stack in (one, other)]
    limits = stats.ttest_ind(places[1], places[0], equal_var=False).confidence_interval(0.95)
    band = compare(one, other).bands[3]
    assert (band.shift_low, band.shift_high) == pytest.approx((limits.low, limits.high), rel=1e-6)


def test_what_is_the_same_is_seldom_called_different():
    verdicts = [compare(source(seed), source(seed + 1000)).verdict for seed in range(60)]
    assert verdicts.count("different") <= 1
    assert verdicts.count("same") >= 50
