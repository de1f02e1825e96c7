"""The unit of a set of curves whose headings state none, from what their values say together.

One unit is taken for all of them if the evidence is strong and unanimous; a curve that is no spectrum of a
sample is named and left to the caller. Otherwise :class:`AmbiguityError` shows the readings and the line
that settles it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.errors import AmbiguityError, FormatError, ReadingError
from spectra.reading.units.curve import Curve, Ordinate, range_of, reading_of, span_of, state_it
from spectra.reading.units.evidence import READINGS, Evidence, weigh
from spectra.reading.units.words import SCALED_ABSORBANCE

# A reading is taken if it scores so high by itself, and so much higher than the next one. Two rules that
# agree halve the second: a letter in the heading (A, Abs, T) is a hint. Set on ``tests.unittrial``.
ENOUGH, CLEAR, CLEAR_WITH_HINT = 0.4, 0.9, 0.45

# With one reading left there is none to compare with, so it must look right by itself.
ENOUGH_ALONE = 0.55

# Values up to about 100 speak for percent by themselves.
ENOUGH_PERCENT = 0.3


def with_the_others(curves: Sequence[Curve], unit: str) -> list[Ordinate | ReadingError]:
    """Give curves without a heading the unit that the rest of their table states, if the values allow it."""
    said = f"ordinate taken as {unit}, as the other columns of the table are"
    found: list[Ordinate | ReadingError] = []
    for curve in curves:
        evidence = weigh(curve.wavenumbers, curve.values)
        reading = unit.replace("reflectance", "transmittance")
        if evidence is None or (unit not in SCALED_ABSORBANCE and reading not in evidence.looks):
            found.append(
                FormatError(
                    f"{curve.where}: {range_of(curve)} cannot be {unit}, as the rest of its table is; "
                    f"if all of it is something else, {state_it()}"
                )
            )
        elif (error := no_spectrum(curve, evidence)) is not None:
            found.append(error)
        else:
            found.append(Ordinate(unit, (said,)))
    return found


def by_evidence(curves: Sequence[Curve]) -> list[Ordinate | ReadingError]:
    """Weigh the curves of a set together.

    Raises
    ------
    AmbiguityError
        If the evidence is weak, or divided.
    """
    weighed = [weigh(curve.wavenumbers, curve.values) for curve in curves]
    found: list[Ordinate | ReadingError | None] = [
        no_spectrum(curve, evidence) for curve, evidence in zip(curves, weighed, strict=True)
    ]
    left = [i for i, one in enumerate(found) if one is None]
    if left:
        evidence = [one for i in left if (one := weighed[i]) is not None]
        judged = [curves[i] for i in left]
        unit = _verdict(judged, evidence)
        said = _finding(judged, unit)
        for i, one in zip(left, evidence, strict=True):
            fits = unit in one.looks
            found[i] = (
                Ordinate(unit, (said,))
                if fits
                else FormatError(
                    f"{curves[i].where}: {range_of(curves[i])} cannot be {unit}, as the rest of its set is; "
                    f"if it is something else, {state_it()}"
                )
            )
    return [one for one in found if one is not None]


def no_spectrum(curve: Curve, evidence: Evidence | None) -> ReadingError | None:
    """Name a curve that is no spectrum of a sample."""
    if evidence is None:
        return AmbiguityError(f"{curve.where}: too few points to tell the unit; {state_it()}")
    if evidence.swings:
        what = "swing about zero with no net area, as a derivative or an interferogram does"
    elif evidence.median > 0 and evidence.scores.get("absorbance", 0.0) < ENOUGH and evidence.hump:
        what = "rise from dark ends to a bright middle, as a single beam does"
    elif not evidence.looks:
        what = "are neither absorbance nor transmittance (raw intensity?)"
    else:
        return None
    return FormatError(
        f"{curve.where}: {range_of(curve)} without a unit {what}; export the ratio to the background with "
        f"its unit, or {state_it('absorbance')}"
    )


def _verdict(curves: Sequence[Curve], evidence: Sequence[Evidence]) -> str:
    """Return the one unit that strong and unanimous evidence gives."""
    scores = [one.scores for one in evidence]
    most = max(sum(reading in score for score in scores) for reading in READINGS)
    total = {
        reading: float(np.mean(mine))
        for reading in READINGS
        if (mine := [score[reading] for score in scores if reading in score]) and 3 * len(mine) >= 2 * most
    }
    ranked = sorted(total, key=lambda name: total[name], reverse=True)
    best = ranked[0]
    alone = [_own_verdict(score, curve.hint) for score, curve in zip(scores, curves, strict=True)]
    able = [best in score for score in scores]  # the others cannot be of this unit, and are left out
    against = [
        curve
        for curve, mine, can in zip(curves, alone, able, strict=True)
        if can and mine not in (best, None)
    ]
    if 3 * sum(able) < 2 * len(able):
        raise _undecided(curves, ranked)
    if against:
        raise _divided(curves, against, best)
    margin = total[best] - total[ranked[1]] if len(ranked) > 1 else total[best] + 1.0
    enough = ENOUGH_PERCENT if best.startswith("percent") else ENOUGH
    if alone.count(best) * 2 < sum(able) or total[best] < enough or margin < CLEAR_WITH_HINT:
        raise _undecided(curves, ranked)
    return best


def _own_verdict(scores: dict[str, float], hint: str | None) -> str | None:
    """Return the unit that one curve by itself shows strongly."""
    ranked = sorted(scores, key=lambda name: scores[name], reverse=True)
    best = ranked[0]
    if len(ranked) == 1:
        enough = ENOUGH_PERCENT if best.startswith("percent") else ENOUGH_ALONE
        return best if scores[best] > enough else None
    clear = CLEAR_WITH_HINT if hint is not None and best.endswith(hint) else CLEAR
    return best if scores[best] > ENOUGH and scores[best] - scores[ranked[1]] > clear else None


def _finding(curves: Sequence[Curve], unit: str) -> str:
    """Say in one line for the set what was taken, and why."""
    low, high = span_of(curves)
    spectra = f" of {len(curves)} spectra" if len(curves) > 1 else ""
    why = "bands point up" if unit == "absorbance" else "bands point down from a bright base"
    name = f"{unit} (fraction)" if unit == "transmittance" else unit
    return f"ordinates{spectra} from {low:.3g} to {high:.3g} taken as {name}: {why}"


def _divided(curves: Sequence[Curve], against: Sequence[Curve], best: str) -> AmbiguityError:
    return AmbiguityError(
        f"{against[0].where}: {range_of(against[0])} have no unit and do not look like {best}, as "
        f"{len(curves) - len(against)} of {len(curves)} that were written alike do; {state_it()}"
    )


def _undecided(curves: Sequence[Curve], ranked: Sequence[str]) -> AmbiguityError:
    low, high = span_of(curves)
    first = curves[0]
    more = f" (and {len(curves) - 1} written alike)" if len(curves) > 1 else ""
    readings = [
        f"absorbance from {low:.3g} to {high:.3g}"
        if reading == "absorbance"
        else f"{reading} with an absorbance of {reading_of(first, reading)}"
        for reading in ranked
    ]
    return AmbiguityError(
        f"{first.where}{more}: ordinates from {low:.3g} to {high:.3g} have no unit: they may be "
        f"{', or '.join(readings)}; {state_it(*ranked)}"
    )
