"""What a study file may ask for beyond its spectra: every key arrives, every mistake is told at its line."""

import re

import pytest

from spectra.study.loading import load_study
from tests.studies import write_spectra
from tests.study.test_loading import SMALL, load, mistakes_of, names

WISHES = """\
leave_out = [{ file = "coated/coated_21.csv", reason = "slipped" }]
title = "Invented mist coat"
technique = "ATR"
[study]
operator = "A. Nobody (invented)"
date = 2026-01-31
lot = "7"
notes = "dry"
[instrument]
crystal = "diamond"
angle_deg = 45
resolution = 4.0
scans = 64
apodisation = "triangle"
detector = "thermal"
pressure = "half a turn"
conditioning = "23 C, 50 % humidity"
[substrate]
spectra = ["bare/*.csv"]
[coatings.gelatin]
spectra = ["neat/*.csv"]
layout = "mixed"
[samples.dry]
specimens = { a = ["coated/coated_20.csv", "coated/coated_21.csv"] }
side = "front"
[samples.washed]
spectra = ["coated/coated_22.csv"]
after = "dry"
treatment = "three washes in water, 37 C"
[samples.control]
spectra = ["coated/coated_23.csv"]
expect = "absent"
[compare]
against = "dry"
[accept]
least_nm = 40
most_variation = 0.25
[positions]
file = "positions.csv"
"""


@pytest.fixture
def folder(tmp_path):
    write_spectra(tmp_path)
    spare = (tmp_path / "coated" / "coated_22.csv").read_text(encoding="utf-8")
    (tmp_path / "coated" / "coated_23.csv").write_text(spare.replace("0.", "0.0", 5), encoding="utf-8")
    (tmp_path / "positions.csv").write_text(
        "spot,x,y\ncoated_20,0,1.5\ncoated/coated_22.csv,-2,3\n\n", encoding="utf-8"
    )
    return tmp_path


def test_every_wish_arrives(folder):
    study = load(folder, WISHES)
    assert study.notes == {
        "operator": "A. Nobody (invented)",
        "date": "2026-01-31",
        "lot": "7",
        "notes": "dry",
    }
    here = study.instrument
    assert (here.resolution, here.scans, here.apodisation, here.detector) == (4.0, 64, "triangle", "thermal")
    assert (here.pressure, here.conditioning) == ("half a turn", "23 C, 50 % humidity")
    assert study.coatings["gelatin"].layout == "mixed"
    dry, washed, control = (study.samples[name] for name in ("dry", "washed", "control"))
    assert (dry.side, dry.expected, dry.after) == ("front", True, None)
    assert (washed.after, washed.treatment) == ("dry", "three washes in water, 37 C")
    assert (control.expect, control.expected) == ("absent", False)
    assert study.against == "dry"
    assert (study.requirement.least_nm, study.requirement.most_variation) == (40, 0.25)
    assert study.requirement.risk == 0.05
    assert {file.name: place for file, place in study.positions.items()} == {
        "coated_20.csv": (0.0, 1.5),
        "coated_22.csv": (-2.0, 3.0),
    }


def test_a_file_left_out_is_gone_from_its_group_and_kept_on_record(folder):
    study = load(folder, WISHES)
    assert names(study.samples["dry"]) == {"a": ["coated_20.csv"]}
    (left,) = study.left_out
    assert (left.path.name, left.role, left.group, left.specimen, left.reason) == (
        "coated_21.csv", "coated", "dry", "a", "slipped",
    )  # fmt: skip


def test_without_wishes_everything_is_as_before(folder):
    study = load(folder, SMALL)
    assert (study.notes, study.left_out, study.against, study.requirement) == ({}, (), None, None)
    assert study.positions == {}
    sample = study.samples["aqueous"]
    assert (sample.expect, sample.after, sample.treatment, sample.side) == ("present", None, "", "")


