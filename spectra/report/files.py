"""Everything a report's folder holds, composed before the first file is opened.

In: a Verification. Out: contents by name. The figures and the page are drawn from the spectra as
``spectra.csv`` holds them, so that a report laid out anew from its folder is the same report.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from spectra.report.figures.pictures import Picture
    from spectra.verification.result import Verification

# Figures of all samples are written as PNG too, 600 dots an inch; `coatproof figure` makes any other.
AS_PNG = ("key", "overlay")


def compose(verification: Verification, date: datetime.date) -> dict[str, bytes]:
    """Return the content of every file of a report by its name inside the folder.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report.
    """
    from spectra.report.figures.pictures import pictures
    from spectra.report.kept import as_spectra_csv, rounded
    from spectra.report.methods import as_methods
    from spectra.report.page import as_html
    from spectra.report.pdf import as_pdf
    from spectra.report.record import as_json
    from spectra.report.table_files import as_csv, as_xlsx
    from spectra.report.tables.frames import tables

    verification = rounded(verification)
    drawn, found = pictures(verification), tables(verification)
    sheets = {
        "samples": found.samples,
        "bands": found.bands,
        "amounts": found.amounts,
        "inputs": found.inputs,
    }
    contents = {"report.html": as_html(verification, date, drawn).encode()}
    printed = as_pdf(verification, date, drawn)
    if printed is not None:
        contents["report.pdf"] = printed
    contents["result.json"] = as_json(verification).encode()
    contents["spectra.csv"] = as_spectra_csv(verification).encode("utf-8-sig")
    contents |= {
        f"{name}.csv": as_csv(sheets[name]).encode("utf-8-sig") for name in ("samples", "bands", "amounts")
    }
    contents["report.xlsx"] = as_xlsx(sheets, date)
    contents["methods.txt"] = as_methods(verification, date).encode()
    return contents | {
        f"figures/{name}": content for picture in drawn for name, content in _of_figure(picture)
    }


def _of_figure(picture: Picture) -> Iterator[tuple[str, bytes]]:
    """Yield the files of one figure: drawing, caption, data."""
    from spectra.report.figures.files import render
    from spectra.report.table_files import as_csv
    from spectra.report.words.signs import typeset

    for form in ("svg", "pdf", *(("png",) if picture.name in AS_PNG else ())):
        yield f"{picture.name}.{form}", render(picture.figure, form)
    words = f"{typeset(picture.caption)}\n\n{typeset(picture.alternative)}\n"
    yield f"{picture.name}.txt", words.encode()
    yield f"{picture.name}.csv", as_csv(picture.data, decimals=7).encode("utf-8-sig")
