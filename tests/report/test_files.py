"""The files of a report: what is written, where, and what happens when it cannot be."""

from __future__ import annotations

import csv
import datetime
import io
import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from spectra.errors import OutputError
from spectra.report import write_report
from spectra.report.band_csv import as_csv
from tests import fakes
from tests.goldfiles import require_gold

DAY = datetime.date(2026, 1, 31)


def test_four_files_are_written_and_repeat(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    written = write_report(fakes.verification(), one, DAY)
    write_report(fakes.verification(), two, DAY)
    assert [path.name for path in written] == ["report.html", "result.json", "bands.csv", "overlay.svg"]
    assert sorted(path.name for path in one.iterdir()) == sorted(path.name for path in written)
    for path in written:
        assert path.read_bytes() == (two / path.name).read_bytes()
    assert json.loads((one / "result.json").read_text(encoding="utf-8"))["format"] == 1


def test_a_missing_folder_is_made(tmp_path: Path) -> None:
    written = write_report(fakes.verification(fakes.silent_sample()), tmp_path / "some" / "where", DAY)
    assert all(path.is_file() for path in written)


def test_a_folder_that_cannot_be_made_is_one_clear_error(tmp_path: Path) -> None:
    (tmp_path / "note").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"note.none: .*note is a file, not a folder"):
        write_report(fakes.verification(fakes.silent_sample()), tmp_path / "note" / "none", DAY)


def test_a_report_that_cannot_be_finished_leaves_the_earlier_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fills up after the first files."""
    folder, write = tmp_path / "out", Path.write_bytes
    write_report(fakes.verification(), folder, DAY)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def until_full(path: Path, content: bytes) -> int:
        if path.name == "bands.csv":
            raise OSError(28, "No space left on device")
        return write(path, content)

    monkeypatch.setattr(Path, "write_bytes", until_full)
    with pytest.raises(OutputError, match=r"out: cannot be written \(No space left on device\)"):
        write_report(fakes.verification(fakes.changed_sample()), folder, DAY)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_band_file_opens_as_a_table(tmp_path: Path) -> None:
    write_report(fakes.verification(), tmp_path, DAY)
    table = pd.read_csv(tmp_path / "bands.csv")
    assert list(table.columns[:4]) == ["sample", "role", "material", "neat_position / cm-1"]
    assert len(table) == 4 + 1 + 2 + 1 + 2 + 1 + 1
    first = table.iloc[1]
    assert (first["found_position / cm-1"], first["detected"], first["assignment"]) == (
        1655.4,
        "yes",
        "amide I",
    )
    assert table.iloc[0].isna()["found_position / cm-1"]


def test_no_cell_is_a_formula() -> None:
    bad = '=HYPERLINK("http://x")'
    sample = replace(fakes.good_sample(), name=bad)
    rows = list(csv.reader(io.StringIO(as_csv(fakes.verification(sample)))))
    assert rows[1][0] == f"'{bad}"
    negative = rows[3][rows[0].index("shift / cm-1")]
    assert float(negative) == -0.8  # a number stays one


def test_gold() -> None:
    require_gold("bands.csv", as_csv(fakes.verification()))
