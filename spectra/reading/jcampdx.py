"""JCAMP-DX 4.24 and 5.01 for infrared: every block that holds a spectrum, every promise checked.

Peak tables, interferograms and spectra of other methods are refused by name. The formats are those of
McDonald and Wilks (doi:10.1366/0003702884428734) and of Lampen et al., Pure Appl. Chem. 71 (1999) 1549
(doi:10.1351/pac199971081549).
"""

from __future__ import annotations

import re

import numpy as np

from spectra.errors import FormatError
from spectra.reading.asdf import IntArray, decode_pairs, decode_table
from spectra.reading.axes import named_x_unit, named_y_unit
from spectra.reading.labels import Block, Record, plain_lines, split_blocks, split_records
from spectra.reading.numbers import MOST_POINTS, shorten
from spectra.reading.promises import Promises, checked_axis, checked_ordinates, checked_pairs
from spectra.reading.source import Source
from spectra.reading.trace import Trace

_EVENLY_SPACED, _PAIRS = "(X++(Y..Y))", "(XY..XY)"
_STATED = ("npoints", "firstx", "lastx", "deltax", "maxx", "minx", "firsty", "maxy", "miny")
_LEFT_OUT = {"PEAKTABLE": "a peak table", "PEAKASSIGNMENTS": "a table of peak assignments"}


def looks_like_jcamp(data: bytes) -> bool:
    """Whether a label stands at the start of a line near the head of the file."""
    head = data[:4096].replace(b"\x00", b"")
    return re.search(rb"(?:^|[\r\n]|\xbf|\xfe|\xff)[ \t]*##[^=\r\n]{1,80}=", head) is not None


def read_jcamp(source: Source) -> tuple[Trace, ...]:
    """Read every infrared spectrum of a JCAMP-DX file.

    Parameters
    ----------
    source : Source

    Returns
    -------
    tuple of Trace
        In file order; ``part`` names the block where there are several.

    Raises
    ------
    FormatError
        If the file holds no infrared spectrum, or a table that cannot be decoded.
    PromiseError
        If a block contradicts its own header.
    """
    blocks = read_blocks(source)
    traces, left_out = [], []
    for block in blocks:
        where = block_name(source, block, len(blocks))
        reason = _not_infrared(block)
        if reason is None:
            traces.extend(block_traces(block, where, f"block {block.number}" if len(blocks) > 1 else ""))
        else:
            left_out.append(f"block {block.number} left out: {reason}")
    if not traces:
        reasons = (
            "; ".join(shorten(text.partition(": ")[2], 120) for text in left_out[:3])
            or "it has no data table"
        )
        raise FormatError(f"{source.path}: holds no infrared spectrum: {reasons}; export the spectrum itself")
    if not left_out:
        return tuple(traces)
    from dataclasses import replace

    return tuple(replace(trace, assumed=(*trace.assumed, *left_out)) for trace in traces)


def read_blocks(source: Source) -> tuple[Block, ...]:
    """Split a JCAMP-DX file into its blocks, without judging what they hold."""
    return split_blocks(split_records(plain_lines(source.data)))


def block_name(source: Source, block: Block, blocks: int) -> str:
    """Return the file, and the block where there are several."""
    return f"{source.path} [block {block.number}]" if blocks > 1 else source.path


def _not_infrared(block: Block) -> str | None:
    """Say why a block is no infrared spectrum, or None."""
    kind = shorten((block.text("DATATYPE") or "").upper())
    if not block.tables:
        return f"no data table in {kind or 'the file'}"
    if "PEAK TABLE" in kind or all(table.label in _LEFT_OUT for table in block.tables):
        return "a peak table, not a spectrum"
    if "INTERFEROGRAM" in kind:
        return "an interferogram, not a spectrum"
    if kind and not re.search(r"INFRA\s*-?RED|\bF?T?-?IR\b|\bFTIR\b", kind):
        return f"DATA TYPE is {kind}"
    return None


def block_traces(block: Block, where: str, part: str) -> tuple[Trace, ...]:
    """Decode one block and check what its header promises.

    Raises
    ------
    FormatError, PromiseError
        See :func:`read_jcamp`.
    """
    if block.find("NTUPLES") is not None:
        from spectra.reading.ntuples import ntuple_traces

        return ntuple_traces(block, where, part)
    tables = [table for table in block.tables if table.label not in _LEFT_OUT]
    if len(tables) != 1:
        raise FormatError(
            f"{where}: line {tables[-1].line}: a second data table in one block; each spectrum needs its own TITLE"
        )
    promises = block_promises(block, where)
    x, y, repairs, faults, lines = decode_record(tables[0], promises, where)
    ended = () if block.ended else ("the END label is missing",)
    numbers = lines.tolist() if lines.size == x.size else None
    trace = Trace(
        x,
        y,
        x_unit=stated_x_unit(block.text("XUNITS"), where),
        y_unit=stated_y_unit(block.text("YUNITS"), where),
        part=part,
        title=shorten(block.text("TITLE") or "", 200),
        header=block.header,
        assumed=ended + _unstated(block),
        repairs=repairs,
        faults=faults,
    )
    if numbers is None:
        return (trace,)
    from dataclasses import replace

    return (replace(trace, place=lambda i: f"line {numbers[i]}"),)


