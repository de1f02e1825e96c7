"""Drawing ground of the figures: paper sizes, panels of falling wavenumber, lines by role, files that repeat.

A role has one line style and one colour everywhere: what was measured on coated spots is a dark solid
line, what was computed or is neat is lighter, what is bare is grey; names stand at the lines, so a figure
reads the same in grey and to colour-blind eyes. Stretches the study leaves out are cut from the axis. Text
from files and study is drawn as plain text, never as a formula, and is escaped by the SVG writer.

Every property of what is drawn is given here, so that the caller's matplotlib settings neither matter nor
change. Only while a file is written does matplotlib ask its process-wide settings; that is done under a
lock, with the settings put back. No date and no random identifiers go into a file: same result, same bytes.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.report.figures.labels import FAMILY, TEXT
from spectra.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text
    from matplotlib.transforms import Transform

INCH = 25.4  # mm

TINT_POINTS = 120  # of a tint in one panel: finer than it can be seen


INK, SOFT, TINT, PAPER = "#1a1a1a", "#5a5a5a", "#dcdcdc", "#ffffff"

MEASURED, COMPUTED, BARE = "#0b3f73", "#a8500a", "#6b6b6b"

DASHED = (0, (3.2, 1.6))

STYLES: dict[str, dict[str, Any]] = {
    "bare": {"color": BARE, "linestyle": "-", "linewidth": 0.8},
    "neat": {"color": COMPUTED, "linestyle": "-", "linewidth": 0.8},
    "computed": {"color": COMPUTED, "linestyle": DASHED, "linewidth": 1.0},
    "coated": {"color": MEASURED, "linestyle": "-", "linewidth": 1.0},
}


def new_figure(width: float, height: float) -> Figure:
    """Return an empty white figure, sizes in mm."""
    from matplotlib.figure import Figure  # slow to import: only when something is drawn

    size = (width / INCH, height / INCH)
    plain: dict[str, Any] = {"layout": "none"}  # whatever layout the caller's settings ask for
    return Figure(figsize=size, dpi=100, facecolor=PAPER, edgecolor=PAPER, **plain)


def add_panel(figure: Figure, left: float, bottom: float, width: float, height: float) -> Axes:
    """Return axes without frame, ticks or grid, placed in mm from the lower left corner."""
    wide, high = figure.get_size_inches() * INCH
    place = (left / wide, bottom / high, width / wide, height / high)
    axes = figure.add_axes(place, facecolor="none", xscale="linear", yscale="linear")
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.minorticks_off()
    axes.grid(False, which="both")
    axes.set_axisbelow(True)
    sides: dict[str, Any] = dict.fromkeys(("left", "right", "top", "bottom"), False)
    axes.tick_params(which="both", **(sides | {f"label{side}": False for side in sides}))
    return axes


def write(axes: Axes, x: float, y: float, text: str, **options: Any) -> Text:
    """Write plain text: our font, no formula, 8 pt unless said otherwise."""
    given: dict[str, Any] = {
        "fontsize": TEXT,
        "color": INK,
        "ha": "center",
        "va": "baseline",
        "rotation": 0.0,
    }
    return axes.text(
        x, y, text, family=FAMILY, fontweight="normal", fontstyle="normal", usetex=False, parse_math=False,
        **(given | options),
    )  # fmt: skip


def letter(figure: Figure, left: float, top: float, name: str) -> None:
    """Write the letter of a panel, mm from the upper left corner."""
    wide, high = figure.get_size_inches() * INCH
    place = (left / wide, 1.0 - top / high)
    figure.text(
        *place, name, family=FAMILY, fontsize=9.0, fontweight="bold", color=INK, ha="left", va="top",
        usetex=False, parse_math=False,
    )  # fmt: skip


def of(axes: Axes) -> Figure:
    """Return the figure that a panel stands in."""
    figure = axes.get_figure(root=True)
    if figure is None:
        raise ValueError("the panel stands in no figure")
    return figure


def width_of(axes: Axes) -> float:
    """Return the width of a panel, mm."""
    return float(axes.get_position().width * of(axes).get_size_inches()[0] * INCH)


def beside(axes: Axes, right: float) -> Transform:
    """Return a transform of panel share along and data height up, moved ``right`` by so many mm."""
    from matplotlib.transforms import ScaledTranslation, blended_transform_factory

    shift = ScaledTranslation(right / INCH, 0.0, of(axes).dpi_scale_trans)
    return blended_transform_factory(axes.transAxes, axes.transData) + shift


def shifted(axes: Axes, right: float) -> Transform:
    """Return the transform of the data, moved ``right`` by so many mm."""
    from matplotlib.transforms import ScaledTranslation

    return axes.transData + ScaledTranslation(right / INCH, 0.0, of(axes).dpi_scale_trans)


def within(axes: Axes, grid: FloatArray) -> slice:
    """Return the part of the grid that the panel shows."""
    high, low = axes.get_xlim()
    return slice(int(np.searchsorted(grid, low)), int(np.searchsorted(grid, high, side="right")))


def draw_line(axes: Axes, grid: FloatArray, values: FloatArray, role: str) -> None:
    """Draw a spectrum in the style of its role, within its panel."""
    shown = within(axes, grid)
    axes.plot(
        grid[shown], values[shown], marker="", solid_joinstyle="round", dash_capstyle="butt", **STYLES[role]
    )


def draw_tint(axes: Axes, grid: FloatArray, low: FloatArray, high: FloatArray, colour: str = TINT) -> None:
    """Tint the stretch between two curves; thinned so that no extreme is lost."""
    shown = within(axes, grid)
    starts = np.arange(0, grid[shown].size, max(1, grid[shown].size // TINT_POINTS))
    if starts.size > 1:
        lowest, highest = np.minimum.reduceat(low[shown], starts), np.maximum.reduceat(high[shown], starts)
        axes.fill_between(
            grid[shown][starts], lowest, highest, facecolor=colour, edgecolor="none", linewidth=0
        )


def localised(figure: Figure, decimal: str) -> Figure:
    """Return the figure with the decimal sign of every number in it changed."""
    from matplotlib.text import Text

    if decimal != ".":
        for text in figure.findobj(Text):
            assert isinstance(text, Text)
            text.set_text(re.sub(r"(?<=\d)\.(?=\d)", decimal, text.get_text()))
    return figure
