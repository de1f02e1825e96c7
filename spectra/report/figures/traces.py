"""The lines of an overlay: mean and scatter of each group, neat scaled to the highest of the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from spectra.errors import UsageError
from spectra.report.words.captions import DRAWN, neat_label
from spectra.spectrum import Stack
from spectra.units import FloatArray

if TYPE_CHECKING:
    pass


# From top to foot of the overlay.
OVERLAY_ROLES = ("neat", "coated", "bare")


LINE = 13.0  # mm of paper for one line


Stacks = Mapping[tuple[str, str], Stack]


@dataclass(frozen=True, eq=False)
class Trace:
    """One line of an overlay: the mean of a group and the scatter of its spots, scaled for drawing."""

    words: tuple[str, ...]
    role: str
    name: str
    stack: Stack
    scale: float

    @property
    def mean(self) -> FloatArray:
        """Mean of the spots as drawn, shape (n,)."""
        return self.stack.mean * self.scale

    @property
    def scatter(self) -> FloatArray:
        """Standard deviation of the spots as drawn, shape (n,); zero for one spot."""
        rows = self.stack.absorbance * self.scale
        return np.asarray(rows.std(axis=0, ddof=1) if len(rows) > 1 else np.zeros(rows.shape[1]))

    @property
    def reach(self) -> float:
        """Highest minus lowest value as drawn."""
        return _reach(self.stack) * self.scale


def traces(stacks: Stacks, samples: Sequence[str] = ()) -> tuple[Trace, ...]:
    """Return the lines of an overlay, neat on top, then the samples, bare at the foot.

    A neat spectrum is scaled to the highest of the others, and its label says by how much.

    Parameters
    ----------
    stacks
        By ``(role, group)``, as in :class:`~spectra.verification.result.Stages`.
    samples
        Those to draw, in this order; empty for all.

    Raises
    ------
    UsageError
        If a sample is not there.
    """
    known = [name for role, name in stacks if role == "coated"]
    for name in samples:
        if name not in known:
            raise UsageError(f"no sample {name!r} to draw; there are {', '.join(known)}")
    highest = max((_reach(stack) for (role, _), stack in stacks.items() if role != "neat"), default=None)
    names = {"coated": list(samples or known)}
    chosen = [
        (wanted, name)
        for wanted in OVERLAY_ROLES
        for name in names.get(wanted, [name for role, name in stacks if role == wanted])
    ]
    return tuple(_trace(role, name, stacks[role, name], highest) for role, name in chosen)


def _trace(role: str, name: str, stack: Stack, highest: float | None) -> Trace:
    if role != "neat":
        return Trace((DRAWN["bare"] if role == "bare" else name,), role, name, stack, 1.0)
    scale = 1.0 if highest is None else highest / _reach(stack)
    return Trace((name, neat_label(scale)), role, name, stack, scale)


def _reach(stack: Stack) -> float:
    return float(np.ptp(stack.mean[stack.usable])) or 1.0
