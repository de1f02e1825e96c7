"""Cells of a table row: read one, or say exactly what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reference_bands.errors import BandTableError
from reference_bands.records import HIGHEST, LOWEST, MODES


@dataclass(frozen=True)
class Row:
    """One line of a CSV table: its cells by column name, and where it stands."""

    file: str
    line: int
    cells: Mapping[str, str]

    @property
    def origin(self) -> str:
        """File and line, as every message and record names them."""
        return f"{self.file} line {self.line}"

    def broken(self, column: str, expected: str) -> BandTableError:
        """Return the error for one cell."""
        return BandTableError(
            f"{self.origin}, column {column!r}: found {self.text(column)!r}; expected {expected}"
        )

    def text(self, column: str) -> str:
        """Return a cell without surrounding blanks; empty where the table lacks the column."""
        return self.cells.get(column, "").strip()

    def required(self, column: str, expected: str) -> str:
        """Return a cell that must not be empty."""
        value = self.text(column)
        if not value:
            raise self.broken(column, expected)
        return value

    def word(self, column: str, choices: Sequence[str]) -> str:
        """Return a cell that must hold one of a few words."""
        value = self.text(column)
        if value not in choices:
            shown = ", ".join(choice if choice else "nothing" for choice in choices)
            raise self.broken(column, f"one of: {shown}")
        return value

    def several(self, column: str, expected: str = "") -> tuple[str, ...]:
        """Return the entries of a cell that lists several things, at least one if ``expected`` is given."""
        value = self.required(column, expected) if expected else self.text(column)
        return tuple(part.strip() for part in value.split(";") if part.strip())

    def position(self, column: str) -> float:
        """Return a cell that holds a wavenumber."""
        return self._wavenumber(column, self.text(column))

    def positions(self, column: str) -> tuple[float, ...]:
        """Return the wavenumbers of a cell that lists several."""
        return tuple(self._wavenumber(column, part) for part in self.several(column))

    def _wavenumber(self, column: str, text: str) -> float:
        """Turn text into a wavenumber."""
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not LOWEST <= value <= HIGHEST:
            raise self.broken(column, f"a wavenumber in cm-1 from {LOWEST:g} to {HIGHEST:g}, such as 1724")
        return value

    def number(self, column: str, expected: str) -> float | None:
        """Return a number, or None for an empty cell."""
        value = self.text(column)
        if not value:
            return None
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise self.broken(column, expected)
        return number

    def window(self) -> tuple[float, float | None, float]:
        """Return low, typical and high, in order; typical is None where the cell is empty."""
        low, high = self.position("low"), self.position("high")
        typical = self.position("typical") if self.text("typical") else None
        if not low <= (high if typical is None else typical) <= high:
            raise self.broken("typical", f"low <= typical <= high, here {low:g} to {high:g} cm-1")
        return low, typical, high

    def vibration(self) -> str:
        """Return a vibration whose every part ends in a known mode."""
        value = self.required("vibration", "what vibrates and how, such as 'ester C=O stretch'")
        for part in value.replace(" or ", " + ").split(" + "):
            if not any(part == mode or part.endswith(f" {mode}") for mode in MODES):
                raise self.broken("vibration", f"parts that end in one of: {', '.join(MODES)}")
        return value
