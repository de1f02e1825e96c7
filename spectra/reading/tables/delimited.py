"""Spectra as text: any common delimiter, decimal point or comma, header lines, comments.

A table that is plain from its first line of numbers to the last is read in one pass (``plain``); any other
is read cell by cell (``cells``), so that a message can name the line.
"""

from __future__ import annotations

import re

from spectra.reading.source import Source
from spectra.reading.tables.cells import parse_cells
from spectra.reading.tables.delimiter import find_delimiter
from spectra.reading.tables.lines import one_byte_text, text_of
from spectra.reading.tables.orientation import tables_traces
from spectra.reading.tables.plain import read_plain
from spectra.reading.tables.table import Table
from spectra.reading.trace import Trace

_ALONE = re.compile(rb'\s*"[^"\s]+[;,|][^"\s]+"\s*')


def read_delimited(source: Source) -> tuple[Trace, ...]:
    """Read every spectrum of a delimited text file.

    Parameters
    ----------
    source : Source

    Returns
    -------
    tuple of Trace

    Raises
    ------
    FormatError
        If the file is not text, or holds no table of numbers.
    AmbiguityError
        If the numbers can be read in two ways.
    """
    return tables_traces(read_tables(source), source.path, source.stated)


def read_tables(source: Source) -> tuple[Table, ...]:
    """Read the tables of numbers of a text file, and the words around them.

    Raises
    ------
    FormatError, AmbiguityError
        See :func:`read_delimited`.
    """
    data = _unquoted(one_byte_text(source.data))
    delimiter = find_delimiter(data, source.path)
    table = read_plain(data, delimiter, source.path, source.stated.decimal)
    if table is not None:
        return (table,)
    return parse_cells(text_of(data), delimiter, source.path, source.stated.decimal)


def _unquoted(data: bytes) -> bytes:
    """Take the quotes off a file in which every line stands in a pair of them, as a single cell."""
    if not data.startswith(b'"') or data.count(b'"') != 2 * len(data.split()):
        return data
    alone = all(_ALONE.fullmatch(line) for line in data.splitlines() if line.strip())
    return data.replace(b'"', b"") if alone else data
