"""The report: the result of a verification as a page, a record, tables and figures.

In: a Verification. Out: a folder with all of it, or nothing.
"""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from spectra.errors import StudyError
from spectra.writing.output import placed_folder

if TYPE_CHECKING:
    from spectra.verification.result import Verification


def write_report(verification: Verification, folder: Path, date: datetime.date) -> tuple[Path, ...]:
    """Write the page, the record, the tables and every figure into a folder.

    All of them or none: they are composed first, written into a draft and then put in place.

    Parameters
    ----------
    verification
        The whole result.
    folder
        Made if it is missing; files of these names in it are replaced.
    date
        Day of the report, shown on the page and in the workbook.

    Returns
    -------
    tuple of Path
        The files written: ``report.html`` and, where the extra ``pdf`` is installed, ``report.pdf``; then
        ``result.json``, ``spectra.csv``, the tables, ``methods.txt`` and what stands under ``figures/``.

    Raises
    ------
    OutputError
        If a file cannot be written, or ``folder`` lies in a file.
    """
    from spectra.report.files import compose

    contents = compose(verification, date)
    with placed_folder(folder, force=True) as draft:
        for name, content in contents.items():
            (draft / name).parent.mkdir(exist_ok=True)
            (draft / name).write_bytes(content)
    return tuple(folder / name for name in contents)


def read_report(folder: Path) -> Verification:
    """Read the result back that :func:`write_report` left in a folder; nothing is judged again.

    Parameters
    ----------
    folder
        With ``result.json`` and ``spectra.csv``.

    Raises
    ------
    StudyError
        If one of them is missing or does not hold a whole result.
    """
    from spectra.report.kept import AGAIN, read_back

    texts = []
    for name in ("result.json", "spectra.csv"):
        try:
            texts.append((folder / name).read_text(encoding="utf-8-sig"))
        except (OSError, UnicodeDecodeError) as error:
            why = getattr(error, "strerror", None) or "not UTF-8 text"
            raise StudyError(
                f"{folder / name}: cannot be read ({why}); expected a folder that `coatproof verify` "
                f"wrote; {AGAIN}"
            ) from None
    return read_back(texts[0], texts[1], str(folder))
