"""Drawings: axis, labels, repeatability, untrusted words, and what survives print in grey."""

from __future__ import annotations

import re
import threading
from dataclasses import replace
from itertools import combinations, pairwise
from typing import Any
from xml.etree import ElementTree

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from spectra.errors import SettingError, UsageError
from spectra.report.figures.axis import stretches
from spectra.report.figures.band_labels import BandLabel
from spectra.report.figures.canvas import STYLES
from spectra.report.figures.differences import deciding_region
from spectra.report.figures.files import inline, render
from spectra.report.figures.key import draw_key
from spectra.report.figures.labels import shortened, spread, text_width
from spectra.report.figures.overlay import overlay_figure
from spectra.report.figures.pictures import pictures
from spectra.report.figures.positions import Window, position_figure
from spectra.report.figures.settings import FigureSettings
from spectra.report.figures.traces import traces
from spectra.spectrum import Stack
from spectra.verification.result import SampleFinding, Verification
from tests import fakes

BARE = ("bare", "substrate")
NEAT = ("neat", "gelatin")


@pytest.fixture(scope="module")
def stacks() -> dict[tuple[str, str], Stack]:
    return dict(fakes.verification().stages.levelled)


def key(result: Verification | None = None, **choices: Any) -> Figure:
    return draw_key(result or fakes.verification(), FigureSettings(**choices))


def positions(sample: SampleFinding, stacks: dict[tuple[str, str], Stack]) -> Figure | None:
    coating = sample.coatings["gelatin"]
    return position_figure(sample, coating, stacks[BARE], 0.02 * stacks[NEAT].mean)


# Wavenumber falls from left to right: the convention of the trade (IUPAC recommends it for infrared).
def test_wavenumber_falls_and_left_out_stretches_are_cut(stacks: dict[tuple[str, str], Stack]) -> None:
    limits = [axes.get_xlim() for axes in overlay_figure(stacks).axes]
    assert limits == [(3550.0, 2700.0), (1900.0, 700.0)]
    assert all(axes.get_xlim()[0] > axes.get_xlim()[1] for axes in key().axes[:-1])


def test_the_scale_changes_at_2000_and_a_region_is_even() -> None:
    grid = np.arange(700.0, 3999.0, 2.0)
    whole = {("bare", "substrate"): Stack(grid, np.exp(-(((grid - 1700) / 40) ** 2))[None], ("a",), ("a",))}
    high, low = overlay_figure(whole).axes
    assert (high.get_xlim(), low.get_xlim()) == ((4000.0, 2000.0), (2000.0, 700.0))
    widths = [axes.get_position().width for axes in (high, low)]
    assert widths[0] / widths[1] == pytest.approx(0.5 * 2000.0 / 1300.0)
    (even,) = overlay_figure(whole, FigureSettings(region=(1300.0, 2200.0))).axes
    assert even.get_xlim()[1] == 1300.0


def ticks(figure: Figure) -> list[str]:
    return [label.get_text() for axes in figure.axes for label in axes.get_xticklabels() if label.get_text()]


def test_ticks_are_round_as_the_trade_writes_them() -> None:
    grid = np.arange(700.0, 3999.0, 2.0)
    rows = np.exp(-(((grid - 1700) / 40) ** 2))[None]
    whole = {("bare", "substrate"): Stack(grid, rows, ("a",), ("a",), (grid < 2280) | (grid > 2390))}
    assert {"4000", "3500", "3000", "1600", "1000"} <= set(ticks(overlay_figure(whole)))
    assert {"4000", "3000", "2000", "1000"} <= set(ticks(overlay_figure(whole, FigureSettings(width=85.0))))


def drawn_texts(figure: Figure) -> list[tuple[str, Any]]:
    """Every text with its box on the paper."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    return [
        (text.get_text(), text.get_window_extent(renderer))
        for text in figure.findobj(Text)
        if isinstance(text, Text) and text.get_text().strip() and text.get_visible()
    ]


def collisions(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes share more than a hair."""
    boxes = drawn_texts(figure)
    return [
        (one, two)
        for (one, a), (two, b) in combinations(boxes, 2)
        if min(a.x1, b.x1) - max(a.x0, b.x0) > 0.6 and min(a.y1, b.y1) - max(a.y0, b.y0) > 1.2
    ]


