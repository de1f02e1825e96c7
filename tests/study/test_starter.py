"""The starter study: what names say, said back; and a file that loads once a person has filled it in."""

import re
import tomllib
from zlib import crc32

import pytest

from spectra.errors import UsageError
from spectra.study.loading import load_study
from spectra.study.starter import starter_study
from tests.studies import write_spectra


def film(x):
    """Invented bands, absorbance."""
    return 0.02 + sum(0.4 / (1 + ((x - at) / 15) ** 2) for at in (900, 1250, 1740, 2930))


def lay(folder, *names):
    for name in names:
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        rows = "".join(f"{x},{film(x) + crc32(name.encode()) / 1e12:.6f}\n" for x in range(700, 3900, 8))
        notes = file.suffix == ".png" or file.name.startswith("notes")
        file.write_text("nothing measured" if notes else "cm-1,absorbance\n" + rows, encoding="utf-8")
    return folder


def parsed(folder, base=None):
    return tomllib.loads(starter_study(folder, base or folder))


def test_folders_that_say_their_role_make_a_study_that_loads(tmp_path):
    write_spectra(tmp_path)
    (tmp_path / "study.toml").write_text(starter_study(tmp_path, tmp_path), encoding="utf-8")
    study = load_study(tmp_path / "study.toml")
    assert [len(group.specimens) for group in study.groups] == [5, 2, 3]
    assert list(study.samples) == ["coated"]


def test_files_alike_but_for_the_last_number_are_spots_of_one_specimen(tmp_path):
    lay(
        tmp_path,
        "acid/S1_1.txt",
        "acid/S1_2.txt",
        "acid/S10_1.txt",
        "acid/S2.txt",
        "bare/a-1.csv",
        "bare/a-2.csv",
    )
    data = parsed(tmp_path)
    assert data["samples"]["acid"] == {
        "specimens": {"S10": ["acid/S10_1.txt"], "S1": ["acid/S1_*.txt"], "S2": ["acid/S2.txt"]}
    }
    assert data["substrate"] == {"spectra": ["bare/a-*.csv"]}, "one name only: each file a specimen"


def test_each_name_in_the_neat_folder_is_a_coating_with_its_material_where_known(tmp_path):
    lay(tmp_path, "neat/gelatin_1.dx", "neat/gelatin_2.dx", "neat/unobtainium.dx", "coated/x.csv")
    assert parsed(tmp_path)["coatings"] == {
        "gelatin": {"material": "gelatin", "spectra": ["neat/gelatin_*.dx"]},
        "unobtainium": {"spectra": ["neat/unobtainium.dx"]},
    }


def test_thicknesses_and_numbers_are_no_part_of_a_coating_s_name(tmp_path):
    lay(tmp_path, "neat/wax_0.5um.csv", "neat/wax_1.0um.csv", "neat/b c.csv", "bare/polystyrene_1.csv")
    data = parsed(tmp_path)
    assert data["coatings"] == {
        "b c": {"spectra": ["neat/b c.csv"]},
        "wax": {"spectra": ["neat/wax_0.5um.csv", "neat/wax_1.0um.csv"]},
    }
    assert data["substrate"]["material"] == "polystyrene"


def test_one_folder_with_everything_is_sorted_by_name(tmp_path):
    lay(tmp_path, "bare_1.csv", "bare_2.csv", "neat gelatin 1.csv", "aq_1.csv", "aq_2.csv", "acid_1.csv")
    data = parsed(tmp_path)
    assert data["substrate"]["spectra"] == ["bare_*.csv"]
    assert data["coatings"]["gelatin"]["spectra"] == ["neat gelatin 1.csv"]
    assert data["samples"] == {"acid": {"spectra": ["acid_1.csv"]}, "aq": {"spectra": ["aq_*.csv"]}}


