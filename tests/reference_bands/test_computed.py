"""Literature rows against positions computed from open optical constants, and the computed table itself."""

import csv
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from reference_bands import load
from tests.computed_bands import TABLE as COMPUTED_FILE
from tests.computed_bands import table_text
from tests.optical_constants import PAGES, absorption, maxima, read_constants
from tests.places import DATA

TABLE = load()
DISAGREEMENTS = DATA / "band_disagreements.csv"
FAINT = 0.003  # of the highest value: what still counts as a maximum when a literature row is looked for
WIDEST = 100.0  # cm-1: a wider row is a region, which any maximum would meet
EDGE = 5.0  # cm-1: a maximum this near the end of a page may be cut off

# Pages of the material as the tables mean it, without the suboxides and ice-cold water.
PLAIN = {page: material for page, (material, state, _) in PAGES.items() if not state}


@cache
def maxima_of(page):
    return maxima(*absorption(page), FAINT)


def reasons():
    rows = list(csv.DictReader(DISAGREEMENTS.read_text(encoding="utf-8").splitlines()))
    assert all(row["reason"].strip() for row in rows)
    return {(row["material"], float(row["typical"])): row["reason"] for row in rows}


def literature():
    """Rows of at least medium strength that lie inside a page of constants, with those pages."""
    for material in sorted(set(PLAIN.values())):
        pages = [page for page, name in PLAIN.items() if name == material]
        for row in TABLE.of(material):
            ends = {page: read_constants(page)[0][[0, -1]] for page in pages}
            covering = [p for p, (a, b) in ends.items() if a + EDGE < row.low and row.high < b - EDGE]
            if row.strength in ("vs", "s", "m") and row.high - row.low <= WIDEST and covering:
                yield row, covering


def agrees(row, pages):
    """Whether a page has a maximum inside the row's window, given the spacing of its points."""
    for page in pages:
        wavenumbers = absorption(page)[0]
        spacing = np.median(np.diff(wavenumbers[np.abs(wavenumbers - row.centre) < 60]))
        if any(row.distance(p) <= spacing for p in maxima_of(page).positions):
            return True
    return False


def test_literature_rows_agree_with_the_constants_or_the_reason_is_listed():
    rows = list(literature())
    off = {(row.material, row.centre) for row, pages in rows if not agrees(row, pages)}
    assert off == set(reasons())
    assert len(rows) >= 95
    assert len(off) <= 0.1 * len(rows)


def test_the_comparison_can_fail():
    """Rows moved by 40 cm-1 must mostly disagree, or agreement would mean nothing."""
    moved = [
        (replace(row, low=row.low + 40, typical=row.centre + 40, high=row.high + 40), pages)
        for row, pages in literature()
        if row.high - row.low <= 20
    ]
    assert sum(agrees(row, pages) for row, pages in moved) < 0.5 * len(moved)


def test_the_computed_table_is_what_the_constants_give():
    assert COMPUTED_FILE.read_text(encoding="utf-8") == table_text()


@pytest.mark.parametrize("page", PAGES)
def test_each_computed_row_is_the_highest_point_around_it(page):
    """The slow way: no peak finder, only the largest value among the points near by."""
    material, state, source = PAGES[page]
    wavenumbers, _, k = read_constants(page)
    signal = k * wavenumbers
    rows = [b for b in TABLE.of(material, computed=True) if b.state == state and b.source == source]
    rows = [b for b in rows if b.checked == "computed"] if material in TABLE.materials else []
    for row in rows:
        around = (wavenumbers >= row.low - 1) & (wavenumbers <= row.high + 1)
        top = int(np.argmax(np.where(around, signal, -np.inf)))
        spacing = np.median(np.diff(wavenumbers[np.abs(wavenumbers - row.centre) < 60]))
        assert abs(wavenumbers[top] - row.centre) <= spacing
        assert signal[top] >= max(signal[top - 1], signal[top + 1])
    assert rows or page == "TiO2__Kischkat"  # its bands lie below the page's range


def test_strengths_of_the_literature_rank_as_the_constants_do():
    """Median relative height of rows called vs, s, m, w, at their computed positions."""
    heights = {}
    for row, pages in literature():
        found = maxima_of(pages[0])
        near = np.abs(found.positions - row.centre) <= 10
        if np.any(near):
            share = found.prominences[near].max() / found.prominences.max()
            heights.setdefault(row.strength, []).append(share)
    medians = [float(np.median(heights[word])) for word in ("vs", "s", "m")]
    assert medians == sorted(medians, reverse=True)
    assert medians[0] > 2 * medians[2]