CROWDED = [BandLabel(position, "amide and more") for position in (1660.0, 1650.0, 1640.0, 1540.0, 1238.0)]


@pytest.mark.parametrize("width", [85.0, 178.0])
def test_no_text_lies_on_another(width: float, stacks: dict[tuple[str, str], Stack]) -> None:
    settings = FigureSettings(width=width)
    assert collisions(overlay_figure(stacks, settings, {"gelatin": CROWDED})) == []
    assert collisions(draw_key(fakes.verification(), settings)) == []


def test_the_watch_over_collisions_can_see_one(stacks: dict[tuple[str, str], Stack]) -> None:
    figure = overlay_figure(stacks)
    figure.text(0.5, 0.5, "one")
    figure.text(0.5, 0.5, "two")
    assert ("one", "two") in collisions(figure)


@pytest.mark.parametrize("width", [85.0, 178.0])
def test_nothing_is_cut_at_the_edge_of_the_paper(width: float) -> None:
    figure = key(width=width)
    wide, high = figure.get_size_inches() * figure.dpi
    for text, box in drawn_texts(figure):
        assert box.x0 > -1 and box.y0 > -1 and box.x1 < wide + 1 and box.y1 < high + 1, text  # noqa: PT018


@pytest.mark.parametrize("width", [85.0, 178.0])
def test_text_has_8_points_at_the_printed_width(width: float) -> None:
    figure = key(width=width)
    assert figure.get_size_inches()[0] * 25.4 == pytest.approx(width)
    sizes = {
        text.get_fontsize() for text in figure.findobj(Text) if isinstance(text, Text) and text.get_text()
    }
    assert min(sizes) >= 6.0
    assert 8.0 in sizes


def test_labels_are_spread_in_order_and_stay_inside() -> None:
    wanted = [10.0, 10.5, 11.0, 58.0]
    widths = [8.0, 8.0, 8.0, 8.0]
    placed = spread(wanted, widths, 0.0, 60.0)
    assert placed == sorted(placed)
    assert all(right - left >= 9.0 - 1e-9 for left, right in pairwise(placed))
    assert placed[0] >= 4.0 - 1e-9
    assert placed[-1] <= 56.0 + 1e-9
    assert spread([20.0], [8.0], 0.0, 60.0) == [20.0]


# The width of text is checked against matplotlib's own layout of it.
@pytest.mark.parametrize("text", ["1654", "amide I", "CH₂ wag × 0.81"])
def test_text_is_measured_as_it_is_drawn(text: str) -> None:
    figure = Figure(dpi=100)
    figure.text(0.1, 0.5, text, fontsize=8.0, family="DejaVu Sans")
    ((_, box),) = [each for each in drawn_texts(figure) if each[0] == text]
    assert text_width(text) == pytest.approx(box.width / 100 * 25.4, abs=0.4)


def test_choices_of_a_figure_are_kept(stacks: dict[tuple[str, str], Stack]) -> None:
    chosen = FigureSettings(samples=("rinsed", "aqueous"), labels="position", decimal=",")
    lines = traces(stacks, chosen.samples)
    assert [line.name for line in lines] == ["gelatin", "rinsed", "aqueous", "substrate"]
    figure = overlay_figure(stacks, chosen, {"gelatin": [BandLabel(1648.0, "amide I")]})
    words = {text for text, _ in drawn_texts(figure)}
    assert "1648" in words
    assert "amide I" not in words
    assert any(re.search(r"\d,\d", word) for word in words)
    assert not any(re.search(r"\d\.\d", word) for word in words)


def test_lines_may_lie_on_one_another(stacks: dict[tuple[str, str], Stack]) -> None:
    apart, together = (overlay_figure(stacks, FigureSettings(offset=offset)) for offset in (1.05, 0.0))
    assert together.get_size_inches()[1] < 0.5 * apart.get_size_inches()[1]


@pytest.mark.parametrize(
    ("choice", "message"),
    [
        ({"width": 20.0}, "setting 'width' of FigureSettings is 20.0 mm; expected 60 to 250 mm"),
        ({"labels": "all"}, "setting 'labels' of FigureSettings is 'all'; expected one of both, assignment"),
    ],
)
def test_a_choice_out_of_range_is_refused(choice: dict[str, Any], message: str) -> None:
    with pytest.raises(SettingError, match=re.escape(message)):
        FigureSettings(**choice)


