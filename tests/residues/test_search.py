"""What is left behind: findings on data with known truth, errors counted."""

from __future__ import annotations

import numpy as np
import pytest

from reference_bands import load
from spectra.decision import DecisionSettings
from spectra.detection.capability import average_sample
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT
from spectra.residues.filter_bank import make_bumps
from spectra.residues.search import bump_between, search_residual, sought_beside
from spectra.residues.settings import ResidueSettings
from spectra.residues.unexplained import explain_bumps
from spectra.residues.watched import judge_watched
from spectra.spectrum import Stack
from spectra.variation.model import learn
from spectra.variation.settings import VariationSettings

GRID = np.arange(900.0, 1900.0, 2.0)
SUBSTRATE = ((1730, 20, 0.3), (1170, 30, 0.25), (1450, 18, 0.1), (1040, 25, 0.12))
COATING = ((1655, 45, 0.30), (1540, 40, 0.22), (1235, 40, 0.10))


def drawn(bands: tuple[tuple[float, float, float], ...], sizes: np.ndarray | float = 1.0) -> np.ndarray:
    sizes = np.broadcast_to(sizes, len(bands))
    return sum(
        s * h * np.exp(-4 * np.log(2) * ((GRID - c) / w) ** 2)
        for s, (c, w, h) in zip(sizes, bands, strict=True)
    )


def spots(rng: np.random.Generator, count: int, film: np.ndarray | float) -> Stack:
    """Substrate bands that vary by 2 % each, contact by 10 %, a drifting baseline, a film, noise."""
    rows = [
        (1 + 0.1 * rng.normal()) * (drawn(SUBSTRATE, 1 + 0.02 * rng.normal(size=4)) + film)
        + 0.004 * rng.normal() * np.cos(GRID / 300 + rng.uniform(0, 6))
        + 2e-4 * rng.normal(size=GRID.size)
        for _ in range(count)
    ]
    names = tuple(f"s{i}" for i in range(count))
    return Stack(GRID, rows, names, names)


def searched(rng: np.random.Generator, residue: np.ndarray | float, amount: float = 0.05):
    settings = ResidueSettings()
    variation = learn(spots(rng, 6, 0.0), VariationSettings())
    curve = variation.reduction.apply(drawn(COATING))
    bank = make_bumps(variation, [curve], settings)
    sample = average_sample(spots(rng, 3, amount * drawn(COATING) + residue), variation)
    sought = sought_beside(sample.mean, sample.variance, variation, [(amount, curve)], settings)
    return search_residual(sought, bank)


def test_clean_samples_have_hardly_any_finding() -> None:
    rng = np.random.default_rng(1)
    found = [len(searched(rng, 0.0).found) for _ in range(30)]
    assert sum(count > 0 for count in found) <= 2  # stated: 1 % of samples


def test_a_residue_is_found_where_it_is() -> None:
    rng = np.random.default_rng(2)
    residue = drawn(((1320, 24, 0.004),))
    hits = [searched(rng, residue).found for _ in range(10)]
    assert all(bumps and abs(bumps[0].position - 1320) < 8 for bumps in hits)
    heights = [bumps[0].height for bumps in hits]
    assert np.mean(heights) == pytest.approx(0.004, rel=0.2)


def test_missing_absorption_is_a_negative_finding_without_candidates() -> None:
    search = searched(np.random.default_rng(3), -drawn(((1320, 24, 0.006),)))
    first = explain_bumps(search.found, load(), (), ResidueSettings())[0]
    assert first.height < 0
    assert first.candidates == ()


def test_watched_material_needs_two_of_its_bands() -> None:
    # Acetic acid: C=O 1710, C-O 1290, C-O-H 1410 (general solvent literature, from memory, as in the tables)
    rng, table = np.random.default_rng(4), load()
    both = drawn(((1412, 30, 0.006), (1290, 40, 0.008), (1705, 30, 0.012)))
    one = drawn(((1290, 40, 0.008),))
    verdicts = {
        name: judge_watched(
            "acetic acid", searched(rng, film), DecisionSettings(), ResidueSettings(), table, doubt
        ).verdict
        for name, film, doubt in (
            ("none", 0.0, None),
            ("one", one, None),
            ("both", both, None),
            ("doubtful", both, "residue-or-change"),
        )
    }
    assert verdicts == {"none": NOT_SHOWN, "one": CANNOT_TELL, "both": PRESENT, "doubtful": CANNOT_TELL}


def test_one_band_is_not_taken_for_two() -> None:
    # A strong bump that is not taken out first is found again in what it does to drift and slopes: 6 of 25.
    table, one = load(), drawn(((1290, 40, 0.008),))
    verdicts = [
        judge_watched(
            "acetic acid",
            searched(np.random.default_rng(seed), one),
            DecisionSettings(),
            ResidueSettings(),
            table,
            None,
        ).verdict
        for seed in range(12)
    ]
    assert verdicts.count(PRESENT) <= 1


def test_clean_samples_are_not_said_to_hold_a_watched_material() -> None:
    rng, table = np.random.default_rng(5), load()
    verdicts = [
        judge_watched(name, searched(rng, 0.0), DecisionSettings(), ResidueSettings(), table, None).verdict
        for _ in range(6)
        for name in ("acetic acid", "ethanol", "dimethyl sulfoxide", "isopropanol")
    ]
    assert verdicts.count(PRESENT) == 0
    assert verdicts.count(NOT_SHOWN) >= 22


def test_flank_of_a_neighbour_is_not_a_bump_of_its_own() -> None:
    search = searched(np.random.default_rng(6), drawn(((1320, 24, 0.02),)))
    found = bump_between(search, 1310.0, 1330.0)
    assert found is not None
    assert found.position == pytest.approx(1320, abs=6)
    flank = bump_between(search, 1334.0, 1340.0)
    assert flank is None or flank.evidence < search.bank.threshold
