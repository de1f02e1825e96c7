"""Drawings: axis, repeatability, untrusted labels, and what survives print in grey."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from spectra.errors import UsageError
from spectra.report.figures.canvas import STYLES, inline, render, shortened
from spectra.report.figures.overlay import difference_figure, overlay_figure, traces
from spectra.report.figures.positions import Window, position_figure
from spectra.spectrum import Stack
from spectra.verification.result import SampleFinding
from tests import fakes

BARE = ("bare", "substrate")
NEAT = ("neat", "gelatin")


@pytest.fixture(scope="module")
def stacks() -> dict[tuple[str, str], Stack]:
    return dict(fakes.verification().stages.levelled)


def difference(sample: SampleFinding, stacks: dict[tuple[str, str], Stack]) -> Figure:
    return difference_figure(sample, stacks[BARE], {"gelatin": stacks[NEAT]})


def positions(sample: SampleFinding, stacks: dict[tuple[str, str], Stack]) -> Figure | None:
    return position_figure(sample, sample.coatings["gelatin"], stacks[BARE], stacks[NEAT])


# Wavenumber falls from left to right: the convention of the trade (IUPAC recommends it for infrared).
def test_wavenumber_falls_and_left_out_stretches_are_cut(stacks: dict[tuple[str, str], Stack]) -> None:
    for figure in (overlay_figure(stacks), difference(fakes.good_sample(), stacks)):
        limits = [axes.get_xlim() for axes in figure.axes]
        assert limits == [(3550.0, 2700.0), (1900.0, 700.0)]


def heads_and_ticks(figure: Figure | None) -> tuple[list[str], list[list[int]]]:
    """Heads of the small windows, and the wavenumbers at each foot from left to right."""
    assert figure is not None
    texts = sorted(
        figure.axes[0].texts, key=lambda text: (-round(text.get_position()[1], 3), text.get_position()[0])
    )
    words = [text.get_text() for text in texts]
    heads = [word for word in words if "cm" in word]
    ticks = [int(word) for word in words if word.isdigit()]
    return heads, [ticks[i : i + 3] for i in range(0, len(ticks), 3)]


def test_small_figures_fall_too_and_show_every_unmasked_band(stacks: dict[tuple[str, str], Stack]) -> None:
    heads, ticks = heads_and_ticks(positions(fakes.good_sample(), stacks))
    assert heads == ["1655 cm⁻¹", "1549 cm⁻¹", "1245 cm⁻¹, not seen"]
    assert all(left > middle > right for left, middle, right in ticks)
    assert [middle for _, middle, _ in ticks] == [1655, 1549, 1245]


def test_a_shifted_band_is_drawn_where_it_was_found(stacks: dict[tuple[str, str], Stack]) -> None:
    found = fakes.changed_sample().coatings["gelatin"].bands[0]
    window = Window(found, 0, 0.0)
    figure = positions(fakes.changed_sample(), stacks)
    assert figure is not None
    assert found.found_position is not None
    drawn = [line.get_xdata() for line in figure.axes[0].lines if line.get_marker() == "o"]
    points = np.ravel(np.asarray(drawn, dtype=float))
    assert points == pytest.approx(np.ravel(window.across(found.found_position)))
    assert 0.5 < points[0] < 0.92  # to the right of the expected position: lower wavenumber


def test_all_bands_masked_draws_nothing(stacks: dict[tuple[str, str], Stack]) -> None:
    assert positions(fakes.doubtful_sample(), stacks) is None


def test_neat_stands_on_top_scaled_to_the_highest_and_says_so(stacks: dict[tuple[str, str], Stack]) -> None:
    lines = traces(stacks)
    assert [line.role for line in lines] == ["neat", "coated", "coated", "coated", "coated", "bare"]
    assert lines[0].reach == pytest.approx(max(line.reach for line in lines[1:]), rel=1e-12)
    factor = lines[0].scale
    assert lines[0].words == ("gelatin", f"neat × {factor:.2f}")


def test_nothing_drawn_leaves_the_figure(stacks: dict[tuple[str, str], Stack]) -> None:
    neat = stacks[NEAT]
    uneven = neat.with_absorbance(neat.absorbance * np.array([[0.2], [3.0]]) + 0.7)  # raised, spots far apart
    figure = overlay_figure({BARE: stacks[BARE], NEAT: uneven})
    low, high = figure.axes[0].get_ylim()
    drawn = [np.asarray(tint.get_paths()[0].vertices)[:, 1] for tint in figure.axes[1].collections]
    assert low < min(values.min() for values in drawn)
    assert max(values.max() for values in drawn) < high


def test_nothing_to_draw_is_an_error() -> None:
    with pytest.raises(UsageError, match="nothing to draw: give at least one"):
        overlay_figure({})


def test_one_spectrum_alone_can_be_drawn(stacks: dict[tuple[str, str], Stack]) -> None:
    alone = {NEAT: stacks[NEAT].take([0])}
    assert traces(alone)[0].scale == 1.0
    assert b"<svg" in render(overlay_figure(alone))


@pytest.mark.parametrize("form", ["svg", "png"])
def test_same_result_same_bytes(form: str, stacks: dict[tuple[str, str], Stack]) -> None:
    first, second = (render(overlay_figure(stacks), form) for _ in range(2))
    assert first == second
    assert first.startswith({"svg": b"<?xml", "png": b"\x89PNG"}[form])
    assert not re.search(rb"20\d\d-\d\d-\d\d|[Mm]atplotlib v", first)


def test_another_format_is_an_error(stacks: dict[tuple[str, str], Stack]) -> None:
    with pytest.raises(UsageError, match="svg or png, not as 'gif'"):
        render(overlay_figure(stacks), "gif")


def test_the_users_own_parameters_neither_matter_nor_change(stacks: dict[tuple[str, str], Stack]) -> None:
    plain = render(overlay_figure(stacks))
    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "black", "text.usetex": False}):
        kept = dict(mpl.rcParams)
        assert render(overlay_figure(stacks)) == plain
        assert dict(mpl.rcParams) == kept


# The dollar signs would be an unfinished formula; the tags would end the drawing.
@pytest.mark.parametrize(
    "name", ["\x00\x1b[2J", "$x_{$", "</text></svg><script>alert(1)</script>", 'a" onload="x', "ä\u202e µ"]
)
def test_untrusted_names_are_drawn_as_they_are(name: str, stacks: dict[tuple[str, str], Stack]) -> None:
    named = {BARE: stacks[BARE], ("coated", name): stacks[BARE], ("neat", name): stacks[NEAT]}
    sample = replace(fakes.good_sample(), name=name)
    for figure in (overlay_figure(named), difference(sample, stacks)):
        text = inline(figure, name)
        assert "<script" not in text
        assert " onload=" not in re.sub(r">[^<]*<", "><", text).replace("&quot; onload=", "")
        assert text.count("<svg") == text.count("</svg>") == 1
        ElementTree.fromstring(render(figure))


def test_long_names_are_cut_to_the_margin() -> None:
    assert shortened("x" * 22) == "x" * 22
    assert shortened("x" * 23) == "x" * 21 + "…"


def test_inline_drawings_keep_nothing_that_leaks_into_the_page(stacks: dict[tuple[str, str], Stack]) -> None:
    text = inline(overlay_figure(stacks), "Bare, neat & coated")
    assert text.startswith('<svg role="img" aria-label="Bare, neat &amp; coated"')
    assert not re.search(r"<style|<metadata|<!DOCTYPE|<\?xml", text)
    used = set(re.findall(r'(?:url\(#|href="#)([^")]+)', text))
    assert used == set(re.findall(r' id="([^"]+)"', text))


def luminance(colour: Any) -> float:
    """Relative luminance of sRGB (IEC 61966-2-1; WCAG 2.1 gives the same formula)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def test_roles_differ_by_line_and_stand_out_from_paper() -> None:
    assert len({str(style["linestyle"]) for style in STYLES.values()}) == len(STYLES)
    contrasts = {role: 1.05 / (luminance(style["color"]) + 0.05) for role, style in STYLES.items()}
    assert min(contrasts.values()) > 4.5, contrasts  # WCAG 2.1, 1.4.3: text against its ground


