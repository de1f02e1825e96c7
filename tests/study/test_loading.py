"""The study file: every key of the public contract, every mistake with its line, all of them at once.

Lines in the expected messages are counted by hand in the texts given here.
"""

import dataclasses
import hashlib
import re
from pathlib import Path

import pytest

from spectra.errors import StudyError
from spectra.study.loading import load_study, study_from_files
from spectra.study.mistakes import Mistakes, nearest, shown, spelt
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.units import StatedUnits
from tests.studies import SMALL, write_spectra, write_study

FULL = """\
title = "Gelatin mist coat on PCL gauze"
technique = "ATR"
[instrument]
index = 2.38
angle_deg = 45
reflections = 3
[substrate]
material = "polycaprolactone"
specimens = { A = ["bare/bare_[01].csv"], B = ["bare/bare_2.csv"] }
[coatings.gelatin]
material = "gelatin"
spectra = ["neat/neat_10.csv"]
technique = "transmission"
contact = 0.9
[samples."acetic acid"]
specimens = { s2 = ["coated/coated_21.csv"], s1 = ["coated/coated_2[02].csv"] }
coatings = ["gelatin"]
contact = 1
[residues]
watch = ["acetic acid"]
measured = { softener = ["neat/neat_11.csv"] }
[settings]
alpha = 0.02
[settings.footing]
low = 600
leave_out = [[2300, 2400]]
[settings.normalisation]
method = "area"
"""


@pytest.fixture
def folder(tmp_path):
    return write_spectra(tmp_path)


def load(folder, text, name="study.toml"):
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return load_study(file)


def mistakes_of(folder, text):
    """Every line of the message, without the path of the study file."""
    with pytest.raises(StudyError, match=r"study\.toml") as caught:
        load(folder, text)
    lines = [line.strip() for line in str(caught.value).splitlines()]
    lines = lines[1:] if len(lines) > 1 else lines
    return [line.replace(f"{folder / 'study.toml'} ", "") for line in lines]


def names(group):
    return {specimen.name: [file.name for file in specimen.files] for specimen in group.specimens}


# -- what a good file gives --------------------------------------------------------------------------


def test_every_key_of_the_contract_arrives(folder):
    study = load(folder, FULL)
    assert study.title == "Gelatin mist coat on PCL gauze"
    assert study.file == folder / "study.toml"
    assert study.sha256 == hashlib.sha256(FULL.encode()).hexdigest()
    assert dataclasses.astuple(study.instrument)[:4] == (None, 2.38, 45.0, 3)
    assert (study.substrate.role, study.substrate.material) == ("bare", "polycaprolactone")
    assert names(study.substrate) == {"A": ["bare_0.csv", "bare_1.csv"], "B": ["bare_2.csv"]}
    gelatin = study.coatings["gelatin"]
    assert (gelatin.role, gelatin.technique, gelatin.contact) == ("neat", "transmission", 0.9)
    sample = study.samples["acetic acid"]
    assert (sample.role, sample.technique, sample.coatings) == ("coated", "ATR", ("gelatin",))
    assert names(sample) == {"s2": ["coated_21.csv"], "s1": ["coated_20.csv", "coated_22.csv"]}
    assert list(names(sample)) == ["s2", "s1"], "specimens keep the order of the file"
    assert study.watch == ("acetic acid",)
    assert names(study.measured["softener"]) == {"neat_11": ["neat_11.csv"]}
    assert study.settings.decision.alpha == 0.02
    assert study.settings.footing.leave_out == ((2300.0, 2400.0),)
    assert study.settings.normalisation.method == "area"
    assert study.settings.baseline == Settings().baseline


def test_files_are_absolute_and_relative_to_the_study_file_not_the_working_folder(
    folder, monkeypatch, tmp_path
):
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    (folder / "study.toml").write_text(SMALL, encoding="utf-8")
    study = load_study("../study.toml")
    files = [file for group in study.groups for specimen in group.specimens for file in specimen.files]
    assert len(files) == 10
    assert all(file.is_absolute() and file.is_file() for file in files)


