"""How a result shows itself in a notebook: the table of all samples, escaped, as plain HTML."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from spectra.report.tables.findings import overview_table
from spectra.report.tables.table import Table
from spectra.report.words.signs import typeset

if TYPE_CHECKING:
    from spectra.verification.result import Verification


def result_html(verification: Verification) -> str:
    """Return the table of all samples as HTML."""
    return f"<p><b>{escape(verification.study.title)}</b></p>{table_html(overview_table(verification))}"


def table_html(table: Table) -> str:
    """Return a table of finished text as HTML.

    Examples
    --------
    >>> table_html(Table("", ("a",), (("<b>",),)))
    '<table><thead><tr><th scope="col">a</th></tr></thead><tbody><tr><td>&lt;b&gt;</td></tr></tbody></table>'
    """
    head = "".join(f'<th scope="col">{_cell(cell)}</th>' for cell in table.head)
    rows = "".join(f"<tr>{''.join(f'<td>{_cell(cell)}</td>' for cell in row)}</tr>" for row in table.rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _cell(text: str) -> str:
    return escape(typeset(text)).replace("\n", "<br>")
