"""The overlay: bare, coated and neat spectra above each other on one scale, bands named at the neat line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.errors import UsageError
from spectra.report.figures.canvas import (
    COMPUTED,
    INK,
    SOFT,
    STYLES,
    axis_title,
    beside,
    draw_line,
    draw_tint,
    localised,
    new_figure,
    of,
    spectral_panels,
    stretches,
    width_of,
    within,
    write,
)
from spectra.report.figures.labels import SMALL, fitting, shortened, spread, text_width
from spectra.report.figures.settings import FigureSettings
from spectra.report.words.captions import DRAWN, neat_label
from spectra.report.words.numerals import exact, fixed
from spectra.spectrum import Stack
from spectra.units import FloatArray, Mask

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# From top to foot of the overlay.
OVERLAY_ROLES = ("neat", "coated", "bare")

TINTS = {"bare": "#dedede", "neat": "#f2e0d0", "coated": "#d3dfec"}

LINE = 13.0  # mm of paper for one line

LABELS_HIGH, NAME_HIGH = 7.6, 5.6  # mm for the labels above a neat line, and for its name above them

APART = 2.2  # mm between the labels of bands, more than a space within one

VISIBLE = 0.15  # mm: a tint thinner than this is not drawn

HEAD = 3.0  # mm above the highest line

FOOT, MARGIN = 11.0, 7.0  # mm below the axis, and at either side

Stacks = Mapping[tuple[str, str], Stack]


@dataclass(frozen=True, eq=False)
class Trace:
    """One line of an overlay: the mean of a group and the scatter of its spots, scaled for drawing."""

    words: tuple[str, ...]
    role: str
    name: str
    stack: Stack
    scale: float

    @property
    def mean(self) -> FloatArray:
        """Mean of the spots as drawn, shape (n,)."""
        return self.stack.mean * self.scale

    @property
    def scatter(self) -> FloatArray:
        """Standard deviation of the spots as drawn, shape (n,); zero for one spot."""
        rows = self.stack.absorbance * self.scale
        return np.asarray(rows.std(axis=0, ddof=1) if len(rows) > 1 else np.zeros(rows.shape[1]))

    @property
    def reach(self) -> float:
        """Highest minus lowest value as drawn."""
        return _reach(self.stack) * self.scale


@dataclass(frozen=True)
class BandLabel:
    """A band to be named: where it stands, cm-1, and what it is called; either may be left out in drawing."""

    position: float
    assignment: str = ""

    def lines(self, labels: str) -> tuple[str, ...]:
        """Return the lines of text to draw, from the top."""
        number = fixed(self.position, 0)
        both = (self.assignment, number) if self.assignment else (number,)
        return {"both": both, "assignment": both[:1], "position": (number,), "none": ()}[labels]


def traces(stacks: Stacks, samples: Sequence[str] = ()) -> tuple[Trace, ...]:
    """Return the lines of an overlay, neat on top, then the samples, bare at the foot.

    A neat spectrum is scaled to the highest of the others, and its label says by how much.

    Parameters
    ----------
    stacks
        By ``(role, group)``, as in :class:`~spectra.verification.result.Stages`.
    samples
        Those to draw, in this order; empty for all.

    Raises
    ------
    UsageError
        If a sample is not there.
    """
    known = [name for role, name in stacks if role == "coated"]
    for name in samples:
        if name not in known:
            raise UsageError(f"no sample {name!r} to draw; there are {', '.join(known)}")
    highest = max((_reach(stack) for (role, _), stack in stacks.items() if role != "neat"), default=None)
    names = {"coated": list(samples or known)}
    chosen = [
        (wanted, name)
        for wanted in OVERLAY_ROLES
        for name in names.get(wanted, [name for role, name in stacks if role == wanted])
    ]
    return tuple(_trace(role, name, stacks[role, name], highest) for role, name in chosen)


def _trace(role: str, name: str, stack: Stack, highest: float | None) -> Trace:
    if role != "neat":
        return Trace((DRAWN["bare"] if role == "bare" else name,), role, name, stack, 1.0)
    scale = 1.0 if highest is None else highest / _reach(stack)
    return Trace((name, neat_label(scale)), role, name, stack, scale)


def _reach(stack: Stack) -> float:
    return float(np.ptp(stack.mean[stack.usable])) or 1.0


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
            _name_bands(drawn, line, labels, foot, (unit, settings.labels))
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
    shift = foot - float(line.mean[usable & _covered(drawn, grid)].min())
    mean, scatter = line.mean + shift, line.scatter
    for axes in drawn:
        if scatter[within(axes, grid)].max(initial=0.0) > VISIBLE * unit:
            draw_tint(axes, grid, mean - scatter, mean + scatter, TINTS[line.role])
        draw_line(axes, grid, mean, line.role)
    if not labelled:
        _name_line(drawn[0], line, mean, unit)


def _covered(drawn: Sequence[Axes], grid: FloatArray) -> Mask:
    """Tell which points the panels show."""
    limits = [sorted(axes.get_xlim()) for axes in drawn]
    return np.asarray(np.any([(grid >= low) & (grid <= high) for low, high in limits], axis=0))


def _name_line(axes: Axes, line: Trace, mean: FloatArray, unit: float) -> None:
    """Write the name of a line at its left end, above whatever it does there."""
    room = width_of(axes)
    text = shortened(", ".join(line.words), max(room - 1.0, 40.0))
    high, low = axes.get_xlim()
    end = high - (high - low) * min(1.0, (text_width(text) + 1.0) / room)
    near = line.stack.usable & (line.stack.grid >= end) & (line.stack.grid <= high)
    top = float(mean[near].max()) if near.any() else float(mean[line.stack.usable].min())
    _write_name(axes, line, text, top + 0.9 * unit)


def _write_name(axes: Axes, line: Trace, text: str, height: float) -> None:
    write(axes, axes.get_xlim()[0], height, text, ha="left", color=STYLES[line.role]["color"])


def _name_bands(
    drawn: Sequence[Axes], line: Trace, labels: Sequence[BandLabel], foot: float, look: tuple[float, str]
) -> None:
    """Write labels above a neat line, the first ones as far as they fit, each with a leader to its band."""
    unit, which = look
    end = _across(drawn, min(drawn[-1].get_xlim()))
    sizes = {label: max(text_width(word, SMALL) for word in label.lines(which)) for label in labels}
    kept = labels[: fitting(list(sizes.values()), 0.85 * end, APART)]
    placed = sorted(kept, key=lambda label: -label.position)
    wanted = [_across(drawn, label.position) for label in placed]
    centres = spread(wanted, [sizes[label] for label in placed], 0.0, end, APART)
    base = foot + (LINE + 2.2) * unit
    for label, centre in zip(placed, centres, strict=True):
        _band_label(drawn, (label, label.lines(which)), centre, base, (line, foot, unit))
    _write_name(drawn[0], line, shortened(", ".join(line.words), end), base + (LABELS_HIGH - 0.6) * unit)


def _band_label(
    drawn: Sequence[Axes],
    label: tuple[BandLabel, tuple[str, ...]],
    centre: float,
    base: float,
    at: tuple[Trace, float, float],
) -> None:
    """Write one label and its leader; ``centre`` in mm from the left end of the panels."""
    (band, words), (line, foot, unit) = label, at
    shown = line.stack.usable & _covered(drawn, line.stack.grid)
    height = (
        float(np.interp(band.position, line.stack.grid, line.mean)) - float(line.mean[shown].min()) + foot
    )
    axes, place = _at(drawn, centre)
    for row, word in enumerate(reversed(words)):
        write(axes, place, base + row * 2.9 * unit, word, fontsize=SMALL, color=COMPUTED, clip_on=False)
    start = _at(drawn, _across(drawn, band.position))[1]
    home = _at(drawn, _across(drawn, band.position))[0]
    style: dict[str, Any] = {"color": SOFT, "lw": 0.4, "ls": "-", "clip_on": False, "zorder": 0.5}
    home.plot([start, start], [height + 0.5 * unit, base - 1.4 * unit], **style)
    if axes is home:
        home.plot([start, place], [base - 1.4 * unit, base - 0.5 * unit], **style)


def _across(drawn: Sequence[Axes], wavenumber: float) -> float:
    """Return how far from the left end of the first panel a wavenumber stands, mm."""
    wide = of(drawn[0]).get_size_inches()[0] * 25.4
    start = drawn[0].get_position().x0
    for axes in drawn:
        low, high = sorted(axes.get_xlim())
        if low <= wavenumber <= high:
            box = axes.get_position()
            return float((box.x0 - start + (high - wavenumber) / (high - low) * box.width) * wide)
    raise ValueError(f"{wavenumber} cm-1 is in no panel")


def _at(drawn: Sequence[Axes], across: float) -> tuple[Axes, float]:
    """Return the panel and the wavenumber (it may lie outside) at a distance from the left end, mm."""
    wide = of(drawn[0]).get_size_inches()[0] * 25.4
    start = drawn[0].get_position().x0 * wide
    boxes = [axes.get_position() for axes in drawn]
    number = max((i for i, box in enumerate(boxes) if box.x0 * wide - start <= across + 1e-9), default=0)
    axes, box = drawn[number], boxes[number]
    high, low = axes.get_xlim()
    return axes, float(high - (across - (box.x0 * wide - start)) / (box.width * wide) * (high - low))


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