def test_globs_are_sorted_as_plain_text(folder):
    for number in (10, 9, 100):
        (folder / "bare" / f"x{number}.csv").write_text(f"{number}", encoding="utf-8")
    study = load(folder, SMALL.replace("bare/*.csv", "bare/x*.csv"))
    assert list(names(study.substrate)) == ["x10", "x100", "x9"]


def test_a_file_that_bears_brackets_in_its_name_is_found_by_that_name(folder):
    (folder / "bare" / "spot[1].csv").write_text("1", encoding="utf-8")
    study = load(folder, SMALL.replace("bare/*.csv", "bare/spot[1].csv"))
    assert list(names(study.substrate)) == ["spot[1]"]


def test_hidden_files_beside_the_spectra_are_not_taken(folder):
    (folder / "bare" / "._bare_0.csv").write_text("resource fork", encoding="utf-8")
    assert len(load(folder, SMALL).substrate.specimens) == 5


def test_shared_stems_are_told_apart_by_their_path(folder):
    for day in ("mon", "tue"):
        (folder / day).mkdir()
        (folder / day / "a.csv").write_text(day, encoding="utf-8")
    study = load(folder, SMALL.replace("bare/*.csv", "*/a.csv"))
    assert list(names(study.substrate)) == [str(Path("mon/a.csv")), str(Path("tue/a.csv"))]


@pytest.mark.parametrize(
    "change", [lambda t: "\ufeff" + t, lambda t: t.replace("\n", "\r\n")], ids=["bom", "crlf"]
)
def test_what_editors_of_other_systems_add_is_no_mistake(folder, change):
    (folder / "study.toml").write_bytes(change(SMALL).encode())
    assert load_study(folder / "study.toml").title == "Invented mist coat"


def test_title_and_expected_coatings_have_defaults(folder):
    study = load(folder, SMALL.replace('title = "Invented mist coat"\n', ""), "mist coat.toml")
    assert study.title == "mist coat"
    assert study.samples["aqueous"].coatings == ("gelatin",)


def test_every_setting_of_every_stage_can_be_set_to_its_own_default(folder):
    """The form of the settings is made from the records, so none can be forgotten."""
    lines = ["[settings]"]

    def text_of(value):
        if isinstance(value, tuple):
            return "[" + ", ".join(text_of(inner) for inner in value) + "]"
        return f'"{value}"' if isinstance(value, str) else str(value).lower()

    def write(record, table):
        values = {item.name: getattr(record, item.name) for item in dataclasses.fields(record)}
        inner = {name: value for name, value in values.items() if dataclasses.is_dataclass(value)}
        lines.append(f"[settings.{table}]" if table else "")
        for name, value in values.items():
            if name not in inner and value is not None:
                lines.append(f"{name} = {text_of(value)}")
        for name, value in inner.items():
            write(value, f"{table}.{name}")

    defaults = Settings()
    for stage in dataclasses.fields(defaults):
        write(getattr(defaults, stage.name), "" if stage.name == "decision" else stage.name)
    assert len(lines) >= 40
    assert load(folder, SMALL + "\n".join(lines)).settings == defaults


def test_a_setting_of_a_record_inside_another_can_be_set(folder):
    text = SMALL + "[settings.presence.bands]\nneeded = 3\n"
    assert load(folder, text).settings.presence.bands.needed == 3
    (told,) = mistakes_of(folder, text + "neded = 3\n")
    assert re.match(r"line 14, settings\.presence\.bands\.neded: unknown key; did you mean 'needed'\?", told)
    (told,) = mistakes_of(folder, text.replace("3", "99"))
    assert re.match(r"line 13, settings\.presence\.bands\.needed: found 99; expected", told)


def test_before_anything_is_coated_no_sample_is_needed(folder):
    text = re.sub(r"\[samples.*\]\n.*\n", "", SMALL)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    study = load_study(folder / "study.toml", need_samples=False)
    assert (len(study.substrate.specimens), study.samples) == (5, {})


# -- mistakes ----------------------------------------------------------------------------------------