def test_a_pattern_that_would_take_other_files_too_gives_way_to_the_files(tmp_path):
    lay(tmp_path, "bare_1.csv", "aq_1.csv", "aq_2.csv", "aq_dry_1.csv", "aq_dry_2.csv")
    samples = parsed(tmp_path)["samples"]
    assert samples["aq"]["spectra"] == ["aq_1.csv", "aq_2.csv"]
    assert samples["aq_dry"]["spectra"] == ["aq_dry_*.csv"]


def test_a_file_beside_the_folders_that_says_nothing_is_left_out_aloud(tmp_path):
    lay(tmp_path, "bare/a.csv", "coated/b.csv", "other.txt", "notes.txt")
    text = starter_study(tmp_path, tmp_path)
    assert '# Left out, because no name says what it is: "other.txt"' in text
    assert '# Not read: "notes.txt": found no table of numbers' in text
    assert list(tomllib.loads(text)["samples"]) == ["coated"]


@pytest.mark.parametrize(
    ("names", "role", "heading"),
    [
        (("neat/a.csv", "coated/b.csv"), "bare substrate", "[substrate]"),
        (("bare/a.csv", "coated/b.csv"), "neat coating", "[coatings.NAME]"),
        (("bare/a.csv", "neat/b.csv"), "coated sample", "[samples.NAME]"),
    ],
)
def test_a_role_nobody_named_is_left_to_a_person(tmp_path, names, role, heading):
    text = starter_study(lay(tmp_path, *names), tmp_path)
    assert f"# No name says which spectra are of the {role}." in text
    assert f"# {heading}\n" in text


def test_paths_are_relative_to_the_study_file_wherever_it_stands(tmp_path):
    lay(tmp_path, "data/bare/a.csv", "data/coated/b.csv", "studies/x")
    data = parsed(tmp_path / "data", tmp_path / "studies")
    assert data["substrate"]["spectra"] == ["../data/bare/a.csv"]
    assert list(data["samples"]) == ["coated"]


def test_names_that_toml_or_patterns_would_misread_are_quoted(tmp_path):
    lay(tmp_path, 'bare/a "x" [1]_1.csv', 'bare/a "x" [1]_2.csv', "lös ung/b.csv", "we\nird/c.csv")
    data = parsed(tmp_path)
    assert set(data["samples"]) == {"lös ung", "we\nird"}
    (tmp_path / "study.toml").write_text(
        starter_study(tmp_path, tmp_path) + '[coatings.x]\nspectra = ["x.csv"]\n', encoding="utf-8"
    )
    lay(tmp_path, "x.csv")
    assert len(load_study(tmp_path / "study.toml").substrate.specimens) == 2


def test_earlier_results_and_hidden_files_are_passed_over(tmp_path):
    lay(
        tmp_path,
        "bare/a.csv",
        "coated/b.csv",
        "study_report/result.json",
        "study_report/bands.csv",
        "bare/._a.csv",
    )
    assert "report" not in (text := starter_study(tmp_path, tmp_path)).replace("the report prints", "")
    assert "._a" not in text


def test_every_default_of_the_decision_is_shown_with_its_reason(tmp_path):
    text = starter_study(lay(tmp_path, "bare/a.csv"), tmp_path)
    assert re.search(r"^# alpha = 0\.01   # chance of calling", text, re.MULTILINE)
    uncommented = re.sub(r"^# (?=\[settings\]|\w+ = [\d.]+ )", "", text, flags=re.MULTILINE)
    assert tomllib.loads(uncommented)["settings"]["alpha"] == 0.01


def test_the_same_folder_gives_the_same_bytes(tmp_path):
    write_spectra(tmp_path)
    assert starter_study(tmp_path, tmp_path) == starter_study(tmp_path, tmp_path)


def test_a_missing_folder_and_one_without_spectra_are_refused(tmp_path):
    with pytest.raises(UsageError, match="nowhere: no such folder"):
        starter_study(tmp_path / "nowhere", tmp_path)
    with pytest.raises(UsageError, match="no file in it can be read as spectra"):
        starter_study(lay(tmp_path, "a.png"), tmp_path)


