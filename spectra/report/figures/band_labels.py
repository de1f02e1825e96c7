"""Names of bands above a neat line: moved apart where they would touch, each with a leader to its band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.report.figures.canvas import (
    COMPUTED,
    SOFT,
    STYLES,
    of,
    write,
)
from spectra.report.figures.labels import SMALL, fitting, shortened, spread, text_width
from spectra.report.figures.traces import LINE, Trace
from spectra.report.words.numerals import fixed
from spectra.units import FloatArray, Mask

if TYPE_CHECKING:
    from matplotlib.axes import Axes

APART = 2.2  # mm between the labels of bands, more than a space within one

LABELS_HIGH, NAME_HIGH = 7.6, 5.6  # mm for the labels above a neat line, and for its name above them


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


def name_bands(
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
    write_name(drawn[0], line, shortened(", ".join(line.words), end), base + (LABELS_HIGH - 0.6) * unit)


def _band_label(
    drawn: Sequence[Axes],
    label: tuple[BandLabel, tuple[str, ...]],
    centre: float,
    base: float,
    at: tuple[Trace, float, float],
) -> None:
    """Write one label and its leader; ``centre`` in mm from the left end of the panels."""
    (band, words), (line, foot, unit) = label, at
    shown = line.stack.usable & covered(drawn, line.stack.grid)
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


def covered(drawn: Sequence[Axes], grid: FloatArray) -> Mask:
    """Tell which points the panels show."""
    limits = [sorted(axes.get_xlim()) for axes in drawn]
    return np.asarray(np.any([(grid >= low) & (grid <= high) for low, high in limits], axis=0))


def write_name(axes: Axes, line: Trace, text: str, height: float) -> None:
    """Write the name of a line at its left end, at a height."""
    write(axes, axes.get_xlim()[0], height, text, ha="left", color=STYLES[line.role]["color"])
