"""The files of a report: what is written, where, that it repeats, and that it can be laid out anew."""

from __future__ import annotations

import csv
import datetime
import io
import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from spectra.errors import OutputError, StudyError
from spectra.report import read_report, write_report
from spectra.report.figures.pictures import pictures
from spectra.report.kept import as_spectra_csv, rounded
from spectra.report.pdf import as_pdf
from spectra.report.record import as_json
from spectra.report.table_files import as_csv, as_xlsx
from spectra.report.tables.frames import tables
from tests import fakes
from tests.goldfiles import require_gold

DAY = datetime.date(2026, 1, 31)
TABLES = ("samples.csv", "bands.csv", "amounts.csv")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("written") / "report"
    write_report(fakes.verification(), place, DAY)
    return place


def names(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_every_file_is_written(folder: Path) -> None:
    found = names(folder)
    assert found >= {
        *("report.html", "report.pdf", "result.json", "spectra.csv", "report.xlsx", "methods.txt"),
        *TABLES,
        *(f"figures/{name}.png" for name in ("key", "overlay")),
    }
    drawn = {Path(name).stem for name in found if name.startswith("figures/")}
    assert len(drawn) >= 8
    assert all({f"figures/{stem}.{form}" for form in ("svg", "pdf", "txt", "csv")} <= found for stem in drawn)
    assert json.loads((folder / "result.json").read_text(encoding="utf-8"))["format"] == 1


def test_the_same_result_gives_the_same_bytes_and_so_does_the_kept_one(folder: Path, tmp_path: Path) -> None:
    """Written twice, and laid out anew from what was kept: nothing differs."""
    write_report(fakes.verification(), tmp_path / "again", DAY)
    write_report(read_report(folder), tmp_path / "anew", DAY)
    for other in ("again", "anew"):
        assert names(tmp_path / other) == names(folder)
        differing = [
            n for n in names(folder) if (folder / n).read_bytes() != (tmp_path / other / n).read_bytes()
        ]
        assert differing == []


def test_a_kept_result_is_the_result(folder: Path) -> None:
    first, kept = fakes.verification(), read_report(folder)
    assert as_json(kept) == as_json(first)
    assert as_spectra_csv(kept) == as_spectra_csv(rounded(first))
    bare = first.stages.levelled["bare", "substrate"]
    again = kept.stages.levelled["bare", "substrate"]
    assert again.names == bare.names
    assert np.array_equal(again.usable, bare.usable)
    assert np.abs(again.absorbance - bare.absorbance)[:, bare.usable].max() <= 0.5e-7


def test_what_is_no_report_is_refused(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"result\.json: cannot be read \(No such file or directory\)"):
        read_report(tmp_path)
    for name in ("result.json", "spectra.csv"):
        (tmp_path / name).write_bytes((folder / name).read_bytes())
    text = (folder / "result.json").read_text(encoding="utf-8")
    (tmp_path / "result.json").write_text(text.replace('"format": 1', '"format": 2'), encoding="utf-8")
    with pytest.raises(StudyError, match=r"format 2; expected 1; judge the study again"):
        read_report(tmp_path)
    for broken in ("{}", '{"format": 1}', "no json"):
        (tmp_path / "result.json").write_text(broken, encoding="utf-8")
        with pytest.raises(StudyError, match=r"expected 1|do not hold a whole result"):
            read_report(tmp_path)
    (tmp_path / "result.json").write_text(text, encoding="utf-8")
    (tmp_path / "spectra.csv").write_text("role,bare\n", encoding="utf-8")
    with pytest.raises(StudyError, match="do not hold a whole result"):
        read_report(tmp_path)


def test_a_missing_folder_is_made_and_others_files_are_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "some" / "where"
    (place / "figures").mkdir(parents=True)
    (place / "figures" / "mine.svg").write_text("mine", encoding="utf-8")
    written = write_report(fakes.verification(fakes.silent_sample()), place, DAY)
    assert all(path.is_file() for path in written)
    assert (place / "figures" / "mine.svg").read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_made_is_one_clear_error(tmp_path: Path) -> None:
    (tmp_path / "note").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"note/none: .*note is a file, not a folder; choose another place"):
        write_report(fakes.verification(fakes.silent_sample()), tmp_path / "note" / "none", DAY)


def test_a_file_that_cannot_be_composed_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from spectra.report import methods

    def broken(*_: object) -> str:
        raise OutputError("no ink")

    monkeypatch.setattr(methods, "as_methods", broken)
    with pytest.raises(OutputError, match="no ink"):
        write_report(fakes.verification(fakes.silent_sample()), tmp_path / "out", DAY)
    assert list(tmp_path.iterdir()) == []


