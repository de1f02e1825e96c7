"""Numbers of a JCAMP-DX data table: where each begins, of which form it is, and its value.

Every character has a class (blank, digit, sign, squeezed, difference, repeat, missing); a token starts at
every character that is not part of the number before it. The pseudo-digits are those of McDonald and
Wilks, Appl. Spectrosc. 42 (1988) 151, doi:10.1366/0003702884428734, table VII.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spectra.errors import FormatError
from spectra.reading.jcamp.digits import DIF_DIGITS, DUP_DIGITS, SQZ_DIGITS
from spectra.reading.numbers import MOST_POINTS, parse_numbers, shorten
from spectra.units import FloatArray

IntArray = NDArray[np.signedinteger[Any]]

ByteArray = NDArray[np.uint8]

BLANK, DIGIT, SIGN, SQZ, DIF, DUP, MISSING, FOREIGN = range(8)

PSEUDO_DIGITS = SQZ_DIGITS | DIF_DIGITS | DUP_DIGITS

# An exponent is an E between a digit and a sign. Inside the decoder "E+" and "E-" are one character each,
# which keeps them apart from the squeezed digit E and from the signs that start a packed number.
_SIGNED_EXPONENT = re.compile(rb"(?<=[0-9.])[Ee]([+-])(?=[0-9])")

_BARE_EXPONENT = re.compile(rb"(?<=[0-9.])[Ee](?=[0-9])")

_AFTER_DECIMALS = re.compile(rb"\.[0-9]*[Ee](?=[0-9])")

_EXPONENT_PLUS, _EXPONENT_MINUS = b"\x0e", b"\x0f"

NEWLINE = b"\n"

_OTHER_PSEUDO_DIGITS = b"".join(set(PSEUDO_DIGITS) - {b"E", b"e"})


def _classes() -> ByteArray:
    """Class of each of the 256 characters."""
    table = np.full(256, FOREIGN, dtype=np.uint8)
    kinds = {
        BLANK: b" \t\n",
        DIGIT: b"0123456789." + _EXPONENT_PLUS + _EXPONENT_MINUS,
        SIGN: b"+-",
        MISSING: b"?",
    }
    kinds |= {SQZ: b"".join(SQZ_DIGITS), DIF: b"".join(DIF_DIGITS), DUP: b"".join(DUP_DIGITS)}
    for kind, characters in kinds.items():
        table[np.frombuffer(characters, np.uint8)] = kind
    return table


_CLASSES = _classes()


@dataclass(frozen=True, eq=False)
class Tokens:
    """Kind, value and line of every number of a table, in order."""

    kinds: ByteArray
    values: FloatArray
    lines: IntArray


def with_exponents(body: bytes) -> bytes:
    """Mark every E between digits as an exponent."""
    return _BARE_EXPONENT.sub(_EXPONENT_PLUS, _with_signed_exponents(body))


def _with_signed_exponents(body: bytes) -> bytes:
    """Mark every E between a digit and a sign as an exponent."""
    if b"E" not in body and b"e" not in body:
        return body
    return _SIGNED_EXPONENT.sub(lambda m: _EXPONENT_PLUS if m[1] == b"+" else _EXPONENT_MINUS, body)


def exponent_readings(body: bytes, where: str, line: int) -> list[bytes]:
    """Return the table with its exponents marked, in every way it may be read.

    An E before a sign is an exponent, and so is one after decimals, since squeezed ordinates are whole
    numbers. Any other E between digits is a squeezed digit where more pseudo-digits stand in the table,
    and may be either where none does.

    Raises
    ------
    FormatError
        If control characters stand among the numbers.
    """
    if _EXPONENT_PLUS in body or _EXPONENT_MINUS in body:
        raise FormatError(f"{where}: line {line}: control characters stand among the numbers; export again")
    readings = [_with_signed_exponents(body)]
    if b"E" not in body and b"e" not in body:
        return readings
    bare = len(_BARE_EXPONENT.findall(body))
    if bare and len(body.translate(None, _OTHER_PSEUDO_DIGITS)) == len(body):
        after_decimals = len(_AFTER_DECIMALS.findall(body))
        readings = [with_exponents(body)] if after_decimals == bare else [*readings, with_exponents(body)]
    return readings


def find_tokens(body: bytes, where: str, line: int) -> Tokens:
    """Split the table into numbers, each with its class and the line it stands on."""
    characters = np.frombuffer(body, np.uint8)
    classes = _CLASSES[characters]
    if np.any(classes == FOREIGN):
        at = int(np.argmax(classes == FOREIGN))
        raise FormatError(
            f"{where}: line {line + body.count(NEWLINE, 0, at)}: {body[at : at + 1]!r} is no part "
            "of a number; "
            "expected digits or JCAMP-DX pseudo-digits"
        )
    begins = _begins(classes)
    if np.count_nonzero(begins) > 2 * MOST_POINTS:
        raise FormatError(f"{where}: more than {MOST_POINTS} points in one table; split the file")
    starts = np.flatnonzero(begins)
    del begins
    kinds = classes[starts]
    breaks = np.flatnonzero(characters == ord(NEWLINE))
    lines = _line_numbers(starts, breaks, line)
    del classes, starts
    values = parse_numbers(_spelled_out(body, set(np.flatnonzero(np.bincount(kinds)).tolist())), kinds.size)
    if values is None or not np.all(np.isfinite(values) | (kinds == MISSING)):
        raise _bad_number(body, where, line)
    return Tokens(kinds, values, lines)


def _line_numbers(starts: IntArray, breaks: IntArray, line: int) -> IntArray:
    """Line of each number, from the positions of numbers and line breaks."""
    before = np.searchsorted(starts, breaks)
    counts = np.diff(before, prepend=0, append=starts.size)
    return np.repeat(np.arange(line, line + counts.size, dtype=np.int32), counts).astype(np.int32)


def _begins(classes: ByteArray) -> NDArray[np.bool_]:
    """Where a number begins: at a sign or pseudo-digit, or at a digit that continues no other."""
    begins = classes >= SIGN
    fresh = np.ones(classes.size, dtype=bool)
    fresh[1:] = (classes[:-1] == BLANK) | (classes[:-1] == MISSING)
    return np.asarray(begins | (fresh & (classes == DIGIT)))


def _spelled_out(body: bytes, kinds: set[int]) -> bytes:
    """Write every token as a plain number with a blank before it."""
    if SIGN in kinds:
        body = body.replace(b"+", b" +").replace(b"-", b" -")
    for kind, digits in ((SQZ, SQZ_DIGITS), (DIF, DIF_DIGITS), (DUP, DUP_DIGITS)):
        if kind in kinds:
            for letter, digit in digits.items():
                body = body.replace(letter, b" " + digit)
    if MISSING in kinds:
        body = body.replace(b"?", b" nan ")
    return body.replace(_EXPONENT_PLUS, b"E").replace(_EXPONENT_MINUS, b"E-")


def _bad_number(body: bytes, where: str, line: int) -> FormatError:
    """Find the first line that does not read as numbers."""
    for number, text in enumerate(body.split(NEWLINE), line):
        classes = _CLASSES[np.frombuffer(text, np.uint8)]
        values = parse_numbers(_spelled_out(text, set(classes.tolist())), int(_begins(classes).sum()))
        if values is None or np.any(np.isinf(values)):
            shown = text.decode("latin-1").strip()
            return FormatError(
                f"{where}: line {number}: {shorten(shown)!r} does not read as numbers; export again"
            )
    return FormatError(f"{where}: line {line}: the table does not read as numbers; export again")