def test_thinning_the_tint_loses_no_extreme(stacks: dict[tuple[str, str], Stack]) -> None:
    bare = stacks[BARE]
    rows = bare.absorbance.copy()
    spike = int(np.argmin(np.abs(bare.grid - 1001.0)))
    rows[0, spike] += 0.5
    figure = overlay_figure({BARE: bare.with_absorbance(rows)})
    (tint,) = figure.axes[1].collections
    drawn = tint.get_paths()[0].vertices
    foot = rows.mean(axis=0)[bare.usable].min()  # drawn at zero
    highest = rows[:, bare.grid < 1900].max() - foot
    assert np.max(np.asarray(drawn)[:, 1]) == pytest.approx(highest, abs=1e-12)


def test_the_expected_share_is_drawn_where_it_is_known(stacks: dict[tuple[str, str], Stack]) -> None:
    sample = fakes.good_sample()
    known = replace(sample, expected={"gelatin": np.full_like(fakes.GRID, 0.0123)})
    plain, better = ({line_heights(difference(one, stacks))} for one in (sample, known))
    assert 0.0123 in next(iter(better))
    assert 0.0123 not in next(iter(plain))


def line_heights(figure: Figure) -> tuple[float, ...]:
    """Highest value of every line in the widest panel."""
    return tuple(float(np.max(np.asarray(line.get_ydata(), dtype=float))) for line in figure.axes[1].lines)


def test_gaps_in_the_difference_are_no_obstacle(stacks: dict[tuple[str, str], Stack]) -> None:
    sample = fakes.doubtful_sample()
    assert np.isnan(sample.difference).any()
    low, high = difference(sample, stacks).axes[0].get_ylim()
    assert np.isfinite([low, high]).all()
