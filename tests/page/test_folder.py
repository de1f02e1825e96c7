"""Files of the folder, and dropped files: whole or not at all, never outside, never over another."""

import io
import os
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.errors import OutputError, UsageError
from spectra.page.folder import clear_drafts, list_results, list_spectra, place_upload, require_file_name
from spectra.reading import candidates
from spectra.study.starter import starter_study

MOST = 1_000_000


def test_files_are_listed_by_their_path_inside(tmp_path):
    for name in ("b.csv", "a.dx", "sub/c.CSV", "notes.md", ".hidden.csv", ".git/d.csv"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    assert list(list_spectra(tmp_path)) == ["a.dx", "b.csv", "sub/c.CSV"]


ROWS = "".join(f"{x},0.1\n" for x in range(4000, 400, -100)).encode()

# A PNG begins with these bytes (PNG specification, section 5.2), a ZIP archive with those of zipfile.
KINDS = {
    "spot.7": (ROWS, True),
    "run": (ROWS, True),
    "export.log": (ROWS, True),
    "settings.log": (b"started\nstopped\n", False),
    "study.toml": (b'title = "x"\n', False),
    "photo.csv": (b"\x89PNG\r\n\x1a\n" + ROWS, False),
    "photo.png": (b"\x89PNG\r\n\x1a\n", False),
    "drawing.svg": (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"></svg>', False),
    "text.pdf": (b"%PDF-1.7\n", False),
    "empty.csv": (b"", True),
    "raw.bin": (bytes(range(256)) * 40, True),
}


def test_what_a_file_is_decides_and_not_its_name(tmp_path):
    for name, (content, _) in KINDS.items():
        (tmp_path / name).write_bytes(content)
    document = zipfile.ZipFile(tmp_path / "report.docx", "w")
    with document:
        document.writestr("word/document.xml", "<w/>")
    listed = sorted(name for name, (_, wanted) in KINDS.items() if wanted)
    assert list(list_spectra(tmp_path)) == listed
    new = starter_study(tmp_path, tmp_path)
    assert all(f'"{name}' in new for name in listed)
    assert not any(name in new for name, (_, wanted) in KINDS.items() if not wanted)


def test_a_file_is_looked_at_once(tmp_path, monkeypatch):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_bytes(ROWS)
    looked = []
    true = candidates.may_hold_spectra
    monkeypatch.setattr(
        candidates, "may_hold_spectra", lambda name, *of: looked.append(name) or true(name, *of)
    )
    for _ in range(3):
        assert len(list_spectra(tmp_path)) == 2
    assert len(looked) == 2
    (tmp_path / "a.csv").write_bytes(ROWS + ROWS)
    assert len(list_spectra(tmp_path)) == 2
    assert len(looked) == 3


def test_a_report_is_not_listed_as_spectra(tmp_path):
    report = tmp_path / "study_report"
    report.mkdir()
    for name in ("result.json", "bands.csv"):
        (report / name).write_text("{}", encoding="utf-8")
    assert list_spectra(tmp_path) == {}
    assert list(list_results(tmp_path, tmp_path / "study.toml")) == ["bands.csv", "result.json"]


def test_links_that_lead_out_are_not_listed(tmp_path):
    outside, folder = tmp_path / "outside", tmp_path / "folder"
    outside.mkdir()
    folder.mkdir()
    (outside / "secret.csv").write_text("x", encoding="utf-8")
    (folder / "here.csv").write_text("x", encoding="utf-8")
    (folder / "file.csv").symlink_to(outside / "secret.csv")
    (folder / "folder").symlink_to(outside)
    (folder / "inside.csv").symlink_to(folder / "here.csv")
    (folder / "broken.csv").symlink_to(folder / "nothing.csv")
    assert list(list_spectra(folder)) == ["here.csv", "inside.csv"]


def test_results_that_are_links_are_not_given_out(tmp_path):
    report = tmp_path / "study_report"
    report.mkdir()
    (report / "result.json").write_text("{}", encoding="utf-8")
    (tmp_path / "secret.txt").write_text("x", encoding="utf-8")
    (report / "report.html").symlink_to(tmp_path / "secret.txt")
    assert list(list_results(tmp_path, tmp_path / "study.toml")) == ["result.json"]


# Device names from Microsoft, "Naming Files, Paths, and Namespaces" (from memory).
BAD_NAMES = [
    "", "..", "../a.csv", "a/../b.csv", "/etc/a.csv", "..\\a.csv", "C:\\a.csv", "C:a.csv", ".hidden.csv",
    "a.csv\x00.png", "a\n.csv", "CON", "con.csv", "Aux.csv", "COM1.csv", "lpt9.x.csv", "nul.csv", "a.csv.",
    "a.csv ", " a.csv", "a?.csv", "a.exe", "study.toml", "x" * 300 + ".csv", "\udc80.csv",
]  # fmt: skip


@pytest.mark.parametrize("name", BAD_NAMES)
def test_a_name_is_refused(tmp_path, name):
    with pytest.raises(UsageError, match="rename the file"):
        place_upload(tmp_path, name, io.BytesIO(b"1"), MOST)
    assert list(tmp_path.iterdir()) == []


@given(st.text(max_size=40))
def test_no_name_leads_out_of_the_folder(name):
    try:
        require_file_name(name)
    except UsageError:
        return
    assert os.path.basename(name) == name  # noqa: PTH119  (the plain meaning of a name)
    assert name not in ("", ".", "..")


def test_a_dropped_image_is_not_kept(tmp_path):
    with pytest.raises(UsageError, match=r"'a.csv' is an image, a document or a note"):
        place_upload(tmp_path, "a.csv", io.BytesIO(b"\x89PNG\r\n\x1a\n"), MOST)
    assert list(tmp_path.iterdir()) == []


def test_a_dropped_file_of_any_ending_is_taken(tmp_path):
    place_upload(tmp_path, "spot.7", io.BytesIO(ROWS), MOST)
    assert list(list_spectra(tmp_path)) == ["spot.7"]


def test_a_dropped_file_is_written_whole(tmp_path):
    place_upload(tmp_path, "bare_1.csv", io.BytesIO(b"abc"), MOST)
    assert (tmp_path / "bare_1.csv").read_bytes() == b"abc"
    assert [path.name for path in tmp_path.iterdir()] == ["bare_1.csv"]


def test_a_file_that_is_there_is_never_written_over(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"mine")
    with pytest.raises(UsageError, match="in the folder already"):
        place_upload(tmp_path, "a.csv", io.BytesIO(b"theirs"), MOST)
    assert (tmp_path / "a.csv").read_bytes() == b"mine"


def test_a_dangling_link_is_no_way_out(tmp_path):
    inside = tmp_path / "in"
    inside.mkdir()
    (inside / "a.csv").symlink_to(tmp_path / "outside.csv")
    with pytest.raises(UsageError, match="in the folder already"):
        place_upload(inside, "a.csv", io.BytesIO(b"1"), MOST)
    assert not (tmp_path / "outside.csv").exists()


def test_a_file_that_appears_meanwhile_is_kept(tmp_path):
    class Slow(io.BytesIO):
        def read(self, size=-1):
            (tmp_path / "a.csv").write_bytes(b"mine")
            return super().read(size)

    with pytest.raises(UsageError, match="in the folder already"):
        place_upload(tmp_path, "a.csv", Slow(b"theirs"), MOST)
    assert (tmp_path / "a.csv").read_bytes() == b"mine"
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


def test_a_file_that_is_too_long_leaves_nothing(tmp_path):
    with pytest.raises(UsageError, match="longer than 1 MB"):
        place_upload(tmp_path, "a.csv", io.BytesIO(b"x" * (MOST + 1)), MOST)
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_is_full_leaves_nothing(tmp_path):
    class Full(io.BytesIO):
        def read(self, _=-1):
            raise OSError(28, "No space left on device")

    with pytest.raises(OutputError, match="No space left on device"):
        place_upload(tmp_path, "a.csv", Full(), MOST)
    assert list(tmp_path.iterdir()) == []


def test_only_drafts_are_cleared(tmp_path):
    for name in (".study.toml.123.part", ".a.csv.9.part", "mine.part", ".mine.part", "a.csv"):
        (tmp_path / name).write_text("x", encoding="utf-8")
    (tmp_path / ".study_report.77.part").mkdir()
    (tmp_path / ".study_report.77.part" / "figures").mkdir()
    clear_drafts(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == [".mine.part", "a.csv", "mine.part"]
