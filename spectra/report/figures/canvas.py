"""Drawing ground of the figures: panels with falling wavenumber, lines by role, files that repeat.

Each role has a colour, a line style and its name at the line itself, so a figure reads the same in grey
and to colour-blind eyes. Stretches the study leaves out are cut from the axis. Text from files and study
is drawn as plain text, never as a formula, and is escaped by the SVG writer. No date and no random
identifiers go into a file: same result, same bytes.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from html import escape
from typing import TYPE_CHECKING, Any, ParamSpec, TypeVar

import numpy as np

from spectra.errors import UsageError
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import visible
from spectra.units import FloatArray, Mask

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

P = ParamSpec("P")

R = TypeVar("R")

WIDTH = 7.2  # inches, a double column of most journals

LABEL_LETTERS = 22  # that fit the margin at the right

TINT_POINTS = 300  # of the range of spots in one panel: finer than it can be seen

FORMATS = ("svg", "png")

DOTS_PER_INCH = 300  # of PNG, what journals ask of a line and tone figure

INK, SOFT, TINT = "#1a1a1a", "#555555", "#d9d9d9"

STYLES: dict[str, dict[str, Any]] = {
    "bare": {"color": SOFT, "linestyle": (0, (4, 1.5)), "linewidth": 1.0},
    "neat": {"color": "#a34700", "linestyle": (0, (1.2, 1.2)), "linewidth": 1.2},
    "coated": {"color": "#00598f", "linestyle": "-", "linewidth": 1.1},
}

PARAMETERS: dict[str, Any] = {
    "svg.hashsalt": "coatproof",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial", "sans-serif"],
    "font.size": 8.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.6,
    "axes.titlesize": 8.0,
    "axes.edgecolor": INK,
    "text.color": INK,
    "text.parse_math": False,
    "path.simplify_threshold": 0.2,
}


def styled(draw: Callable[P, R]) -> Callable[P, R]:
    """Run ``draw`` with our drawing parameters, whatever the user's own are."""

    @wraps(draw)
    def drawn(*args: P.args, **options: P.kwargs) -> R:
        with _parameters():
            return draw(*args, **options)

    return drawn


@contextmanager
def _parameters() -> Iterator[None]:
    """Set matplotlib's defaults and ours on top; the user's come back afterwards."""
    import matplotlib as mpl

    kept: dict[Any, Any] = {
        key: value for key, value in mpl.rcParamsDefault.items() if not key.startswith("backend")
    }
    with mpl.rc_context(kept | PARAMETERS):
        yield


def new_figure(height: float) -> Figure:
    """Return an empty figure of our width, ``height`` in inches."""
    from matplotlib.figure import Figure  # slow to import: only when something is drawn

    return Figure(figsize=(WIDTH, height))


def panels(grid: FloatArray, usable: Mask, height: float) -> tuple[Figure, list[Axes]]:
    """Return a figure with one panel for each stretch in use, widths in proportion.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    usable : ndarray of bool, shape (n,)
    height
        In inches.

    Returns
    -------
    Figure
    list of Axes
        High wavenumbers first, each falling from left to right; the last has a margin for labels.
    """
    stretches = _stretches(grid, usable)
    figure = new_figure(height)
    ratios = [high - low for low, high in stretches]
    drawn = figure.subplots(1, len(stretches), squeeze=False, width_ratios=ratios, sharey=True)[0]
    figure.subplots_adjust(left=0.095, right=0.79, bottom=0.46 / height, top=1 - 0.06 / height, wspace=0.05)
    for axes, (low, high) in zip(drawn, stretches, strict=True):
        axes.set_xlim(high, low)
        axes.spines["left"].set_visible(False)
        axes.tick_params(axis="y", left=False, labelleft=False)
    for axes in drawn[1:]:
        axes.text(-0.012, 0.0, "/", transform=axes.transAxes, ha="right", va="center", fontsize=9)
    figure.text(0.4425, 0.06 / height, DRAWN["axis"], ha="center", va="bottom")
    return figure, list(drawn)


