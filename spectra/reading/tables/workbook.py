"""Spreadsheets (xlsx, ods): every sheet that holds a table of spectra, the others named.

The cells are read by python-calamine, which lays a sheet out as a full rectangle; a single cell far from
the others would make it ask for gigabytes. The extent of each sheet is therefore measured first.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.tables.cell import Cell
from spectra.reading.tables.cells import tables_of
from spectra.reading.tables.orientation import tables_traces
from spectra.reading.tables.rows import gather_rows
from spectra.reading.tables.table import Table
from spectra.reading.trace import Trace
from spectra.reading.unpacking import unpack
from spectra.reading.xml_scan import scan_xml
from spectra.spectrum import Fault
from spectra.units import StatedUnits

MOST_CELLS = 3_000_000

_SHEET_FILE = re.compile(r"xl/worksheets/[^/]+\.xml", re.IGNORECASE)


def is_workbook(names: list[str]) -> bool:
    """Whether the members of an archive are those of a spreadsheet.

    Examples
    --------
    >>> is_workbook(["[Content_Types].xml", "xl/workbook.xml"]), is_workbook(["a.npy"])
    (True, False)
    """
    return any(name.lower() == "xl/workbook.xml" for name in names) or "content.xml" in names


def read_workbook(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of every sheet.

    Parameters
    ----------
    source : Source

    Returns
    -------
    tuple of Trace
        In sheet order; ``part`` begins with the sheet's name where there are several sheets.

    Raises
    ------
    FormatError
        If the workbook is damaged, too large, or no sheet holds a table of numbers.
    AmbiguityError
        If a sheet can be read in two ways.
    """
    _require_modest(unpack(source), source.path)
    tables, left_out = [], []
    sheets, hidden = list(_sheets(source)), _hidden_sheets(source)
    for name, rows in sheets:
        where = f"{source.path} [{shorten(name)}]"
        gathered = gather_rows(rows, where, "row")
        if not gathered:
            left_out.append(f"sheet {shorten(name)!r} left out: it holds no table of numbers")
            continue
        sheet = shorten(name) if len(sheets) > 1 else ""
        for table in tables_of(gathered, where, row_word="row", mark=source.stated.decimal):
            part = ", ".join(filter(None, (sheet, table.part)))
            tables.append((where, replace(table, part=part, faults=hidden.get(name, ()))))
    if not tables:
        raise FormatError(f"{source.path}: no sheet holds a table of numbers; check what was exported")
    return tuple(
        trace for where, table in tables for trace in _traces(table, tuple(left_out), where, source.stated)
    )


def _traces(table: Table, left_out: tuple[str, ...], where: str, stated: StatedUnits) -> tuple[Trace, ...]:
    """Take the spectra of one sheet, with the sheets that were left out."""
    return tables_traces([replace(table, assumed=table.assumed + left_out)], where, stated)


def _sheets(source: Source) -> Iterator[tuple[str, list[list[Cell]]]]:
    """Name and cells of each sheet; numbers as numbers, everything else as text."""
    import python_calamine

    try:
        workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
        for name in workbook.sheet_names:
            rows = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
            yield name, [[_cell(value) for value in row] for row in rows]
    except BaseException as error:
        # A panic of the compiled reader arrives as a BaseException of its own kind.
        if isinstance(error, KeyboardInterrupt | SystemExit | GeneratorExit | FormatError | MemoryError):
            raise
        raise FormatError(f"{source.path}: cannot be read as a workbook ({error}); save it again") from None


def _hidden_sheets(source: Source) -> dict[str, tuple[Fault, ...]]:
    """Sheets that the workbook hides, each with the warning that it was read."""
    import python_calamine

    workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
    shown = python_calamine.SheetVisibleEnum.Visible
    return {
        sheet.name: (
            Fault(
                "hidden-sheet",
                "warning",
                f"sheet {shorten(sheet.name)}",
                "the sheet is hidden in the workbook, and was read",
                "Name the spectra that are wanted, or take the sheet out.",
            ),
        )
        for sheet in workbook.sheets_metadata
        if sheet.visible != shown
    }


def _cell(value: Any) -> Cell:
    """Keep a number as it is, and make text of anything else."""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, int | float):
        return float(value)
    return "" if value is None else str(value).strip()


def _require_modest(members: dict[str, bytes], where: str) -> None:
    """Refuse sheets whose rectangle would not fit into memory."""
    for name, data in members.items():
        if _SHEET_FILE.fullmatch(name):
            extent = _sheet_extent(data, where)
        elif name == "content.xml":
            extent = _open_document_extent(data, where)
        else:
            if name.lower().endswith((".xml", ".rels")):
                scan_xml(data, where, lambda *_: None, lambda *_: None)
            continue
        if extent > MOST_CELLS:
            raise FormatError(
                f"{where}: a sheet spans {extent:.2g} cells; at most {MOST_CELLS:.2g} are read, "
                "remove stray cells"
            )


def _sheet_extent(data: bytes, where: str) -> int:
    """Rows times columns of an xlsx sheet, from its cell references."""
    rows, columns, row, column = 0, 0, 0, 0

    def begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal rows, columns, row, column
        if name == "row":
            stated = attributes.get("r", "")
            row, column = int(stated) if stated.isdecimal() and len(stated) < 10 else row + 1, 0
        elif name == "c":
            reference = re.match(r"([A-Za-z]{1,7})(\d{1,9})", attributes.get("r", ""))
            column = _column_number(reference[1]) if reference else column + 1
            row = int(reference[2]) if reference else row
            rows, columns = max(rows, row), max(columns, column)

    scan_xml(data, where, begin, lambda _: None)
    return rows * columns


def _column_number(letters: str) -> int:
    """Turn the letters of a column into its number; A is 1."""
    number = 0
    for letter in letters.upper():
        number = 26 * number + ord(letter) - 64
    return number


def _open_document_extent(data: bytes, where: str) -> int:
    """Rows times columns of the largest ods sheet; repeated empty cells at the end do not count."""
    largest, rows, columns = 0, 0, 0
    row_repeats, row_width, filled, cell_repeats, cell_filled = 1, 0, 0, 1, False
    pending_rows = 0

    def repeats(attributes: dict[str, str], key: str) -> int:
        value = next((text for name, text in attributes.items() if name.endswith(key)), "1")
        return min(int(value), 10**9) if value.isdecimal() and len(value) < 12 else 1

    def begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal rows, columns, row_repeats, row_width, filled, cell_repeats, cell_filled, pending_rows
        if name == "table":
            rows, columns, pending_rows = 0, 0, 0
        elif name == "table-row":
            row_repeats, row_width, filled = repeats(attributes, "number-rows-repeated"), 0, 0
        elif name in ("table-cell", "covered-table-cell"):
            cell_repeats = repeats(attributes, "number-columns-repeated")
            row_width += cell_repeats
            cell_filled = any(key.endswith(("value-type", "value", "formula")) for key in attributes)
            filled = row_width if cell_filled else filled
        elif name == "p":
            filled = row_width

    def end(name: str) -> None:
        nonlocal largest, rows, columns, pending_rows
        if name == "table-row":
            pending_rows += row_repeats
            if filled:
                rows, columns = pending_rows, max(columns, filled)
        elif name == "table":
            largest = max(largest, rows * columns)

    scan_xml(data, where, begin, end)
    return largest