def _unstated(block: Block) -> tuple[str, ...]:
    """What the header should say and does not."""
    found = []
    if block.find("NPOINTS") is None:
        found.append("NPOINTS is not stated: the number of points could not be checked")
    if block.find("DATATYPE") is None:
        found.append("DATA TYPE is not stated: taken as an infrared spectrum")
    return tuple(found)


def block_promises(block: Block, where: str) -> Promises:
    """Collect the numbers that a block's header states.

    Raises
    ------
    FormatError
        If one is no number, a factor is zero, or NPOINTS claims more than is read.
    """
    stated = {name: block.number_of(name.upper(), where) for name in _STATED}
    factors = {}
    for name in ("xfactor", "yfactor"):
        number = block.number_of(name.upper(), where)
        if number is not None and number.value == 0:
            raise FormatError(
                f"{where}: line {number.line}: {name.upper()} is zero; export the spectrum again"
            )
        factors[name] = 1.0 if number is None else number.value
    count = stated["npoints"]
    if count is not None and not (count.value % 1 == 0 and 0 < count.value <= MOST_POINTS):
        raise FormatError(
            f"{where}: line {count.line}: NPOINTS is {count.value:g}; expected a whole number, at most {MOST_POINTS}"
        )
    return Promises(**stated, **factors)


def decode_record(
    record: Record, promises: Promises, where: str
) -> tuple[np.ndarray, np.ndarray, tuple[str, ...], tuple, IntArray]:
    """Decode a data table and check it.

    Returns
    -------
    x, y : ndarray, shape (n,)
        Factors applied.
    repairs, faults
        For the origin.
    lines : ndarray of int
        Line of each point, for tables of pairs; else of each line.
    """
    form, body = _form_and_body(record, where)
    if form == _EVENLY_SPACED:
        count = None if promises.npoints is None else int(promises.npoints.value)
        table = decode_table(body, where, record.line, count)
        axis = checked_axis(table, promises, where)
        raw, lines = table.ordinates, np.empty(0, dtype=np.int64)
        unchecked = ("difference lines carry no check ordinates; NPOINTS agrees",) if table.unchecked else ()
    else:
        raw_x, raw, lines = decode_pairs(body, where, record.line)
        axis = checked_pairs(raw_x, lines, promises, where)
        unchecked = ()
    ordinates = checked_ordinates(raw, promises, where)
    return (
        axis.values,
        ordinates.values,
        unchecked + axis.repairs + ordinates.repairs,
        ordinates.faults,
        lines,
    )


def _form_and_body(record: Record, where: str) -> tuple[str, bytes]:
    """Split a data record into the form it states and its lines (the label's own line kept, blank)."""
    found = re.match(rb"\s*(\([^\n]*\))[^\n]*?(?=\n|$)", record.body)
    head = record.body[: record.body.find(b"\n")] if b"\n" in record.body else record.body
    if found is None:
        form = _PAIRS if record.label == "XYPOINTS" else _EVENLY_SPACED
        if head.strip():
            shown = shorten(head.decode("latin-1").strip())
            raise FormatError(f"{where}: line {record.line}: table form {shown!r}; expected {_EVENLY_SPACED}")
        return form, record.body
    form = re.sub(rb"\s", b"", found[1]).upper().decode("latin-1")
    if form not in (_EVENLY_SPACED, _PAIRS):
        raise FormatError(
            f"{where}: line {record.line}: table form {shorten(form)!r}; expected {_EVENLY_SPACED} or {_PAIRS}"
        )
    return form, record.body[found.end(1) :]


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


def stated_y_unit(text: str | None, where: str) -> str | None:
    """Return the ordinate unit of YUNITS, or None if absent.

    Raises
    ------
    FormatError
        For a unit that cannot be turned into absorbance.
    """
    if not text or text == "?":
        return None
    unit = named_y_unit(text)
    if unit is None:
        raise FormatError(
            f"{where}: YUNITS is {shorten(text)!r}; expected ABSORBANCE, TRANSMITTANCE, REFLECTANCE or KUBELKA-MUNK"
        )
    return unit
