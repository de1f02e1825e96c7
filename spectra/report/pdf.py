"""``report.pdf``: the same words and figures on A4, set by Typst; nothing where that is not installed.

The content is handed over as data and as files in memory, never as Typst source, so that a name or title
cannot become a command. PDF/A-2b with the day of the report for its time of making: same result, same bytes.
"""

from __future__ import annotations

import datetime
import json
import tempfile
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spectra.report.figures.files import render
from spectra.report.figures.labels import has_letter
from spectra.report.view import typeset, view

if TYPE_CHECKING:
    from spectra.report.figures.pictures import Picture
    from spectra.verification.result import Verification

STAND_IN = "\N{WHITE SQUARE}"

TEMPLATE = Path(__file__).parent / "templates" / "report.typ"


def as_pdf(verification: Verification, date: datetime.date, drawn: Sequence[Picture]) -> bytes | None:
    """Return the report as PDF, or None where the extra ``pdf`` is not installed.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report.
    drawn
        Its figures.
    """
    try:
        import typst
    except ImportError:
        return None
    from spectra.report.figures.pictures import told_once

    page, drawn = view(verification, date), told_once(drawn)
    figures = [
        {
            "file": f"{number}.svg",
            "name": p.name,
            "sample": p.sample,
            "caption": p.caption,
            "alt": p.alternative,
        }
        for number, p in enumerate(drawn)
    ]
    data = _typeset(asdict(page) | {"figures": figures})
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "report.typ").write_bytes(TEMPLATE.read_bytes())
        for number, picture in enumerate(drawn):
            (root / f"{number}.svg").write_bytes(render(picture.figure, "svg"))
        try:
            return _set(root, data, date)
        except typst.TypstError as error:
            # PDF/A refuses a letter that no font on this machine has; the page keeps it as it is.
            if "could not be displayed" not in str(error):
                raise
            return _set(root, _with_stand_ins(data), date)


def _set(root: Path, data: Any, date: datetime.date) -> bytes:
    """Set the report from its data; the template and the figures lie in ``root``."""
    import typst

    moment = datetime.datetime.combine(date, datetime.time(), tzinfo=datetime.UTC)
    (root / "report.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
    return bytes(
        typst.compile(
            str(root / "report.typ"), root=str(root), format="pdf", pdf_standards="a-2b",
            sys_inputs={"made": date.isoformat()}, timestamp=int(moment.timestamp()),
        )
    )  # fmt: skip


def _with_stand_ins(value: Any) -> Any:
    """Put a white square for every letter that the report's font lacks."""
    if isinstance(value, str):
        return "".join(letter if has_letter(letter) else STAND_IN for letter in value)
    if isinstance(value, dict):
        return {key: _with_stand_ins(entry) for key, entry in value.items()}
    return [_with_stand_ins(entry) for entry in value] if isinstance(value, list) else value


def _typeset(value: Any) -> Any:
    """Set the signs in every text of plain data."""
    if isinstance(value, str):
        return typeset(value)
    if isinstance(value, dict):
        return {key: _typeset(entry) for key, entry in value.items()}
    return [_typeset(entry) for entry in value] if isinstance(value, list | tuple) else value
