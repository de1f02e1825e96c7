"""JCAMP-DX 4.24 and 5.01 for infrared: every block that holds a spectrum, every promise checked.

Peak tables, interferograms and spectra of other methods are refused by name. The formats are those of
McDonald and Wilks (doi:10.1366/0003702884428734) and of Lampen et al., Pure Appl. Chem. 71 (1999) 1549
(doi:10.1351/pac199971081549).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from spectra.errors import FormatError, PromiseError
from spectra.reading.jcamp.data_table import (
    decode_record,
    require_possible_count,
    stated_x_unit,
    stated_y_unit,
)
from spectra.reading.jcamp.ntuples import ntuple_traces
from spectra.reading.jcamp.promises import Promises
from spectra.reading.jcamp.records import (
    Block,
    Record,
    Stated,
    normal_label,
    plain_lines,
    read_number,
    split_blocks,
    split_records,
)
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.trace import Trace, turned

_LABEL = re.compile(rb"(?:^|[\r\n]|\xbf|\xfe|\xff)[ \t]*##([^=\r\n]{1,80})=")

_COMMON_LABELS = {"TITLE", "JCAMPDX", "DATATYPE", "ORIGIN", "OWNER", "XUNITS", "YUNITS", "NPOINTS", "FIRSTX"}

_COMMON_LABELS |= {"XYDATA", "XYPOINTS", "PEAKTABLE", "NTUPLES", "BLOCKS"}

_STATED = ("npoints", "firstx", "lastx", "deltax", "maxx", "minx", "firsty", "maxy", "miny")

_LEFT_OUT = {"PEAKTABLE": "a peak table", "PEAKASSIGNMENTS": "a table of peak assignments"}


def looks_like_jcamp(data: bytes) -> bool:
    r"""Whether a label of the format stands at the start of a line near the head of the file.

    Examples
    --------
    >>> looks_like_jcamp(b"##TITLE= film\n"), looks_like_jcamp(b"## made = 2024\n4000,0.1\n")
    (True, False)
    """
    head = data[:4096].replace(b"\x00", b"")
    labels = _LABEL.findall(head) if b"##" in head else []
    return any(normal_label(label.decode("latin-1")) in _COMMON_LABELS for label in labels)


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
    traces: list[Trace] = []
    left_out: list[str] = []
    for block in blocks:
        where = block_name(source, block, len(blocks))
        reason = _not_infrared(block)
        if reason is None:
            part = f"block {block.number}" if len(blocks) > 1 else ""
            found = block_traces(block, where, part, source.stated.ordinate)
            traces.extend(turned(trace) for trace in found)
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
    return tuple(replace(trace, assumed=(*trace.assumed, *left_out)) for trace in traces)


def read_blocks(source: Source) -> tuple[Block, ...]:
    """Split a JCAMP-DX file into its blocks, without judging what they hold."""
    records = split_records(plain_lines(source.data))
    blocks = split_blocks(records)
    links = [record for record in records if record.label == "BLOCKS"]
    if links:
        _require_blocks(links, len(blocks), source.path)
    return blocks


def _require_blocks(links: Sequence[Record], found: int, where: str) -> None:
    """Compare the number of blocks that LINK blocks promise; some programs count the LINK block in.

    A LINK block inside another is one of its blocks and holds no data.
    """
    record, inner = links[0], len(links) - 1
    counts = [read_number(one.text, f"{where}: line {one.line}: BLOCKS", one.line).value for one in links]
    promised = sum(counts) - inner
    if not promised - len(links) <= found <= promised:
        raise PromiseError(
            f"{where}: line {record.line}: BLOCKS promises {promised:g} blocks, the file holds {found}; "
            "was it cut off? Export it again"
        )


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


def block_traces(block: Block, where: str, part: str, wanted: str | None = None) -> tuple[Trace, ...]:
    """Decode one block and check what its header promises; ``wanted`` is what a person states of it.

    Raises
    ------
    FormatError, PromiseError
        See :func:`read_jcamp`.
    """
    if block.find("NTUPLES") is not None:
        return ntuple_traces(block, where, part, wanted)
    tables = [table for table in block.tables if table.label not in _LEFT_OUT]
    if len(tables) != 1:
        raise FormatError(
            f"{where}: line {tables[-1].line}: a second data table in one block; each spectrum "
            "needs its own TITLE"
        )
    decoded = decode_record(tables[0], block_promises(block, where), where)
    ended = () if block.ended else ("the END label is missing",)
    trace = Trace(
        decoded.x,
        decoded.y,
        x_unit=stated_x_unit(block.text("XUNITS"), where),
        y_unit=stated_y_unit(block.text("YUNITS"), where, wanted),
        part=part,
        title=shorten(block.text("TITLE") or "", 200),
        header=block.header,
        assumed=ended + _unstated(block),
        repairs=decoded.repairs,
        faults=decoded.faults,
        place=decoded.place,
    )
    return (trace,)


def _unstated(block: Block) -> tuple[str, ...]:
    """Say what the header should state and does not."""
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
    require_possible_count(stated["npoints"], where)
    return Promises(
        xfactor=_factor(block.number_of("XFACTOR", where), "XFACTOR", where),
        yfactor=_factor(block.number_of("YFACTOR", where), "YFACTOR", where),
        **stated,
    )


def _factor(stated: Stated | None, name: str, where: str) -> float:
    """Return a factor; 1 where the header is silent."""
    if stated is None:
        return 1.0
    if stated.value == 0:
        raise FormatError(f"{where}: line {stated.line}: {name} is zero; export the spectrum again")
    return stated.value
