"""Lines of a JCAMP-DX data table, in every encoding: the inverse of ``reading.asdf``."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from spectra.reading.jcamp.digits import DIF_DIGITS, DUP_DIGITS, SQZ_DIGITS
from spectra.units import FloatArray

ENCODINGS = ("AFFN", "PAC", "SQZ", "DIF", "DIFDUP")

LONGEST_LINE = 78  # the format allows 80 characters

_DIGIT = {
    kind: {digit: letter.decode() for letter, digit in table.items()}
    for kind, table in (("SQZ", SQZ_DIGITS), ("DIF", DIF_DIGITS), ("DUP", DUP_DIGITS))
}


def plain(count: float) -> str:
    """Write an ordinate in plain form."""
    return "?" if count != count else str(int(count))


def _packed(count: float) -> str:
    """Write an ordinate with its sign as delimiter."""
    return "?" if count != count else f"{int(count):+d}"


def _with_digit(count: float, kind: str) -> str:
    """Write a number whose first character holds sign and leading digit."""
    text = str(int(count))
    lead = text[: 2 if text[0] == "-" else 1]
    return _DIGIT[kind][lead.encode()] + text[len(lead) :]


def _squeezed(count: float) -> str:
    """Write an ordinate in squeezed form."""
    return "?" if count != count else _with_digit(count, "SQZ")


def table_lines(x: FloatArray, counts: FloatArray, encoding: str) -> Iterator[str]:
    """Write the lines of an evenly spaced table."""
    if encoding in ("DIF", "DIFDUP"):
        yield from _difference_lines(x, counts, repeats=encoding == "DIFDUP")
        return
    write = {"AFFN": lambda count: " " + plain(count), "PAC": _packed, "SQZ": _squeezed}[encoding]
    yield from _full_lines(x, counts, write)


def _full_lines(x: FloatArray, counts: FloatArray, write: Callable[[float], str]) -> Iterator[str]:
    """Lines of ordinates in full."""
    line = ""
    for abscissa, count in zip(x.tolist(), counts.tolist(), strict=True):
        token = write(count)
        if line and len(line) + len(token) > LONGEST_LINE:
            yield line
            line = ""
        line = (line or f"{abscissa:.4f}") + token
    yield line


def _difference_lines(x: FloatArray, counts: FloatArray, *, repeats: bool) -> Iterator[str]:
    """Lines of differences; each line after a difference begins with a check ordinate."""
    values = counts.tolist()
    line, last, times = "", "", 1
    for i, (abscissa, count) in enumerate(zip(x.tolist(), values, strict=True)):
        before = values[i - 1] if i else float("nan")
        full = not line or before != before or count != count
        token = _squeezed(count) if full else _with_digit(count - before, "DIF")
        if repeats and line and not full and token == last:
            times += 1
            continue
        tail = _with_digit(times, "DUP") if times > 1 else ""
        if line and len(line) + len(tail) + len(token) > LONGEST_LINE - 8:
            yield line + tail
            line = ""
            in_differences = bool(last) and last[0] in _DIFFERENCE_DIGITS
            if in_differences:
                line = f"{x[i - 1]:.4f}{_squeezed(before)}"
                token = _squeezed(count) if count != count else _with_digit(count - before, "DIF")
            else:
                line, token = f"{abscissa:.4f}", _squeezed(count)
            tail = ""
        line = (line or f"{abscissa:.4f}") + tail + token
        last, times = token, 1
    tail = _with_digit(times, "DUP") if times > 1 else ""
    yield line + tail
    if last and last[0] in _DIFFERENCE_DIGITS:
        yield f"{x[-1]:.4f}{_squeezed(values[-1])}"


_DIFFERENCE_DIGITS = b"".join(DIF_DIGITS).decode()
