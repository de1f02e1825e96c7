"""``result.json``: format 1 of the project's design, its schema, and full precision."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

import spectra.report
from spectra.findings import Reason
from spectra.report.record import as_dict, as_json, plain_data
from spectra.report.tables.inputs import shown_path
from spectra.study.records import Study
from tests import fakes
from tests.goldfiles import require_gold

SCHEMA = json.loads((Path(spectra.report.__file__).parent / "result.schema.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return as_dict(fakes.verification())


def test_the_schema_is_one_and_the_record_fits_it(record: dict[str, Any]) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.Draft202012Validator(SCHEMA).validate(record)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 2),
        (("samples", "aqueous", "coatings", "gelatin", "presence", "verdict"), "passed"),
        (("samples", "aqueous", "coatings", "gelatin", "presence", "reasons"), []),
        (("samples", "aqueous", "coatings", "gelatin", "chemistry", "verdict"), "present"),
        (("samples", "aqueous", "coatings", "gelatin", "presence", "amount"), "0.02"),
        (("samples", "aqueous", "layer", "verdict"), "present"),
        (("samples", "aqueous", "layer", "reasons"), []),
        (("samples", "aqueous", "layer", "looks_like"), "gelatin"),
        (("samples", "aqueous", "spot_amounts", "gelatin"), [0.02, "0.03"]),
        (("samples", "aqueous", "coatings", "gelatin", "judged_share"), -0.1),
        (("samples", "aqueous", "coatings", "gelatin", "bands", 0, "fate"), "vanished"),
        (("samples", "aqueous", "coatings", "gelatin", "bands", 0, "ratio"), "1.02"),
        (("samples", "aqueous", "residues", "acetic acid", "detectable"), "little"),
        (("samples", "aqueous", "residues", "acetic acid", "hidden"), 2950.0),
        (("inputs", 0, "sha256"), "abc"),
        (("inputs", 0, "faults", 0, "severity"), "fatal"),
    ],
)
def test_the_schema_refuses_planted_faults(path: tuple[str | int, ...], value: object) -> None:
    spoilt: Any = as_dict(fakes.verification())
    place = spoilt
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError, match=r".+"):
        jsonschema.Draft202012Validator(SCHEMA).validate(spoilt)


def test_the_names_of_format_1_are_kept(record: dict[str, Any]) -> None:
    assert set(record) >= {"format", "software", "study", "inputs", "settings", "samples"}
    assert set(record["study"]) >= {"title", "file", "sha256"}
    assert set(record["inputs"][0]) >= {"path", "sha256", "role", "group", "specimen", "points", "faults"}
    sample = record["samples"]["aqueous"]
    assert set(sample) >= {"coatings", "substrate", "unexplained", "residues", "evenness"}
    coating = sample["coatings"]["gelatin"]
    assert set(coating) >= {"presence", "bands", "chemistry"}
    assert set(coating["presence"]) >= {
        *("verdict", "reasons", "amount", "amount_low", "amount_high", "critical_amount"),
        *("detectable_amount", "p_value", "thickness_nm", "spots", "specimens"),
    }
    assert set(coating["bands"][0]) >= {
        *("neat_position", "expected_position", "found_position", "shift", "shift_low", "shift_high"),
        *("margin", "verdict", "detected", "masked", "evidence", "assignment", "source"),
    }
    found = next(iter(record["samples"].values()))
    assert set(found["substrate"]) >= {"chemistry", "bands"}
    unexplained = [item for each in record["samples"].values() for item in each["unexplained"]]
    assert set(unexplained[0]) >= {"position", "height", "evidence", "candidates"}
    assert set(unexplained[0]["candidates"][0]) >= {"material", "assignment"}


def test_the_three_questions_and_every_bands_fate_are_written(record: dict[str, Any]) -> None:
    sample = record["samples"]["aqueous"]
    assert sample["layer"] == {
        "verdict": "shown",
        "reasons": [plain_data(Reason("layer-shown", {"p_value": 3e-12, "alpha": 0.01}))],
        "p_value": 3e-12,
        "looks_like": ["gelatin"],
    }
    assert sample["spot_amounts"]["gelatin"] == [s for p in sample["evenness"]["gelatin"] for s in p["spots"]]
    coating = sample["coatings"]["gelatin"]
    assert coating["judged_share"] == 0.71
    assert [band["fate"] for band in coating["bands"]] == [
        *("hidden", "at its place", "at its place", "not judged"),
    ]
    assert [coating["bands"][1][key] for key in ("ratio", "ratio_low", "ratio_high")] == [1.02, 0.91, 1.13]
    residue = sample["residues"]["acetic acid"]
    assert (residue["detectable"], residue["hidden"]) == (0.0017, [2950.0])
    assert record["samples"]["other lot"]["coatings"]["gelatin"]["judged_share"] is None
    assert {each["layer"]["verdict"] for each in record["samples"].values()} == {
        *("shown", "not shown", "cannot tell"),
    }


def test_numbers_keep_their_precision_and_text_comes_along(record: dict[str, Any]) -> None:
    sample = fakes.good_sample()
    odd = 0.1 + 0.2 + 1e-16
    changed = fakes.with_presence(sample, replace(sample.coatings["gelatin"].presence, amount=odd))
    read_back = json.loads(as_json(fakes.verification(changed)))
    assert read_back["samples"]["aqueous"]["coatings"]["gelatin"]["presence"]["amount"] == odd
    reason = record["samples"]["rinsed"]["coatings"]["gelatin"]["chemistry"]["reasons"][0]
    assert reason["code"] == "no-detected-band"
    assert reason["text"].endswith(".")
    assert reason["remedy"]


def test_nan_is_never_written() -> None:
    odd = fakes.presence("cannot tell", Reason("unheard_of", {"x": np.float64("nan")}), amount=float("nan"))
    text = as_json(fakes.verification(fakes.with_presence(fakes.good_sample(), odd)))
    assert "NaN" not in text
    assert "Infinity" not in text
    presence = json.loads(text)["samples"]["aqueous"]["coatings"]["gelatin"]["presence"]
    assert presence["amount"] is None
    assert presence["reasons"][0]["values"] == {"x": None}


def test_arrays_and_paths_become_plain_data() -> None:
    value = {"a": np.array([1.0, np.inf]), "b": np.int64(3), "c": np.bool_(True), "d": Path("x/y"), 1: ()}
    assert plain_data(value) == {"a": [1.0, None], "b": 3, "c": True, "d": "x/y", "1": []}
    assert type(plain_data(np.int64(3))) is int


def test_paths_are_those_of_the_study_and_tell_nothing_of_the_disk(record: dict[str, Any]) -> None:
    assert record["study"]["file"] == "study.toml"
    assert record["inputs"][0]["path"] == "bare/bare_1.csv"
    assert str(fakes.ROOT) not in as_json(fakes.verification())


def test_paths_without_a_study_file_start_at_the_common_folder() -> None:
    result = fakes.verification()
    bare = replace(result, study=replace(result.study, file=None, sha256=""))
    record = as_dict(bare)
    assert record["study"]["file"] is None
    assert record["inputs"][0]["path"] == "bare/bare_1.csv"


def test_the_same_result_gives_the_same_bytes() -> None:
    assert as_json(fakes.verification()) == as_json(fakes.verification())


def test_the_same_record_comes_again(record: dict[str, Any]) -> None:
    assert as_dict(fakes.verification()) == record


def promised(value: Any, schema: dict[str, Any]) -> Any:
    """What the schema names of a record: keys may be added without touching the gold file."""
    while "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].rsplit("/", 1)[-1]]
    if isinstance(value, list):
        return [promised(item, schema["items"]) for item in value]
    if isinstance(value, dict) and "properties" in schema:
        return {key: promised(value[key], inner) for key, inner in schema["properties"].items()}
    if isinstance(value, dict) and isinstance(schema.get("additionalProperties"), dict):
        return {key: promised(item, schema["additionalProperties"]) for key, item in value.items()}
    return value


def test_gold() -> None:
    result = as_dict(fakes.verification(fakes.good_sample(), fakes.changed_sample()))
    result["settings"] = {}  # grows with every stage of the chain
    require_gold("result.json", json.dumps(promised(result, SCHEMA), indent=2) + "\n")


def test_paths_of_many_files_are_shown_at_one_cost_each(monkeypatch: pytest.MonkeyPatch) -> None:
    """The common folder is found once, not once for every file."""
    looked = []
    whole = Study.groups.fget
    assert whole is not None
    monkeypatch.setattr(Study, "groups", property(lambda study: looked.append(1) or whole(study)))
    study = replace(fakes.verification().study, file=None, sha256="")
    paths = [str(file) for group in study.groups for item in group.specimens for file in item.files]
    looked.clear()
    assert {shown_path(path, study).split("/")[0] for path in paths} == {"bare", "neat", "coated"}
    assert len(looked) == 1 < len(paths)
