"""The small figure of each coating band: found against expected position, with margin and interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from spectra.findings import BandFinding
from spectra.report.figures.canvas import INK, SOFT, STYLES, TINT, new_figure, styled
from spectra.report.words.captions import band_heading
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.verification.result import CoatingFinding, SampleFinding

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BANDS_IN_A_ROW = 4

ROW_HEIGHT = 2.2  # a window with its head and axis; curves are one high


@styled
def position_figure(
    sample: SampleFinding, coating: CoatingFinding, bare: Stack, neat: Stack
) -> Figure | None:
    """Draw each unmasked band by itself: found against expected position, with margin and interval.

    Parameters
    ----------
    sample, coating
        ``coating`` is one of ``sample.coatings``.
    bare, neat
        Levelled, on one grid.

    Returns
    -------
    Figure or None
        None where every band is masked.
    """
    bands = [band for band in coating.bands if not band.masked]
    if not bands:
        return None
    rows = -(-len(bands) // BANDS_IN_A_ROW)
    figure = new_figure(1.5 * rows)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))  # one for all: each of its own would take most of the time
    axes.set_axis_off()
    axes.set_xlim(0.0, BANDS_IN_A_ROW)
    axes.set_ylim(-ROW_HEIGHT * (rows - 1) - 0.5, 1.7)
    for number, band in enumerate(bands):
        row, column = divmod(number, BANDS_IN_A_ROW)
        window = Window(band, column, -ROW_HEIGHT * row)
        _draw_band(axes, window, ((neat, "neat"), (replaced(bare, sample.difference), "coated")))
    return figure


def replaced(stack: Stack, row: FloatArray) -> Stack:
    """Return one row in place of the spots of ``stack``, gaps allowed where nothing is used."""
    return stack.take([0]).with_absorbance(np.where(stack.usable, row, 0.0)[None, :])


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


def _draw_band(axes: Axes, window: Window, curves: tuple[tuple[Stack, str], ...]) -> None:
    """Draw one window with its head, margin, curves, found position and axis."""
    band, base = window.band, window.base
    centre = band.expected_position
    edges = window.across(np.array([centre + band.margin, centre - band.margin]))
    axes.fill_betweenx([base, base + 1.35], *edges, color=TINT, linewidth=0)
    axes.vlines(window.across(centre), base, base + 1.35, color=SOFT, linewidth=0.8, linestyle=(0, (4, 1.5)))
    for stack, role in curves:
        near = stack.usable & (np.abs(stack.grid - centre) < window.half)
        axes.plot(window.across(stack.grid[near]), base + _to_unit(stack.mean[near]), **STYLES[role])
    if band.found_position is not None:
        _draw_interval(axes, window, band.found_position)
    axes.text(window.column + 0.5, base + 1.42, band_heading(band), ha="center", va="bottom")
    _draw_axis(axes, window)


def _draw_interval(axes: Axes, window: Window, found: float) -> None:
    """Draw the found position with the interval of its shift above the curves."""
    band, height = window.band, window.base + 1.18
    style = {"color": STYLES["coated"]["color"], "linewidth": 1.4}
    if band.shift_low is not None and band.shift_high is not None:
        ends = band.expected_position + np.array([band.shift_low, band.shift_high])
        axes.plot(window.across(ends), [height, height], "|-", markersize=5, **style)
    axes.plot(window.across(found), height, "o", markersize=3, **style)


def _draw_axis(axes: Axes, window: Window) -> None:
    """Draw the window's foot with three wavenumbers on it."""
    base = window.base - 0.06
    axes.hlines(base, window.column + 0.08, window.column + 0.92, color=INK, linewidth=0.6)
    for part in (0.7, 0.0, -0.7):
        number = round(window.band.expected_position + part * window.half)
        at = window.across(float(number))
        axes.vlines(at, base - 0.06, base, color=INK, linewidth=0.6)
        axes.text(float(at), base - 0.1, str(number), ha="center", va="top", fontsize=7)


def _to_unit(values: FloatArray) -> FloatArray:
    """Scale to 0..1 within the window, so that shapes and places can be compared."""
    if values.size == 0:
        return values
    return np.asarray((values - values.min()) / (np.ptp(values) or 1.0))