def test_a_sample_or_region_that_is_not_there_is_refused(stacks: dict[tuple[str, str], Stack]) -> None:
    with pytest.raises(UsageError, match="no sample 'b' to draw; there are aqueous, "):
        traces(stacks, ("b",))
    bare = stacks[BARE]
    with pytest.raises(
        UsageError, match="nothing to draw at 2000 to 2500 cm-1; the spectra are used from 700 to"
    ):
        stretches(bare.grid, bare.usable, (2500.0, 2000.0))


def test_the_deciding_region_holds_the_bands_presence_rests_on() -> None:
    result = fakes.verification(fakes.good_sample())
    low, high = deciding_region(result, ["aqueous"])
    assert low < 1245.0 < 1655.4 < high < 3000.0


def heads_and_ticks(figure: Figure | None) -> tuple[list[str], list[int]]:
    """Heads of the small windows from left to right, and all wavenumbers at their feet."""
    assert figure is not None
    texts = sorted(figure.axes[0].texts, key=lambda text: text.get_position()[0])
    words = [text.get_text() for text in texts]
    return [word for word in words if "cm" in word], [int(word) for word in words if word.isdigit()]


def test_small_figures_fall_too_and_show_every_unmasked_band(stacks: dict[tuple[str, str], Stack]) -> None:
    heads, feet = heads_and_ticks(positions(fakes.good_sample(), stacks))
    assert heads == ["1655 cm⁻¹", "1549 cm⁻¹", "1245 cm⁻¹, not seen"]
    assert all(number % 10 == 0 for number in feet)
    falls = [left > right for left, right in pairwise(feet)]
    assert falls.count(False) <= 2  # only from one window to the next


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


def test_noise_is_not_blown_up_to_a_band(stacks: dict[tuple[str, str], Stack]) -> None:
    """Measured and computed share a scale: a window without the band shows how small the rest is."""
    sample, bare = fakes.silent_sample(), stacks[BARE]
    figure = position_figure(sample, sample.coatings["gelatin"], bare, 0.5 * stacks[NEAT].mean)
    assert figure is not None
    measured = [line for line in figure.axes[0].lines if line.get_color() == STYLES["coated"]["color"]]
    assert measured
    assert all(np.ptp(np.asarray(line.get_ydata(), dtype=float)) < 0.05 for line in measured)


@pytest.mark.parametrize("width", [40.0, 400.0, 1200.0, 6000.0])
def test_a_band_of_any_width_has_numbers_on_its_axis(
    stacks: dict[tuple[str, str], Stack], width: float
) -> None:
    # A neat spectrum stated in the wrong unit has "bands" as wide as the range.
    sample = fakes.changed_sample()
    coating = sample.coatings["gelatin"]
    wide = replace(coating, bands=tuple(replace(band, neat_width=width) for band in coating.bands))
    figure = position_figure(sample, wide, stacks[BARE], 0.02 * stacks[NEAT].mean)
    assert figure is not None
    assert any(text.get_text().strip().isdigit() for text in figure.findobj(Text))


def test_neat_stands_on_top_scaled_to_the_highest_and_says_so(stacks: dict[tuple[str, str], Stack]) -> None:
    lines = traces(stacks)
    assert [line.role for line in lines] == ["neat", "coated", "coated", "coated", "coated", "bare"]
    assert lines[0].reach == pytest.approx(max(line.reach for line in lines[1:]), rel=1e-12)
    factor = lines[0].scale
    assert lines[0].words == ("gelatin", f"neat × {factor:.2f}")


def test_nothing_to_draw_is_an_error() -> None:
    with pytest.raises(UsageError, match="nothing to draw: give at least one"):
        overlay_figure({})


def test_one_spectrum_alone_can_be_drawn(stacks: dict[tuple[str, str], Stack]) -> None:
    alone = {NEAT: stacks[NEAT].take([0])}
    assert traces(alone)[0].scale == 1.0
    assert b"<svg" in render(overlay_figure(alone))


