"""Delimited text: spectra written so that axis and ordinates are read back exactly."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from spectra.errors import OutputError
from spectra.spectrum import Spectrum
from spectra.units import FloatArray, from_absorbance
from spectra.writing.output import write_file


def write_csv(
    spectra: Spectrum | Sequence[Spectrum],
    path: str | Path,
    *,
    y_unit: str = "absorbance",
    delimiter: str = ",",
    decimal: str = ".",
    overwrite: bool = False,
) -> None:
    r"""Write one or several spectra as text.

    Spectra on one axis share its column; others are written as pairs of columns.

    Parameters
    ----------
    spectra
        One or several.
    path
        The file.
    y_unit
        A member of ``units.Y_UNITS``.
    delimiter, decimal
        Cell delimiter and decimal mark; they must differ.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        If delimiter and decimal mark are the same, or the file exists or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from spectra.spectrum import Origin
    >>> path = Path(tempfile.mkdtemp()) / "film.csv"
    >>> film = Spectrum([400, 402, 404], [0.1, 0.25, 0.2], Origin("film"))
    >>> write_csv(film, path, delimiter=";", decimal=",")
    >>> path.read_text()
    'wavenumber (cm-1);absorbance\n400,0;0,1\n402,0;0,25\n404,0;0,2\n'
    """
    if delimiter == decimal or delimiter not in (",", ";", "\t", "|") or decimal not in (".", ","):
        raise OutputError(
            f"delimiter {delimiter!r} with decimal mark {decimal!r} cannot be read back; use ';' with ','"
        )
    several = [spectra] if isinstance(spectra, Spectrum) else list(spectra)
    if not several:
        raise OutputError(f"{path}: there is no spectrum to write")
    shared = all(np.array_equal(one.wavenumbers, several[0].wavenumbers) for one in several)
    columns: list[tuple[str, FloatArray]] = []
    for one in several:
        if not columns or not shared:
            columns.append(("wavenumber (cm-1)", one.wavenumbers))
        name = y_unit if len(several) == 1 else f"{_cell_text(one, delimiter)} ({y_unit})"
        columns.append((name, from_absorbance(one.absorbance, y_unit)))
    length = max(values.size for _, values in columns)
    rows = [[_cell(values, i, decimal) for _, values in columns] for i in range(length)]
    head = delimiter.join(name for name, _ in columns)
    text = "\n".join([head, *(delimiter.join(row) for row in rows), ""])
    write_file(Path(path), text.encode(), overwrite)


def _cell_text(spectrum: Spectrum, delimiter: str) -> str:
    """Return a title without what would end the cell."""
    title = spectrum.origin.part or spectrum.origin.title or spectrum.origin.path
    return " ".join(title.replace(delimiter, " ").replace('"', " ").split())


def _cell(values: FloatArray, row: int, decimal: str) -> str:
    """One number as text; empty where there is none."""
    if row >= values.size or not np.isfinite(values[row]):
        return ""
    return repr(float(values[row])).replace(".", decimal)
