"""One small study from spectra to findings: what became of the film is what was done to it.

Spectra are those of the trial of every band's fate (tests.fatetrial, whose optics are its own): 6 bare, 3
neat and 4 coated spots, contacts unknown. One sample a cell; the trial itself counts hundreds.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    LOST,
    MOVED,
    NOT_SHOWN,
    PRESENT,
    SHOWN,
    STRONGER,
    UNCHANGED,
    WEAKER,
    BandFinding,
)
from spectra.verification.result import CoatingFinding, SampleFinding
from tests.fatecells import Sample
from tests.fatetrial import Task, findings_of, first_named

PAIR = "protein on polylactide"
FLAT = ("bare", "unchanged-60", "moved-3", "lost", "halved", "all+12-60", "all-22-60", "other-60")
NESTED = ("unchanged-30", "unchanged-100", "bare")


@cache
def flat() -> dict[str, tuple[Sample, SampleFinding]]:
    task = Task(PAIR, "flat", FLAT, 0, 7)
    return {cell: (sample, finding) for cell, sample, finding in findings_of(task)}


@cache
def nested() -> dict[str, tuple[Sample, SampleFinding]]:
    """Three specimens of three spots."""
    return {cell: (sample, found) for cell, sample, found in findings_of(Task(PAIR, "nested", NESTED, 0, 7))}


def every() -> list[tuple[str, Sample, SampleFinding]]:
    return [(cell, *pair) for cells in (flat(), nested()) for cell, pair in cells.items()]


def film(cell: str) -> CoatingFinding:
    return flat()[cell][1].coatings["film"]


def row_at(cell: str, place: float) -> BandFinding:
    return min(film(cell).bands, key=lambda band: abs(band.neat_position - place))


def test_bare_is_no_layer_no_coating_and_has_no_chemistry() -> None:
    finding = flat()["bare"][1]
    assert finding.layer is not None
    assert finding.layer.verdict == NOT_SHOWN
    assert film("bare").presence.verdict == NOT_SHOWN
    assert film("bare").chemistry.verdict == CANNOT_TELL
    assert film("bare").judged_share is None
    assert finding.unexplained == ()


def test_an_unchanged_film_is_present_and_unchanged() -> None:
    finding = flat()["unchanged-60"][1]
    assert finding.layer is not None
    assert (finding.layer.verdict, finding.layer.looks_like) == (SHOWN, ("film",))
    assert film("unchanged-60").presence.verdict == PRESENT
    assert film("unchanged-60").chemistry.verdict == UNCHANGED
    share = film("unchanged-60").judged_share
    assert share is not None
    assert 0.5 <= share <= 1.0


@pytest.mark.parametrize(("cell", "fates"), [("moved-3", {MOVED}), ("lost", {LOST}), ("halved", {WEAKER})])
def test_one_changed_band_is_the_first_reason_and_the_coating_is_still_there(
    cell: str, fates: set[str]
) -> None:
    sample, _ = flat()[cell]
    assert sample.target is not None
    assert film(cell).presence.verdict == PRESENT
    assert film(cell).chemistry.verdict == CHANGED
    true_place = float(np.flatnonzero(sample.shift + (sample.height != 1.0))[0])
    assert true_place == sample.target
    first = first_named(film(cell).chemistry)
    assert first is not None
    row = min(film(cell).bands, key=lambda band: abs(band.expected_position - first))
    assert row.fate in fates
    # The band of the coating that is nearest to the row's place in the neat spectrum is the one changed.
    from tests.films import film_in_bands

    places = film_in_bands("protein").positions
    nearest = int(np.argmin(np.abs(places - row.neat_position)))
    assert nearest == sample.target
    if cell == "moved-3":
        assert row.shift_low is not None
        assert row.shift_high is not None
        assert row.shift_low - 1.0 <= sample.shift[sample.target] <= row.shift_high + 1.0
    if cell == "halved":
        assert row.ratio == pytest.approx(0.5, abs=0.15)


@pytest.mark.parametrize(("cell", "by"), [("all+12-60", 12.0), ("all-22-60", -22.0)])
def test_a_film_all_of_whose_bands_moved_is_present_and_changed(cell: str, by: float) -> None:
    assert film(cell).presence.verdict == PRESENT
    assert film(cell).chemistry.verdict == CHANGED
    moved = [row.shift for row in film(cell).bands if row.fate == MOVED and row.shift is not None]
    assert len(moved) >= 2
    assert np.median(moved) == pytest.approx(by, abs=1.5)
    assert not {row.fate for row in film(cell).bands} & {LOST, STRONGER}


def test_another_material_is_a_layer_and_not_the_coating() -> None:
    finding = flat()["other-60"][1]
    assert finding.layer is not None
    assert finding.layer.verdict == SHOWN
    assert film("other-60").presence.verdict != PRESENT
    assert film("other-60").chemistry.verdict == CANNOT_TELL
    assert film("other-60").judged_share is None


def test_thickness_and_amount_hold_the_truth_and_no_length_is_negative() -> None:
    held = []
    for cell, sample, finding in every():
        presence = finding.coatings["film"].presence
        lengths = (presence.thickness_low_nm, presence.thickness_nm, presence.thickness_high_nm)
        known = [nm for nm in lengths if nm is not None]
        assert all(nm > 0.0 for nm in known), cell
        assert known == sorted(known), cell
        assert (presence.critical_nm or 0.0) > 0.0
        if presence.verdict == PRESENT:
            low, _, high = lengths
            assert low is not None
            assert high is not None
            held.append(0.9 * low <= sample.nm <= 1.1 * high)
    assert len(held) >= 8
    assert sum(held) >= len(held) - 1


def test_the_specimens_mean_is_the_pooled_amount_in_every_design() -> None:
    for cell, _, finding in every():
        presence, pieces = finding.coatings["film"].presence, finding.evenness["film"]
        assert np.mean([p.amount for p in pieces]) == pytest.approx(presence.amount, abs=1e-9), cell
        spots = [amount for piece in pieces for amount in piece.spots]
        np.testing.assert_allclose(finding.spot_amounts["film"], spots, rtol=1e-12)
        assert (len(pieces), len(spots)) == (presence.specimens, presence.spots)
    assert nested()["unchanged-30"][1].coatings["film"].presence.specimens == 3


def test_a_nested_design_is_decided_like_a_flat_one() -> None:
    decided = {cell: found.coatings["film"].presence.verdict for cell, (_, found) in nested().items()}
    assert decided == {"unchanged-30": PRESENT, "unchanged-100": PRESENT, "bare": NOT_SHOWN}
    assert CHANGED not in {found.coatings["film"].chemistry.verdict for _, found in nested().values()}


def test_curves_belong_to_the_verdict() -> None:
    finding = flat()["unchanged-60"][1]
    curve, difference = finding.expected["film"], finding.difference
    used = np.isfinite(curve) & np.isfinite(difference)
    assert np.std((difference - curve)[used]) < 0.1 * np.ptp(curve[used])


def test_the_substrate_is_never_blamed_for_a_film() -> None:
    assert CHANGED not in {finding.substrate.chemistry.verdict for _, _, finding in every()}
