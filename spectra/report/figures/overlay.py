"""The overlay: bare, coated and neat spectra above each other on one scale, bands named at the neat line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from spectra.errors import UsageError
from spectra.report.figures.axis import axis_title, spectral_panels, stretches
from spectra.report.figures.band_labels import (
    LABELS_HIGH,
    NAME_HIGH,
    BandLabel,
    covered,
    name_bands,
    write_name,
)
from spectra.report.figures.canvas import (
    INK,
    SOFT,
    beside,
    draw_line,
    draw_tint,
    localised,
    new_figure,
    width_of,
    within,
    write,
)
from spectra.report.figures.labels import SMALL, shortened, text_width
from spectra.report.figures.settings import FigureSettings
from spectra.report.figures.traces import LINE, Stacks, Trace, traces
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact
from spectra.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


TINTS = {"bare": "#dedede", "neat": "#f2e0d0", "coated": "#d3dfec"}


VISIBLE = 0.15  # mm: a tint thinner than this is not drawn

HEAD = 3.0  # mm above the highest line

FOOT, MARGIN = 11.0, 7.0  # mm below the axis, and at either side


def overlay_figure(
    stacks: Stacks,
    settings: FigureSettings | None = None,
    bands: Mapping[str, Sequence[BandLabel]] | None = None,
    quantity: str = DRAWN["absorbance"],
    note: str = "",
) -> Figure:
    """Draw bare, neat and coated spectra above each other on one scale.

    Parameters
    ----------
    stacks
        By ``(role, group)``, all on one grid; roles other than bare, neat and coated are not drawn.
    settings : FigureSettings
    bands
        By coating: bands to name above its neat line.
    quantity
        What the ordinates are.
    note
        Said at the head of the figure, in lines.

    Raises
    ------
    UsageError
        If there is nothing to draw.
    """
    settings = settings or FigureSettings()
    lines = traces(stacks, settings.samples)
    if not lines:
        raise UsageError("nothing to draw: give at least one bare, neat or coated spectrum")
    inner = settings.width - 2 * MARGIN
    head = 3.2 * (note.count("\n") + 1) if note else 0.0
    height = overlay_height(lines, settings, bands or {}) + FOOT + head
    figure = new_figure(settings.width, height)
    place = (MARGIN, FOOT, inner, height - FOOT - head)
    drawn = draw_overlay(figure, place, lines, settings, bands or {})
    scale_bar(drawn[0], max(line.reach for line in lines), quantity)
    axis_title(drawn)
    if note:
        _note(figure, note)
    return localised(figure, settings.decimal)


def overlay_height(
    lines: Sequence[Trace], settings: FigureSettings, bands: Mapping[str, Sequence[BandLabel]]
) -> float:
    """Return how high the panel of an overlay is, mm: one height a line, and the labels of neat lines."""
    named = sum(bool(bands.get(line.name)) for line in lines if line.role == "neat")
    labels = named * (LABELS_HIGH + NAME_HIGH) if settings.labels != "none" else 0.0
    return LINE * (1.0 + max(settings.offset, 0.15) / 1.05 * (len(lines) - 1)) + labels + HEAD


def draw_overlay(
    figure: Figure,
    place: tuple[float, float, float, float],
    lines: Sequence[Trace],
    settings: FigureSettings,
    bands: Mapping[str, Sequence[BandLabel]],
) -> list[Axes]:
    """Draw the lines into ``place`` (left, bottom, width, height in mm) and return its panels."""
    first = lines[0].stack
    parts = stretches(first.grid, first.usable, settings.region)
    drawn = spectral_panels(figure, place, parts, even=bool(settings.region))
    unit = max(line.reach for line in lines) / LINE  # absorbance of one mm
    foot = 0.0
    for line in reversed(lines):
        labels = [label for label in bands.get(line.name, ()) if _inside(label, parts)]
        labelled = line.role == "neat" and bool(labels) and settings.labels != "none"
        _draw_trace(drawn, line, foot, unit, labelled)
        if labelled:
            name_bands(drawn, line, labels, foot, (unit, settings.labels))
            foot += (LABELS_HIGH + NAME_HIGH) * unit
        foot += settings.offset * LINE * unit
    for axes in drawn:
        axes.set_ylim(-1.6 * unit, (place[3] - 1.6) * unit)
    return drawn


def _inside(label: BandLabel, parts: Sequence[tuple[float, float]]) -> bool:
    return any(low <= label.position <= high for low, high in parts)


def _draw_trace(drawn: Sequence[Axes], line: Trace, foot: float, unit: float, labelled: bool) -> None:
    """Draw one line with its scatter, its lowest point at ``foot``; name it unless its bands are."""
    grid, usable = line.stack.grid, line.stack.usable
    shift = foot - float(line.mean[usable & covered(drawn, grid)].min())
    mean, scatter = line.mean + shift, line.scatter
    for axes in drawn:
        if scatter[within(axes, grid)].max(initial=0.0) > VISIBLE * unit:
            draw_tint(axes, grid, mean - scatter, mean + scatter, TINTS[line.role])
        draw_line(axes, grid, mean, line.role)
    if not labelled:
        _name_line(drawn[0], line, mean, unit)


def _name_line(axes: Axes, line: Trace, mean: FloatArray, unit: float) -> None:
    """Write the name of a line at its left end, above whatever it does there."""
    room = width_of(axes)
    text = shortened(", ".join(line.words), max(room - 1.0, 40.0))
    high, low = axes.get_xlim()
    end = high - (high - low) * min(1.0, (text_width(text) + 1.0) / room)
    near = line.stack.usable & (line.stack.grid >= end) & (line.stack.grid <= high)
    top = float(mean[near].max()) if near.any() else float(mean[line.stack.usable].min())
    write_name(axes, line, text, top + 0.9 * unit)


def scale_bar(axes: Axes, highest: float, quantity: str) -> None:
    """Draw a bar of round height: the lines are shifted, so only differences of height mean anything."""
    size = float(f"{highest / 3:.0e}")  # one digit
    bar: dict[str, Any] = {"color": INK, "lw": 1.2, "ls": "-", "clip_on": False, "solid_capstyle": "butt"}
    axes.plot([0.0, 0.0], [0.0, size], transform=beside(axes, -2.2), **bar)
    words = f"{exact(size)} {quantity}".strip()
    at = {"transform": beside(axes, -3.2), "rotation": 90.0, "va": "bottom", "ha": "right"}
    write(axes, 0.0, 0.0, words, fontsize=SMALL, **at)


def _note(figure: Figure, note: str) -> None:
    high = figure.get_size_inches()[1] * 25.4
    wide = figure.get_size_inches()[0] * 25.4
    for number, line in enumerate(note.split("\n")):
        figure.text(
            MARGIN / wide, 1.0 - (2.4 + 3.2 * number) / high, shortened(line, wide - 2 * MARGIN, SMALL),
            family="DejaVu Sans", fontsize=SMALL, color=SOFT, ha="left", va="center", usetex=False,
            parse_math=False,
        )  # fmt: skip
