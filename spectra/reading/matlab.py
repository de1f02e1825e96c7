"""MATLAB files of version 5 to 7: every length in them is checked before another process reads them."""

from __future__ import annotations

import zlib

from spectra.errors import FormatError
from spectra.reading.arrays import array_traces
from spectra.reading.sandbox import read_apart
from spectra.reading.source import Source
from spectra.reading.trace import Trace
from spectra.reading.unpacking import MOST_UNPACKED


def read_matlab(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of a MATLAB file of version 5 to 7; see :func:`array_traces`.

    Raises
    ------
    FormatError
        If it is damaged or unpacks to too much. Version 7.3 is HDF5 and read as such.
    """
    _require_modest_matlab(source)
    arrays, units = read_apart(source, "MATLAB")
    return array_traces(arrays, units, source.path)


def _require_modest_matlab(source: Source) -> None:
    """Compare every length in the file with what is there; unpack against a limit."""
    room = MOST_UNPACKED
    order = "big" if source.data[126:128] == b"MI" else "little"
    at, size = 128, len(source.data)
    while at + 8 <= size:
        kind = int.from_bytes(source.data[at : at + 4], order)  # type: ignore[arg-type]
        length = int.from_bytes(source.data[at + 4 : at + 8], order)  # type: ignore[arg-type]
        if length > size - at - 8:
            raise FormatError(
                f"{source.path}: is cut off: {length} bytes promised at byte {at}; save it again"
            )
        body = source.data[at + 8 : at + 8 + length]
        if kind == 15:
            body = _inflate(body, room, source)
            kind = int.from_bytes(body[:4], order)  # type: ignore[arg-type]
            inner = int.from_bytes(body[4:8], order)  # type: ignore[arg-type]
            if inner > len(body) - 8:
                raise FormatError(f"{source.path}: is cut off inside an array; save it again")
            body = body[8:]
        room -= len(body)
        if room < 0:
            raise FormatError(f"{source.path}: unpacks to more than {MOST_UNPACKED / 1e6:.0f} MB; split it")
        if kind == 14:
            _require_true_lengths(body, order, source, 0)
        at += 8 + length


def _inflate(data: bytes, room: int, source: Source) -> bytes:
    """Unpack one compressed element, at most ``room`` bytes of it."""
    try:
        unpacked = zlib.decompressobj().decompress(data, room + 1)
    except zlib.error as error:
        raise FormatError(f"{source.path}: is damaged ({error}); save it again") from None
    if len(unpacked) > room:
        raise FormatError(f"{source.path}: unpacks to more than {MOST_UNPACKED / 1e6:.0f} MB; split it")
    return unpacked


def _require_true_lengths(body: bytes, order: str, source: Source, depth: int) -> None:
    """Every element inside an array must end inside it."""
    at = 0
    while at + 8 <= len(body):
        kind = int.from_bytes(body[at : at + 4], order)  # type: ignore[arg-type]
        if kind >> 16:  # a small element: length in the upper half, data in the same eight bytes
            at += 8
            continue
        length = int.from_bytes(body[at + 4 : at + 8], order)  # type: ignore[arg-type]
        if length > len(body) - at - 8 or depth > 20:
            raise FormatError(
                f"{source.path}: is damaged: an element is longer than its array; save it again"
            )
        if kind == 14:
            _require_true_lengths(body[at + 8 : at + 8 + length], order, source, depth + 1)
        at += 8 + length + (-length) % 8
