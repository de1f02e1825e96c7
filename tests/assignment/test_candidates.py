"""Candidates for an unexplained band, and processes that may have changed a known one."""

import re

import pytest

from reference_bands import BandTableError, load
from spectra.assignment.candidates import candidates, explain_change
from spectra.assignment.settings import SuggestionSettings
from spectra.errors import SettingError

TABLE = load()


def named(found):
    return [candidate.material for candidate in found]


def test_a_band_at_1650_fits_amide_water_and_alkene_and_each_says_what_to_look_for():
    found = {c.material: c for c in candidates((1650.0, 1.0), TABLE)}
    for name, band in (("amide I (protein window)", 1540), ("water bend", 2125), ("C=C alkene", 990)):
        assert found[name].look_for[0] == band
        assert found[name].source
        assert found[name].checked in ("read", "unidentified", "memory")


def test_watched_materials_come_first_under_any_name():
    assert named(candidates((1713.0, 1.0), TABLE, watch=["ethanoic acid"]))[0] == "acetic acid"
    assert "acetic acid" not in named(candidates((1500.0, 1.0), TABLE, watch=["ethanoic acid"]))
    with pytest.raises(BandTableError, match=r"no material 'acetc acid'.*nearest: acetic acid"):
        candidates((1713.0, 1.0), TABLE, watch=["acetc acid"])


# A band of a solvent, and another band of the same solvent beside it: the solvent must stand before the
# materials that have only one of them. Positions as tabulated for the neat liquids, from memory.
@pytest.mark.parametrize(
    ("band", "other", "solvent"),
    [
        (756.0, 1215.0, "chloroform"),
        (1710.0, 1290.0, "acetic acid"),
        (1188.0, 1292.0, "hexafluoroisopropanol"),
        (1674.0, 1389.0, "dimethylformamide"),
        (1042.0, 952.0, "dimethyl sulfoxide"),
    ],
)
def test_a_second_band_brings_the_right_solvent_forward(band, other, solvent):
    materials = [
        name for name in named(candidates((band, 1.0), TABLE, others=[other])) if name in TABLE.names
    ]
    assert materials[0] == solvent


def test_a_candidate_fits_within_the_combined_uncertainty_only():
    assert "polycaprolactone" in named(
        candidates((1728.0, 1.0), TABLE, settings=SuggestionSettings(materials=50))
    )
    assert "polycaprolactone" not in named(
        candidates((1765.0, 1.0), TABLE, settings=SuggestionSettings(materials=50))
    )


def test_companion_bands_leave_out_the_band_itself_and_those_of_one_state():
    for candidate in candidates((1600.0, 1.0), TABLE, watch=["alginate"]):
        if candidate.material == "alginate":
            assert len(candidate.look_for) == 3
            assert all(abs(position - 1600) > 12 for position in candidate.look_for)
            assert 1735.0 not in candidate.look_for  # only the acid form
            return
    pytest.fail("alginate is not among the candidates at 1600 cm-1")


# material, position, direction, size, process that must be named; cases of the tables' own read sources
@pytest.mark.parametrize(
    ("material", "position", "direction", "shift", "process"),
    [
        ("PCL", 1737.0, "down", -13.0, "crystallisation"),
        ("silk I", 1649.0, "down", -25.0, "beta-sheet conversion"),
        ("chitosan", 1600.0, "new", None, "deacetylation"),
        ("PVDF", 1613.0, "new", None, "alkaline dehydrofluorination"),
        ("PP", 1712.0, "new", None, "photo-oxidation"),
        ("wool", 1042.0, "new", None, "oxidation (bleach)"),
        ("gelatin", 1673.0, "new", None, "residual counter-ion: trifluoroacetate"),
        ("cotton", 1111.0, "lost", None, "mercerisation or regeneration"),
        ("PLA", 955.0, "lower", None, "crystallisation"),
    ],
)
def test_a_change_is_explained(material, position, direction, shift, process):
    found = explain_change(material, position, direction, TABLE, shift=shift)
    fitting = [e for e in found if e.change.process == process]
    assert fitting
    assert shift is None or any(e.size_fits for e in fitting)


def test_a_shift_the_wrong_way_or_of_the_wrong_size_is_not_explained_by_it():
    up = explain_change("PCL", 1724.0, "up", TABLE)
    assert "crystallisation" not in [e.change.process for e in up]
    large = explain_change("PCL", 1724.0, "down", TABLE, shift=-40.0)
    assert [e.size_fits for e in large if e.change.process == "crystallisation"] == [False]


def test_what_is_known_for_the_material_stands_before_what_holds_for_any():
    specific = [e.specific for e in explain_change("PCL", 1724.0, "down", TABLE)]
    assert specific == sorted(specific, reverse=True)
    assert True in specific
    assert False in specific


def test_the_artefact_of_comparing_techniques_is_named():
    found = explain_change("PMMA", 1728.0, "down", TABLE)
    assert "ATR against transmission" in [e.change.process for e in found]


def test_an_unknown_direction_or_setting_is_refused():
    with pytest.raises(
        SettingError, match="direction is 'left'; expected one of new, lost, higher, lower, up, down"
    ):
        explain_change("PCL", 1724.0, "left", TABLE)
    with pytest.raises(
        SettingError, match=re.escape("setting 'materials' of SuggestionSettings is -1; expected 0 to 100")
    ):
        SuggestionSettings(materials=-1)
