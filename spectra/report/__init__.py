"""The report: the result of a verification as a page, a record, a table and a figure.

In: a Verification. Out: report.html, result.json, bands.csv and overlay.svg, all of them or none.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from spectra.writing.output import placed_folder

if TYPE_CHECKING:
    from spectra.verification.result import Verification


def write_report(verification: Verification, folder: Path, date: datetime.date) -> tuple[Path, ...]:
    """Write ``report.html``, ``result.json``, ``bands.csv`` and ``overlay.svg``.

    All of them or none: they are composed first, written into a draft and then put in place.

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
        If a file cannot be written, or ``folder`` lies in a file.
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
    with placed_folder(folder, force=True) as draft:
        for name, content in contents.items():
            (draft / name).write_bytes(content)
    return tuple(folder / name for name in contents)
