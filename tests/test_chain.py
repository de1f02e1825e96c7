"""The whole chain on spectra with known truth: a small share of ``python -m tests.chaintrial``."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spectra.findings import CHANGED, NOT_SHOWN, PRESENT, UNCHANGED
from tests.chaintrial import BARE, COATED, MOVED, run
from tests.classical import neat_spots
from tests.scenes import PAIRS, Scene, spots
from tests.studyspeed import decide, stack

NAMES = ["protein on polylactide", "polyether on terephthalate", "polyether on cellulose + terephthalate"]


def scene(name: str) -> Scene:
    return replace(Scene(*PAIRS[name]), composition=0.03)


@pytest.mark.parametrize("name", NAMES)
def test_an_unchanged_film_is_present_and_never_called_changed(name: str) -> None:
    # The neat spectrum is a bulk whose bands lie up to 15 cm-1 from those of the film.
    finding = run(scene(name), np.random.default_rng(1), 50.0, 0.0)
    film = finding.coatings["film"]
    assert film.presence.verdict == PRESENT
    assert film.chemistry.verdict != CHANGED
    assert finding.substrate.chemistry.verdict != CHANGED
    assert film.presence.thickness_low_nm <= 50.0 <= film.presence.thickness_high_nm


def test_a_film_with_moved_bands_is_never_unchanged_and_the_substrate_never_changed() -> None:
    # The full trial: changed in 61 of 63, cannot tell in 2, unchanged in none.
    findings = [run(scene(name), np.random.default_rng(2), 50.0, MOVED) for name in NAMES]
    verdicts = [finding.coatings["film"].chemistry.verdict for finding in findings]
    assert UNCHANGED not in verdicts
    assert verdicts.count(CHANGED) >= 2
    assert all(finding.substrate.chemistry.verdict != CHANGED for finding in findings)


def test_bare_samples_are_not_shown_and_have_no_chemistry() -> None:
    rng, one = np.random.default_rng(3), scene(NAMES[0])
    bare, neat = stack(spots(one, rng, BARE)), stack(neat_spots(one, rng))
    film = decide(bare, neat, stack(spots(one, rng, COATED))).coatings["film"]
    assert film.presence.verdict == NOT_SHOWN
    assert film.chemistry.verdict not in (UNCHANGED, CHANGED)
