"""One account: the check finds planted contradictions, and the examples and simulated studies have none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from spectra.findings import Chemistry, Reason, Unexplained
from spectra.verification.result import SampleFinding
from tests import fakes, oneaccount
from tests.fatetrial import Task, findings_of


def clean() -> SampleFinding:
    """A finding that tells one story."""
    sample = fakes.good_sample()
    coating = sample.coatings["gelatin"]
    supports = tuple(
        replace(support, position=band.expected_position, masked=band.masked, supports=band.detected)
        for support, band in zip(coating.presence.band_evidence * 4, coating.bands, strict=False)
    )
    found = Reason("amount-above-critical", {"amount": 0.021, "critical": 0.003})
    pieces = sample.evenness["gelatin"]
    presence = replace(
        coating.presence, amount=0.021, amount_low=0.015, amount_high=0.027, critical_amount=0.003,
        specimens=len(pieces), spots=sum(len(p.spots) for p in pieces), reasons=(found,),
        band_evidence=supports, attenuation_nm=None,
    )  # fmt: skip
    bands = tuple(
        band if band.shift is None else replace(band, found_position=band.expected_position + band.shift)
        for band in coating.bands
    )
    pieces = tuple(replace(p, amount=sum(p.spots) / len(p.spots)) for p in pieces)
    one = replace(coating, presence=presence, bands=bands)
    return replace(sample, coatings={"gelatin": one}, evenness={"gelatin": pieces}, residues={})


def broken(sample: SampleFinding) -> set[str]:
    return {rule for rule, _ in oneaccount.contradictions(sample)}


def of_coating(**changes: Any) -> SampleFinding:
    sample = clean()
    return replace(sample, coatings={"gelatin": replace(sample.coatings["gelatin"], **changes)})


def of_presence(**changes: Any) -> SampleFinding:
    return of_coating(presence=replace(clean().coatings["gelatin"].presence, **changes))


def with_support(**changes: Any) -> SampleFinding:
    first, *rest = clean().coatings["gelatin"].presence.band_evidence
    return of_presence(band_evidence=(replace(first, **changes), *rest))


def with_band(**changes: Any) -> SampleFinding:
    first, second, *rest = clean().coatings["gelatin"].bands
    return of_coating(bands=(first, replace(second, **changes), *rest))


def test_a_clean_account_is_clean() -> None:
    assert broken(clean()) == set()


AMIDE_ONE = clean().coatings["gelatin"].bands[1].expected_position
LEFT_OVER = Unexplained(AMIDE_ONE + 3.0, -0.01, 20.0, 9.0, ())
PLANTED = {
    "the specimens' mean lies in the pooled interval": of_presence(
        amount=0.03, amount_low=0.025, amount_high=0.04
    ),
    "as many specimens and spots as were counted": of_presence(specimens=7),
    "a value lies in its interval": of_presence(thickness_nm=90.0),
    "no length is negative": of_presence(thickness_low_nm=-3.0),
    "two thicknesses of a clean film agree": of_presence(
        attenuation_nm=80.0, attenuation_low_nm=70.0, attenuation_high_nm=90.0
    ),
    "every band of the joint fit is in the band table": with_support(position=3287.0),
    "a band is masked everywhere or nowhere": with_support(masked=False),
    "as many bands in the joint fit as in the band table": of_presence(
        band_evidence=clean().coatings["gelatin"].presence.band_evidence[:-1]
    ),
    "found minus expected is the shift": with_band(found_position=1648.0),
    "a shift lies in its interval": with_band(shift_low=3.0, shift_high=9.0),
    "no band changed in an unchanged coating": with_band(verdict="changed"),
    "presence's reasons have presence's numbers": of_presence(
        reasons=(Reason("amount-above-critical", {"amount": 0.2, "critical": 0.003}),)
    ),
    "a reason names a band of the table": of_coating(
        chemistry=Chemistry("changed", (Reason("shifted", {"position": 1500.0, "shift": 9.0}),))
    ),
    "unchanged only where present": of_presence(verdict="cannot tell"),
    "no unexplained band at the coating's own": replace(clean(), unexplained=(LEFT_OVER,)),
}


@pytest.mark.parametrize("rule", PLANTED)
def test_a_planted_contradiction_is_found(rule: str) -> None:
    assert rule in broken(PLANTED[rule])


def test_the_report_writes_the_findings_numbers() -> None:
    assert list(oneaccount.report_contradictions(fakes.verification())) == []


def test_the_examples_tell_one_story() -> None:
    assert list(oneaccount.of_examples()) == []


@pytest.mark.parametrize("pair", ["protein on polylactide", "polyether on terephthalate"])
def test_simulated_studies_tell_one_story(pair: str) -> None:
    task = Task(pair, "flat", ("unchanged-30", "moved-3", "bare"), 0, 5)
    assert [s for _, _, finding in findings_of(task) for s in oneaccount.contradictions(finding)] == []
