"""Before and after: the share of a coating that a treatment leaves.

The interval of the ratio is Fieller's (J. R. Stat. Soc. B 16, 175, 1954): every share r is kept for which
after - r before is not shown to differ from zero. Specimens measured before and after are paired. The bare
mean is common to both: its error enters as (1 - r) times itself. "Nothing lost" is never concluded from a
difference that is not shown, only from an interval inside the margin (two one-sided tests: Schuirmann,
J. Pharmacokinet. Biopharm. 15, 657, 1987, doi:10.1007/BF01068419).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.settings import ComparisonSettings
from spectra.findings import CANNOT_TELL, Reason
from spectra.statistics import critical_factor

KEPT, LOST, GAINED = "kept", "lost", "gained"

Ends = tuple[float | None, float | None]

TRIED, TOLERANCE = 200, 1e-9


@dataclass(frozen=True)
class Kept:
    """Share of the coating left after a treatment.

    Attributes
    ----------
    verdict
        ``kept``: the interval lies inside the margin about one; ``lost`` or ``gained``: it excludes one and
        is not inside the margin; ``cannot tell``.
    reasons : tuple of Reason
    share, share_low, share_high : float or None
        After over before; None where nothing is shown before.
    margin : float
    pairs : int
        Specimens measured before and after; 0 where the two sets of specimens are others.
    confidence : float
    """

    verdict: str
    reasons: tuple[Reason, ...]
    share: float | None
    share_low: float | None
    share_high: float | None
    margin: float
    pairs: int
    confidence: float


@dataclass(frozen=True)
class Ratio:
    """What the equation of a ratio needs; every variance is that of a mean.

    Attributes
    ----------
    before, after : float
        Means.
    of_before, of_after, between : float
        Variances and covariance from the specimens' own scatter.
    degrees : tuple of two floats
        Of ``before`` and ``after``; of paired specimens only the first counts.
    paired : bool
    common, common_degrees : float
        Variance of the bare mean, which is in both.
    """

    before: float
    after: float
    of_before: float
    of_after: float
    between: float
    degrees: tuple[float, float]
    paired: bool
    common: float
    common_degrees: float

    def degrees_at(self, share: float) -> float:
        """Degrees of freedom of after - share before (Satterthwaite, Biometrics Bull. 2, 110, 1946)."""
        if self.paired:
            own = self.of_after - 2.0 * share * self.between + share**2 * self.of_before
            parts, freedom = [own], [self.degrees[0]]
        else:
            parts, freedom = [share**2 * self.of_before, self.of_after], list(self.degrees)
        parts, freedom = [*parts, (1.0 - share) ** 2 * self.common], [*freedom, self.common_degrees]
        total = sum(parts)
        if total <= 0.0:
            return min(freedom)
        return total**2 / max(sum(part**2 / free for part, free in zip(parts, freedom, strict=True)), 1e-300)


def judge_kept(before: Amounts, after: Amounts, settings: ComparisonSettings, level: float = 0.95) -> Kept:
    """Say what share of the coating a treatment left.

    Parameters
    ----------
    before, after : Amounts
        Specimens of the same names are the same pieces; if at least two are, only these are used.
    settings : ComparisonSettings
        ``kept_margin`` and ``kept_risk``.
    level : float
        Of the interval that is shown; that of the verdict ``kept`` is 1 - 2 ``kept_risk``.

    Returns
    -------
    Kept
    """
    shared = tuple(name for name in before.pieces if name in after.pieces)
    paired = len(shared) > 1
    ratio = _paired(before, after, shared) if paired else _unpaired(before, after)
    pairs = len(shared) if paired else 0
    margin = settings.kept_margin
    if min(ratio.degrees) < 1:
        why = (Reason("kept-one-specimen"),)
        share = ratio.after / ratio.before if ratio.before > 0 else None
        return Kept(CANNOT_TELL, why, share, None, None, margin, pairs, level)
    low, high = fieller(ratio, level)
    if low is None and high is None:
        why = (Reason("kept-nothing-before", {"amount": ratio.before}),)
        return Kept(CANNOT_TELL, why, None, None, None, margin, pairs, level)
    strict = fieller(ratio, 1.0 - 2.0 * settings.kept_risk)
    verdict, code = _verdict(strict, (low, high), margin)
    reasons = [Reason(code, {"low": low, "high": high, "margin": margin})]
    reasons += [] if paired else [Reason("kept-not-paired", {"shared": len(shared)})]
    return Kept(verdict, tuple(reasons), ratio.after / ratio.before, low, high, margin, pairs, level)


def _verdict(strict: Ends, shown: Ends, margin: float) -> tuple[str, str]:
    """Verdict and its reason's code."""
    if strict[0] is not None and strict[1] is not None and strict[0] > 1 - margin and strict[1] < 1 + margin:
        return KEPT, "kept-within-margin"
    if shown[1] is not None and shown[1] < 1.0:
        return LOST, "kept-lost"
    if shown[0] is not None and shown[0] > 1.0:
        return GAINED, "kept-gained"
    return CANNOT_TELL, "kept-interval-too-wide"


