"""The report: the result of a verification as a page, a record, a table and a figure.

``view`` words and rounds; ``text``, ``page`` and ``record`` lay out; ``figures`` draws; only this module
writes files.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from spectra.errors import OutputError

if TYPE_CHECKING:
    from spectra.verification.result import Verification


def write_report(verification: Verification, folder: Path, date: datetime.date) -> tuple[Path, ...]:
    """Write ``report.html``, ``result.json``, ``bands.csv`` and ``overlay.svg``.

    Everything is composed before the first file is opened, so a fault in composing leaves no file behind.

    Parameters
    ----------
    verification
        The whole result.
    folder
        Made if it is missing; files of these names in it are replaced.
    date
        Day of the report, shown on the page only.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    OutputError
        If a file cannot be written.
    """
    from spectra.report.band_csv import as_csv
    from spectra.report.figures.canvas import render
    from spectra.report.figures.overlay import overlay_figure
    from spectra.report.page import as_html
    from spectra.report.record import as_json

    contents = {
        "report.html": as_html(verification, date).encode(),
        "result.json": as_json(verification).encode(),
        "bands.csv": as_csv(verification).encode("utf-8-sig"),
        "overlay.svg": render(overlay_figure(verification.stages.levelled), "svg"),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: {error.strerror or error}; name another folder") from error
    return tuple(_write(folder / name, content) for name, content in contents.items())


def _write(path: Path, content: bytes) -> Path:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise OutputError(
            f"{path}: cannot be written ({error.strerror}); give a folder you may write to"
        ) from error
    return path
