"""Candidates beside unexplained bands: alone, and as a set."""

from __future__ import annotations

import pytest

from reference_bands import load
from spectra.assignment.settings import SuggestionSettings
from spectra.residues.search import Bump
from spectra.residues.settings import ResidueSettings
from spectra.residues.unexplained import explain_bumps

TABLE = load()
# Strong bands of polystyrene, from the handbook positions the tables cite.
POLYSTYRENE = (697.0, 757.0, 1452.0, 1493.0, 2923.0)


def bump(position: float, height: float = 0.01, width: float = 12.0) -> Bump:
    values = {"position": position, "height": height, "width": width, "evidence": 9.0}
    return Bump(**{name: values.get(name, 0.0) for name in Bump.__dataclass_fields__})


def test_a_material_whose_bands_are_there_together_comes_first() -> None:
    bumps = [bump(position) for position in POLYSTYRENE]
    explained = explain_bumps(bumps, TABLE, (), ResidueSettings())
    assert [item.position for item in explained] == list(POLYSTYRENE)
    assert [item.candidates[0].material for item in explained] == ["polystyrene"] * len(POLYSTYRENE)


def test_one_band_alone_has_candidates_and_no_proposal() -> None:
    (alone,) = explain_bumps([bump(1724.0)], TABLE, (), ResidueSettings())
    assert len(alone.candidates) == 5
    assert all(abs(candidate.position - 1724.0) < 40.0 for candidate in alone.candidates)


def test_watched_materials_come_before_all() -> None:
    bumps = [bump(position) for position in POLYSTYRENE]
    explained = explain_bumps(bumps, TABLE, ("toluene",), ResidueSettings())
    shared = [item for item in explained if any(c.material == "toluene" for c in item.candidates)]
    assert shared
    assert all(item.candidates[0].material == "toluene" for item in shared)


def test_missing_absorption_has_no_candidate_and_proves_nothing() -> None:
    bumps = [bump(POLYSTYRENE[0], height=-0.01), *(bump(position) for position in POLYSTYRENE[1:3])]
    assert explain_bumps(bumps, TABLE, (), ResidueSettings())[0].candidates == ()


@pytest.mark.parametrize(("shown", "most", "counts"), [(2, 12, [2, 2]), (0, 12, [0, 0]), (3, 1, [3])])
def test_as_many_as_the_settings_say(shown: int, most: int, counts: list[int]) -> None:
    told = ResidueSettings(told=most)
    bumps = [bump(1724.0), bump(1240.0)]
    explained = explain_bumps(bumps, TABLE, (), told, SuggestionSettings(shown=shown))
    assert [len(item.candidates) for item in explained] == counts


def test_nothing_found_is_nothing_to_explain() -> None:
    assert explain_bumps([], TABLE, (), ResidueSettings()) == ()
