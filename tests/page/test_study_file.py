"""The study file as the page writes it: what it says is what was chosen, and nothing else changes."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.errors import OutputError, StudyError
from spectra.page.places import Place, chosen_places, files_of, guess_places, read_places
from spectra.page.study_file import assign, load_text, save, set_value
from spectra.study.loading import load_study
from spectra.study.survey import survey
from tests.studies import SMALL, write_spectra, write_study

FILES = ("bare/bare_0.csv", "bare/bare_1.csv", "neat/neat_10.csv", "coated/coated_20.csv")


def places_of(text, folder):
    return read_places(tomllib.loads(text), folder)


@pytest.fixture
def folder(tmp_path):
    return write_spectra(tmp_path)


def test_places_are_those_the_study_is_judged_by(tmp_path):
    file = write_study(tmp_path)
    study = load_study(file)
    meant = {
        path.relative_to(tmp_path).as_posix(): (group.role, group.name)
        for group in study.groups
        for piece in group.specimens
        for path in piece.files
    }
    found = places_of(SMALL, tmp_path)
    assert {name: (place.role, place.group or "substrate") for name, place in found.items()} == meant
    assert len(found) == 10


def test_a_change_spells_out_only_the_list_it_touches(folder):
    text = assign(SMALL, folder, {"bare/bare_0.csv": Place("coated", "aqueous")})
    data = tomllib.loads(text)
    assert data["substrate"]["spectra"] == [f"bare/bare_{i}.csv" for i in range(1, 5)]
    assert data["samples"]["aqueous"]["spectra"] == ["coated/*.csv", "bare/bare_0.csv"]
    assert data["coatings"] == tomllib.loads(SMALL)["coatings"]


def test_what_the_page_does_not_know_stays(folder):
    text = (
        "# mine\nfuture = [1, 2]  # kept\n" + SMALL + "\n[samples.aqueous.later]\nkey = 1979-05-27  # also\n"
    )
    changed = assign(text, folder, {"bare/bare_0.csv": Place()})
    assert "# mine\nfuture = [1, 2]  # kept\n" in changed
    assert "key = 1979-05-27  # also" in changed


def test_files_in_named_pieces(folder):
    place = Place("bare", "", "A")
    data = tomllib.loads(assign(SMALL, folder, {"bare/bare_0.csv": place, "bare/bare_1.csv": place}))
    assert data["substrate"]["specimens"] == {
        "bare_2": ["bare/bare_2.csv"],
        "bare_3": ["bare/bare_3.csv"],
        "bare_4": ["bare/bare_4.csv"],
        "A": ["bare/bare_0.csv", "bare/bare_1.csv"],
    }
    assert "spectra" not in data["substrate"]


def test_a_group_without_spectra_goes(folder):
    neat = {f"neat/neat_{i}.csv": Place() for i in (10, 11)}
    data = tomllib.loads(assign(SMALL, folder, neat))
    assert "coatings" not in data
    assert data["substrate"] == {"spectra": ["bare/*.csv"]}


def test_what_is_known_of_the_substrate_stays_without_spectra(folder):
    text = SMALL.replace("[substrate]\n", '[substrate]\nmaterial = "polycaprolactone"\n')
    gone = {f"bare/bare_{i}.csv": Place() for i in range(5)}
    assert tomllib.loads(assign(text, folder, gone))["substrate"] == {"material": "polycaprolactone"}


def test_a_residue_is_a_list_of_its_own(folder):
    text = assign(SMALL, folder, {"neat/neat_10.csv": Place("residue", "acetic acid")})
    assert tomllib.loads(text)["residues"]["measured"] == {"acetic acid": ["neat/neat_10.csv"]}
    assert places_of(text, folder)["neat/neat_10.csv"] == Place("residue", "acetic acid")


def test_left_out_and_taken_in_again(folder):
    out = assign(SMALL, folder, {"bare/bare_0.csv": Place("left out", reason="saturated")})
    assert places_of(out, folder)["bare/bare_0.csv"].reason == "saturated"
    back = assign(out, folder, {"bare/bare_0.csv": Place("bare")})
    assert "leave_out" not in tomllib.loads(back)
    assert places_of(back, folder)["bare/bare_0.csv"].role == "bare"


def test_guesses_are_those_of_a_first_study(folder):
    guessed = guess_places(folder, survey(folder))
    assert {place.role for place in guessed.values()} == {"bare", "neat", "coated"}
    assert len(guessed) == 10


roles = st.sampled_from(["bare", "neat", "coated", "residue", "left out", ""])
names = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1, max_size=12)
chosen = st.builds(
    lambda role, group, piece, reason: Place(
        role,
        group if role in ("neat", "coated", "residue") else "",
        piece if role in ("bare", "coated") else "",
        reason if role == "left out" else "",
    ),
    roles, names, names, names,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(FILES), chosen), min_size=1, max_size=6))
def test_what_was_said_last_is_what_the_study_says(tmp_path_factory, steps):
    folder = tmp_path_factory.getbasetemp() / "shared"
    if not folder.exists():
        write_spectra(folder)
    text, last = SMALL, {}
    for file, place in steps:
        text = assign(text, folder, {file: place})
        last[file] = place
    found = places_of(text, folder)
    for file, place in last.items():
        said = found.get(file, Place())
        if place.role == "left out":
            assert (said.role, said.reason) == ("left out", place.reason)
        else:
            assert (said.role, said.group) == (place.role, place.group)
            assert not place.specimen or said.specimen == place.specimen


def test_a_column_or_a_table_names_its_file(folder):
    assert files_of("bare/bare_0.csv#2", folder) == ["bare/bare_0.csv"]
    assert files_of({"file": "bare/bare_0.csv", "columns": [2]}, folder) == ["bare/bare_0.csv"]
    assert files_of("nothing.csv", folder) == []


def test_a_key_is_set_and_taken_out_again():
    text = set_value(SMALL, ("instrument", "crystal"), "germanium")
    assert tomllib.loads(text)["instrument"]["crystal"] == "germanium"
    for key in ("crystal", "angle_deg"):
        text = set_value(text, ("instrument", key), None)
    assert "instrument" not in tomllib.loads(text)


def test_a_key_is_added_above_the_first_table():
    text = set_value("[substrate]\nspectra = []\n", ("technique",), "ATR")
    assert tomllib.loads(text) == {"technique": "ATR", "substrate": {"spectra": []}}


def test_saving_needs_the_version_that_was_changed(tmp_path):
    file = tmp_path / "study.toml"
    version = save(file, "a = 1\n", "none")
    assert load_text(file) == ("a = 1\n", version)
    file.write_text("a = 2\n", encoding="utf-8")
    with pytest.raises(StudyError, match="was changed meanwhile"):
        save(file, "a = 3\n", version)
    assert file.read_text(encoding="utf-8") == "a = 2\n"


def test_no_text_is_saved_that_is_no_toml(tmp_path):
    with pytest.raises(StudyError, match="no valid study file"):
        save(tmp_path / "study.toml", "a = = 1", "none")
    assert list(tmp_path.iterdir()) == []


def test_a_study_that_cannot_be_written_stands(tmp_path, monkeypatch):
    file = tmp_path / "study.toml"
    version = save(file, "a = 1\n", "none")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    with pytest.raises(OutputError, match="No space left on device"):
        save(file, "a = 2\n", version)
    assert file.read_text(encoding="utf-8") == "a = 1\n"
    assert [path.name for path in tmp_path.iterdir()] == ["study.toml"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"role": "coated"}, "called"),
        ({"role": "left out"}, "why they are left out"),
        ({"role": "bare", "pieces": "one"}, "one piece is called"),
        ({"role": "king"}, "unknown role"),
    ],
)
def test_what_is_not_said_is_asked_for(words, said):
    from spectra.errors import UsageError

    with pytest.raises(UsageError, match=said):
        chosen_places(["a.csv"], words)


def test_files_alike_but_for_the_last_number_are_one_piece():
    words = {"role": "bare", "pieces": "alike"}
    found = chosen_places(["b/A_1.csv", "b/A_2.csv", "b/B 1.csv", "b/C.csv"], words)
    assert [place.specimen for place in found.values()] == ["A", "A", "B", "C"]
