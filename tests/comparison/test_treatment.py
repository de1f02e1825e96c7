"""Bands before and after a treatment: rules on made-up bands, error rates by drawing them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from spectra.comparison.treatment import GONE, NEITHER, NEW, STILL, compare_bands, compare_residue
from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, BandFinding, Residue

SETTINGS = DecisionSettings()
PLACES = (1650.0, 1540.0, 1450.0, 1240.0)


def band(place, shift=0.0, ratio=1.0, shift_half=1.0, ratio_half=0.1, **more):
    """A band of the coating; intervals at 95 %."""
    found = BandFinding(
        place, 0.1, place + 3.0, 0.2, place + 3.0 + shift, 0.5, shift, shift - shift_half, shift + shift_half,
        4.0, 0.1, 0.1 * ratio, 0.001, 30.0, None, UNCHANGED, True, False, 50.0, 1e-9, 1e-9,
        confidence=0.95, ratio=ratio, ratio_low=ratio - ratio_half, ratio_high=ratio + ratio_half,
    )  # fmt: skip
    return replace(found, **more)


BEFORE = [band(place) for place in PLACES]


def test_alike_is_unchanged_and_every_interval_adds_both_errors():
    found = compare_bands(BEFORE, [band(place, 1.0) for place in PLACES], SETTINGS)
    assert (found.verdict, found.reasons[0].code) == (UNCHANGED, "treatment-unchanged")
    first = found.bands[0]
    assert (first.shift, first.ratio) == (1.0, 1.0)
    assert first.shift_high - first.shift == pytest.approx(np.sqrt(2.0))
    assert first.ratio_high - first.ratio == pytest.approx(0.1 * np.sqrt(2.0))


@pytest.mark.parametrize(("shift", "ratio"), [(8.0, 1.0), (-8.0, 1.0), (0.0, 0.4), (0.0, 1.8)])
def test_a_band_that_moved_or_changed_strength_is_named(shift, ratio):
    found = compare_bands(BEFORE, [band(PLACES[0], shift, ratio), *BEFORE[1:]], SETTINGS)
    assert found.verdict == CHANGED
    assert found.reasons[0].values["positions"] == (1653.0,)


def test_a_shift_both_have_is_no_change_between_them():
    """What was changed before is not the treatment's doing."""
    both = [band(place, 12.0, 0.5) for place in PLACES]
    assert compare_bands(both, both, SETTINGS).verdict == UNCHANGED


def test_wide_intervals_and_hidden_bands_leave_it_open():
    near = [band(PLACES[0], 3.8, shift_half=0.5), *BEFORE[1:]]
    found = compare_bands(BEFORE, near, SETTINGS)
    assert (found.verdict, found.reasons[0].code) == (CANNOT_TELL, "treatment-open")
    # One that could not have decided is not judged; too many of them leave nothing to say.
    wide = [band(place, shift_half=5.0) for place in PLACES]
    found = compare_bands(BEFORE, [wide[0], *BEFORE[1:]], SETTINGS)
    assert (found.verdict, found.reasons[0].values["open"]) == (UNCHANGED, (1653.0,))
    found = compare_bands(BEFORE, [*wide[:3], BEFORE[3]], SETTINGS)
    assert (found.verdict, found.reasons[0].code) == (CANNOT_TELL, "treatment-too-few")
    hidden = [replace(item, masked=True) for item in BEFORE]
    assert compare_bands(BEFORE, hidden, SETTINGS).reasons[0].code == "treatment-too-few"
    assert compare_bands(BEFORE, [], SETTINGS).bands == ()


def test_a_lost_band_is_a_change_though_its_place_is_not_known():
    lost = replace(band(PLACES[1], 0.0, 0.05), shift=None, shift_low=None, shift_high=None)
    found = compare_bands(BEFORE, [BEFORE[0], lost, *BEFORE[2:]], SETTINGS)
    assert found.verdict == CHANGED
    assert found.reasons[0].values["positions"] == (1543.0,)


def test_nothing_changed_is_called_changed_less_often_than_the_shared_level():
    """Shifts drawn at the margin: P(changed) is below 5 % for all bands together; 30 degrees as assumed."""
    rng, calls, draws = np.random.default_rng(4), 0, 400
    factor = stats.t.ppf(0.975, 30)
    for _ in range(draws):
        pair = []
        for truth in (0.0, 4.0):
            error = np.sqrt(rng.chisquare(30, 4) / 30)
            shifts = truth + rng.normal(size=4)
            drawn = zip(PLACES, shifts, error, strict=True)
            pair.append([band(p, float(d), shift_half=float(factor * e)) for p, d, e in drawn])
        calls += compare_bands(*pair, SETTINGS).verdict == CHANGED
    assert calls <= stats.binom.ppf(0.999, draws, 0.05)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (PRESENT, NOT_SHOWN, GONE),
        (PRESENT, PRESENT, STILL),
        (NOT_SHOWN, PRESENT, NEW),
        (NOT_SHOWN, NOT_SHOWN, NEITHER),
        (PRESENT, CANNOT_TELL, CANNOT_TELL),
        (CANNOT_TELL, NOT_SHOWN, CANNOT_TELL),
    ],
)
def test_a_residue_is_gone_only_where_both_could_be_judged(before, after, expected):
    assert compare_residue(Residue("acid", before, ()), Residue("acid", after, ())) == expected
