"""The figures: overlay, difference, band positions. Wavenumber falls from left to right.

Each role has a colour, a line style and its name at the line itself, so a figure reads the same in grey
and to colour-blind eyes (colours of Okabe and Ito, "Color Universal Design", 2008). Stretches the study
leaves out are cut from the axis. Labels come from files and study: they are drawn as plain text, never as
formulas, and are escaped by the SVG writer. No date, no random identifiers: same result, same bytes.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.errors import UsageError
from spectra.findings import PRESENT, BandFinding, CoatingFinding, SampleFinding
from spectra.report.numerals import wavenumber
from spectra.spectrum import Stack
from spectra.units import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

AXIS = "wavenumber / cm⁻¹"
LEFT_OUT = "/"  # drawn where the axis is cut
WIDTH = 7.2  # inches, a double column of most journals
STYLES: dict[str, dict[str, Any]] = {
    "bare": {"color": "#555555", "linestyle": (0, (4, 1.5)), "linewidth": 1.0},
    "neat": {"color": "#B04A00", "linestyle": (0, (1.2, 1.2)), "linewidth": 1.2},
    "coated": {"color": "#0067A5", "linestyle": "-", "linewidth": 1.1},
}
FORMATS = ("svg", "png")
RC = {
    "svg.hashsalt": "coatproof",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial", "sans-serif"],
    "font.size": 8.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.6,
    "axes.edgecolor": "#333333",
    "text.color": "#1a1a1a",
    "path.simplify_threshold": 0.2,
}


@dataclass(frozen=True, eq=False)
class Trace:
    """One line of an overlay: the mean of a group with the spread of its spots, on its grid."""

    label: str
    role: str
    grid: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    usable: np.ndarray[Any, np.dtype[np.bool_]]


def traces(stacks: Mapping[tuple[str, str], Stack]) -> tuple[Trace, ...]:
    """Return the lines of an overlay, neat on top, then the samples, bare at the foot.

    A neat spectrum is scaled to the highest of the others, and its label says by how much.

    Parameters
    ----------
    stacks
        By ``(role, group)``, as in :class:`~spectra.findings.Stages`.
    """
    levels = [_height(stack) for (role, _), stack in stacks.items() if role in ("bare", "coated")]
    top = max(levels, default=1.0)
    order = {"neat": 0, "coated": 1, "bare": 2}
    chosen = sorted((key for key in stacks if key[0] in order), key=lambda key: order[key[0]])
    return tuple(_trace(role, name, stacks[role, name], top) for role, name in chosen)


def _height(stack: Stack) -> float:
    return float(np.ptp(stack.mean[stack.usable])) or 1.0


def _trace(role: str, name: str, stack: Stack, top: float) -> Trace:
    scale = top / _height(stack) if role == "neat" else 1.0
    label = {"bare": "bare", "neat": f"{name}, neat × {scale:.2g}", "coated": name}[role]
    rows = stack.absorbance * scale
    return Trace(label, role, stack.grid, rows.mean(0), rows.min(0), rows.max(0), stack.usable)


def overlay_figure(stacks: Mapping[tuple[str, str], Stack]) -> Figure:
    """Draw bare, neat and coated spectra above each other on one absorbance scale.

    Parameters
    ----------
    stacks
        By ``(role, group)``; roles other than bare, neat and coated are not drawn.
    """
    lines = traces(stacks)
    if not lines:
        raise UsageError("nothing to draw: give at least one bare, neat or coated spectrum")
    gap = 1.08 * max(float(np.ptp(line.mean[line.usable])) for line in lines)
    figure, panels = _panels(lines[0].grid, lines[0].usable, 1.0 + 0.85 * len(lines))
    for row, line in enumerate(lines):
        offset = (len(lines) - 1 - row) * gap
        for axes in panels:
            _draw(axes, line, offset)
        base = float(np.median(line.mean[line.usable])) + offset
        _label(panels[-1], base, line.label, STYLES[line.role]["color"])
    for axes in panels:
        axes.set_ylim(-0.25 * gap, (len(lines) + 0.05) * gap)
    _scale_bar(panels[0], gap)
    return figure


def difference_figure(sample: SampleFinding, bare: Stack, neat: Mapping[str, Stack]) -> Figure:
    """Draw coated minus fitted bare over the spread of the bare spots, with the coating's share in it.

    Parameters
    ----------
    sample
        Its ``difference`` is on the grid of ``bare``.
    bare
        Levelled bare spots; their distance from their mean is drawn as a band.
    neat
        Levelled neat spectra by coating, drawn times the amount where one was found.
    """
    figure, panels = _panels(bare.grid, bare.usable, 2.3)
    spread = bare.absorbance - bare.mean
    for axes in panels:
        axes.fill_between(bare.grid, spread.min(0), spread.max(0), color="#d0d0d0", linewidth=0)
        axes.axhline(0.0, color="#777777", linewidth=0.5)
        axes.plot(bare.grid, sample.difference, **STYLES["coated"])
        for name, finding in sample.coatings.items():
            if finding.presence.verdict == PRESENT and finding.presence.amount is not None and name in neat:
                axes.plot(bare.grid, finding.presence.amount * neat[name].mean, **STYLES["neat"])
        _tick_bands(axes, sample)
    shown = np.concatenate([sample.difference[bare.usable], spread[:, bare.usable].ravel()])
    low, high = float(shown.min()), float(shown.max())
    for axes in panels:
        axes.set_ylim(low - 0.1 * (high - low), high + 0.22 * (high - low))
    panels[0].set_ylabel("coated − bare")
    panels[0].spines["left"].set_visible(True)
    panels[0].tick_params(axis="y", left=True, labelleft=True)
    return figure


def _tick_bands(axes: Axes, sample: SampleFinding) -> None:
    """Mark detected coating bands above and unexplained bands below the line."""
    top = axes.get_xaxis_transform()
    for finding in sample.coatings.values():
        for band in finding.bands:
            if band.detected:
                axes.plot([band.expected_position], [0.97], "v", color="#B04A00", ms=4, transform=top)
    for band in sample.unexplained:
        axes.plot([band.position], [0.97], "x", color="#1a1a1a", ms=4, transform=top)


def position_figure(
    sample: SampleFinding, coating: CoatingFinding, bare: Stack, neat: Stack
) -> Figure | None:
    """Draw each unmasked band by itself: found against expected position, with margin and interval.

    Returns None where every band is masked.
    """
    bands = [band for band in coating.bands if not band.masked]
    if not bands:
        return None
    columns = min(4, len(bands))
    rows = -(-len(bands) // columns)
    with _style():
        figure = _new_figure(WIDTH, 1.75 * rows + 0.1)
        grid = figure.subplots(rows, columns, squeeze=False)
    for axes, band in zip(grid.flat, bands, strict=False):
        _draw_band(axes, band, sample.difference, bare, neat)
    for axes in list(grid.flat)[len(bands) :]:
        axes.set_visible(False)
    figure.subplots_adjust(
        left=0.02, right=0.98, bottom=0.22 / rows, top=1 - 0.16 / rows, wspace=0.15, hspace=0.55
    )
    return figure


def _draw_band(axes: Axes, band: BandFinding, difference: FloatArray, bare: Stack, neat: Stack) -> None:
    """One small window around the expected position."""
    half = max(25.0, 1.6 * band.neat_width, 2.5 * band.margin, 1.4 * abs(band.shift or 0.0))
    near = bare.usable & (np.abs(bare.grid - band.expected_position) < half)
    x, found, reference = bare.grid[near], difference[near], neat.mean[near]
    axes.set_xlim(band.expected_position + half, band.expected_position - half)
    axes.set_ylim(-0.15, 1.35)
    axes.axvspan(
        band.expected_position - band.margin, band.expected_position + band.margin, color="#e6e6e6", lw=0
    )
    axes.axvline(band.expected_position, color="#555555", linewidth=0.8, linestyle=(0, (4, 1.5)))
    if x.size:
        axes.plot(x, _unit_height(reference), **STYLES["neat"])
        axes.plot(x, _unit_height(found), **STYLES["coated"])
    if band.found_position is not None and None not in (band.shift, band.shift_low, band.shift_high):
        error = [[band.shift - band.shift_low], [band.shift_high - band.shift]]  # type: ignore[operator]
        axes.errorbar(
            [band.found_position], [1.18], xerr=error, fmt="o", ms=3.5, lw=1.2, capsize=2.5, color="#0067A5"
        )
    word = "" if band.detected else ", not seen"
    axes.set_title(f"{wavenumber(band.expected_position).replace('cm-1', 'cm⁻¹')}{word}", fontsize=8)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xticks([round(band.expected_position + step * half) for step in (0.7, 0, -0.7)])
    axes.tick_params(axis="x", labelsize=7, length=2.5)


def _unit_height(values: FloatArray) -> FloatArray:
    """Scale to 0..1 within the window, so that shapes and places can be compared."""
    reach = float(np.ptp(values))
    return (values - values.min()) / (reach or 1.0)


def _panels(
    grid: FloatArray, usable: np.ndarray[Any, np.dtype[np.bool_]], height: float
) -> tuple[Figure, list[Axes]]:
    """One panel for each stretch that is used, high wavenumbers left, widths in proportion."""
    stretches = _stretches(grid, usable)
    with _style():
        figure = _new_figure(WIDTH, height)
        ratios = [high - low for low, high in stretches]
        drawn = figure.subplots(1, len(stretches), squeeze=False, width_ratios=ratios, sharey=True)[0]
    figure.subplots_adjust(left=0.075, right=0.80, bottom=0.45 / height, top=1 - 0.08 / height, wspace=0.05)
    for axes, (low, high) in zip(drawn, stretches, strict=True):
        axes.set_xlim(high, low)
        axes.spines["left"].set_visible(False)
        axes.tick_params(axis="y", left=False, labelleft=False)
    for axes in drawn[1:]:
        axes.text(-0.012, 0.0, LEFT_OUT, transform=axes.transAxes, ha="right", va="center", fontsize=9)
    figure.supxlabel(AXIS, fontsize=8, y=0.02, x=0.44)
    return figure, list(drawn)


def _stretches(grid: FloatArray, usable: np.ndarray[Any, np.dtype[np.bool_]]) -> list[tuple[float, float]]:
    """Limits of the stretches in use, highest first."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], usable, [False]]).astype(int)))
    pairs = [
        (float(grid[a]), float(grid[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
        if b - a > 1
    ]
    return pairs[::-1] or [(float(grid[0]), float(grid[-1]))]


def _draw(axes: Axes, line: Trace, offset: float) -> None:
    colour = STYLES[line.role]["color"]
    if np.any(line.high > line.low):
        axes.fill_between(
            line.grid, line.low + offset, line.high + offset, color=colour, alpha=0.22, linewidth=0
        )
    axes.plot(line.grid, line.mean + offset, **STYLES[line.role])


def _label(axes: Axes, height: float, label: str, colour: str) -> None:
    """Name a line at its right-hand end, cut to fit the margin."""
    short = label if len(label) <= 24 else f"{label[:23]}…"
    at = axes.get_yaxis_transform()
    axes.text(1.02, height, short, transform=at, color=colour, va="center", parse_math=False, clip_on=False)


def _scale_bar(axes: Axes, gap: float) -> None:
    """A bar of round height instead of an axis: the lines are shifted, so only differences mean anything."""
    size = float(f"{gap / 3:.0e}")
    x = -0.02
    at = axes.get_yaxis_transform()
    axes.plot([x, x], [0, size], color="#1a1a1a", linewidth=1.2, transform=at, clip_on=False)
    axes.text(
        x - 0.02, size / 2, f"{size:g}", transform=at, ha="right", va="center", rotation=90, clip_on=False
    )


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
    still = {"svg": {"Date": None, "Creator": None}, "png": {"Software": None}}[form]
    with _style():
        figure.savefig(target, format=form, metadata=still, dpi=200)
    return target.getvalue()


def inline(figure: Figure, label: str) -> str:
    """Return a figure as an ``<svg>`` element for a page: no prolog, no style or identifiers that leak.

    Parameters
    ----------
    figure
        To be drawn.
    label
        Read out in place of the picture; trusted text without markup.
    """
    text = render(figure).decode()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r"<style type=\"text/css\">.*?</style>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r' id="(?![pm][0-9a-f]{10}")[^"]*"', "", text)
    head = f'<svg role="img" aria-label="{label}" stroke-linejoin="round" stroke-linecap="butt"'
    return text.replace("<svg", head, 1)


def _new_figure(width: float, height: float) -> Figure:
    from matplotlib.figure import Figure  # 0.7 s to import: only when something is drawn

    return Figure(figsize=(width, height))


@contextmanager
def _style() -> Iterator[None]:
    """Our drawing parameters, whatever the user's own are; theirs come back afterwards."""
    import matplotlib as mpl

    kept = {key: value for key, value in mpl.rcParamsDefault.items() if not key.startswith("backend")}
    with mpl.rc_context({**kept, **RC}):
        yield
