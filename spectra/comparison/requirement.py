"""A stated requirement: conforms, does not conform, or cannot tell.

The decision rule is guarded both ways: ``conforms`` only if the one-sided limit of the interval lies on the
right side of the requirement, so that the chance of saying so of what does not conform is at most the stated
risk; ``does not conform`` likewise (ISO/IEC 17025:2017, 7.8.6, asks for the rule to be stated; JCGM
106:2012, 8.3, guarded acceptance and guarded rejection, with the guard band taken from the interval). Of
several requirements all must be met: each is then tested at the full risk, while a failure of any one is
tested at its share.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import Components, Pivots, split_scatter, spread_pivots
from spectra.comparison.settings import Requirement
from spectra.comparison.spread import coating_variation
from spectra.findings import CANNOT_TELL, Reason

CONFORMS, DOES_NOT = "conforms", "does not conform"


@dataclass(frozen=True)
class Clause:
    """One requirement and what the data say of it.

    Attributes
    ----------
    kind
        ``least_nm`` or ``most_variation``.
    wanted : float
    value, low, high : float or None
        Estimate; one-sided lower and upper limits, each at its own risk: what ``does not conform`` must lie
        beyond is a share of the risk where several are asked.
    verdict
        ``conforms``, ``does not conform`` or ``cannot tell``.
    chance : float or None
        Conformance probability (JCGM 106:2012, clause 7): that the true value meets the requirement, from the
        same spread as the limits.
    """

    kind: str
    wanted: float
    value: float | None
    low: float | None
    high: float | None
    verdict: str
    chance: float | None = None


@dataclass(frozen=True)
class Conformity:
    """Whether a sample meets the requirement.

    Attributes
    ----------
    verdict
        ``conforms`` if every clause does, ``does not conform`` if one does not.
    clauses : tuple of Clause
    risk : float
    reasons : tuple of Reason
    """

    verdict: str
    clauses: tuple[Clause, ...]
    risk: float
    reasons: tuple[Reason, ...]


def judge_requirement(amounts: Amounts, wanted: Requirement) -> Conformity:
    """Judge a sample against a stated requirement.

    Parameters
    ----------
    amounts : Amounts
    wanted : Requirement

    Returns
    -------
    Conformity
    """
    asked = [name for name in ("least_nm", "most_variation") if getattr(wanted, name) is not None]
    if len(amounts) < 2:
        clauses = [Clause(kind, getattr(wanted, kind), None, None, None, CANNOT_TELL) for kind in asked]
    else:
        found = split_scatter(amounts)
        pivots = spread_pivots(found, amounts.bare_variance, amounts.degrees)
        share = wanted.risk / max(1, len(asked))
        clauses = [_clause(kind, wanted, share, amounts, found, pivots) for kind in asked]
    verdicts = {clause.verdict for clause in clauses}
    verdict = DOES_NOT if DOES_NOT in verdicts else CANNOT_TELL if CANNOT_TELL in verdicts else CONFORMS
    reasons = tuple(
        Reason(f"requirement-{clause.kind.replace('_', '-')}", vars(clause)) for clause in clauses
    )
    return Conformity(verdict, tuple(clauses), wanted.risk, reasons)


def _clause(
    kind: str, wanted: Requirement, share: float, amounts: Amounts, found: Components, pivots: Pivots
) -> Clause:
    """Judge one requirement: guarded against a wrong ``conforms`` at the risk, the other way at its share."""
    asked = float(getattr(wanted, kind))
    if kind == "least_nm":
        if amounts.nm_per_amount is None or len(amounts.pieces) < 2:
            return Clause(kind, asked, None, None, None, CANNOT_TELL)
        value = found.mean * amounts.nm_per_amount
        points = pivots.mean * amounts.nm_per_amount * (1.0 + amounts.nm_error * pivots.scale)
        low, high = np.quantile(points, [wanted.risk, 1.0 - share])
        verdict = CONFORMS if low >= asked else DOES_NOT if high < asked else CANNOT_TELL
        return Clause(kind, asked, value, float(low), float(high), verdict, float(np.mean(points >= asked)))
    coating = coating_variation(amounts, found, pivots)
    low, high = np.quantile(coating.points, [share, 1.0 - wanted.risk])
    verdict = CONFORMS if high <= asked else DOES_NOT if low > asked else CANNOT_TELL
    chance: float | None = float(np.mean(coating.points <= asked))
    if np.quantile(pivots.mean, wanted.risk) <= 0.0:
        verdict, chance = CANNOT_TELL, None
    return Clause(kind, asked, coating.value, float(low), float(high), verdict, chance)
