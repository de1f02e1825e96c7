"""JCAMP-DX text to labelled records, and records to blocks.

A record is ``##LABEL= value`` and everything up to the next label at the start of a line. Labels are
compared in capitals without blanks, ``-``, ``/`` and ``_``; ``$$`` starts a comment anywhere. A block
begins at ``TITLE``; a compound file holds several, with or without a ``LINK`` block around them.
Numbers of the header are read by the ``jcamp`` package, which knows decimal commas too; labels and blocks
are split here, because that package loses data over comments, spaced labels and blocks without ``LINK``
(JCAMP_NOTES.md beside this module).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

import jcamp

from spectra.errors import FormatError
from spectra.reading.numbers import printed_step, shorten

_COMMENT = re.compile(rb"\$\$[^\n]*")

# A unit may follow ("4 cm-1"), but an E that begins an exponent is none.
_NUMBER_AND_UNIT = re.compile(
    r"([+-]?\d*[.,]?\d*(?:[Ee][+-]?\d{1,5})?)(?:\s+[^\s\d].*|(?![Ee][-+\d])[A-Za-z/%].*)?",
    re.ASCII | re.DOTALL,
)

_LABEL_FILLERS = re.compile(r"[\s\-/_]")

_DATA_LABELS = ("XYDATA", "XYPOINTS", "PEAKTABLE", "PEAKASSIGNMENTS", "DATATABLE", "RADATA")

_LONGEST_HEADER_VALUE = 2000


@dataclass(frozen=True, eq=False)
class Record:
    """One labelled record.

    Attributes
    ----------
    label
        In the form that labels are compared in.
    written
        As the file has it.
    body
        Everything after ``=``, comments removed.
    line
        Line of the label in the file.
    """

    label: str
    written: str
    body: bytes
    line: int

    @property
    def text(self) -> str:
        """The value as text, blanks at both ends removed; UTF-8, else Latin-1."""
        return decode_text(self.body).strip()


@dataclass(frozen=True)
class Stated:
    """A number the header states: its value, the unit of its last printed digit, and its line."""

    value: float
    step: float
    line: int


@dataclass(frozen=True, eq=False)
class Block:
    """The records from one ``TITLE`` to the next.

    Attributes
    ----------
    records
        In file order.
    number
        Counted from 1 within the file.
    ended
        Whether an ``END`` label closes it.
    """

    records: tuple[Record, ...]
    number: int
    ended: bool

    def find(self, label: str) -> Record | None:
        """Return the first record with this label, or None."""
        return next((record for record in self.records if record.label == label), None)

    def text(self, label: str) -> str | None:
        """Return the value of the first record with this label, or None."""
        record = self.find(label)
        return None if record is None else record.text

    @property
    def is_cover(self) -> bool:
        """Whether it is a LINK block, which only wraps others."""
        return not self.tables and (self.text("DATATYPE") or "").upper() == "LINK"

    @property
    def tables(self) -> tuple[Record, ...]:
        """The records that hold data tables."""
        return tuple(record for record in self.records if record.label in _DATA_LABELS)

    @property
    def header(self) -> tuple[tuple[str, str], ...]:
        """Labels and values before and after the data, as text, long values cut."""
        return tuple(
            (record.written, shorten(decode_text(record.body[: 2 * _LONGEST_HEADER_VALUE]).strip(), 2000))
            for record in self.records
            if record.label not in _DATA_LABELS and record.label != "END"
        )

    def number_of(self, label: str, where: str) -> Stated | None:
        """Return the number a label states, or None if the label is absent or empty.

        Raises
        ------
        FormatError
            If its value is no number.
        """
        record = self.find(label)
        if record is None or record.text in ("", "?"):
            return None
        return read_number(record.text, f"{where}: line {record.line}: {record.written}", record.line)


def read_number(text: str, where: str, line: int = 0) -> Stated:
    """Read one number of a header.

    Raises
    ------
    FormatError
        If it is none.

    Examples
    --------
    >>> read_number("4000,5", "a.dx: FIRSTX")
    Stated(value=4000.5, step=0.1, line=0)
    """
    found = _NUMBER_AND_UNIT.fullmatch(text)
    if found is None or not any(letter.isdigit() for letter in found[1]):
        raise FormatError(f"{where}: {shorten(text)!r} is not a number; correct the header or export again")
    value = jcamp.read([f"##VALUE={found[1]}"])["value"]
    if isinstance(value, str) or abs(value) == float("inf"):
        raise FormatError(f"{where}: {shorten(text)!r} is not a number; correct the header or export again")
    return Stated(float(value), printed_step(found[1]), line)


def decode_text(data: bytes) -> str:
    """Decode header text: UTF-8, else Latin-1."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def normal_label(label: str) -> str:
    """Return a label in the form that labels are compared in.

    Examples
    --------
    >>> normal_label("xy Data"), normal_label("JCAMP_DX")
    ('XYDATA', 'JCAMPDX')
    """
    return _LABEL_FILLERS.sub("", label).upper()


def plain_lines(data: bytes) -> bytes:
    r"""Return the file with UTF-8 text, ``\n`` line breaks, no end-of-file marks and no comments."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        data = data.decode("utf-16", errors="replace").encode()
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    data = data.translate(bytes.maketrans(b"\x1a\x0c\x0b\x00", b"    "))
    return _COMMENT.sub(b"", data) if b"$$" in data else data


def split_records(data: bytes) -> tuple[Record, ...]:
    r"""Split prepared text into records.

    Examples
    --------
    >>> [(r.label, r.text, r.line) for r in split_records(b"##TITLE= a\n##XY DATA= (X++(Y..Y))\n1 2\n")]
    [('TITLE', 'a', 1), ('XYDATA', '(X++(Y..Y))\n1 2', 2)]
    """
    positions = _label_positions(data)
    records = []
    line, counted = 1, 0
    for start, stop in pairwise([*positions, len(data)]):
        line += data.count(b"\n", counted, start)
        counted = start
        line_end = data.find(b"\n", start, stop)
        line_end = stop if line_end < 0 else line_end
        equals = data.find(b"=", start, line_end)
        label_end, value_start = (line_end, line_end) if equals < 0 else (equals, equals + 1)
        written = decode_text(data[start + 2 : min(label_end, start + 202)]).strip()
        records.append(Record(normal_label(written), written, data[value_start:stop], line))
    return tuple(records)


def _label_positions(data: bytes) -> list[int]:
    """Where ``##`` stands at the start of a line."""
    positions = []
    at = data.find(b"##")
    while at >= 0:
        line_start = data.rfind(b"\n", 0, at) + 1
        if at - line_start < 80 and not data[line_start:at].strip():
            positions.append(at)
        at = data.find(b"##", at + 2)
    return positions


def split_blocks(records: tuple[Record, ...]) -> tuple[Block, ...]:
    """Group records into blocks; each ``TITLE`` begins one. ``LINK`` blocks only wrap and are left out."""
    starts = [i for i, record in enumerate(records) if record.label == "TITLE"]
    if not starts or starts[0] > 0:
        starts.insert(0, 0)
    blocks: list[Block] = []
    for start, stop in zip(starts, [*starts[1:], len(records)], strict=True):
        own = records[start:stop]
        end = next((i for i, record in enumerate(own) if record.label == "END"), None)
        block = Block(own if end is None else own[:end], len(blocks) + 1, end is not None)
        if block.records and not block.is_cover:
            blocks.append(block)
    return tuple(blocks)
