"""A verdict for every specimen, and a remark where one of them is not like the others.

What the coating is, is decided on the whole sample; on a specimen its amount is tested against what that
specimen alone could show. A specimen is remarked on only if its verdict differs from the others' *and* its
amount is below half of theirs (or, alone present, above twice): an uneven coating is no missing coating.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT
from spectra.statistics import critical_factor, detectable_factor, exceedance


@dataclass(frozen=True)
class SpecimenVerdict:
    """One coated specimen by itself.

    Attributes
    ----------
    verdict
        ``present``, ``not shown`` or ``cannot tell``.
    amount, amount_low, amount_high
        In units of the neat spectrum; the interval is that of measuring, not of the specimen's own evenness.
    detectable_amount
        What this specimen alone would have shown with the stated power.
    thickness_nm, detectable_nm : float or None
    spots : tuple of float
        Amount of every spot.
    stands_out
        Its verdict differs from the others', and its amount by more than a factor of two.
    """

    verdict: str
    amount: float
    amount_low: float
    amount_high: float
    detectable_amount: float
    thickness_nm: float | None
    detectable_nm: float | None
    spots: tuple[float, ...]
    stands_out: bool = False


@dataclass(frozen=True)
class SpecimenRule:
    """Error rates of the verdicts on specimens.

    Attributes
    ----------
    alpha, power, confidence
        As in ``DecisionSettings``.
    remark
        Chance of any remark on a sample whose specimens are alike.
    times
        How many times less, or more, than the others a specimen must surely hold to be remarked on.
    """

    alpha: float
    power: float
    confidence: float
    remark: float
    times: float = 2.0


def judge_specimens(amounts: Amounts, sample: str, rule: SpecimenRule) -> dict[str, SpecimenVerdict]:
    """Judge every specimen of a sample by its amount.

    Parameters
    ----------
    amounts : Amounts
    sample : str
        Verdict on the whole sample; where that is ``cannot tell``, no specimen is called present.
    rule : SpecimenRule

    Returns
    -------
    dict of str to SpecimenVerdict
        In the order of the sample.
    """
    means, variances = amounts.means, amounts.piece_variances
    errors = np.sqrt(variances + amounts.bare_variance)
    shown = means > errors * critical_factor(rule.alpha, amounts.degrees)
    verdicts = [_verdict(bool(there), sample) for there in shown]
    out = _stand_out(amounts, verdicts, rule)
    half = errors * critical_factor((1.0 - rule.confidence) / 2.0, amounts.degrees)
    limits = errors * detectable_factor(rule.alpha, rule.power, min(amounts.degrees, 1e6))
    scale = amounts.nm_per_amount
    place = np.array(amounts.specimens)
    return {
        name: SpecimenVerdict(
            verdicts[i],
            float(means[i]), float(means[i] - half[i]), float(means[i] + half[i]),
            float(limits[i]),
            None if scale is None else float(means[i] * scale),
            None if scale is None else float(limits[i] * scale),
            tuple(float(value) for value in amounts.values[place == name]),
            bool(out[i]),
        )
        for i, name in enumerate(amounts.pieces)
    }  # fmt: skip


def _verdict(shown: bool, sample: str) -> str:
    """Verdict on one specimen: what cannot be told of the sample cannot be told of a part that shows it."""
    if not shown:
        return NOT_SHOWN
    return CANNOT_TELL if sample == CANNOT_TELL else PRESENT


def _stand_out(amounts: Amounts, verdicts: list[str], rule: SpecimenRule) -> list[bool]:
    """Which specimens are remarked on: below half of the others, or alone and above twice."""
    count = len(verdicts)
    if count < 2 or PRESENT not in verdicts:
        return [False] * count
    alone = verdicts.count(PRESENT) == 1
    level = rule.remark / count
    low = [v != PRESENT and _p_below(i, amounts, rule.times) < level for i, v in enumerate(verdicts)]
    high = [
        alone and v == PRESENT and _p_above(i, amounts, rule.times) < level for i, v in enumerate(verdicts)
    ]
    # The only one present is the odd one of three or more; of two, the one without is named.
    if any(high) and count > 2:
        return high
    return low


def _p_below(i: int, amounts: Amounts, times: float) -> float:
    """Chance of so little if the specimen held so many times less than the others do."""
    rest, own, others = _against(i, amounts)
    return _tail(rest / times - float(amounts.means[i]), own + others / times**2, amounts)


def _p_above(i: int, amounts: Amounts, times: float) -> float:
    """Chance of so much if the specimen held so many times more than the others do."""
    rest, own, others = _against(i, amounts)
    return _tail(float(amounts.means[i]) / times - rest, own / times**2 + others, amounts)


def _against(i: int, amounts: Amounts) -> tuple[float, float, float]:
    """Mean of the other specimens, variance of this one's mean, variance of theirs."""
    variances = amounts.piece_variances
    others = np.delete(variances, i)
    rest = float(np.delete(amounts.means, i).mean())
    return rest, float(variances[i]), float(others.sum()) / others.size**2


def _tail(excess: float, variance: float, amounts: Amounts) -> float:
    """One-sided chance; its degrees are the bare units alone, so that the tail does not lean on the model."""
    return float(exceedance(np.array(excess / np.sqrt(max(variance, 1e-300))), float(amounts.bare_units)))
