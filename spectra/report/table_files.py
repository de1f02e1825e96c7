"""Tables as files: CSV for a supplement, a workbook for a spreadsheet; the same cells in both.

Numbers are rounded to what they can hold and carry their unit in the head of the column; an empty cell is a
value that could not be determined. CSV is UTF-8 with a byte order mark, so that spreadsheets show Greek
letters. A workbook carries the day of the report instead of the time of writing: same result, same bytes.
"""

from __future__ import annotations

import csv
import datetime
import io
import math
import zipfile
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from spectra.report.words.numerals import rounded_cell

if TYPE_CHECKING:
    import pandas as pd

# A cell that starts like this is run as a formula by spreadsheets.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def as_csv(table: pd.DataFrame, decimals: int | None = None) -> str:
    """Return a table as CSV (RFC 4180).

    Parameters
    ----------
    table
    decimals
        Of every number, in place of what the unit in its head asks for.
    """
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow([_cell(head, "") for head in table.columns])
    if decimals is not None:
        table = table.round(decimals)
    for row in table.itertuples(index=False):
        cells = zip(row, table.columns, strict=True)
        writer.writerow([_cell(value, str(head) if decimals is None else None) for value, head in cells])
    return target.getvalue()


def as_xlsx(tables: Mapping[str, pd.DataFrame], date: datetime.date) -> bytes:
    """Return tables as one workbook, a sheet each.

    Parameters
    ----------
    tables
        By the name of the sheet.
    date
        Written as the day the workbook was made.
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    book.remove(book.active)
    for name, table in tables.items():
        sheet = book.create_sheet(name)
        sheet.append([str(head) for head in table.columns])
        for row in table.itertuples(index=False):
            sheet.append([_cell(value, str(head)) for value, head in zip(row, table.columns, strict=True)])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "B2"
        for column in sheet.columns:
            longest = max(len(str(cell.value or "")) for cell in column)
            sheet.column_dimensions[column[0].column_letter].width = min(max(longest + 2, 8), 48)
    target = io.BytesIO()
    book.save(target)
    return _still(target.getvalue(), date)


def _still(workbook: bytes, date: datetime.date) -> bytes:
    """Return a workbook that tells no other time than ``date``."""
    import re

    day = f"{date.isoformat()}T00:00:00Z"
    target = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook)) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in sorted(old.namelist()):
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb">\d{4}-\d\d-\d\dT[\d:]+Z<", f">{day}<".encode(), content)
            entry = zipfile.ZipInfo(name, (date.year, date.month, date.day, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, content)
    return target.getvalue()


def _cell(value: Any, head: str | None) -> Any:
    """Return a value as a spreadsheet may have it: rounded by its head, no NaN, no formula."""
    if isinstance(value, bool) or type(value).__name__ == "bool_":
        return "yes" if value else "no"
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, float):
        return value if head is None else rounded_cell(value, head)
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value
