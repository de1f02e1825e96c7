"""Panel (c) of the key figure: the amount on every specimen with its spots and limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from spectra.report.figures.axis import axis_title
from spectra.report.figures.canvas import (
    BARE,
    INK,
    MEASURED,
    SOFT,
    add_panel,
    beside,
    shifted,
    write,
)
from spectra.report.figures.labels import SMALL, shortened
from spectra.report.figures.overlay import (
    HEAD,
)
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact
from spectra.verification.result import SampleFinding

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw_amounts(
    figure: Figure,
    place: tuple[float, float, float, float],
    samples: Sequence[SampleFinding],
    room: float | None,
) -> None:
    """Draw panel (c): the amount on every specimen with its interval, per cent of neat, and the limits.

    ``room`` is that for names left of the panel in mm; None where the rows beside it bear them.
    """
    axes = add_panel(figure, *place)
    axes.set_ylim(0.0, place[3])
    height = (place[3] - HEAD) / max(len(samples), 1)
    ends = [0.0]
    for number, sample in enumerate(samples):
        foot = place[3] - HEAD - (number + 1) * height
        ends += _amount_row(axes, sample, (foot, height))
        if room is not None:
            name = shortened(sample.name, room)
            at = {"transform": beside(axes, -2.0), "ha": "right", "va": "center"}
            write(axes, 0.0, foot + height / 2, name, color=MEASURED, **at)
    low, high = min(ends), max(ends) or 1.0
    pad = 0.06 * (high - low)
    axes.set_xlim(low - pad if low < 0 else -0.5 * pad, high + 4.0 * pad)
    _amount_axis(axes, place[2])


def _amount_row(axes: Axes, sample: SampleFinding, at: tuple[float, float]) -> list[float]:
    """Draw one sample of panel (c); return the amounts drawn, per cent."""
    foot, height = at
    rows = [(name, piece) for name, pieces in sample.evenness.items() for piece in pieces]
    ends: list[float] = []
    limits = [coating.presence.detectable_amount for coating in sample.coatings.values()]
    known = [100.0 * limit for limit in limits if limit is not None]
    for limit in known:
        axes.plot([limit, limit], [foot + 1.0, foot + height - 1.0], color=BARE, lw=0.8, ls=(0, (1, 1.2)))
    for number, (_, piece) in enumerate(rows):
        y = foot + height * (1.0 - (number + 1.0) / (len(rows) + 1.0))
        span = [100.0 * end for end in (piece.amount_low, piece.amount_high) if end is not None]
        if len(span) == 2:
            axes.plot(span, [y, y], color=MEASURED, lw=0.9, ls="-", solid_capstyle="butt")
        spots = [100.0 * spot for spot in piece.spots] if len(piece.spots) > 1 else []
        axes.plot(spots, [y] * len(spots), marker="|", ms=4.5, color=SOFT, ls="none", mew=0.7)
        axes.plot([100.0 * piece.amount], [y], marker="o", ms=3.2, color=MEASURED, ls="none", mew=0)
        mine = [100.0 * piece.amount, *spots, *span]
        ends += mine
        end = max(mine)
        place = {"transform": shifted(axes, 1.3), "ha": "left", "va": "center"}  # clear of the mark
        write(axes, end, y, piece.specimen[:8], fontsize=6.0, color=SOFT, **place)
    if not rows:
        write(
            axes,
            0.0,
            foot + height / 2,
            DRAWN["no amount"],
            ha="left",
            va="center",
            fontsize=SMALL,
            color=SOFT,
        )
    return [*ends, *known]


def _amount_axis(axes: Axes, width: float) -> None:
    """Draw the foot of panel (c): a few round numbers, per cent of neat."""
    from matplotlib.ticker import MaxNLocator

    low, high = axes.get_xlim()
    ticks = [
        t
        for t in MaxNLocator(max(2, int(width / 10.0)), steps=[1, 2, 5, 10]).tick_values(low, high)
        if low <= t <= high
    ]
    axes.plot([0.0, 1.0], [0.0, 0.0], color=INK, lw=0.6, ls="-", transform=axes.transAxes, clip_on=False)
    axes.axvline(0.0, color=SOFT, lw=0.4, ls="-")
    axes.set_xticks(ticks, labels=[exact(round(float(t), 9)) for t in ticks])
    axes.tick_params(
        axis="x", which="major", length=2.6, pad=2.0, labelbottom=True, labelsize=8.0, labelcolor=INK,
        labelfontfamily="DejaVu Sans", labelrotation=0.0, color=INK, width=0.6, direction="out", bottom=True,
    )  # fmt: skip
    axis_title([axes], DRAWN["amount"])