@pytest.mark.parametrize("form", ["svg", "pdf", "png"])
def test_same_result_same_bytes(form: str, stacks: dict[tuple[str, str], Stack]) -> None:
    first, second = (render(overlay_figure(stacks), form) for _ in range(2))
    assert first == second
    assert first.startswith({"svg": b"<?xml", "pdf": b"%PDF", "png": b"\x89PNG"}[form])
    assert not re.search(rb"20\d\d-\d\d-\d\d|[Mm]atplotlib v", first)


def test_letters_of_a_file_need_no_font(stacks: dict[tuple[str, str], Stack]) -> None:
    """SVG has outlines, PDF embeds its font as TrueType (PDF 32000-1, 9.9: FontFile2)."""
    figure = overlay_figure(stacks)
    assert b"<text" not in render(figure)
    assert b"<text" in render(figure, outlines=False)
    printed = render(figure, "pdf")
    assert b"/FontFile2" in printed
    assert b"/Type3" not in printed


def test_a_picture_has_600_dots_an_inch(stacks: dict[tuple[str, str], Stack]) -> None:
    content = render(overlay_figure(stacks, FigureSettings(width=85.0)), "png")
    width = int.from_bytes(content[16:20], "big")  # PNG, ISO/IEC 15948, 11.2.2: width in the header chunk
    assert width == pytest.approx(85.0 / 25.4 * 600, abs=1)


def test_another_format_is_an_error(stacks: dict[tuple[str, str], Stack]) -> None:
    with pytest.raises(UsageError, match="svg or pdf or png, not as 'gif'"):
        render(overlay_figure(stacks), "gif")


STRANGE = {
    "font.size": 30.0, "axes.facecolor": "black", "axes.grid": True, "xtick.top": True, "figure.dpi": 40.0,
    "lines.linewidth": 9.0, "path.simplify": False, "text.color": "red", "axes.spines.left": True,
    "savefig.bbox": "tight", "xtick.minor.visible": True, "figure.constrained_layout.use": True,
}  # fmt: skip


def test_the_users_own_parameters_neither_matter_nor_change() -> None:
    plain = render(key())
    with mpl.rc_context(STRANGE):  # type: ignore[arg-type]
        kept = dict(mpl.rcParams)
        assert render(key()) == plain
        assert dict(mpl.rcParams) == kept