ONE_MISTAKE = {
    "leave out what is no spectrum": (
        ('"coated/coated_21.csv"', '"coated/coated_12.csv"'),
        r"line 1, leave_out\.file: 'coated/coated_12\.csv' is no spectrum of this study; did you mean",
    ),
    "no reason": (('"slipped"', '""'), r"line 1, leave_out\.reason: found ''; expected some text"),
    "unknown key of leave_out": (
        ('"slipped"', '"slipped", why = "x"'),
        r"line 1, leave_out\.why: unknown key; take it out",
    ),
    "the only spectrum left out": (
        ("coated/coated_21.csv", "coated/coated_22.csv"),
        r"line 26, samples\.washed: leave_out takes its every spectrum",
    ),
    "expect what": (
        ('expect = "absent"', 'expect = "none"'),
        r"line 32, samples\.control\.expect: found 'none'; expected 'present' or 'absent'",
    ),
    "layout": (
        ('"mixed"', '"blend"'),
        r"line 22, coatings\.gelatin\.layout: found 'blend'; expected 'film' or 'mixed'",
    ),
    "after nobody": (
        ('after = "dry"', 'after = "dri"'),
        r"line 28, samples\.washed\.after: unknown sample 'dri'; did you mean 'dry'\? \(known: dry, washed",
    ),
    "after itself": (
        ('after = "dry"', 'after = "washed"'),
        r"line 28, samples\.washed\.after: leads back to the sample itself",
    ),
    "against nobody": (
        ('against = "dry"', 'against = "wet"'),
        r"line 34, compare\.against: unknown sample 'wet'",
    ),
    "a requirement that asks nothing": (
        ("least_nm = 40\nmost_variation = 0.25", "risk = 0.1"),
        r"line 35, accept: asks for nothing; give least_nm or most_variation",
    ),
    "a risk out of range": (
        ("most_variation = 0.25", "risk = 0.9"),
        r"line 37, accept\.risk: found 0\.9; expected 0\.0001 to 0\.5",
    ),
    "resolution of nothing": (
        ("resolution = 4.0", "resolution = 0"),
        r"line 12, instrument\.resolution: found 0; expected more than 0",
    ),
    "an unknown key of study": (
        ('operator = "A', 'operater = "A'),
        r"line 5, study\.operater: unknown key; did you mean 'operator'\?",
    ),
    "positions nowhere": (
        ("positions.csv", "position.csv"),
        r"line 39, positions\.file entry 1: no file 'position\.csv' in .*; did you mean 'positions\.csv'\?",
    ),
}


@pytest.mark.parametrize(("change", "expected"), ONE_MISTAKE.values(), ids=ONE_MISTAKE)
def test_one_mistake_is_told_with_line_and_key(folder, change, expected):
    told = mistakes_of(folder, WISHES.replace(*change, 1))
    assert len(told) == 1, told
    assert re.match(expected, told[0]), told[0]


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ("name,x,y\n", r"positions\.csv line 1: found \['name', 'x', 'y'\]; expected the heads spot, x, y"),
        ("", r"positions\.csv line 1: found \[\]; expected the heads"),
        ("spot,x,y\ncoated_2o,0,1\n", r"positions\.csv line 2: 'coated_2o' is no coated spot; did you mean"),
        ("spot,x,y\nbare_0,0,1\n", r"positions\.csv line 2: 'bare_0' is no coated spot"),
        (
            "spot,x,y\ncoated_20,0,left\n",
            r"positions\.csv line 2: found x '0', y 'left'; expected two numbers",
        ),
        ("spot,x,y\ncoated_20,0\n", r"positions\.csv line 2: found x '0', y None; expected two numbers"),
        ("spot,x,y\ncoated_20,0,nan\n", r"positions\.csv line 2: .*; expected two numbers"),
        (
            "spot,x,y\ncoated_20,0,1\ncoated_20,0,2\n",
            r"positions\.csv line 3: 'coated_20' has a position already",
        ),
    ],
)
def test_a_table_of_positions_that_does_not_fit_is_told_by_its_line(folder, table, expected):
    (folder / "positions.csv").write_text(table, encoding="utf-8")
    (told,) = mistakes_of(folder, WISHES)
    assert re.search(f"^line 39, positions\\.file: .*{expected}", told), told


def test_a_ring_of_treatments_is_a_mistake(folder):
    ring = WISHES.replace('side = "front"', 'side = "front"\nafter = "washed"')
    told = mistakes_of(folder, ring)
    assert len(told) == 2
    assert all("leads back to the sample itself" in line for line in told)


def test_a_plan_may_have_wishes_too(folder):
    text = "\n".join(WISHES.splitlines()[:21])
    file = folder / "plan.toml"
    file.write_text(text.replace("coated/coated_21.csv", "bare/bare_1.csv"), encoding="utf-8")
    study = load_study(file, need_samples=False)
    assert "bare_1" not in names(study.substrate)
