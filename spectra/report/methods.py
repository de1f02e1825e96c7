"""``methods.txt``: what an author pastes: conditions, statements, rule, definitions, cautions."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from spectra.report.view import View, view
from spectra.report.words.signs import typeset, visible

if TYPE_CHECKING:
    from spectra.verification.result import Verification

WIDTH = 100


def as_methods(verification: Verification, date: datetime.date) -> str:
    """Return the texts of a report as plain text, UTF-8.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report.
    """
    page = view(verification, date)
    return "\n".join(visible(typeset(line)) for line in _lines(page)) + "\n"


def _lines(page: View) -> Iterator[str]:
    yield page.title
    yield f"{page.made_by}, {page.date}, document {page.document}"
    yield from _part("Measuring conditions", [f"{name}: {value}" for name, value in page.conditions.rows])
    yield from _part("Methods, for a paper", [page.procedure])
    for sample in page.samples:
        for answer in sample.answers:
            yield from _part(f"Statement: {sample.name}, {answer.coating}", [answer.statement])
    yield from _part("Decision rule", page.rule)
    yield from _part("Words", [page.definitions])
    yield from _part("What these results do not show", [f"{title}: {text}" for title, text in page.cautions])
    yield from _part("Sources of the assignments", [" ".join(row) for row in page.sources.rows])


def _part(title: str, texts: tuple[str, ...] | list[str]) -> Iterator[str]:
    yield ""
    yield title
    for text in texts:
        yield from textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="  ")
