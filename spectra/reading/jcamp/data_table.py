"""One data table of a JCAMP-DX block: its form, its points, its units, and whether it keeps its promises."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spectra.errors import FormatError
from spectra.reading.jcamp.asdf import decode_pairs, decode_table
from spectra.reading.jcamp.axis_promises import checked_axis, checked_pairs
from spectra.reading.jcamp.promises import Promises, checked_ordinates
from spectra.reading.jcamp.records import Record, Stated
from spectra.reading.numbers import MOST_POINTS, shorten
from spectra.reading.units.words import hinted_y_unit, named_x_unit, named_y_unit
from spectra.spectrum import Fault
from spectra.units import FloatArray

_FORM = re.compile(rb"\s*(\([^\n]*\))")

_EVENLY_SPACED = re.compile(r"\((\w)\+\+\((\w)\.\.\2\)\)")

_PAIRS = re.compile(r"\((\w)(\w)\.\.\1\2\)")

_EXPECTED = "expected (X++(Y..Y)) or (XY..XY)"


@dataclass(frozen=True, eq=False)
class DecodedTable:
    """A data table in final units, checked against its header.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        In file order; NaN where an ordinate is missing.
    repairs, faults
        For :class:`~spectra.spectrum.Origin`.
    place
        Says where in the file a point stands.
    """

    x: FloatArray
    y: FloatArray
    repairs: tuple[str, ...]
    faults: tuple[Fault, ...]
    place: Callable[[int], str]


def require_possible_count(stated: Stated | None, where: str) -> None:
    """Refuse a number of points that no spectrum has, before any memory is asked for.

    Raises
    ------
    FormatError
        If it is no whole number, or above ``numbers.MOST_POINTS``.
    """
    if stated is not None and not (0 < stated.value <= MOST_POINTS and stated.value % 1 == 0):
        raise FormatError(
            f"{where}: line {stated.line}: NPOINTS is {stated.value:g}; expected a whole number, "
            f"at most {MOST_POINTS}"
        )


def table_form(record: Record, where: str) -> tuple[str, bool, bytes]:
    """Split a data record into what it holds and its lines.

    Returns
    -------
    symbols : str
        Letters of abscissa and ordinate, such as ``"XY"``.
    paired : bool
        True for pairs, False for evenly spaced ordinates.
    body : bytes
        The data; the rest of the label's own line comes first.

    Raises
    ------
    FormatError
        For any other form.
    """
    found = _FORM.match(record.body)
    head = record.body.partition(b"\n")[0]
    if found is None:
        if head.strip():
            shown = shorten(head.decode("latin-1").strip())
            raise FormatError(f"{where}: line {record.line}: table form {shown!r}; {_EXPECTED}")
        return "XY", record.label == "XYPOINTS", record.body
    form = re.sub(rb"\s", b"", found[1]).upper().decode("latin-1")
    even, pairs = _EVENLY_SPACED.fullmatch(form), _PAIRS.fullmatch(form)
    match = even or pairs
    if match is None:
        raise FormatError(f"{where}: line {record.line}: table form {shorten(form)!r}; {_EXPECTED}")
    return match[1] + match[2], pairs is not None, record.body[found.end(1) :]


def decode_record(record: Record, promises: Promises, where: str) -> DecodedTable:
    """Decode a data table and check every promise of its header.

    Raises
    ------
    FormatError
        If it cannot be decoded.
    PromiseError
        If it contradicts its header.
    """
    _, paired, body = table_form(record, where)
    return decode_body(body, paired, record.line, promises, where)


def decode_body(body: bytes, paired: bool, line: int, promises: Promises, where: str) -> DecodedTable:
    """Decode the lines of a data table, the first of which is ``line``; see :func:`decode_record`."""
    if not body.strip():
        raise FormatError(f"{where}: line {line}: the data table is empty; export the spectrum again")
    if paired:
        raw_x, raw_y, lines = decode_pairs(body, where, line)
        axis = checked_pairs(raw_x, lines, promises, where)
        starts, repairs = np.arange(raw_x.size), tuple[str, ...]()
    else:
        table = decode_table(
            body, where, line, None if promises.npoints is None else int(promises.npoints.value)
        )
        if table.ordinates.size == 0:
            raise FormatError(f"{where}: line {line}: the data table has no ordinates; export again")
        axis = checked_axis(table, promises, where)
        raw_y, lines, starts = table.ordinates, table.lines, table.starts
        repairs = ("difference lines carry no check ordinates; NPOINTS agrees",) if table.unchecked else ()
    ordinates = checked_ordinates(raw_y, promises, where)

    def place(point: int) -> str:
        return f"line {int(lines[np.searchsorted(starts, point, side='right') - 1])}"

    return DecodedTable(
        axis.values,
        ordinates.values,
        repairs + axis.repairs + ordinates.repairs,
        axis.faults + ordinates.faults,
        place,
    )


def stated_x_unit(text: str | None, where: str) -> str | None:
    """Return the abscissa unit of XUNITS, or None if absent.

    Raises
    ------
    FormatError
        For a unit that no infrared axis has.
    """
    if not text or text == "?":
        return None
    unit = named_x_unit(text)
    if unit is None:
        raise FormatError(f"{where}: XUNITS is {shorten(text)!r}; expected 1/CM, MICROMETERS or NANOMETERS")
    return unit


def stated_y_unit(text: str | None, where: str, wanted: str | None = None) -> str | None:
    """Return the ordinate unit of YUNITS, or None if absent; a person's word (``wanted``) excuses any other.

    Raises
    ------
    FormatError
        For a unit that cannot be turned into absorbance.
    """
    if not text or text == "?" or (wanted is not None and named_y_unit(text) is None):
        return None
    unit = named_y_unit(text) or hinted_y_unit(text)
    if unit is None:
        raise FormatError(
            f"{where}: YUNITS is {shorten(text)!r}; expected ABSORBANCE, TRANSMITTANCE, REFLECTANCE "
            'or KUBELKA-MUNK. If it is one of them, state it: ordinate = "absorbance" under [files] of the '
            "study, or --ordinate on the command line"
        )
    return unit
