"""Treated against untreated material, no coating named: what changed, from files to report and figure."""

import json

import numpy as np
import pytest

from spectra.errors import StudyError
from spectra.report.record import as_dict
from spectra.report.text import as_text
from spectra.study.loading import load_study
from spectra.verification.verify import verify
from tests import scenes
from tests.studies import SMALL, spectrum_text, write_spectra
from tests.studytrial import change_of, judge_treated_spots, places_of
from tests.trials import scene_of

TREATED = SMALL.replace('[coatings.gelatin]\nspectra = ["neat/*.csv"]\n', "").replace("aqueous", "treated")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Invented: the treated pieces of write_spectra hold bands that the bare ones do not."""
    place = write_spectra(tmp_path_factory.mktemp("treated"))
    (place / "study.toml").write_text(TREATED, encoding="utf-8")
    (place / "same").mkdir()
    for spot in (30, 31, 32):
        text = spectrum_text(0.0, 1.0, spot, f"invented untreated {spot}")
        (place / "same" / f"same_{spot}.csv").write_text(text, encoding="utf-8")
    same = TREATED.replace("coated/*.csv", "same/*.csv")
    (place / "same.toml").write_text(same, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return verify(load_study(folder / "study.toml"))


def test_new_bands_are_a_change_with_their_places(found):
    sample = found.samples["treated"]
    assert (sample.coatings, found.all_shown) == ({}, False)
    assert sample.substrate.chemistry.verdict == "changed"
    (new,) = [r for r in sample.substrate.chemistry.reasons if r.code == "new-bands"]
    # The bands of COATING in tests.studies: 1080, 1540, 1650 and 3290 cm-1.
    for place in (1540.0, 1650.0):
        assert min(abs(place - position) for position in new.values["positions"]) < 15.0


def test_what_was_not_treated_is_not_called_changed(folder):
    found = verify(load_study(folder / "same.toml"))
    assert found.samples["treated"].substrate.chemistry.verdict != "changed"
    assert found.samples["treated"].unexplained == ()


@pytest.mark.parametrize("what", ["nothing", "moved"])
def test_spectra_with_many_points_are_judged_too(what):
    """Points of 2 cm-1, as instruments give them: finer than those that new bands are sought on."""
    rng = np.random.default_rng(6)
    scene = scene_of("protein on polylactide", noise=2e-4, scatter=0.03)
    change, position = change_of(scene, rng, what)
    found = judge_treated_spots(scenes.spots(scene, rng, 6), scenes.spots(scene, rng, 4) + change)
    said = found.substrate.chemistry
    assert said.verdict == ("changed" if what == "moved" else "unchanged")
    if position:
        near = [abs(place - position) for reason in said.reasons for place in places_of(reason)]
        assert min(near) < 20.0


def test_record_and_words_do_without_a_coating(found):
    record = as_dict(found)
    assert record["samples"]["treated"]["coatings"] == {}
    assert json.dumps(record, allow_nan=False)
    assert "New absorption at" in " ".join(as_text(found).split())


def test_a_study_of_bare_spectra_alone_is_still_a_mistake(folder):
    alone = folder / "alone.toml"
    alone.write_text(TREATED[: TREATED.index("[samples")], encoding="utf-8")
    with pytest.raises(StudyError, match="coatings: missing"):
        load_study(alone, need_samples=False)