ONE_MISTAKE = {
    "unknown key": ('titel = "a"\n' + SMALL, r"line 1, titel: unknown key; did you mean 'title'\?"),
    "key of another table": (
        "angle_deg = 45\n" + SMALL,
        r"line 1, angle_deg: unknown key; it belongs in \[instrument\]",
    ),
    "key nobody knows": (
        "zzz = 45\n" + SMALL,
        r"line 1, zzz: unknown key; take it out \(known here: accept, bands, ",
    ),
    "unknown key of a sample": (
        SMALL + 'coatigns = ["gelatin"]\n',
        r"line 12, samples\.aqueous\.coatigns: unknown key; did you mean 'coatings'\?",
    ),
    "material of a sample": (
        SMALL + 'material = "x"\n',
        r"line 12, samples\.aqueous\.material: unknown key; it belongs",
    ),
    "unknown setting": (
        SMALL + "[settings]\nalhpa = 0.01\n",
        r"line 13, settings\.alhpa: unknown key; did you mean 'alpha'\?",
    ),
    "unknown stage": (
        SMALL + "[settings.baselin]\nperiod = 500\n",
        r"line 12, settings\.baselin: unknown key; did you mean 'baseline'\?",
    ),
    "unknown key of a stage": (
        SMALL + "[settings.baseline]\nperid = 500\n",
        r"line 13, settings\.baseline\.perid: unknown key; did you mean 'period'\?",
    ),
    "setting out of range": (
        SMALL + "[settings]\nalpha = 0.5\n",
        r"line 13, settings\.alpha: found 0\.5; expected 1e-06 to 0\.2",
    ),
    "setting of the wrong kind": (
        SMALL + '[settings]\nalpha = "low"\n',
        r"line 13, settings\.alpha: found 'low'; expected a number",
    ),
    "setting not a number": (
        SMALL + "[settings]\nalpha = nan\n",
        r"line 13, settings\.alpha: found nan; expected a finite number",
    ),
    "unknown word": (
        SMALL + '[settings.normalisation]\nmethod = "aera"\n',
        r"line 13, settings\.normalisation\.method: found 'aera'; expected one of .*area",
    ),
    "text for a number": (
        SMALL.replace("angle_deg = 45", 'angle_deg = "45"'),
        r"line 5, instrument\.angle_deg: found '45'; expected a number",
    ),
    "number for text": (
        "title = 3\n" + SMALL[SMALL.index("\n") + 1 :],
        r"line 1, title: found 3; expected text in quotes",
    ),
    "text for a list": (
        SMALL.replace('["bare/*.csv"]', '"bare/*.csv"'),
        r"line 7, substrate\.spectra: found 'bare/\*\.csv'; expected a list in square brackets",
    ),
    "list for a table": (
        SMALL.replace("[coatings.gelatin]\nspectra", "[coatings]\ngelatin"),
        r"line 9, coatings\.gelatin: found \['neat/\*\.csv'\]; expected a table of keys and values",
    ),
    "number in a list of files": (
        SMALL.replace('["bare/*.csv"]', '[\n  "bare/*.csv",\n  4,\n]'),
        r"line 9, substrate\.spectra entry 2: found 4; expected text in quotes",
    ),
    "angle too large": (
        SMALL.replace("angle_deg = 45", "angle_deg = 90"),
        r"line 5, instrument\.angle_deg: found 90\.0 degrees; expected 20",
    ),
    "index too small": (
        SMALL.replace('crystal = "diamond"', "index = 1"),
        r"line 4, instrument\.index: found 1\.0; expected 1\.5",
    ),
    "unknown crystal": (
        SMALL.replace('"diamond"', '"zinc selenid"'),
        r"line 4, instrument\.crystal: unknown crystal 'zinc selenid'; did you mean 'zinc selenide'\? ",
    ),
    "half a reflection": (
        SMALL.replace("angle_deg = 45", "reflections = 1.5"),
        r"line 5, instrument\.reflections: found 1\.5; expected a whole number",
    ),
    "contact above one": (
        SMALL + "contact = 1.2\n",
        r"line 12, samples\.aqueous\.contact: found 1\.2; expected at most 1",
    ),
    "crystal and index": (
        SMALL.replace("angle_deg = 45", "index = 2.4"),
        r"line 5, instrument\.index: given besides a crystal; keep one of the two",
    ),
    "missing file": (
        SMALL.replace("bare/*.csv", "bare/bear_1.csv"),
        r"line 7, substrate\.spectra entry 1: no file 'bare/bear_1\.csv' in .*; did you mean 'bare_1\.csv'\?",
    ),
    "missing folder": (
        SMALL.replace("bare/*.csv", "nowhere/a.csv"),
        r"line 7, substrate\.spectra entry 1: no file 'nowhere/a\.csv' in .*; check the name",
    ),
    "pattern without files": (
        SMALL.replace("bare/*.csv", "bare/*.dx"),
        r"line 7, substrate\.spectra entry 1: 'bare/\*\.dx' matches no file in .*; check the pattern",
    ),
    "a folder": (
        SMALL.replace("bare/*.csv", "bare"),
        r"line 7, substrate\.spectra entry 1: 'bare' is a folder; name the files in it, as in 'bare/\*\.csv'",
    ),
    "empty list": (
        SMALL.replace('["bare/*.csv"]', "[]"),
        r"line 7, substrate\.spectra: no file; name at least one",
    ),
    "no spectra": (
        SMALL.replace('spectra = ["bare/*.csv"]\n', ""),
        r"line 6, substrate: no spectra; add spectra = ",
    ),
    "spectra and specimens": (
        SMALL.replace("neat/*", "neat/neat_10") + 'specimens = { a = ["neat/neat_11.csv"] }\n',
        r"line 10, samples\.aqueous: spectra and specimens are both given",
    ),
    "one file in two roles": (
        SMALL.replace("coated/*.csv", "bare/bare_2.csv"),
        r"line 11, samples\.aqueous\.spectra entry 1: bare.bare_2\.csv is named already at "
        r"line 7, substrate\.spectra entry 1; name each file once",
    ),
    "one file twice in one role": (
        SMALL.replace('"bare/*.csv"', '"bare/*.csv", "./bare/bare_2.csv"'),
        r"line 7, substrate\.spectra entry 2: bare.bare_2\.csv is named already at line 7, subst",
    ),
    "unknown coating": (
        SMALL + 'coatings = ["gelatine"]\n',
        r"line 12, samples\.aqueous\.coatings entry 1: unknown coating 'gelatine'; did you mean 'gelatin'\?",
    ),
    "coating named twice": (
        SMALL + 'coatings = ["gelatin", "gelatin"]\n',
        r"line 12, samples\.aqueous\.coatings entry 2: 'gelatin' is named twice",
    ),
    "no coating expected": (SMALL + "coatings = []\n", r"line 12, samples\.aqueous\.coatings: an empty list"),
    "a word for the samples": (
        re.sub(r"\[samples.*\]\n.*\n", "", 'samples = "all"\n' + SMALL),
        r"line 1, samples: found 'all'; expected a table of named entries",
    ),
    "no substrate": (
        re.sub(r"\[substrate\]\n.*\n", "", SMALL),
        r"line 1, substrate: missing; add \[substrate\]",
    ),
    "no sample": (
        re.sub(r"\[samples.*\]\n.*\n", "", SMALL),
        r"line 1, samples: missing; add \[samples\.NAME\]",
    ),
    "nameless sample": (
        SMALL.replace("[samples.aqueous]", '[samples.""]'),
        r'line 10, samples."": has no name',
    ),
    "unknown technique": (
        SMALL.replace('"ATR"', '"ATRR"'),
        r"line 2, technique: unknown technique 'ATRR'; did you mean 'ATR'\? \(known: ATR, transmission, ",
    ),
    "sample by another technique": (
        SMALL + 'technique = "transmission"\n',
        r"line 12, samples\.aqueous\.technique: measured by 'transmission', but the bare substrate by 'ATR'",
    ),
    "technique of one role only": (
        SMALL.replace('technique = "ATR"\n', "") + 'technique = "ATR"\n',
        r"line 11, samples\.aqueous\.technique: .*a group without a technique counts as 'other'",
    ),
    "neat coatings by two techniques": (
        SMALL.replace("neat/*", "neat/neat_10")
        + '[coatings.wax]\nspectra = ["neat/neat_11.csv"]\ntechnique = "transmission"\n',
        r"line 14, coatings\.wax\.technique: measured by 'transmission', but neat gelatin by 'ATR'; mixed",
    ),
    "unknown residue": (
        SMALL + '[residues]\nwatch = ["acetic acid", "acetik acid"]\n',
        r"line 13, residues\.watch entry 2: no material 'acetik acid' in the reference band .*acetic acid",
    ),
    "residue without files": (
        SMALL + "[residues]\nmeasured = { softener = [] }\n",
        r"line 13, residues\.measured\.softener: no file; name at least one",
    ),
    "missing band table": (
        'bands = ["my bands.csv"]\n' + SMALL,
        r"line 1, bands entry 1: no file 'my bands\.csv' in ",
    ),
    "broken band table": (
        'bands = ["bare/bare_0.csv"]\n' + SMALL.replace("bare/*.csv", "bare/bare_[1-9].csv"),
        r"line 1, bands: .*bare_0\.csv",
    ),
}


