"""The detection curve: how often a known amount was found on the user's own bare spots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from spectra.findings import SpikeLevel, SpikeRecovery
from spectra.report.figures.canvas import INK, SOFT, new_figure, styled
from spectra.report.words.captions import DRAWN
from spectra.statistics import binomial_interval

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@styled
def detection_figure(recovery: SpikeRecovery) -> Figure:
    """Draw the share of trials called present over the amount added."""
    figure = new_figure(2.0)
    axes = figure.add_axes((0.09, 0.24, 0.42, 0.68))
    axes.axvline(1.0, color=SOFT, linewidth=0.8, linestyle=(0, (4, 3)))
    shares = [level.found / level.of for level in recovery.levels]
    amounts = [level.multiple for level in recovery.levels]
    bars = [_bar(level) for level in recovery.levels]
    below = [share - low for share, (low, _) in zip(shares, bars, strict=True)]
    above = [high - share for share, (_, high) in zip(shares, bars, strict=True)]
    axes.errorbar(
        amounts, shares, yerr=[below, above], fmt="o-", color=INK, markersize=4, linewidth=1, elinewidth=0.8
    )
    axes.set_ylim(-0.03, 1.03)
    axes.set_xlabel(DRAWN["spike"])
    axes.set_ylabel(DRAWN["called"])
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return figure


def _bar(level: SpikeLevel) -> tuple[float, float]:
    """Return the interval of one level's share."""
    return binomial_interval(level.found, level.of)
