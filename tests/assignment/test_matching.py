"""Matching: what is found again in spectra of real materials, and what is proposed beside it.

The limits are the measured figures with a little room; ``python -m tests.mixtures`` prints the figures. The
rows that were computed from the same constants are not used in matching.
"""

from functools import cache

import numpy as np
import pytest

from reference_bands import load
from spectra.assignment.coherence import (
    FOUND,
    HIDDEN,
    MISSING,
    FoundBands,
    match_material,
    uncertainty,
)
from spectra.assignment.matching import propose
from spectra.assignment.settings import MatchingSettings
from spectra.errors import SpectraError
from tests import mixtures
from tests.optical_constants import maxima
from tests.test_examples import FILM

TABLE = load()


def found_bands(*positions, heights=None, width=20.0, covered=(400, 4000), masked=()):
    n = len(positions)
    return FoundBands(
        positions, np.full(n, 1.0), heights or np.full(n, 1.0), np.full(n, width), covered, masked
    )


def test_matching_uses_no_computed_row():
    for material in set(mixtures.MATERIALS.values()):
        matches = match_material(material, found_bands(1000.0), TABLE, MatchingSettings())
        assert {row.checked for m in matches for row in m.feature.rows} <= {"read", "unidentified", "memory"}


@cache
def counted(name):
    return mixtures.count(name, TABLE)


# set, least recall, most false proposals a spectrum
@pytest.mark.parametrize(
    ("name", "recall", "false"),
    [
        ("alone", 1.0, 0.25),
        ("eighty_to_twenty", 0.78, 0.35),
        ("half_and_half", 0.84, 0.38),
        ("kept_back", 1.0, 0.2),
        ("kept_back_mixed", 0.68, 0.39),
        ("in_atr", 0.82, 0.25),
    ],
)
def test_materials_are_found_again(name, recall, false):
    assert counted(name).spectra >= 5
    assert counted(name).recall >= recall
    assert counted(name).false_per_spectrum <= false


def test_the_larger_part_of_a_mixture_is_nearly_always_found():
    count = counted("eighty_to_twenty")
    assert count.major >= 0.95 * count.spectra


def test_moved_bands_are_not_the_material():
    """The same spectra with the axis moved by 60 cm-1: matching by chance, for comparison."""
    true = 0
    for parts in mixtures.alone():
        grid, signal = mixtures.spectrum(parts)
        names = {p.material for p in propose(mixtures.bands(grid + 60.0, signal), TABLE)}
        true += bool(names & {mixtures.MATERIALS[page] for page in parts})
    assert true == 0


@cache
def film_bands(share):
    """Bands of the real film, read by a reader of this test: FIX form, evenly spaced transmittance."""
    text = FILM.read_text(encoding="ascii")
    labels = dict(
        line[2:].split("=", 1) for line in text.splitlines() if line.startswith("##") and "=" in line
    )
    first, last = (float(labels[name]) for name in ("FIRSTX", "LASTX"))
    factor = float(labels["YFACTOR"].split("$$")[0])
    rows = text.split("(X++(Y..Y))")[1].split("##")[0].splitlines()
    transmittance = np.array([float(word) for row in rows for word in row.split()[1:]]) * factor
    assert transmittance.size == int(labels["NPOINTS"])
    grid = np.linspace(first, last, transmittance.size)
    inside = grid > 500
    peaks = maxima(grid[inside], -np.log10(transmittance[inside]), share)
    errors = np.full(peaks.positions.size, 0.5)
    return FoundBands(peaks.positions, errors, peaks.prominences, peaks.widths, (500.0, last))


@pytest.mark.parametrize("share", [0.005, 0.01, 0.02, 0.05])
def test_the_real_film_is_polystyrene_with_polycarbonate(share):
    """Identity inferred from bands by non-negative least squares with optical constants (r = 0.966)."""
    names = [proposal.material for proposal in propose(film_bands(share), TABLE)]
    assert {"polystyrene", "polycarbonate"} <= set(names[:3])
    assert len(names) <= 3


