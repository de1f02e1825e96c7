"""What one cell of a table says: a number in any of its forms, that there is none, or words."""

from __future__ import annotations

import re
from collections.abc import Sequence

_GROUPED = r"\d{1,3}(?: \d{3})+(?:[.,]\d*)?"  # a blank between thousands

NUMBER = re.compile(
    rf"[+-]?(?:\d[\d.,'\u2019\u00a0\u202f\u2009]*|[.,]\d+|{_GROUPED})(?:[eEdD][+-]?\d{{1,3}})?", re.ASCII
)

# What programs write where there is no number; compared in lower case.
MISSING = {"", "-", "--", "---", "?", "*", "inf", "-inf", "+inf"}

MISSING |= {
    "n.d.",
    "n.d",
    "nd",
    "n.a.",
    "n.a",
    "n/d",
    "k.a.",
    "s/d",
    "<na>",
    ".",
    "..",
    "missing",
    "n.v.",
    "none.",
}

# Errors of spreadsheets in several languages, and of old run-time libraries.
MISSING |= {
    "#nv",
    "#n/v",
    "#nd",
    "#n/d",
    "#zahl!",
    "#wert!",
    "#bezug!",
    "#name?",
    "#ref!",
    "#null!",
    "#nombre!",
}

MISSING |= {"#valeur!", "#valor!", "#¡valor!", "#num!", "#¡num!", "#¡div/0!", "#div/0", "#calc!", "#leeg!"}

MISSING |= {
    "1.#inf",
    "-1.#inf",
    "1.#ind",
    "-1.#ind",
    "-1.#qnan",
    "1.#inf00",
    "-1.#ind00",
    "infinity",
    "-infinity",
}

MISSING |= {"nan", "-nan", "na", "n/a", "none", "null", "#n/a", "#num!", "#value!", "#div/0!", "1.#qnan"}

Cell = str | float  # text, or a number where the file holds numbers (spreadsheets)


def is_number(cell: Cell) -> bool:
    """Whether a cell is or reads as one number, whatever its decimal mark."""
    return isinstance(cell, float) or NUMBER.fullmatch(cell) is not None


def is_missing(cell: Cell) -> bool:
    """Whether a cell says that there is no value."""
    return isinstance(cell, str) and cell.lower() in MISSING


def is_number_row(cells: Sequence[Cell]) -> bool:
    """Whether a row belongs to the table of numbers: two numbers, or one where all else is missing.

    Examples
    --------
    >>> is_number_row(["4000", "0.1"]), is_number_row(["4000", "NaN"]), is_number_row(["scans", "32"])
    (True, True, False)
    """
    numbers = sum(is_number(cell) for cell in cells)
    return numbers >= 2 or (
        numbers == 1 and len(cells) >= 2 and all(is_number(cell) or is_missing(cell) for cell in cells)
    )