def test_the_band_file_opens_as_a_table(folder: Path) -> None:
    table = pd.read_csv(folder / "bands.csv")
    assert list(table.columns[:5]) == [
        "sample",
        "role",
        "material",
        "assignment",
        "reference_position / cm-1",
    ]
    assert len(table) == 4 + 1 + 2 + 1 + 2 + 1 + 1
    first = table.iloc[1]
    assert (first["found_position / cm-1"], first["detected"], first["assignment"]) == (
        1655.4,
        "yes",
        "amide I",
    )
    assert table.iloc[0].isna()["found_position / cm-1"]
    assert not table.isna().all().any()  # no column without a value


def test_the_amounts_have_one_row_a_spot_and_the_samples_one_a_coating(folder: Path) -> None:
    amounts, samples = pd.read_csv(folder / "amounts.csv"), pd.read_csv(folder / "samples.csv")
    assert len(amounts) == 6
    assert amounts["spot_amount / %"].iloc[0] == 2.13
    assert list(samples["sample"]) == list(fakes.verification().samples)
    assert list(samples["presence"]) == ["present", "present", "not shown", "cannot tell"]
    assert samples["amount / %"].iloc[0] == 2.1


def test_units_stand_in_the_heads_and_in_the_attributes() -> None:
    found = tables(fakes.verification())
    assert found.bands.attrs["units"]["shift / cm-1"] == "cm-1"
    assert found.samples["amount / %"].iloc[0] == pytest.approx(100 * 0.02104, rel=1e-12)  # not rounded
    assert len(found.inputs) == len(fakes.verification().inputs)
    for table in (found.samples, found.bands, found.amounts, found.inputs):
        assert all(str(head).endswith(f" / {unit}") for head, unit in table.attrs["units"].items())


def test_the_workbook_holds_the_cells_of_the_csv_files(folder: Path) -> None:
    book = pd.read_excel(folder / "report.xlsx", sheet_name=None, engine="openpyxl")
    assert list(book) == ["samples", "bands", "amounts", "inputs"]
    for name in ("samples", "bands", "amounts"):
        pd.testing.assert_frame_equal(book[name], pd.read_csv(folder / f"{name}.csv"), check_dtype=False)


def test_the_workbook_tells_no_other_time_than_the_day(folder: Path) -> None:
    with zipfile.ZipFile(folder / "report.xlsx") as book:
        assert {entry.date_time for entry in book.infolist()} == {(2026, 1, 31, 0, 0, 0)}
        core = book.read("docProps/core.xml").decode()
    assert set(re.findall(r"\d{4}-\d\d-\d\d", core)) == {"2026-01-31"}


def test_the_printed_report_is_pdf_a_with_its_day(folder: Path) -> None:
    """PDF/A-2b says so in its XMP metadata (ISO 19005-2, 6.6.4: pdfaid part and conformance)."""
    printed = (folder / "report.pdf").read_bytes()
    assert printed.startswith(b"%PDF-1.7")
    assert re.search(rb"<pdfaid:part>2</pdfaid:part>", printed)
    assert re.search(rb"<pdfaid:conformance>B</pdfaid:conformance>", printed)
    assert set(re.findall(rb"D:(\d{8})", printed)) <= {b"20260131"}


def test_letters_that_no_font_has_are_no_obstacle_to_printing() -> None:
    result = fakes.verification(replace(fakes.silent_sample(), name="\U0001f9ea ゼラチン"))
    printed = as_pdf(result, DAY, pictures(result))
    assert printed is not None
    assert printed.startswith(b"%PDF-1.7")


def test_methods_hold_conditions_statement_rule_and_cautions(folder: Path) -> None:
    text = (folder / "methods.txt").read_text(encoding="utf-8")
    for needed in (
        "crystal: diamond",
        "Statement: aqueous, gelatin",
        "one-sided",
        "ISO 10993",
        "[1] invented2026",
    ):
        assert needed in text
    assert max(len(line) for line in text.splitlines()) <= 100


@pytest.mark.parametrize("bad", ['=HYPERLINK("http://x")', "+1", "-2", "@cmd", "\tx"])
def test_no_cell_is_a_formula(bad: str) -> None:
    sample = replace(fakes.good_sample(), name=bad)
    found = tables(fakes.verification(sample))
    rows = list(csv.reader(io.StringIO(as_csv(found.bands))))
    assert rows[1][0] == f"'{bad}"
    negative = rows[3][rows[0].index("shift / cm-1")]
    assert float(negative) == -0.8  # a number stays one
    book = pd.read_excel(io.BytesIO(as_xlsx({"bands": found.bands}, DAY)), engine="openpyxl")
    assert book["sample"].iloc[0] == f"'{bad}"


def test_gold() -> None:
    found = tables(fakes.verification())
    require_gold("bands.csv", as_csv(found.bands))
    require_gold("samples.csv", as_csv(found.samples))
