"""The small figure of each coating band: found against expected position, with margin and interval.

Measured and computed curves share one scale, so that a window without a band shows noise beside what was
expected, and not noise blown up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.findings import BandFinding
from spectra.report.figures.canvas import (
    INK,
    MEASURED,
    SOFT,
    STYLES,
    TINT,
    add_panel,
    localised,
    new_figure,
    write,
)
from spectra.report.figures.differences import scatter_of
from spectra.report.figures.key import short_assignment
from spectra.report.figures.labels import SMALL, shortened
from spectra.report.figures.settings import FigureSettings
from spectra.report.words.captions import band_heading
from spectra.report.words.numerals import fixed
from spectra.spectrum import Stack
from spectra.units import FloatArray, Mask
from spectra.verification.result import CoatingFinding, SampleFinding

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WINDOW, NARROWER = 42.0, 34.0  # mm, the usual width of one window, and the least where it saves a row

STEPS = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)  # cm-1 between numbers on a window's axis

ROW_HEIGHT = 2.35  # a window with its head and axis; curves are one high

MM_HIGH = 16.0  # mm of paper for a height of one

MARGIN_TINT = "#ececec"


def position_figure(
    sample: SampleFinding,
    coating: CoatingFinding,
    bare: Stack,
    expected: FloatArray,
    settings: FigureSettings | None = None,
) -> Figure | None:
    """Draw each unmasked band by itself: found against expected position, with margin and interval.

    Parameters
    ----------
    sample, coating
        ``coating`` is one of ``sample.coatings``.
    bare
        Bare spots on the grid of ``sample.difference``, for their scatter.
    expected : ndarray, shape (n,)
        What the amount found should contribute: the computed film where there is one.
    settings : FigureSettings, optional

    Returns
    -------
    Figure or None
        None where every band is masked.
    """
    settings = settings or FigureSettings()
    bands = [band for band in coating.bands if not band.masked]
    if not bands:
        return None
    columns = _columns(len(bands), settings.width)
    rows = -(-len(bands) // columns)
    high = ROW_HEIGHT * rows
    figure = new_figure(settings.width, MM_HIGH * high)
    axes = add_panel(figure, 0.0, 0.0, settings.width, MM_HIGH * high)
    axes.set_xlim(0.0, max(columns, _most(settings.width, WINDOW)))
    axes.set_ylim(-ROW_HEIGHT * (rows - 1) - 0.5, ROW_HEIGHT - 0.5)
    for number, band in enumerate(bands):
        row, column = divmod(number, columns)
        window = Window(band, column, -ROW_HEIGHT * row)
        _draw_band(axes, window, bare, (sample.difference, expected))
    return localised(figure, settings.decimal)


def _most(width: float, window: float) -> int:
    """Return how many windows stand in a row."""
    return max(1, int(width // window))


def _columns(count: int, width: float) -> int:
    """Return the windows of a row: the usual number, or a few more where that saves a row."""
    usual = _most(width, WINDOW)
    rows = -(-count // usual)
    fewer = -(-count // max(rows - 1, 1))
    return fewer if fewer <= _most(width, NARROWER) else min(count, usual)


@dataclass(frozen=True)
class Window:
    """One small window around the expected position: where it stands in the figure.

    Attributes
    ----------
    band
    column
        From the left; a window is 0.84 wide and wavenumbers fall within it.
    base
        Height of the window's foot; curves are one high.
    """

    band: BandFinding
    column: int
    base: float

    @property
    def half(self) -> float:
        """Half the width in cm-1: the band, the margin and the shift fit in."""
        band = self.band
        return max(20.0, 1.3 * band.neat_width, 2.5 * band.margin, 1.5 * abs(band.shift or 0.0))

    def across(self, wavenumbers: FloatArray | float) -> FloatArray:
        """Return the place of wavenumbers along the figure."""
        part = (self.band.expected_position - np.asarray(wavenumbers)) / self.half
        return np.asarray(self.column + 0.5 + 0.42 * part)


def _draw_band(axes: Axes, window: Window, bare: Stack, curves: tuple[FloatArray, FloatArray]) -> None:
    """Draw one window with its head, margin, curves, found position and axis."""
    band, base = window.band, window.base
    centre = band.expected_position
    edges = window.across(np.array([centre + band.margin, centre - band.margin]))
    axes.fill_betweenx([base, base + 1.3], *edges, facecolor=MARGIN_TINT, edgecolor="none", linewidth=0)
    axes.plot([window.across(centre)] * 2, [base, base + 1.3], color=SOFT, lw=0.6, ls=(0, (4, 1.5)))
    near = bare.usable & (np.abs(bare.grid - centre) < window.half)
    if near.any():
        _draw_curves(axes, window, near, (bare.grid, scatter_of(bare), *curves))
    if band.found_position is not None:
        _draw_interval(axes, window, band.found_position)
    room = 0.84 * WINDOW
    head, place = shortened(short_assignment(band.assignment), room), band_heading(band)
    write(axes, window.column + 0.5, base + 1.57, head)
    write(axes, window.column + 0.5, base + 1.37, place, fontsize=SMALL)
    _draw_axis(axes, window)


def _draw_curves(axes: Axes, window: Window, near: Mask, curves: tuple[FloatArray, ...]) -> None:
    """Draw scatter of bare, measured and computed on one scale, each from its own lowest point."""
    grid, scatter, measured, computed = (curve[near] for curve in curves)
    shapes = [values - np.nanmin(values) for values in (measured, computed)]
    unit = max(*(float(np.nanmax(shape)) for shape in shapes), 4.0 * float(scatter.max()), 1e-12)
    across, foot = window.across(grid), window.base
    low, high = (shapes[0] - scatter) / unit, (shapes[0] + scatter) / unit
    axes.fill_between(across, foot + np.clip(low, 0.0, 1.25), foot + np.clip(high, 0.0, 1.25), facecolor=TINT,
                      edgecolor="none", linewidth=0)  # fmt: skip
    for shape, role in ((shapes[1], "computed"), (shapes[0], "coated")):
        axes.plot(across, foot + shape / unit, **STYLES[role])


def _draw_interval(axes: Axes, window: Window, found: float) -> None:
    """Draw the found position with the interval of its shift above the curves."""
    band, height = window.band, window.base + 1.18
    style: dict[str, Any] = {"color": MEASURED, "linewidth": 1.2}
    if band.shift_low is not None and band.shift_high is not None:
        ends = band.expected_position + np.array([band.shift_low, band.shift_high])
        axes.plot(window.across(ends), [height, height], "|-", markersize=5, **style)
    axes.plot(window.across(found), height, "o", markersize=3, **style)


def _draw_axis(axes: Axes, window: Window) -> None:
    """Draw the window's foot with three or four round wavenumbers on it."""
    base = window.base - 0.06
    left, right = window.column + 0.08, window.column + 0.92
    axes.plot([left, right], [base, base], color=INK, lw=0.6, ls="-")
    low = window.band.expected_position - window.half
    high = window.band.expected_position + window.half
    step = next((step for step in STEPS if (high - low) / step <= 4.0), high - low)
    for number in np.arange(np.ceil(low / step) * step, high, step):
        at = float(window.across(float(number)))
        axes.plot([at, at], [base - 0.06, base], color=INK, lw=0.6, ls="-")
        write(axes, at, base - 0.1, fixed(float(number), 0), va="top", fontsize=SMALL)