def test_threads_draw_the_same(stacks: dict[tuple[str, str], Stack]) -> None:
    plain, found = render(overlay_figure(stacks)), []
    threads = [
        threading.Thread(target=lambda: found.append(render(overlay_figure(stacks)))) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [plain] * 4


# Letters that the font lacks are drawn with stand-ins; our own writer does not warn of it.
@pytest.mark.filterwarnings("ignore:Glyph .* missing from")
# The dollar signs would be an unfinished formula; the tags would end the drawing.
@pytest.mark.parametrize(
    "name",
    [
        "\x00\x1b[2J",
        "$x_{$",
        "</text></svg><script>alert(1)</script>",
        'a" onload="x',
        "ä\u202e µ",
        "ゼラチン被膜",
        "a very long name of a sample that no margin holds, dried at 40 degrees",
    ],
)
def test_untrusted_names_are_drawn_as_they_are(name: str, stacks: dict[tuple[str, str], Stack]) -> None:
    named = {BARE: stacks[BARE], ("coated", name): stacks[BARE], ("neat", name): stacks[NEAT]}
    result = fakes.verification(replace(fakes.good_sample(), name=name))
    for figure in (overlay_figure(named), key(result)):
        text = inline(figure, name)
        assert "<script" not in text
        assert " onload=" not in re.sub(r">[^<]*<", "><", text).replace("&quot; onload=", "")
        assert text.count("<svg") == text.count("</svg>") == 1
        ElementTree.fromstring(render(figure))
        assert collisions(figure) == []


def test_long_names_are_cut_to_their_room() -> None:
    assert shortened("short", 40.0) == "short"
    cut = shortened("x" * 80, 40.0)
    assert cut.endswith("…")
    assert text_width(cut) <= 40.0 < text_width(f"xx{cut}")


def test_inline_drawings_keep_nothing_that_leaks_into_the_page(stacks: dict[tuple[str, str], Stack]) -> None:
    text = inline(overlay_figure(stacks), "Bare, neat & coated")
    assert text.startswith('<svg role="img" aria-label="Bare, neat &amp; coated"')
    assert not re.search(r"<style|<metadata|<!DOCTYPE|<\?xml", text)
    used = set(re.findall(r'(?:url\(#|href="#)([^")]+)', text))
    assert used == set(re.findall(r' id="([^"]+)"', text))
    assert "var(--ink)" in text  # so that a dark sheet can turn the colours


def luminance(colour: Any) -> float:
    """Relative luminance of sRGB (IEC 61966-2-1; WCAG 2.1 gives the same formula)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def test_roles_stand_out_from_paper_and_measured_from_computed_in_grey() -> None:
    contrasts = {role: 1.05 / (luminance(style["color"]) + 0.05) for role, style in STYLES.items()}
    assert min(contrasts.values()) > 4.5, contrasts  # WCAG 2.1, 1.4.3: text against its ground
    measured, computed = (luminance(STYLES[role]["color"]) + 0.05 for role in ("coated", "computed"))
    assert computed / measured > 1.5
    assert STYLES["coated"]["linestyle"] != STYLES["computed"]["linestyle"]


def test_thinning_the_tint_loses_no_extreme(stacks: dict[tuple[str, str], Stack]) -> None:
    bare = stacks[BARE]
    rows = bare.absorbance.copy()
    spike = int(np.argmin(np.abs(bare.grid - 1001.0)))
    rows[0, spike] += 0.5
    figure = overlay_figure({BARE: bare.with_absorbance(rows)})
    (tint,) = figure.axes[1].collections
    drawn = np.asarray(tint.get_paths()[0].vertices)[:, 1]
    mean, scatter = rows.mean(axis=0), rows.std(axis=0, ddof=1)
    highest = (mean + scatter)[bare.grid < 1900].max() - mean[bare.usable].min()
    assert np.max(drawn) == pytest.approx(highest, abs=1e-12)


def computed_lines(figure: Figure) -> list[Any]:
    return [
        line for axes in figure.axes for line in axes.lines if line.get_linestyle() == "--"
        and line.get_color() == STYLES["computed"]["color"]
    ]  # fmt: skip


def test_the_computed_film_is_drawn_where_it_is_known() -> None:
    sample = fakes.good_sample()
    known = replace(sample, expected={"gelatin": np.full_like(fakes.GRID, 0.0123)})
    heights = [
        np.ptp(np.asarray(line.get_ydata())) for line in computed_lines(key(fakes.verification(known)))
    ]
    assert heights
    assert max(heights) < 1e-9  # flat, as it was given
    others = computed_lines(key(fakes.verification(sample)))
    assert max(np.ptp(np.asarray(line.get_ydata())) for line in others) > 1.0


def test_gaps_in_the_difference_are_no_obstacle() -> None:
    sample = fakes.doubtful_sample()
    assert np.isnan(sample.difference).any()
    figure = key(fakes.verification(sample))
    assert all(np.isfinite(axes.get_ylim()).all() for axes in figure.axes)


def test_every_picture_has_caption_words_and_data() -> None:
    drawn = pictures(fakes.verification())
    names = [picture.name for picture in drawn]
    assert names[:2] == ["key", "overlay"]
    assert len(names) == len(set(names)) >= 8
    for picture in drawn:
        assert len(picture.caption) > 100
        assert len(picture.data) > 100
        assert all("/" in str(head) for head in picture.data.columns)
    assert (
        "aqueous: gelatin present, amount 2.10 % (1.52 to 2.68 %); chemistry unchanged."
        in drawn[0].alternative
    )
    assert "1655 cm-1: found at 1655 cm-1" in next(p for p in drawn if p.name.startswith("bands")).alternative


@pytest.mark.parametrize("number", [1, 12])
def test_one_and_twelve_samples_fit(number: int) -> None:
    samples = [replace(fakes.good_sample(), name=f"recipe {i}") for i in range(number)]
    for width in (85.0, 178.0):
        figure = key(fakes.verification(*samples), width=width)
        assert collisions(figure) == []
        assert figure.get_size_inches()[1] * 25.4 < 700
