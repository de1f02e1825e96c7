"""The axis of falling wavenumber: stretches in use side by side, round ticks, marks where it is cut."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from spectra.errors import UsageError
from spectra.report.figures.labels import FAMILY, TEXT
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact, span
from spectra.units import FloatArray, Mask

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
from spectra.report.figures.canvas import INCH, INK, add_panel, of

SCALE_CHANGE = 2000.0  # cm-1: above it little happens, and the axis is drawn at half the scale


BREAK = 2.6  # mm of paper between stretches that are in use


def stretches(grid: FloatArray, usable: Mask, region: Sequence[float] = ()) -> list[tuple[float, float]]:
    """Return the limits of the stretches to draw, highest first, within ``region`` if one is given.

    Raises
    ------
    UsageError
        If no point in use lies in the region.
    """
    inside = usable & (grid >= min(region)) & (grid <= max(region)) if region else usable
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    pairs = [(grid[a], grid[b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
    if not pairs:
        raise UsageError(
            f"nothing to draw at {span(*(sorted(region) or (grid[0], grid[-1])))}; the spectra are used from "
            f"{span(float(grid[usable].min()), float(grid[usable].max()))}"
        )
    return [(float(low), float(high)) for low, high in pairs[::-1]]


def spectral_panels(
    figure: Figure, place: tuple[float, float, float, float], parts: Sequence[tuple[float, float]], even: bool
) -> list[Axes]:
    """Return one panel for each stretch within ``place`` (left, bottom, width, height in mm).

    Unless ``even``, a stretch that spans 2000 cm-1 is cut there without a gap and drawn at half the scale
    above. Wavenumbers fall from left to right; all panels share the height.
    """
    parts = [(low, _rounded_up(high)) for low, high in parts]
    pieces = list(parts) if even else [piece for part in parts for piece in _cut(part)]
    weights = [(high - low) * (1.0 if even or low < SCALE_CHANGE else 0.5) for low, high in pieces]
    joined = [a[0] == b[1] for a, b in itertools.pairwise(pieces)]
    left, bottom, width, height = place
    unit = (width - BREAK * (len(joined) - sum(joined))) / sum(weights)
    drawn: list[Axes] = []
    for number, ((low, high), weight) in enumerate(zip(pieces, weights, strict=True)):
        axes = add_panel(figure, left, bottom, unit * weight, height)
        axes.set_xlim(high, low)
        follows = number < len(joined)
        cut = (bool(number) and not joined[number - 1], follows and not joined[number])
        _baseline(axes, unit * weight, cut)
        if follows and not joined[number]:
            _break_mark(axes, left_side=False)
        if number and not joined[number - 1]:
            _break_mark(axes, left_side=True)
        left += unit * weight + (BREAK if follows and not joined[number] else 0.0)
        drawn.append(axes)
    return drawn


def _rounded_up(high: float) -> float:
    """Return the next hundred where it is near: spectra that end at 3998 have an axis from 4000."""
    near = float(np.ceil(high / 100.0) * 100.0)
    return near if near - high <= 5.0 else high


def _cut(part: tuple[float, float]) -> list[tuple[float, float]]:
    """Cut a stretch at the change of scale, the high part first."""
    low, high = part
    return [(SCALE_CHANGE, high), (low, SCALE_CHANGE)] if low < SCALE_CHANGE < high else [part]


def _baseline(axes: Axes, width: float, cut: tuple[bool, bool]) -> None:
    """Draw the foot of a panel with its ticks: round wavenumbers, at most one label each 12 mm.

    Beside a cut (left, right) no label is written that would reach across it.
    """
    high, low = axes.get_xlim()
    steps = (1000.0, 500.0, 250.0, 200.0, 100.0, 50.0, 20.0, 10.0)
    fitting = [step for step in steps if (high - low) / step * 12.0 <= width]
    step = fitting[-1] if fitting else steps[0]
    reach = 4.5 / width * (high - low)
    ticks = np.arange(np.ceil((low - 2.0) / step) * step, high + 2.0, step)
    ticks = ticks[ticks != SCALE_CHANGE] if low == SCALE_CHANGE else ticks  # the next panel has it
    ticks = ticks[
        (ticks <= (high - reach if cut[0] else np.inf)) & (ticks >= (low + reach if cut[1] else 0.0))
    ]
    small = np.arange(np.ceil(low / (step / 5)) * (step / 5), high + 1e-9, step / 5)
    axes.plot([0.0, 1.0], [0.0, 0.0], color=INK, lw=0.6, ls="-", transform=axes.transAxes, clip_on=False)
    axes.set_xticks(ticks, labels=[exact(float(tick)) for tick in ticks])
    axes.set_xticks(small, minor=True, labels=[])
    axes.set_xlim(high, low)
    look = {"color": INK, "width": 0.6, "direction": "out", "bottom": True}
    axes.tick_params(
        axis="x", which="major", length=2.6, pad=2.0, labelbottom=True, labelsize=TEXT, labelcolor=INK,
        labelfontfamily=FAMILY, labelrotation=0.0, **look,
    )  # fmt: skip
    axes.tick_params(axis="x", which="minor", length=1.4, **look)


def _break_mark(axes: Axes, left_side: bool) -> None:
    """Draw a slanted stroke where the axis is cut."""
    from matplotlib.transforms import ScaledTranslation

    end, unit = 0.0 if left_side else 1.0, 0.7 / INCH
    stroke = of(axes).dpi_scale_trans + ScaledTranslation(end, 0.0, axes.transAxes)  # type: ignore[arg-type]
    across, up = [-unit, unit], [-1.5 * unit, 1.5 * unit]
    axes.plot(across, up, color=INK, lw=0.6, ls="-", transform=stroke, clip_on=False)


def axis_title(drawn: Sequence[Axes], text: str = DRAWN["axis"]) -> None:
    """Write the title of the wavenumber axis below the middle of its panels."""
    figure = of(drawn[0])
    first, last = drawn[0].get_position(), drawn[-1].get_position()
    high = figure.get_size_inches()[1] * INCH
    figure.text(
        (first.x0 + last.x1) / 2.0, first.y0 - 9.0 / high, text, family=FAMILY, fontsize=TEXT, color=INK,
        ha="center", va="baseline", usetex=False, parse_math=False,
    )  # fmt: skip
