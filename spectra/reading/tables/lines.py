"""Lines of a text file: decoded, told from comments, split at their delimiter."""

from __future__ import annotations

import csv
import re

from spectra.reading.source import two_byte_order
from spectra.reading.tables.cell import NUMBER

BLANKS = " "

COMMENT_STARTS = ("#", "%", "//", "$$", "!", "*")

# Other signs that stand for a minus; the last is the en dash of Windows' Latin text.
_MINUS = "\N{MINUS SIGN}\N{EN DASH}\x96"

_BEFORE_NUMBER = re.compile(rf"(?<!\d)[{_MINUS}](?=[\d.,])|(?<=[eE])[{_MINUS}](?=\d)")

_MARK = b"\xef\xbb\xbf"  # of UTF-8 text

_COMMENT_BEGINS = {";", *(start[0] for start in COMMENT_STARTS)}

_QUOTED = re.compile(r'"((?:[^"]|"")*)"|([^\s"]+)')


def one_byte_text(data: bytes) -> bytes:
    r"""Return text whose digits and marks are single bytes, with ``\n`` at the end of each line.

    Text in two-byte characters is written as UTF-8; text with ``\r\n`` stays as it is.
    """
    wide = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else two_byte_order(data)
    if wide:
        data = data.decode(wide, errors="replace").encode()
    if b"\r" in data and b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    return data.removeprefix(_MARK)


def text_of(data: bytes) -> str:
    r"""Decode whole lines: UTF-8, else Latin-1; lines end in ``\n``, every minus sign is ``-``."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    if any(minus in text for minus in _MINUS):
        text = _BEFORE_NUMBER.sub("-", text)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.rstrip("\x1a\x00 \t\n") if text.endswith(("\x1a", "\x00")) else text


def is_comment(line: str) -> bool:
    """Whether a line is set apart as a comment."""
    if line[:1] not in _COMMENT_BEGINS:
        return False
    return line.startswith(COMMENT_STARTS) or (line[:1] == ";" and not NUMBER.match(line[1:].lstrip()))


def split_line(line: str, delimiter: str) -> list[str]:
    """Split one line at its delimiter; quotes are respected."""
    if '"' not in line:
        return line.split() if delimiter == BLANKS else [cell.strip() for cell in line.split(delimiter)]
    if delimiter == BLANKS:
        return [quoted or plain for quoted, plain in _QUOTED.findall(line)]
    try:
        rows = list(csv.reader([line.strip()], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return [cell.strip().strip('"') for cell in line.split(delimiter)]
    return [cell.strip() for cell in rows[0]] if rows else []
