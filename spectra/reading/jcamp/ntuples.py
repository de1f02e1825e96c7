"""JCAMP-DX 5: infrared spectra as pages of an NTUPLES block.

Each page is one data table; the attributes of the block list, for every symbol, its kind, units, factor
and limits (Lampen et al., Pure Appl. Chem. 71 (1999) 1549, doi:10.1351/pac199971081549).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from spectra.errors import FormatError
from spectra.reading.jcamp.data_table import (
    decode_body,
    require_possible_count,
    stated_x_unit,
    stated_y_unit,
    table_form,
)
from spectra.reading.jcamp.promises import Promises
from spectra.reading.jcamp.records import Block, Record, Stated, read_number
from spectra.reading.numbers import shorten
from spectra.reading.trace import Trace

_LISTS = ("SYMBOL", "VARNAME", "VARTYPE", "VARDIM", "UNITS", "FIRST", "LAST", "MIN", "MAX", "FACTOR")


@dataclass(frozen=True, eq=False)
class _Page:
    """The records of one page: what it is called, its own limits and its table."""

    name: str
    limits: dict[str, Record]
    table: Record


def ntuple_traces(block: Block, where: str, part: str, wanted: str | None = None) -> tuple[Trace, ...]:
    """Decode every page of an NTUPLES block.

    Parameters
    ----------
    block : Block
    where
        File and block, for messages.
    part
        Name of the block in the file, empty if it is the only one.
    wanted
        What a person states of the ordinate.

    Raises
    ------
    FormatError
        If the block has no SYMBOL list or no page, or a table cannot be decoded.
    PromiseError
        If a page contradicts the attributes of the block.
    """
    shared = {record.label: record for record in block.records if record.label in _LISTS}
    symbols = [symbol.upper() for symbol in _entries(shared.get("SYMBOL"))]
    if not symbols:
        raise FormatError(f"{where}: an NTUPLES block without SYMBOL; export each spectrum as XYDATA")
    pages = _pages(block)
    if not pages:
        raise FormatError(f"{where}: an NTUPLES block without DATA TABLE; export each spectrum as XYDATA")
    traces = [_page_trace(page, shared, symbols, block, where, wanted) for page in pages]
    names = [page.name for page in pages]
    return tuple(
        replace(trace, part=", ".join(filter(None, (part, name if len(pages) > 1 else ""))))
        for trace, name in zip(traces, names, strict=True)
    )


def _entries(record: Record | None) -> list[str]:
    """Split the comma list of an attribute."""
    return [] if record is None else [entry.strip() for entry in record.text.split(",")]


def _pages(block: Block) -> list[_Page]:
    """Group the records after each PAGE label."""
    pages: list[_Page] = []
    name, limits = "", dict[str, Record]()
    for record in block.records:
        if record.label == "PAGE":
            name, limits = f"page {shorten(record.text, 60)}", {}
        elif record.label == "DATATABLE":
            pages.append(_Page(name or f"page {len(pages) + 1}", limits, record))
        elif name:
            limits[record.label] = record
    return pages


def _page_trace(
    page: _Page, shared: dict[str, Record], symbols: list[str], block: Block, where: str, wanted: str | None
) -> Trace:
    """Decode one page with the attributes of its two symbols."""
    where = f"{where} [{page.name}]"
    letters, paired, body = table_form(page.table, where)
    missing = [letter for letter in letters if letter not in symbols]
    if missing:
        raise FormatError(
            f"{where}: line {page.table.line}: symbol {missing[0]!r} is not in SYMBOL; expected one of "
            f"{', '.join(symbols[:8])}"
        )
    x, y = (symbols.index(letter) for letter in letters)

    promises = _page_promises(page, shared, x, y, only=len(block.tables) == 1, where=where)
    body = body[body.find(b"\n") :] if b"\n" in body else b""  # ", XYDATA" may follow the form
    decoded = decode_body(body, paired, page.table.line, promises, where)
    units = _entries(shared.get("UNITS"))
    return Trace(
        decoded.x,
        decoded.y,
        x_unit=stated_x_unit(units[x] if x < len(units) else None, where),
        y_unit=stated_y_unit(units[y] if y < len(units) else None, where, wanted),
        title=shorten(block.text("TITLE") or "", 200),
        header=block.header,
        repairs=decoded.repairs,
        faults=decoded.faults,
        place=decoded.place,
    )


def _page_promises(
    page: _Page, shared: dict[str, Record], x: int, y: int, *, only: bool, where: str
) -> Promises:
    """Collect what the attributes state about columns ``x`` and ``y`` of a page.

    Limits of the ordinate that stand in the block hold for the only page, not for each of several.
    """

    def number(label: str, column: int) -> Stated | None:
        return _list_number(page.limits.get(label), shared.get(label), column, label, where)

    def limit(label: str) -> Stated | None:
        return number(label, y) if only or label in page.limits else None

    count = number("VARDIM", y)
    if "NPOINTS" in page.limits:
        own = page.limits["NPOINTS"]
        count = read_number(own.text, f"{where}: line {own.line}: NPOINTS", own.line)
    require_possible_count(count, where)
    x_factor, y_factor = number("FACTOR", x), number("FACTOR", y)
    return Promises(
        npoints=count,
        firstx=number("FIRST", x),
        lastx=number("LAST", x),
        maxx=number("MAX", x),
        minx=number("MIN", x),
        firsty=limit("FIRST"),
        maxy=limit("MAX"),
        miny=limit("MIN"),
        xfactor=x_factor.value if x_factor is not None and x_factor.value else 1.0,
        yfactor=y_factor.value if y_factor is not None and y_factor.value else 1.0,
    )


def _list_number(
    own: Record | None, shared: Record | None, column: int, label: str, where: str
) -> Stated | None:
    """Return entry ``column`` of an attribute: the page's own, else that of the block; None if absent."""
    for record in (own, shared):
        entries = _entries(record)
        if record is not None and column < len(entries) and entries[column] not in ("", "?"):
            return read_number(entries[column], f"{where}: line {record.line}: {label}", record.line)
    return None
