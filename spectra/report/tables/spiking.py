"""The words of spike recovery: part of ``report.view``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spectra.decision import DecisionSettings
from spectra.findings import SpikeLevel, SpikeRecovery
from spectra.report.tables.table import Table
from spectra.report.words.numerals import counted, limit, percent, plain, with_error
from spectra.statistics import binomial_interval

HELD = "That does not contradict the stated limits; so few trials test no chance below a few per cent."

NOT_HELD = (
    "That contradicts the stated limits: measure more bare specimens and look for an odd one among them."
)

NONE_TRIED = (
    "The limits were not tried on the bare spots of this study: that takes four bare specimens or more."
)


def spike_lines(spikes: Mapping[str, SpikeRecovery], decision: DecisionSettings) -> tuple[str, ...]:
    """Say whether the stated limits held on the user's own bare spots, coating by coating."""
    if not spikes:
        return (NONE_TRIED,)
    return tuple(_line(name, recovery, decision) for name, recovery in spikes.items())


def _line(name: str, recovery: SpikeRecovery, decision: DecisionSettings) -> str:
    """Say it for one coating."""
    called, bare = _counts([level for level in recovery.levels if level.multiple == 0.0])
    found, tried = _counts([level for level in recovery.levels if level.multiple >= 1.0])
    bare_held = not bare or binomial_interval(called, bare)[0] <= decision.alpha
    held = bare_held and (not tried or binomial_interval(found, tried)[1] >= decision.power)
    limits = f"{limit(recovery.detectable_low)} to {limit(recovery.detectable_high)}"
    held_back = counted(recovery.held_back, "held-back bare specimen")
    return (
        f"{name}: added by computation to {held_back} at a time, the rest being learned from "
        f"({counted(recovery.learned_from, 'specimen')}). Bare: {called} of {bare} called "
        f"present{_interval(called, bare)}. At the stated detection limit or above ({limits} in these "
        f"trials): {found} of {tried} called present{_interval(found, tried)}; trials that share a split "
        f"are not independent. {HELD if held else NOT_HELD}"
    )


def _interval(count: int, of: int) -> str:
    """Write the exact 95 % interval of a share (Clopper and Pearson), or nothing without trials."""
    if not of:
        return ""
    low, high = binomial_interval(count, of)
    return f" (exact 95 % interval {percent(round(low, 2))} to {percent(round(high, 2))})"


def _counts(levels: Sequence[SpikeLevel]) -> tuple[int, int]:
    """Add up the trials of several levels."""
    return sum(level.found for level in levels), sum(level.of for level in levels)


def spike_table(name: str, recovery: SpikeRecovery) -> Table:
    """Return found and recovered, spike by spike."""
    head = (
        "amount added, in detection limits",
        "called present",
        "amount found over amount added",
        "interval held the amount",
    )
    return Table(f"Limits tried on bare spots: {name}", head, tuple(_row(level) for level in recovery.levels))


def _row(level: SpikeLevel) -> tuple[str, ...]:
    """Return one spike."""
    return (
        plain(level.multiple) if level.multiple else "0 (bare)",
        f"{level.found} of {level.of}",
        _recovery(level),
        f"{level.covered} of {level.of}",
    )


def _recovery(level: SpikeLevel) -> str:
    """Write the recovery with its scatter."""
    if level.recovery is None:
        return "none added"
    if level.recovery_sd is None:
        return percent(level.recovery)
    return f"{with_error(level.recovery, level.recovery_sd)} (scatter of the trials)"
