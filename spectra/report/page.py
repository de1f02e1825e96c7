"""``report.html``: one self-contained page that asks nothing of the network and runs no script.

Text from files and study is untrusted: the template escapes everything, the page forbids itself any
request by its content policy, and only the drawings, escaped by their own writer, go in as they are.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spectra.report.figures.files import inline
from spectra.report.figures.pictures import Picture, told_once
from spectra.report.view import View, typeset, view

if TYPE_CHECKING:
    from markupsafe import Markup

    from spectra.verification.result import Verification

SHORT = 5  # samples whose key figure leaves room for the cautions on one page

TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True)
class Drawing:
    """An SVG element with the name of its file and the caption below it."""

    name: str
    svg: Markup
    caption: str


def as_html(verification: Verification, date: datetime.date, drawn: Sequence[Picture]) -> str:
    """Return the report as one HTML document.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report.
    drawn
        Its figures, from :func:`spectra.report.figures.pictures.pictures`; the overlay is left to its file,
        since the key figure holds the same lines.
    """
    page, drawn = view(verification, date), told_once(drawn)
    by_sample = [
        tuple(
            _drawing(picture) for picture in drawn if picture.sample == sample.name and picture.name != "key"
        )
        for sample in page.samples
    ]
    key = next(picture for picture in drawn if picture.name == "key")
    beside = tuple(_drawing(picture) for picture in drawn if picture.name == "differences")
    tall = len(page.samples) > SHORT  # the cautions stay on the first page of print
    return _rendered(
        "report.html", page=page, key=_drawing(key), beside=beside, tall=tall, drawings=by_sample
    )


def _rendered(template: str, **content: View | Any) -> str:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["typeset"] = typeset
    return environment.get_template(template).render(**content)


def _drawing(picture: Picture) -> Drawing:
    from markupsafe import Markup

    return Drawing(
        picture.name, Markup(inline(picture.figure, typeset(picture.alternative))), picture.caption
    )
