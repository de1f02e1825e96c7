"""All samples in one figure: amounts side by side, and differences with intervals that hold together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from spectra.report.figures.axis import axis_title
from spectra.report.figures.canvas import (
    BARE,
    INK,
    MEASURED,
    SOFT,
    add_panel,
    beside,
    letter,
    localised,
    new_figure,
    write,
)
from spectra.report.figures.labels import shortened
from spectra.report.figures.settings import FigureSettings
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from spectra.verification.result import Verification

LINE, TOP, FOOT, RIGHT = 6.5, 5.0, 11.0, 3.0  # mm
NAMES = (32.0, 46.0)  # mm for names left of either panel

Line = tuple[str, float, float | None, float | None, tuple[float, ...]]  # name, value, ends, dots


def draw_comparison(verification: Verification, settings: FigureSettings | None = None) -> Figure | None:
    """Draw amounts and differences of all samples; None where no two samples were compared.

    Parameters
    ----------
    verification : Verification
    settings : FigureSettings, optional
        Width and decimal mark.

    Returns
    -------
    matplotlib Figure or None
    """
    settings = settings or FigureSettings()
    amounts, gaps = amount_lines(verification), difference_lines(verification)
    if not gaps:
        return None
    heights = [LINE * len(lines) for lines in (amounts, gaps)]
    wide = not settings.narrow
    width = (settings.width / 2.0 if wide else settings.width) - RIGHT
    height = max(heights) + TOP + FOOT if wide else sum(heights) + 2.0 * (TOP + FOOT)
    figure = new_figure(settings.width, height)
    lefts = (0.0, settings.width / 2.0 if wide else 0.0)
    feet = (height - TOP - heights[0], height - TOP - heights[1] if wide else FOOT)
    for number, (lines, high) in enumerate(zip((amounts, gaps), heights, strict=True)):
        names = min(NAMES[number], 0.55 * width)
        place = (lefts[number] + names, feet[number], width - names, high)
        _panel(figure, place, lines, names, DRAWN["amount" if number == 0 else "difference"])
        letter(figure, lefts[number] + 1.0, height - feet[number] - high - TOP + 1.0, "ab"[number])
    return localised(figure, settings.decimal)


def amount_lines(verification: Verification) -> list[Line]:
    """Return every sample and coating with its amount, interval and specimens, per cent of neat."""
    found = []
    for sample in verification.samples.values():
        for name, coating in sample.coatings.items():
            presence = coating.presence
            if presence.amount is None:
                continue
            called = sample.name if len(sample.coatings) == 1 else f"{sample.name}, {name}"
            dots = tuple(100.0 * item.amount for item in coating.specimens.values())
            ends = (_percent(presence.amount_low), _percent(presence.amount_high))
            found.append((called, 100.0 * presence.amount, *ends, dots))
    return found


def difference_lines(verification: Verification) -> list[Line]:
    """Return every difference with its simultaneous interval, per cent of neat."""
    several = len({item.coating for item in verification.comparisons}) > 1
    return [
        (
            " - ".join(item.found.samples) + (f", {item.coating}" if several else ""),
            100.0 * item.found.difference,
            _percent(item.found.low),
            _percent(item.found.high),
            (),
        )
        for item in verification.comparisons
    ]


def _percent(value: float | None) -> float | None:
    return None if value is None else 100.0 * value


def comparison_data(verification: Verification) -> pd.DataFrame:
    """Return the numbers drawn."""
    import pandas as pd

    parts = {"amount": amount_lines(verification), "difference": difference_lines(verification)}
    rows = [(kind, name, *values[:3]) for kind, lines in parts.items() for name, *values in lines]
    head = ("what", "of", "value / % of neat", "low / % of neat", "high / % of neat")
    return pd.DataFrame(rows, columns=list(head))


def _panel(
    figure: Figure, place: tuple[float, float, float, float], lines: list[Line], room: float, title: str
) -> None:
    """Draw one panel: a line each, its name to the left."""
    axes = add_panel(figure, *place)
    axes.set_ylim(0.0, place[3])
    known = [0.0]
    for number, (name, value, low, high, dots) in enumerate(lines):
        y = place[3] - LINE * (number + 0.5)
        if low is not None and high is not None:
            axes.plot([low, high], [y, y], color=MEASURED, lw=1.2, ls="-", solid_capstyle="butt")
            known += [low, high]
        axes.plot([value], [y], marker="o", ms=4.0, color=MEASURED, ls="none", mew=0)
        axes.plot(dots, [y - 1.6] * len(dots), marker="|", ms=4.0, color=SOFT, ls="none", mew=0.8)
        known += [value, *dots]
        at = {"transform": beside(axes, -2.0), "ha": "right", "va": "center"}
        write(axes, 0.0, y, shortened(name, room - 3.0), color=INK, **at)
    pad = 0.06 * ((max(known) - min(known)) or 1.0)
    axes.set_xlim(min(known) - pad, max(known) + pad)
    axes.axvline(0.0, color=BARE, lw=0.8, ls=(0, (1, 1.2)))
    _foot(axes, place[2], title)


def _foot(axes: Axes, width: float, title: str) -> None:
    """Draw the axis: a few round numbers, per cent of neat."""
    from matplotlib.ticker import MaxNLocator

    low, high = axes.get_xlim()
    every = MaxNLocator(max(2, int(width / 12.0)), steps=[1, 2, 5, 10]).tick_values(low, high)
    ticks = [tick for tick in every if low <= tick <= high]
    axes.plot([0.0, 1.0], [0.0, 0.0], color=INK, lw=0.6, ls="-", transform=axes.transAxes, clip_on=False)
    axes.set_xticks(ticks, labels=[exact(round(float(tick), 9)) for tick in ticks])
    axes.tick_params(
        axis="x", which="major", length=2.6, pad=2.0, labelbottom=True, labelsize=8.0, labelcolor=INK,
        labelfontfamily="DejaVu Sans", labelrotation=0.0, color=INK, width=0.6, direction="out", bottom=True,
    )  # fmt: skip
    axis_title([axes], title)
