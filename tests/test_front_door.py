"""The front door for Python, as the README shows it."""

import datetime
import doctest
import json
from dataclasses import fields

import jsonschema
import pytest

import spectra
import spectra.report
from spectra.report.record import as_dict, as_json
from spectra.verification import result
from tests.places import ROOT
from tests.studies import write_study

SCHEMA = json.loads((ROOT / "spectra" / "report" / "result.schema.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def verified(tmp_path_factory):
    study = spectra.load_study(write_study(tmp_path_factory.mktemp("front")))
    told = []
    return spectra.verify(study, lambda *what: told.append(what)), told


def test_the_result_gives_the_content_of_result_json(verified):
    verification, _ = verified
    content = verification.to_dict()
    jsonschema.validate(content, SCHEMA)
    assert content == as_dict(verification) == json.loads(as_json(verification))
    assert content["samples"]["aqueous"]["coatings"]["gelatin"]["presence"]["verdict"] == (
        verification.samples["aqueous"].coatings["gelatin"].presence.verdict
    )


def test_the_result_is_the_record_of_the_chain_with_every_field(verified):
    verification, _ = verified
    assert type(verification) is spectra.Verification
    assert isinstance(verification, result.Verification)
    assert fields(verification) == fields(result.Verification)
    assert verification.stages.raw["bare", "substrate"].absorbance.shape[0] == 5


def test_the_callers_progress_is_told(verified):
    _, told = verified
    assert {phase for phase, _, _ in told} >= {"reading", "judging"}
    assert all(0 <= done <= of for _, done, of in told)


def test_every_line_of_the_readme_runs_and_gives_what_it_says(monkeypatch):
    text = (ROOT / "README.md").read_text(encoding="utf-8").split("## From Python")[1].split("```")[1]
    lines = doctest.DocTestParser().get_doctest(text.removeprefix("python"), {}, "README", "README.md", 0)
    assert len(lines.examples) == 10
    assert {name for name in ("load_study", "verify", "read", "tables") if f"spectra.{name}(" in text} == {
        "load_study", "verify", "read", "tables",
    }  # fmt: skip
    monkeypatch.chdir(ROOT)
    said = []
    found = doctest.DocTestRunner().run(lines, out=said.append)
    assert found.failed == 0, "".join(said)
    assert found.attempted == 10


def test_what_is_written_is_what_the_result_gives(verified, tmp_path):
    verification, _ = verified
    spectra.write_report(verification, tmp_path / "out", datetime.date(2026, 1, 2))
    written = json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))
    assert written == verification.to_dict()
