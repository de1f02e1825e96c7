"""What a case is, and how the tables of cases are written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.optical_constants import read_constants

Array = NDArray[np.float64]

Write = Callable[[Path], object]

X = np.arange(3998.0, 649.0, -2.0)


def film(page: str, top: float, x: Array = X) -> Array:
    """Absorbance of a film, its strongest band ``top``, with a base of 0.01 and noise of 2e-4."""
    wavenumbers, _, k = read_constants(page)
    shape = np.interp(x, wavenumbers, k * wavenumbers)
    noise = np.random.default_rng(len(page)).normal(0.0, 2e-4, x.size)
    return np.asarray(0.01 + top * shape / shape.max() + noise)


A = film("poly_methyl_methacrylate__Tsuda-BB", 0.6)
B = film("polycarbonate__Zhang", 0.4)
T = 10.0**-A


@dataclass(frozen=True, eq=False)
class Case:
    """What a file must come to, how it is written, and the absorbances it holds over ``x``."""

    kind: str
    write: Write
    truths: tuple[Array, ...] = ()
    x: Array = field(default_factory=lambda: X)


CASES: dict[str, Case] = {}


def case(name: str, kind: str, *truths: Array, x: Array = X) -> Callable[[Write], Write]:
    """Enter a writer under the name of its file."""

    def enter(write: Write) -> Write:
        CASES[name] = Case(kind, write, truths, x)
        return write

    return enter


def text(name: str, kind: str, content: str | bytes, *truths: Array, x: Array = X) -> None:
    """Enter a file of text."""
    data = content.encode() if isinstance(content, str) else content
    CASES[name] = Case(kind, lambda path: path.write_bytes(data), truths, x)


def rows(*columns: Sequence[float] | Array, form: str = "{:.1f};{:.5f}") -> str:
    """Lines of a table."""
    return "".join(form.format(*row) + "\n" for row in zip(*columns, strict=True))


def german(table: str) -> str:
    """Decimal commas in place of points."""
    return table.replace(".", ",")


def grouped(mark: str, decimal: str = ".") -> str:
    """Two columns with a thousands mark in the abscissa."""
    lines = (f"{x:,.1f};{a:.5f}" for x, a in zip(X, A, strict=True))
    return "".join(line.replace(",", "\0").replace(".", decimal).replace("\0", mark) + "\n" for line in lines)


HEAD = "wavenumber (cm-1);absorbance\n"
PLAIN = rows(X, A)
