"""The forms of a listing of the reference tables: text for the terminal, JSON and CSV for programs."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

OWN_WINDOW = "*"

TEXT_COLUMNS = ("cm-1", "window", "strength", "name", "vibration", "checked", "source")

PAIR_COLUMNS = ("cm-1", "window", "strength", "vibration", "beside the substrate", "checked", "source")

Row = dict[str, Any]


def _as_text(content: Mapping[str, Any]) -> str:
    """Lay out a listing for the terminal, with the citations below."""
    heads, cells = content["layout"]
    lines = [content["title"], "", *_aligned([heads, *(cells(row) for row in content["rows"])])]
    lines += ["", *content["foot"]] if "foot" in content else []
    cited = {row["source"]: row["citation"] for row in content["rows"] if "source" in row}
    if cited:
        lines += ["", f"{OWN_WINDOW} the width of the window is our own choice", "", "Sources"]
        lines += [f"  {key}: {citation}" for key, citation in sorted(cited.items())]
    return "\n".join(lines) + "\n"


def _aligned(table: Sequence[Sequence[str]]) -> list[str]:
    """Pad the cells of every column to one width."""
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    return ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in table]


def place_of(row: Row) -> str:
    """Return the usual position; a range where the source gives none."""
    return f"{row['low']:g}-{row['high']:g}" if row["typical"] is None else f"{row['typical']:g}"


def _position_cells(row: Row) -> tuple[str, str, str]:
    """Return position, window and strength of a row."""
    mark = OWN_WINDOW if row["window"] == "ours" else ""
    strength = f"{row['strength']}, {row['shape']}" if row["shape"] else row["strength"]
    return place_of(row), f"{row['low']:g}-{row['high']:g}{mark}", strength


def _vibration_cell(row: Row) -> str:
    """Return the vibration of a row, with what it holds for in brackets."""
    held = ", ".join(word for word in (row["state"], row["technique"]) if word)
    return f"{row['vibration']} ({held})" if held else str(row["vibration"])


def search_cells(row: Row) -> tuple[str, ...]:
    """Return the cells of a search."""
    return (*_position_cells(row), row["name"], _vibration_cell(row), row["checked"], row["source"])


def pair_cells(row: Row) -> tuple[str, ...]:
    """Return the cells of a pair."""
    beside = row["beside"]
    if row["substrate_bands"]:
        beside += ": " + ", ".join(f"{position:g}" for position in row["substrate_bands"])
    return (*_position_cells(row), _vibration_cell(row), beside, row["checked"], row["source"])


def material_cells(row: Row) -> tuple[str, ...]:
    """Return the cells of the list of materials."""
    return tuple(str(value) for value in row.values())


def _as_json(content: Mapping[str, Any]) -> str:
    """Write a listing as JSON."""
    document = {"format": 1, "title": content["title"], "rows": content["rows"]}
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _as_csv(content: Mapping[str, Any]) -> str:
    """Write a listing as CSV, lists within a cell joined by blanks."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(content["columns"])
    for row in content["rows"]:
        writer.writerow([_plain(row[column]) for column in content["columns"]])
    return out.getvalue()


def _plain(value: Any) -> Any:
    """Return one cell of a CSV file."""
    return " ".join(f"{entry:g}" for entry in value) if isinstance(value, list) else value


FORMS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "text": _as_text,
    "json": _as_json,
    "csv": _as_csv,
}
