"""Samples side by side in one figure: what is drawn is what was found."""

from dataclasses import replace

import numpy as np
import pytest

from spectra.comparison.recipes import Difference
from spectra.report.figures.comparison import comparison_data, draw_comparison
from spectra.report.figures.files import render
from spectra.report.figures.pictures import pictures
from spectra.report.figures.settings import FigureSettings
from spectra.verification.result import SampleDifference
from tests import fakes


@pytest.fixture(scope="module")
def compared():
    result = fakes.verification(fakes.good_sample(), fakes.changed_sample())
    names = tuple(result.samples)
    gap = Difference(names, 0.05, -0.01, 0.11, None, 4.0, 0.95, "t3")
    alone = replace(gap, difference=0.02, low=None, high=None)
    found = (SampleDifference("gelatin", gap), SampleDifference("gelatin", alone))
    return replace(result, comparisons=found)


@pytest.mark.parametrize("width", [85.0, 178.0])
def test_lines_stand_where_the_numbers_are(compared, width):
    figure = draw_comparison(compared, FigureSettings(width=width))
    amounts, gaps = figure.axes
    spans = [
        line.get_xdata() for line in gaps.lines if len(line.get_xdata()) == 2 and line.get_linewidth() > 1
    ]
    assert [tuple(np.round(span, 9)) for span in spans] == [(-1.0, 11.0)]
    marks = [line.get_xdata()[0] for line in gaps.lines if line.get_marker() == "o"]
    assert marks == pytest.approx([5.0, 2.0])
    drawn = [line.get_xdata()[0] for line in amounts.lines if line.get_marker() == "o"]
    expected = [
        100.0 * coating.presence.amount
        for sample in compared.samples.values()
        for coating in sample.coatings.values()
        if coating.presence.amount is not None
    ]
    assert drawn == pytest.approx(expected)
    texts = [text.get_text() for text in gaps.texts]
    assert texts[0].startswith(next(iter(compared.samples))[:8])
    for axes in figure.axes:
        low, high = axes.get_xlim()
        assert low < 0.0 < high


def test_the_data_beside_it_hold_every_line(compared):
    table = comparison_data(compared)
    assert list(table["what"]).count("difference") == 2
    row = table[table["what"] == "difference"].iloc[0]
    assert tuple(row.iloc[2:]) == pytest.approx((5.0, -1.0, 11.0))


def test_without_a_comparison_there_is_no_such_figure(compared):
    assert draw_comparison(replace(compared, comparisons=())) is None
    assert "differences" not in {picture.name for picture in pictures(replace(compared, comparisons=()))}
    (picture,) = [item for item in pictures(compared) if item.name == "differences"]
    assert "5.0 % (-1.0 to 11.0 %)" in picture.alternative
    assert render(picture.figure, "svg") == render(picture.figure, "svg")
