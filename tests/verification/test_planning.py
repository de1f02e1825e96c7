"""The plan of a measurement, from the shipped example's bare and neat spectra."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from spectra.errors import SettingError, SpectraError
from spectra.groups import Instrument
from spectra.report.plan import as_plan_json, as_plan_text
from spectra.study.loading import load_study
from spectra.study.records import Study
from spectra.verification.planning import Outlook, look_ahead
from tests.places import EXAMPLES

EXAMPLE = EXAMPLES / "gelatin_on_pcl" / "study.toml"


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study(EXAMPLE, need_samples=False)


@pytest.fixture(scope="module")
def outlook(study: Study) -> Outlook:
    return look_ahead(study, wanted_nm=0.2)


def test_the_samples_are_not_needed(study: Study, outlook: Outlook) -> None:
    without = look_ahead(replace(study, samples={}), wanted_nm=0.2)
    assert without.plans["gelatin"] == outlook.plans["gelatin"]


def test_a_wanted_thickness_is_reached_by_the_design_named(outlook: Outlook) -> None:
    plan = outlook.plans["gelatin"]
    assert plan.needed is not None
    assert plan.nm_per_amount is not None
    assert plan.needed.detectable * plan.nm_per_amount <= 0.2 < plan.design.detectable * plan.nm_per_amount
    assert plan.needed.bare + plan.needed.specimens > plan.design.bare + plan.design.specimens


def test_more_specimens_find_less(study: Study, outlook: Outlook) -> None:
    settings = replace(study.settings, plan=replace(study.settings.plan, specimens=12))
    more = look_ahead(replace(study, settings=settings)).plans["gelatin"].design.detectable
    assert more < outlook.plans["gelatin"].design.detectable


def test_other_crystals_are_compared(outlook: Outlook) -> None:
    # Thin film on a polymer: diamond and zinc selenide (n 2.4) give 2.3 times the signal per nm of germanium
    # (exact three-layer Fresnel, k 0.3: 1.18e-3 against 5.1e-4 per nm), so germanium needs a thicker film.
    others = outlook.plans["gelatin"].alternatives
    assert set(others) == {"zinc selenide", "germanium", "silicon"}
    assert others["germanium"] > others["zinc selenide"] > 0


def test_without_geometry_amounts_are_planned_and_nm_refused(study: Study) -> None:
    blind = replace(study, instrument=Instrument())
    plan = look_ahead(blind).plans["gelatin"]
    assert plan.nm_per_amount is None
    assert plan.alternatives == {}
    with pytest.raises(SpectraError, match="needs crystal and angle_deg under"):
        look_ahead(blind, wanted_nm=5.0)


def test_one_bare_spectrum_makes_no_plan(study: Study) -> None:
    first = study.substrate.specimens[1]
    lone = replace(study, substrate=replace(study.substrate, specimens=(first,)))
    with pytest.raises(SpectraError, match="found one bare spectrum; a plan needs two at least"):
        look_ahead(lone)


def test_thickness_must_be_positive(study: Study) -> None:
    with pytest.raises(SettingError, match="wanted thickness is -3 nm; expected a number above zero"):
        look_ahead(study, wanted_nm=-3.0)


def test_words_and_record_say_the_same(outlook: Outlook) -> None:
    text, record = as_plan_text(outlook), json.loads(as_plan_json(outlook))
    plan = record["coatings"]["gelatin"]
    assert f"{plan['needed']['bare']} bare and {plan['needed']['specimens']} coated specimens" in text
    assert text.count("masked\n") == sum(band["masked"] for band in plan["bands"])
