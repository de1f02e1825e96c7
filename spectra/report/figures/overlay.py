"""The figures: overlay, difference, band positions. Each takes findings and returns a drawing.

``canvas.render`` turns a drawing into a file, ``canvas.inline`` into an element of a page.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from spectra.errors import UsageError
from spectra.findings import PRESENT
from spectra.report.figures.canvas import (
    INK,
    SOFT,
    STYLES,
    TINT,
    draw_line,
    draw_range,
    label_line,
    panels,
    shortened,
    styled,
)
from spectra.report.words.captions import DRAWN, neat_label
from spectra.report.words.numerals import exact
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.verification.result import SampleFinding

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# From top to foot of the overlay.
OVERLAY_ROLES = ("neat", "coated", "bare")

RANGE_TINTS = {"bare": "#dcdcdc", "neat": "#f0ddd0", "coated": "#cfe0ec"}


@dataclass(frozen=True, eq=False)
class Trace:
    """One line of an overlay: the mean of a group and the range of its spots, scaled for drawing."""

    words: tuple[str, ...]
    role: str
    stack: Stack
    scale: float

    @property
    def mean(self) -> FloatArray:
        """Mean of the spots as drawn, shape (n,)."""
        return self.stack.mean * self.scale

    @property
    def reach(self) -> float:
        """Highest minus lowest value as drawn."""
        return _reach(self.stack) * self.scale


def traces(stacks: Mapping[tuple[str, str], Stack]) -> tuple[Trace, ...]:
    """Return the lines of an overlay, neat on top, then the samples, bare at the foot.

    A neat spectrum is scaled to the highest of the others, and its label says by how much.

    Parameters
    ----------
    stacks
        By ``(role, group)``, as in :class:`~spectra.verification.result.Stages`.
    """
    highest = max((_reach(stack) for (role, _), stack in stacks.items() if role != "neat"), default=None)
    chosen = [(role, name) for wanted in OVERLAY_ROLES for role, name in stacks if role == wanted]
    return tuple(_trace(role, name, stacks[role, name], highest) for role, name in chosen)


def _trace(role: str, name: str, stack: Stack, highest: float | None) -> Trace:
    if role != "neat":
        return Trace((DRAWN["bare"] if role == "bare" else name,), role, stack, 1.0)
    scale = 1.0 if highest is None else highest / _reach(stack)
    return Trace((name, neat_label(scale)), role, stack, scale)


def _reach(stack: Stack) -> float:
    return float(np.ptp(stack.mean[stack.usable])) or 1.0


@styled
def overlay_figure(
    stacks: Mapping[tuple[str, str], Stack], quantity: str = DRAWN["absorbance"], note: str = ""
) -> Figure:
    """Draw bare, neat and coated spectra above each other on one scale.

    Parameters
    ----------
    stacks
        By ``(role, group)``, all on one grid; roles other than bare, neat and coated are not drawn.
    quantity
        What the ordinates are.
    note
        Said at the head of the figure, in lines.

    Raises
    ------
    UsageError
        If there is nothing to draw.
    """
    lines = traces(stacks)
    if not lines:
        raise UsageError("nothing to draw: give at least one bare, neat or coated spectrum")
    gap = 1.05 * max(line.reach for line in lines)
    first = lines[0].stack
    figure, drawn = panels(first.grid, first.usable, 0.8 + 0.75 * len(lines))
    tops = [_draw_trace(drawn, line, row * gap) for row, line in enumerate(reversed(lines))]
    drawn[0].set_ylim(-0.2 * gap, max(tops) + (0.4 if note else 0.05) * gap)
    _scale_bar(drawn[0], gap, quantity)
    if note:
        figure.suptitle(note, x=0.095, y=0.995, ha="left", va="top", fontsize=6.5, color=SOFT)
    return figure


def _draw_trace(drawn: list[Axes], line: Trace, foot: float) -> float:
    """Draw one line with its range, its lowest point at ``foot``, and name it; return its highest point."""
    grid, usable = line.stack.grid, line.stack.usable
    shift = foot - float(line.mean[usable].min())
    rows = line.stack.absorbance * line.scale + shift
    for axes in drawn:
        draw_range(axes, grid, rows.min(axis=0), rows.max(axis=0), RANGE_TINTS[line.role])
        draw_line(axes, grid, line.mean + shift, line.role)
    label_line(drawn[-1], float(np.median(line.mean[usable])) + shift, line.words, line.role)
    return float(rows[:, usable].max())


def _scale_bar(axes: Axes, gap: float, quantity: str) -> None:
    """Draw a bar of round height: the lines are shifted, so only differences of height mean anything."""
    size = float(f"{gap / 3:.0e}")
    at = axes.get_yaxis_transform()
    axes.plot([-0.04, -0.04], [0, size], color=INK, linewidth=1.2, transform=at, clip_on=False)
    text = f"{quantity} {exact(size)}"
    axes.text(-0.07, 0, text, transform=at, ha="right", va="bottom", rotation=90, fontsize=7)


@styled
def difference_figure(sample: SampleFinding, bare: Stack, neat: Mapping[str, Stack]) -> Figure:
    """Draw coated minus fitted bare over the scatter of the bare spots, with the coating's share in it.

    Parameters
    ----------
    sample
        Its ``difference`` is on the grid of ``bare``.
    bare
        Levelled bare spots; their distance from their mean is the tint.
    neat
        Levelled neat spectra by coating, drawn times the amount where nothing better is known.
    """
    figure, drawn = panels(bare.grid, bare.usable, 2.3)
    scatter = bare.absorbance - bare.mean
    for axes in drawn:
        draw_range(axes, bare.grid, scatter.min(axis=0), scatter.max(axis=0), TINT)
        axes.axhline(0.0, color=SOFT, linewidth=0.5)
        draw_line(axes, bare.grid, sample.difference, "coated")
        for share in _shares(sample, neat):
            draw_line(axes, bare.grid, share, "neat")
        _mark_bands(axes, sample)
    shown = np.vstack([sample.difference, scatter, *_shares(sample, neat)])[:, bare.usable]
    low, high = float(np.nanmin(shown)), float(np.nanmax(shown))
    drawn[0].set_ylim(low - 0.1 * (high - low), high + 0.22 * (high - low))
    figure.text(0.006, 0.55, DRAWN["difference"], rotation=90, ha="left", va="center")
    drawn[0].spines["left"].set_visible(True)
    drawn[0].tick_params(axis="y", left=True, labelleft=True)
    _label_difference(drawn[-1], sample)
    return figure


def _shares(sample: SampleFinding, neat: Mapping[str, Stack]) -> list[FloatArray]:
    """Return what each present coating contributes: as expected, else its neat spectrum times the amount."""
    found = {name: finding.presence for name, finding in sample.coatings.items()}
    return [
        sample.expected[name] if name in sample.expected else presence.amount * neat[name].mean
        for name, presence in found.items()
        if presence.verdict == PRESENT and presence.amount is not None
    ]


def _mark_bands(axes: Axes, sample: SampleFinding) -> None:
    """Mark detected coating bands and unexplained bands above the line."""
    detected = [band for finding in sample.coatings.values() for band in finding.bands if band.detected]
    marks = [(band.expected_position, "v", STYLES["neat"]["color"]) for band in detected]
    marks += [(band.position, "x", INK) for band in sample.unexplained]
    high, low = axes.get_xlim()
    for position, sign, colour in marks:
        if low <= position <= high:
            axes.plot([position], [0.96], sign, color=colour, ms=4, transform=axes.get_xaxis_transform())


def _label_difference(axes: Axes, sample: SampleFinding) -> None:
    """Name the lines at the right; they lie on each other, so the names stand above one another."""
    present = any(finding.presence.verdict == PRESENT for finding in sample.coatings.values())
    names = [("coated", shortened(sample.name)), *([("neat", DRAWN["share"])] if present else [])]
    names.append(("bare", DRAWN["scatter"]))
    for row, (role, name) in enumerate(names):
        colour = STYLES[role]["color"]
        axes.text(1.03, 0.9 - 0.13 * row, name, transform=axes.transAxes, color=colour, va="top")