@pytest.mark.parametrize(("text", "expected"), ONE_MISTAKE.values(), ids=ONE_MISTAKE)
def test_one_mistake_is_told_with_line_and_key(folder, text, expected):
    told = mistakes_of(folder, text)
    assert len(told) == 1, told
    assert re.match(expected, told[0]), told[0]


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file(folder):
    text = SMALL.replace("bare/*.csv", "bare/*.dx").replace("angle_deg = 45", "angle_deg = -1")
    text += 'coatings = ["gelatine"]\n[settings]\nalpha = 3\npower = 0\nsigma = 1\n'
    text += "[settings.peaks]\nprominence = 7\n"
    told = mistakes_of(folder, text)
    assert [int(re.match(r"line (\d+)", line)[1]) for line in told] == [5, 7, 12, 14, 15, 16, 18]


def test_copies_are_no_replicates(folder):
    (folder / "bare" / "bare_9.csv").write_bytes((folder / "bare" / "bare_1.csv").read_bytes())
    (folder / "coated" / "last.csv").write_bytes((folder / "bare" / "bare_2.csv").read_bytes())
    assert mistakes_of(folder, SMALL) == [
        f"line {where} entry 1: {Path(copy)} and {Path(first)} hold the same bytes; "
        "a copy is no second measurement; name one of them"
        for where, copy, first in (
            ("7, substrate.spectra", "bare/bare_9.csv", "bare/bare_1.csv"),
            ("11, samples.aqueous.spectra", "coated/last.csv", "bare/bare_2.csv"),
        )
    ]


