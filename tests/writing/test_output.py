"""Results in place: whole or not at all, nothing overwritten unasked, nothing left behind."""

import pytest

from spectra.errors import OutputError
from spectra.writing.output import place_file, placed_folder, require_free
from tests.studies import everything_in


def write_and_end(target, end, force=False):
    with placed_folder(target, force) as draft:
        (draft / "a.txt").write_text("new", encoding="utf-8")
        raise end("now")


def test_a_folder_appears_when_it_is_complete(tmp_path):
    target = tmp_path / "result"
    with placed_folder(target) as draft:
        (draft / "a.txt").write_text("a", encoding="utf-8")
        assert draft.parent == tmp_path, "on the same disk, so that the move is one step"
        assert not target.exists()
    assert everything_in(tmp_path) == {"result", "result/a.txt"}


@pytest.mark.parametrize("end", [KeyboardInterrupt, ValueError, SystemExit])
def test_whatever_ends_the_run_leaves_nothing(tmp_path, end):
    with pytest.raises(end, match="now"):
        write_and_end(tmp_path / "result", end)
    assert everything_in(tmp_path) == set()


def test_a_folder_with_something_in_it_is_refused_and_left_alone(tmp_path):
    target = tmp_path / "result"
    target.mkdir()
    (target / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(
        OutputError, match=r"result: this folder is there and not empty; .* --out, or add --force"
    ):
        require_free(target, force=False)
    with pytest.raises(OutputError, match="not empty"), placed_folder(target):
        pytest.fail("the work must not begin")
    assert (target / "mine.txt").read_text(encoding="utf-8") == "mine"
    assert everything_in(tmp_path) == {"result", "result/mine.txt"}


def test_an_empty_folder_is_taken(tmp_path):
    (tmp_path / "result").mkdir()
    with placed_folder(tmp_path / "result") as draft:
        (draft / "a.txt").write_text("a", encoding="utf-8")
    assert everything_in(tmp_path) == {"result", "result/a.txt"}


def test_force_replaces_files_of_the_same_name_and_no_other(tmp_path):
    target = tmp_path / "result"
    target.mkdir()
    (target / "mine.txt").write_text("mine", encoding="utf-8")
    (target / "a.txt").write_text("old", encoding="utf-8")
    with placed_folder(target, force=True) as draft:
        (draft / "a.txt").write_text("new", encoding="utf-8")
    assert (target / "a.txt").read_text(encoding="utf-8") == "new"
    assert everything_in(tmp_path) == {"result", "result/a.txt", "result/mine.txt"}


def test_a_forced_run_that_fails_leaves_the_earlier_result(tmp_path):
    target = tmp_path / "result"
    target.mkdir()
    (target / "a.txt").write_text("old", encoding="utf-8")
    with pytest.raises(KeyboardInterrupt, match="now"):
        write_and_end(target, KeyboardInterrupt, force=True)
    assert (target / "a.txt").read_text(encoding="utf-8") == "old"
    assert everything_in(tmp_path) == {"result", "result/a.txt"}


@pytest.mark.parametrize("force", [False, True])
def test_a_folder_is_not_put_in_place_of_a_file(tmp_path, force):
    (tmp_path / "result").write_text("mine", encoding="utf-8")
    told = r"result: this (is a file; name a folder|file is there already)"
    with pytest.raises(OutputError, match=told), placed_folder(tmp_path / "result", force):
        pytest.fail("the work must not begin")
    assert (tmp_path / "result").read_text(encoding="utf-8") == "mine"


def test_missing_folders_are_made_when_there_is_something_to_put_there(tmp_path):
    require_free(tmp_path / "some" / "where" / "result", force=False)
    assert not (tmp_path / "some").exists()
    with placed_folder(tmp_path / "some" / "where" / "result") as draft:
        (draft / "a.txt").write_text("whole", encoding="utf-8")
    place_file(tmp_path / "else" / "where.txt", b"whole")
    assert (tmp_path / "some" / "where" / "result" / "a.txt").is_file()
    assert (tmp_path / "else" / "where.txt").is_file()


def test_a_file_is_no_folder_to_put_things_into(tmp_path):
    (tmp_path / "note").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="note is a file, not a folder"):
        require_free(tmp_path / "note" / "deep" / "result", force=False)


def test_a_closed_folder_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr("spectra.writing.output.os.access", lambda *_: False)  # chmod closes nothing to root
    with pytest.raises(OutputError, match="no permission to write into"):
        require_free(tmp_path / "result", force=False)


def test_one_file_is_placed_whole(tmp_path):
    place_file(tmp_path / "a.svg", b"one")
    with pytest.raises(OutputError, match=r"a\.svg: this file is there already; .*--force"):
        place_file(tmp_path / "a.svg", b"two")
    assert (tmp_path / "a.svg").read_bytes() == b"one"
    place_file(tmp_path / "a.svg", b"two", force=True)
    assert (tmp_path / "a.svg").read_bytes() == b"two"
    assert everything_in(tmp_path) == {"a.svg"}


def test_a_file_is_not_put_in_place_of_a_folder(tmp_path):
    with pytest.raises(OutputError, match="this is a folder; name a file"):
        place_file(tmp_path, b"one", force=True)


@pytest.mark.parametrize("put", [lambda p: place_file(p, b"x"), lambda p: placed_folder(p).__enter__()])
def test_what_the_disk_refuses_is_told_with_the_place(tmp_path, monkeypatch, put):
    """A disk that is full or gone shows as an OSError on making the draft."""

    def refuse(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", refuse)
    monkeypatch.setattr("pathlib.Path.mkdir", refuse)
    with pytest.raises(OutputError, match=r"result: cannot be written \(No space left on device\)"):
        put(tmp_path / "result")
    assert everything_in(tmp_path) == set()