def _stretches(grid: FloatArray, usable: Mask) -> list[tuple[float, float]]:
    """Return the limits of the stretches in use, highest first."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], usable, [False]]).astype(int)))
    pairs = [(grid[a], grid[b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
    return [(float(low), float(high)) for low, high in pairs[::-1]] or [(float(grid[0]), float(grid[-1]))]


def within(axes: Axes, grid: FloatArray) -> slice:
    """Return the part of the grid that the panel shows."""
    high, low = axes.get_xlim()
    return slice(int(np.searchsorted(grid, low)), int(np.searchsorted(grid, high, side="right")))


def draw_line(axes: Axes, grid: FloatArray, values: FloatArray, role: str) -> None:
    """Draw a spectrum in the style of its role, within its panel."""
    shown = within(axes, grid)
    axes.plot(grid[shown], values[shown], **STYLES[role])


def draw_range(axes: Axes, grid: FloatArray, low: FloatArray, high: FloatArray, colour: str) -> None:
    """Tint the range between two curves; thinned so that no extreme is lost."""
    shown = within(axes, grid)
    starts = np.arange(0, grid[shown].size, max(1, grid[shown].size // TINT_POINTS))
    if starts.size > 1:
        lowest, highest = np.minimum.reduceat(low[shown], starts), np.maximum.reduceat(high[shown], starts)
        axes.fill_between(grid[shown][starts], lowest, highest, color=colour, linewidth=0)


def label_line(axes: Axes, height: float, words: tuple[str, ...], role: str) -> None:
    """Name a line at its right-hand end, each word on a line of its own, cut to fit the margin."""
    text = "\n".join(shortened(word) for word in words)
    at = axes.get_yaxis_transform()
    axes.text(1.03, height, text, transform=at, color=STYLES[role]["color"], va="center", clip_on=False)


def shortened(text: str) -> str:
    """Cut a label to what the margin holds, without letters that a drawing cannot hold.

    Examples
    --------
    >>> shortened("a sample with quite a long name")
    'a sample with quite a…'
    """
    text = visible(text, "\N{REPLACEMENT CHARACTER}")
    return text if len(text) <= LABEL_LETTERS else f"{text[: LABEL_LETTERS - 1].rstrip()}…"


@styled
def render(figure: Figure, form: str = "svg") -> bytes:
    """Return a figure as the bytes of an SVG or PNG file; the same figure gives the same bytes.

    Raises
    ------
    UsageError
        For another format.
    """
    if form not in FORMATS:
        raise UsageError(f"a figure can be written as {' or '.join(FORMATS)}, not as {form!r}")
    target = io.BytesIO()
    still: dict[str, Any] = {"svg": {"Date": None, "Creator": None}, "png": {"Software": None}}[form]
    figure.savefig(target, format=form, metadata=still, dpi=DOTS_PER_INCH)
    return _coarse(target.getvalue()) if form == "svg" else target.getvalue()


def _coarse(svg: bytes) -> bytes:
    """Cut the coordinates of paths to a hundredth of a point, which no eye or press resolves."""
    return re.sub(rb' d="[^"]*"', lambda path: re.sub(rb"(\.\d\d)\d+", rb"\1", path[0]), svg)


def inline(figure: Figure, label: str) -> str:
    """Return a figure as an ``<svg>`` element for a page: no prolog, no style or identifiers that leak.

    Parameters
    ----------
    figure
        To be drawn.
    label
        Read out in place of the picture.
    """
    text = render(figure).decode()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'<style type="text/css">.*?</style>\s*', "", text, flags=re.DOTALL)
    text = re.sub(r' id="(?![pm][0-9a-f]{10}")[^"]*"', "", text)  # markers and clips are referred to
    named = f'<svg role="img" aria-label="{escape(label)}" stroke-linejoin="round"'
    return text.replace("<svg", named, 1)