def test_proposals_show_evidence_competitors_and_what_tells_them_apart():
    found = film_bands(0.02)
    first, second = propose(found, TABLE)[:2]
    assert (first.material, second.material) == ("polystyrene", "polycarbonate")
    assert set(first.adds) == set(first.explained)
    assert set(second.adds).isdisjoint(first.explained)
    carbonyl = min((m for m in second.matches if m.state == FOUND), key=lambda m: abs(m.row.centre - 1775))
    assert abs(carbonyl.distance) < 2 * carbonyl.uncertainty
    assert 0.2 < carbonyl.strength_ratio < 5
    assert first.competitors
    for rival in first.competitors:
        assert set(rival.shared) <= set(first.explained)
        assert len(rival.there) == len(rival.look_for)


def test_one_band_proposes_no_material():
    assert propose(found_bands(1724.0), TABLE) == ()
    assert propose(FoundBands([], [], [], [], (400, 4000)), TABLE) == ()


def test_a_missing_strong_band_refuses_a_material_unless_it_is_masked():
    """Polycaprolactone without its C=O band, the strongest of the spectrum."""
    without = (2949.0, 2865.0, 1240.0, 1190.0, 1170.0, 1047.0)
    seen = propose(found_bands(*without), TABLE)
    assert "polycaprolactone" not in [p.material for p in seen]
    masked = propose(found_bands(*without, masked=((1650, 1800),)), TABLE)
    assert "polycaprolactone" in [p.material for p in masked]
    cut = propose(found_bands(*without, covered=(900, 1650)), TABLE)
    assert "polycaprolactone" in [p.material for p in cut]


def test_a_band_on_the_flank_of_a_higher_one_is_hidden_not_missing():
    settings = MatchingSettings()
    narrow = found_bands(1724.0, 1240.0, 1170.0, heights=[1.0, 0.5, 0.9], width=8.0)
    wide = found_bands(1724.0, 1240.0, 1170.0, heights=[1.0, 0.5, 0.9], width=30.0)
    state = {}
    for name, found in (("narrow", narrow), ("wide", wide)):
        matches = match_material("PCL", found, TABLE, settings)
        state[name] = next(m.state for m in matches if m.feature.position == 1190)
    assert state == {"narrow": MISSING, "wide": HIDDEN}


def test_uncertainty_is_the_root_of_summed_squares():
    """JCGM 100:2008, 4.3.7 and 5.1.2: half-width over the root of three, squares added."""
    row = TABLE.near(1724, material="PCL")[0]
    by_hand = (0.5**2 + (8 / 3**0.5) ** 2 + 3.0**2) ** 0.5
    assert uncertainty(row, 1725.0, 0.5, MatchingSettings()) == pytest.approx(by_hand)


def test_order_and_unit_of_the_found_bands_do_not_matter():
    found = film_bands(0.02)
    turned = np.arange(found.positions.size)[::-1]
    other = FoundBands(
        found.positions[turned],
        found.errors[turned],
        1000 * found.heights[turned],
        found.widths[turned],
        found.covered,
    )
    plain = [(p.material, sorted(found.positions[list(p.adds)])) for p in propose(found, TABLE)]
    assert [(p.material, sorted(other.positions[list(p.adds)])) for p in propose(other, TABLE)] == plain


@pytest.mark.parametrize(
    ("arrays", "message"),
    [
        (([1700.0], [1.0], [1.0, 2.0], [10.0]), "heights has shape"),
        (([1700.0], [np.nan], [1.0], [10.0]), "errors holds a value that is not a number"),
    ],
)
def test_found_bands_that_cannot_be_are_refused(arrays, message):
    with pytest.raises(SpectraError, match=message):
        FoundBands(*arrays, (400, 4000))
