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

import hashlib
import io
import itertools
import re
import threading
import warnings
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.errors import UsageError
from spectra.report.figures.labels import FAMILY, TEXT
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact, span
from spectra.units import FloatArray, Mask

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text
    from matplotlib.transforms import Transform

INCH = 25.4  # mm

TINT_POINTS = 120  # of a tint in one panel: finer than it can be seen

FORMATS = ("svg", "pdf", "png")

DOTS_PER_INCH = 600  # of PNG, what journals ask of line art

INK, SOFT, TINT, PAPER = "#1a1a1a", "#5a5a5a", "#dcdcdc", "#ffffff"

MEASURED, COMPUTED, BARE = "#0b3f73", "#a8500a", "#6b6b6b"

DASHED = (0, (3.2, 1.6))

STYLES: dict[str, dict[str, Any]] = {
    "bare": {"color": BARE, "linestyle": "-", "linewidth": 0.8},
    "neat": {"color": COMPUTED, "linestyle": "-", "linewidth": 0.8},
    "computed": {"color": COMPUTED, "linestyle": DASHED, "linewidth": 1.0},
    "coated": {"color": MEASURED, "linestyle": "-", "linewidth": 1.0},
}

SCALE_CHANGE = 2000.0  # cm-1: above it little happens, and the axis is drawn at half the scale

BREAK = 2.6  # mm of paper between stretches that are in use

# What matplotlib asks while it writes a file.
WRITING: dict[Any, Any] = {
    "svg.hashsalt": "coatproof",
    "pdf.fonttype": 42,
    "pdf.compression": 6,
    "path.simplify": True,
    "path.simplify_threshold": 0.25,
    "savefig.bbox": None,
    "savefig.pad_inches": 0.0,
    "savefig.transparent": False,
    "text.usetex": False,
    "text.hinting": "force_autohint",
    "text.antialiased": True,
    "agg.path.chunksize": 0,
    "axes.unicode_minus": True,
}

_writing = threading.Lock()


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


def axis_title(drawn: Sequence[Axes], text: str = DRAWN["axis"]) -> None:
    """Write the title of the wavenumber axis below the middle of its panels."""
    figure = of(drawn[0])
    first, last = drawn[0].get_position(), drawn[-1].get_position()
    high = figure.get_size_inches()[1] * INCH
    figure.text(
        (first.x0 + last.x1) / 2.0, first.y0 - 9.0 / high, text, family=FAMILY, fontsize=TEXT, color=INK,
        ha="center", va="baseline", usetex=False, parse_math=False,
    )  # fmt: skip


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


def render(figure: Figure, form: str = "svg", outlines: bool = True) -> bytes:
    """Return a figure as the bytes of an SVG, PDF or PNG file; the same figure gives the same bytes.

    Parameters
    ----------
    figure
        To be written.
    form
        Member of ``FORMATS``. PDF embeds its fonts (TrueType); PNG has 600 dots an inch.
    outlines
        For SVG: letters as outlines, so that they need no font; False keeps them as text.

    Raises
    ------
    UsageError
        For another format.
    """
    import matplotlib as mpl
    from matplotlib.lines import Line2D

    if form not in FORMATS:
        raise UsageError(f"a figure can be written as {' or '.join(FORMATS)}, not as {form!r}")
    target = io.BytesIO()
    still: dict[str, Any] = {
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
        "png": {"Software": None},
    }[form]
    with (
        _writing,
        mpl.rc_context(WRITING | {"svg.fonttype": "path" if outlines else "none"}),
        warnings.catch_warnings(),
    ):
        # A name in letters that the font lacks is drawn with stand-ins; the text itself is in the data.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from")
        for line in figure.findobj(Line2D):  # a line remembers what was set when it was first looked at
            line.recache(always=True)
        figure.savefig(target, format=form, metadata=still, dpi=DOTS_PER_INCH, facecolor=PAPER)
    return _coarse(target.getvalue()) if form == "svg" else target.getvalue()


def _coarse(svg: bytes) -> bytes:
    """Cut the coordinates of paths to a hundredth of a point, which no eye or press resolves."""
    return re.sub(rb' d="[^"]*"', lambda path: _short(path[0], rb"\1\2"), svg)


def _short(path: bytes, decimals: bytes) -> bytes:
    """Shorten the text of one path: fewer decimals, no blanks that say nothing."""
    cut = re.sub(rb"(\.\d)(\d)\d*", decimals, path)
    return re.sub(rb"\s*([MLQCz])\s*", rb"\1", cut)


# How a page calls our colours, so that its dark sheet can turn them.
PAGE_COLOURS = {
    INK: "--ink", SOFT: "--soft", TINT: "--tint", PAPER: "--paper",
    MEASURED: "--measured", COMPUTED: "--computed", BARE: "--bare",
}  # fmt: skip

PAGE_FONT = "Arial, Helvetica, &quot;DejaVu Sans&quot;, sans-serif"


def inline(figure: Figure, label: str) -> str:
    """Return a figure as an ``<svg>`` element for a page: no prolog, no style or identifiers that leak.

    Text stays text and colours become those of the page. Identifiers that are kept carry a hash of what
    they name.

    Parameters
    ----------
    figure
        To be drawn.
    label
        Read out in place of the picture.
    """
    text = render(figure, outlines=False).decode()
    text = re.sub(r' d="[^"]*"', lambda path: _short(path[0].encode(), rb"\1").decode(), text)
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'<style type="text/css">.*?</style>\s*', "", text, flags=re.DOTALL)
    text = re.sub(r' id="(?![pm][0-9a-f]{10}")[^"]*"', "", text)  # markers and clips are referred to
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    # Equal marks of two figures must not share a name.
    own = f"f{hashlib.sha256(label.encode()).hexdigest()[:8]}"
    text = re.sub(r'(id="|href="#|url\(#)(?=[pm][0-9a-f]{10})', rf"\g<1>{own}", text)
    for colour, name in PAGE_COLOURS.items():
        text = re.sub(rf"(fill|stroke): {colour}", rf"\1: var({name})", text)
    text = re.sub(rf"'{FAMILY}'", PAGE_FONT, text)
    named = f'<svg role="img" aria-label="{escape(label)}" stroke-linejoin="round"'
    return text.replace("<svg", named, 1)