@pytest.mark.parametrize(
    "name", ["x" * 300, "*" + "x" * 300, "a\\u0000b", "[", "", "{a,b}", "bare/bare_1.csv/x"]
)
def test_a_name_no_disk_takes_is_one_mistake(folder, name):
    told = mistakes_of(folder, SMALL.replace("bare/*.csv", name))
    assert len(told) == 1
    assert told[0].startswith("line 7, substrate.spectra entry 1: ")


def test_a_page_of_mistakes_is_cut(folder):
    told = mistakes_of(folder, SMALL + "[settings]\n" + "".join(f"x{i} = 1\n" for i in range(50)))
    assert len(told) == 21
    assert told[-1] == "and 30 more"


def test_a_file_that_cannot_be_opened_is_left_to_reading(folder, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    (folder / "study.toml").write_text(SMALL, encoding="utf-8")
    monkeypatch.setattr("spectra.study.file_search.hashlib.file_digest", refuse)
    assert len(load_study(folder / "study.toml").substrate.specimens) == 5


def test_a_link_to_a_file_is_the_same_file(folder):
    (folder / "coated" / "link.csv").symlink_to(folder / "bare" / "bare_1.csv")
    assert re.match(r"line 11, .*link\.csv is named already at line 7", mistakes_of(folder, SMALL)[0])


NO_STUDY = {
    "missing": (None, r"s\.toml: no such file; check the name and the folder"),
    "empty": (b"  \n", r"s\.toml: empty; expected a study file in TOML"),
    "not text": (
        b"title = 1\nx = '\xff\xfe'\n",
        r"s\.toml line 2: not UTF-8 text; save the study file as UTF-8",
    ),
    "not toml": (
        b'title = "a"\n\nspectra = bare/*.csv\n',
        r"s\.toml: line 3, column 11: not TOML \(invalid value\)",
    ),
    "cut off": (b'title = "a', r"s\.toml: at its end: not TOML"),
    "key twice": (b"[substrate]\n[substrate]\n", r"s\.toml: line 2, column 11: not TOML"),
}


@pytest.mark.parametrize(("content", "expected"), NO_STUDY.values(), ids=NO_STUDY)
def test_what_is_no_study_file_is_refused(tmp_path, content, expected):
    if content is not None:
        (tmp_path / "s.toml").write_bytes(content)
    with pytest.raises(StudyError, match=expected):
        load_study(tmp_path / "s.toml")


def test_a_folder_is_no_study_file(tmp_path):
    with pytest.raises(StudyError, match=r"a folder; expected a study file; `coatproof new .*` writes one"):
        load_study(tmp_path)
    (tmp_path / "mist.toml").write_text(SMALL, encoding="utf-8")
    with pytest.raises(StudyError, match=r"a folder; expected a study file; did you mean .*mist\.toml\?"):
        load_study(tmp_path)


# -- doubts that do not stop -------------------------------------------------------------------------


def warned(study):
    return {fault.code: fault for fault in study.warnings}


def test_a_clear_study_has_no_warnings(folder):
    assert load(folder, SMALL).warnings == ()


@pytest.mark.parametrize(
    ("text", "code", "place"),
    [
        (
            re.sub("technique.*\n|\\[instr.*\n|crystal.*\n|angle.*\n", "", SMALL),
            "technique-not-stated",
            "line 1, technique",
        ),
        (
            SMALL.replace("[samples", 'technique = "transmission"\n[samples'),
            "techniques-differ",
            "line 10, coatings.gelatin",
        ),
        (re.sub("angle.*\n", "", SMALL), "geometry-not-stated", "line 3, instrument"),
        (SMALL.replace('"ATR"', '"transmission"'), "crystal-unused", "line 3, instrument"),
        (
            SMALL.replace("[coatings", 'material = "unobtainium"\n[coatings'),
            "material-not-in-tables",
            "line 8, substrate",
        ),
    ],
)
def test_each_doubt_is_carried_with_its_place_and_remedy(folder, text, code, place):
    found = warned(load(folder, text))
    assert list(found) == [code]
    assert found[code].where.startswith(f"{folder / 'study.toml'} {place}")
    assert found[code].severity in {"note", "warning"}
    assert found[code].remedy.endswith(".")


def test_a_technique_nobody_stated_is_not_guessed(folder):
    study = load(folder, re.sub("technique.*\n", "", SMALL))
    assert {group.technique for group in study.groups} == {"other"}
    assert set(warned(study)) == {"technique-not-stated", "crystal-unused"}


def test_a_technique_said_to_be_another_is_said(folder):
    text = re.sub("\\[instr.*\n|crystal.*\n|angle.*\n", "", SMALL)
    assert load(folder, text.replace('"ATR"', '"other"')).warnings == ()


# -- without a study file ----------------------------------------------------------------------------


def test_files_alone_make_a_study(folder, monkeypatch):
    monkeypatch.chdir(folder)
    study = study_from_files(
        ["bare/bare_1.csv", "bare/bare_0.csv"],
        [folder / "neat" / "neat_10.csv"],
        ["coated/*.csv"],
        technique="ATR",
        crystal="diamond",
        angle_deg=45,
    )
    assert isinstance(study, Study)
    assert (study.file, study.sha256, study.warnings) == (None, "", ())
    assert list(names(study.substrate)) == ["bare_1", "bare_0"], "the order given is kept"
    assert list(study.coatings) == ["coating"]
    assert list(names(study.samples["coated"])) == ["coated_20", "coated_21", "coated_22"]
    assert study.samples["coated"].coatings == ("coating",)


def test_files_alone_can_be_named(folder, monkeypatch):
    monkeypatch.chdir(folder)
    roles = (["bare/*.csv"], ["neat/*.csv"], ["coated/*.csv"])
    study = study_from_files(*roles, technique="other", coating="gelatin", substrate="PCL")
    assert study.title == "gelatin on PCL"
    assert (list(study.coatings), study.substrate.material) == (["gelatin"], "PCL")
    assert study.warnings == ()
    (warning,) = study_from_files(*roles, technique="other", substrate="unobtainium").warnings
    assert (warning.code, warning.where) == ("material-not-in-tables", "--substrate")


def test_mistakes_of_files_alone_name_the_option(folder, monkeypatch):
    monkeypatch.chdir(folder)
    with pytest.raises(StudyError, match="files given: 4 mistakes") as caught:
        study_from_files(
            ["bare/bare_1.csv", "bare/bare_77.csv"],
            ["neat/*.csv"],
            ["bare/bare_1.csv"],
            technique="atrr",
            angle_deg=99,
        )
    assert [line.split(":")[0].strip() for line in str(caught.value).splitlines()[1:]] == [
        "--technique",
        "--bare",
        "--coated",
        "--angle-deg",
    ]


@pytest.mark.parametrize("role", ["bare", "neat", "coated"])
def test_a_role_without_files_is_named(folder, monkeypatch, role):
    monkeypatch.chdir(folder)
    given = {"bare": ["bare/*"], "neat": ["neat/*"], "coated": ["coated/*"]} | {role: []}
    with pytest.raises(StudyError, match=f"^--{role}: no file; name at least one$"):
        study_from_files(**given)


# -- the words of a mistake --------------------------------------------------------------------------


def test_a_mistake_further_inside_explains_the_one_around_it():
    mistakes = Mistakes("s.toml", {("a",): 1, ("a", "b"): 2})
    mistakes.add(("a", "b"), "wrong")
    mistakes.add(("a",), "nothing in it")
    with pytest.raises(StudyError, match=r"^s\.toml line 2, a\.b: wrong$"):
        mistakes.raise_if_any()


def test_found_values_are_written_as_in_the_file_and_cut_when_long():
    assert shown(("a", 1, True)) == "['a', 1, true]"
    assert shown({"a": 1}) == "a table"
    assert len(shown("x" * 500)) == 60
    assert spelt(()) == "study"
    assert nearest("chitosan", []) == ""


def test_the_study_of_the_test_helper_is_sound(tmp_path):
    assert load_study(write_study(tmp_path)).title == "Invented mist coat"


# -- what files do not say, and spectra of one file ---------------------------------------------------


def test_what_the_study_says_about_files_reaches_every_group(folder):
    text = SMALL.replace("[substrate]", '[files]\nordinate = "transmittance"\ndecimal = ","\n[substrate]')
    text = text.replace("[coatings.gelatin]", '[coatings.gelatin]\nordinate = "absorbance"')
    study = load(folder, text)
    assert study.substrate.units == StatedUnits("transmittance", None, ",")
    assert study.coatings["gelatin"].units == StatedUnits("absorbance", None, ",")


@pytest.mark.parametrize(
    ("line", "message"),
    [
        (
            'ordinate = "absorbence"',
            r"unknown word 'absorbence'; did you mean 'absorbance'\?",
        ),
        ('abscissa = "mm"', r"files\.abscissa: unknown word 'mm'.*known: cm-1, um, nm"),
        ('decimal = ";"', r"files\.decimal: unknown word ';' \(known: ,, \.\)"),
        ('ordinates = "absorbance"', r"files\.ordinates: unknown key; did you mean 'ordinate'\?"),
    ],
)
def test_a_word_for_files_that_is_not_known(folder, line, message):
    with pytest.raises(StudyError, match=message):
        load(folder, f"{SMALL}\n[files]\n{line}\n")


@pytest.mark.parametrize(
    "entries",
    ['{ file = "bare/bare_1.csv", columns = ["a", "b"] }', '"bare/bare_1.csv#a", "bare/bare_1.csv#b"'],
)
def test_spectra_of_one_file_are_specimens(folder, entries):
    study = load(folder, SMALL.replace('"bare/*.csv"', entries))
    assert [specimen.parts[0][1] for specimen in study.substrate.specimens] == [("a",), ("b",)]
    assert [specimen.name for specimen in study.substrate.specimens] == ["bare_1 a", "bare_1 b"]


def test_a_file_may_serve_several_groups_and_the_same_spectrum_may_not(folder):
    whole = SMALL.replace('"bare/*.csv"', '"bare/bare_1.csv#a"')
    load(folder, whole.replace('"neat/*.csv"', '"bare/bare_1.csv#b"'))
    for again in ("bare/bare_1.csv#a", "bare/bare_1.csv"):
        with pytest.raises(StudyError, match=r"bare_1\.csv.* is named already at .*; name each"):
            load(folder, whole.replace('"neat/*.csv"', f'"{again}"'))


def test_back_slashes_in_patterns_work(folder):
    study = load(folder, SMALL.replace('"bare/*.csv"', r"'bare\bare_*.csv'"))
    assert len(study.substrate.specimens) > 1


@pytest.mark.parametrize(
    ("written", "meant"), [("ZnSe", "zinc selenide"), ("Ge", "germanium"), ("Diamond", "diamond")]
)
def test_crystals_and_techniques_are_spelled_freely(folder, written, meant):
    study = load(folder, SMALL.replace('"diamond"', f'"{written}"').replace('"ATR"', '"atr"'))
    assert study.instrument.crystal == meant
    assert study.substrate.technique == "ATR"


# -- settings of the decision, in either place -------------------------------------------------------


def test_the_decision_may_be_written_as_the_report_heads_it(folder):
    short = load(folder, SMALL + "[settings]\nalpha = 0.02\npower = 0.9\n").settings
    table = load(folder, SMALL + "[settings.decision]\nalpha = 0.02\npower = 0.9\n").settings
    parted = load(folder, SMALL + "[settings]\nalpha = 0.02\n[settings.decision]\npower = 0.9\n").settings
    assert short == table == parted
    assert (short.decision.alpha, short.decision.power) == (0.02, 0.9)


def test_the_same_value_in_both_places_is_one_value(folder):
    text = SMALL + "[settings]\nalpha = 0.02\n[settings.decision]\nalpha = 0.02\n"
    assert load(folder, text).settings.decision.alpha == 0.02


def test_two_values_for_one_setting_are_refused(folder):
    text = SMALL + "[settings]\nalpha = 0.02\npower = 0.9\n[settings.decision]\nalpha = 0.01\npower = 0.9\n"
    told = mistakes_of(folder, text)
    assert told == ["line 16, settings.decision.alpha: found 0.01, and 0.02 in [settings]; give it once"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "[settings.decision]\nalpha = 3\n",
            r"line 13, settings\.decision\.alpha: found 3.*; expected 1e-06 to",
        ),
        (
            "[settings.decision]\nalhpa = 0.1\n",
            r"settings\.decision\.alhpa: unknown key; did you mean 'alpha'",
        ),
        ("[settings]\nmargin = true\n", r"settings\.margin: found true; expected a number"),
        (
            "[settings.footing]\nlow = 4000\nhigh = 400\n",
            r"settings\.footing\.low: 'low' and 'high' are 4000.* and 400.* cm-1; expected the lower",
        ),
        ("[settings.footing]\nlow = 4500\n", r"settings\.footing\.low: 'low' and 'high' are 4500.* and 4000"),
        ("[settings.checks]\nsaturated = 9\n", r"settings\.checks\.saturated: found 9.*; expected 0\.5 to 6"),
    ],
)
def test_wrong_settings_are_told_with_their_place(folder, text, told):
    assert re.search(told, mistakes_of(folder, SMALL + text)[0])