def test_what_a_file_is_decides_and_not_its_suffix(tmp_path):
    lay(tmp_path, "bare/a.spectrum", "bare/b", "coated/c.001", "neat/wax.data", "bare/picture.png")
    data = parsed(tmp_path)
    assert data["substrate"]["spectra"] == ["bare/*"]
    assert data["samples"]["coated"]["spectra"] == ["coated/c.001"]
    assert data["coatings"]["wax"]["spectra"] == ["neat/wax.data"]


@pytest.mark.parametrize(
    ("folder", "role"),
    [
        ("control", "substrate"),
        ("pristine", "substrate"),
        ("as-received", "substrate"),
        ("without coating", "substrate"),
        ("unbehandelt", "substrate"),
        ("sin recubrir", "substrate"),
        ("nu", "substrate"),
        ("sans revêtement", "substrate"),
        ("Reinstoff", "coatings"),
        ("polvo", "coatings"),
    ],
)
def test_words_for_roles_in_several_languages(tmp_path, folder, role):
    data = parsed(lay(tmp_path, f"{folder}/a.csv", "wet/b.csv"))
    assert role in data
    assert list(data["samples"]) == ["wet"]


def test_specimens_and_spots_in_words(tmp_path):
    names = [f"wet/specimen{i}_area{j}_spot{k}.csv" for i in (1, 2) for j in (0, 1) for k in (1, 2)]
    specimens = parsed(lay(tmp_path, *names))["samples"]["wet"]["specimens"]
    assert list(specimens) == ["specimen1", "specimen2"]
    (tmp_path / "one").mkdir()
    flat = parsed(lay(tmp_path / "one", *(name.removeprefix("wet/") for name in names)))["samples"]
    assert [list(group["specimens"]) for group in flat.values()] == [["specimen1", "specimen2"]]


def test_a_unit_that_no_file_states_becomes_a_line_with_its_evidence(tmp_path):
    lay(tmp_path, "bare/a.csv", "bare/b.csv", "wet/c.csv")
    for file in tmp_path.rglob("*.csv"):
        file.write_text(file.read_text().removeprefix("cm-1,absorbance\n"))
    text = starter_study(tmp_path, tmp_path)
    line = next(line for line in text.splitlines() if line.startswith("ordinate"))
    assert re.match(
        r'ordinate = "absorbance"   # 3 files: ordinates of 2 spectra from .* bands point up.*; correct', line
    )
    assert tomllib.loads(text)["files"] == {"ordinate": "absorbance"}


def test_a_unit_that_the_values_do_not_tell_is_left_to_a_person(tmp_path):
    lay(tmp_path, "bare/a.csv", "wet/c.csv")
    (tmp_path / "bare/a.csv").write_text("".join(f"{x},{0.5 + 1e-6 * x}\n" for x in range(700, 3900, 8)))
    text = starter_study(tmp_path, tmp_path)
    assert re.search(
        r'^# ordinate = "\.\.\."   # 1 file: ordinates from .* have no unit: they may be', text, re.M
    )
    assert parsed(tmp_path)["substrate"]["spectra"] == ["bare/a.csv"]


def test_spectra_of_one_file_are_listed_with_the_way_to_take_them(tmp_path):
    lay(tmp_path, "bare/a.csv", "wet/c.csv")
    rows = "".join(f"{x},{1 / (1 + (x - 1700) ** 2 / 400):.6f},{x % 7 / 100}\n" for x in range(700, 3900, 8))
    (tmp_path / "wet/map.csv").write_text("cm-1,film 1 (absorbance),film 2 (absorbance)\n" + rows)
    text = starter_study(tmp_path, tmp_path)
    assert '# "wet/map.csv" holds 2 spectra (1 "film 1 (absorbance)", 2 "film 2 (absorbance)")' in text