def _paired(before: Amounts, after: Amounts, shared: tuple[str, ...]) -> Ratio:
    """Means and scatter of the same specimens before and after."""
    x, y = before.of(shared), after.of(shared)
    cover = np.cov(np.vstack([x, y]), ddof=1) / x.size
    free = (x.size - 1.0, x.size - 1.0)
    spread = float(cover[0, 0]), float(cover[1, 1]), float(cover[0, 1])
    bare = before.bare_variance, before.degrees
    return Ratio(float(x.mean()), float(y.mean()), *spread, free, True, *bare)


def _unpaired(before: Amounts, after: Amounts) -> Ratio:
    """Means and scatter of other specimens before and after, each set with its own scatter."""
    x, y = before.means, after.means
    free = (x.size - 1.0, y.size - 1.0)
    own = [float(np.var(values, ddof=1)) / values.size if values.size > 1 else 0.0 for values in (x, y)]
    return Ratio(
        before.mean, after.mean, own[0], own[1], 0.0, free, False, before.bare_variance, before.degrees
    )


def fieller(ratio: Ratio, level: float) -> Ends:
    """Return the least and the largest share r for which after - r before is not shown to differ from zero.

    Each share is tried at the degrees of freedom that the difference has there. Both ends are missing where
    ``before`` itself is not shown to be above zero: nothing bounds the share.
    """
    widest = _at_degrees(ratio, min(*ratio.degrees, ratio.common_degrees), level)
    if widest is None:
        return None, None
    found = ratio.after / ratio.before
    return tuple(_outermost(ratio, end, found, level) for end in widest)  # type: ignore[return-value]


def _at_degrees(ratio: Ratio, degrees: float, level: float) -> tuple[float, float] | None:
    """Return the ends were the degrees of freedom the same at every share: roots of a quadratic."""
    reach = critical_factor((1.0 - level) / 2.0, degrees) ** 2
    a = ratio.before**2 - reach * (ratio.of_before + ratio.common)
    b = ratio.before * ratio.after - reach * (ratio.between + ratio.common)
    c = ratio.after**2 - reach * (ratio.of_after + ratio.common)
    if a <= 0.0 or ratio.before <= 0.0:
        return None
    root = float(np.sqrt(max(0.0, b**2 - a * c)))
    return (b - root) / a, (b + root) / a


def _outermost(ratio: Ratio, end: float, found: float, level: float) -> float:
    """Return the share nearest to the widest interval's end that is not excluded."""
    if not _excluded(ratio, end, level):
        return end
    tried = np.linspace(end, found, TRIED)
    inside = next(k for k, share in enumerate(tried) if not _excluded(ratio, float(share), level))
    out, near = float(tried[inside - 1]), float(tried[inside])
    while abs(near - out) > TOLERANCE:
        middle = (near + out) / 2.0
        out, near = (middle, near) if _excluded(ratio, middle, level) else (out, middle)
    return near


def _excluded(ratio: Ratio, share: float, level: float) -> bool:
    """Tell whether after - share before is shown to differ from zero."""
    own = ratio.of_after - 2.0 * share * ratio.between + share**2 * ratio.of_before
    variance = own + (1.0 - share) ** 2 * ratio.common
    reach = critical_factor((1.0 - level) / 2.0, ratio.degrees_at(share))
    # A hair's breadth: the widest interval's own ends count as inside.
    return bool((ratio.after - share * ratio.before) ** 2 > reach**2 * variance * (1.0 + 1e-9))
