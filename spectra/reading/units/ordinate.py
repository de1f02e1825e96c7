"""Which unit the ordinates of a set of curves are in: the one place that decides.

A set is what was written alike: the columns of one table, or the files of one folder and shape. What a
person states counts first, what headings state next; both are held against the values. Where nothing is
stated, the curves of a set are weighed together (``verdict``). What contradicts itself is refused with both
readings and the line that settles it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.errors import AmbiguityError, FormatError, ReadingError
from spectra.reading.units.curve import (
    Curve,
    Ordinate,
    high_of,
    reading_of,
    require_number,
    span_of,
    state_it,
)
from spectra.reading.units.evidence import Evidence, weigh
from spectra.reading.units.verdict import ENOUGH, by_evidence, with_the_others
from spectra.reading.units.words import KUBELKA_MUNK, SCALED_ABSORBANCE
from spectra.spectrum import Fault

# Evidence so strong that a heading is doubted: common practice, no source.
DOUBT = 1.3

# Fewer points do not contradict a heading.
_ENOUGH_POINTS = 100


def settle_ordinates(curves: Sequence[Curve], wanted: str | None = None) -> list[Ordinate | ReadingError]:
    """Decide the unit of every curve of a set.

    Parameters
    ----------
    curves : sequence of Curve
        One table, or files of one shape.
    wanted
        What a person states, a member of ``units.Y_UNITS``; None if nothing.

    Returns
    -------
    list of Ordinate or ReadingError
        In the order of the curves; an error for a curve that is no spectrum and may be left out.

    Raises
    ------
    AmbiguityError
        If the set can be read in two ways, or contradicts what is stated.
    """
    if wanted is not None:
        return [_as_wanted(curve, wanted) for curve in curves]
    found: list[Ordinate | ReadingError | None] = [_as_stated(curve) for curve in curves]
    _agree_on_percent(curves, found)
    known = {one.unit for one in found if isinstance(one, Ordinate)}
    silent = [i for i, one in enumerate(found) if one is None]
    if silent:
        chosen = [curves[i] for i in silent]
        joined = with_the_others(chosen, known.pop()) if len(known) == 1 else by_evidence(chosen)
        for i, one in zip(silent, joined, strict=True):
            found[i] = one
    return [one for one in found if one is not None]


# -- what a person states ----------------------------------------------------------------------------


def _as_wanted(curve: Curve, wanted: str) -> Ordinate | ReadingError:
    """Take what a person states, unless no value can be of that unit; say what it overrules."""
    try:
        require_number(curve)
    except FormatError as error:
        return error
    high = high_of(curve)
    limit = {"absorbance": 6.0, "percent transmittance": 200.0, "percent reflectance": 200.0}.get(wanted, 2.0)
    if high > limit or (wanted.startswith("percent") and high <= 1.3):
        other = _other_scale(wanted, high)
        return AmbiguityError(
            f"{curve.where}: stated as {wanted}, but the ordinates reach {high:.4g}"
            f"{'' if high > limit else ' only'}: {reading_of(curve, wanted)}{other}"
        )
    overruled = curve.stated or curve.above or curve.foreign
    faults: tuple[Fault, ...] = ()
    if overruled is not None and overruled not in (wanted, f"percent {wanted}", wanted.partition(" ")[2]):
        faults = (
            Fault(
                "ordinate-overruled",
                "warning",
                "whole range",
                f"the file says {overruled}, the study says {wanted}: {wanted} is taken",
                "Check which of the two is right.",
            ),
        )
    evidence = weigh(curve.wavenumbers, curve.values)
    rival = None if evidence is None else _contradicting(wanted, evidence)
    if rival is not None:
        faults += (
            Fault(
                "ordinate-doubtful",
                "warning",
                "whole range",
                f"stated as {wanted}, but the bands point {_way(rival)}, as in {rival}: as {wanted} the "
                f"absorbance is {reading_of(curve, wanted)}, as {rival} {reading_of(curve, rival)}",
                "Correct the statement if it is wrong.",
            ),
        )
    return Ordinate(wanted, (f"ordinate taken as {wanted}, as the study states",), faults)


def _other_scale(wanted: str, high: float) -> str:
    """Name the statement that the values would fit."""
    quantity = wanted.removeprefix("percent ")
    if quantity == "absorbance":
        fits = "percent transmittance" if 20 < high <= 130 else ""
    else:
        fits = f"percent {quantity}" if 2 < high <= 200 else quantity if high <= 2 else ""
    return (
        f"; if they are {fits}, {state_it(fits)}"
        if fits
        else "; export the ratio to the background with its unit"
    )


# -- what headings state -----------------------------------------------------------------------------


def _as_stated(curve: Curve) -> Ordinate | ReadingError | None:
    """Take what the heading states, held against the values; None if it states nothing."""
    try:
        require_number(curve)
    except FormatError as error:
        return error
    stated, said = curve.stated, tuple[str, ...]()
    if stated is None and curve.foreign is None and curve.above is not None:
        stated, said = curve.above, (f"ordinate taken as {curve.above}, which is named above the table",)
    if stated is None:
        return None if curve.foreign is None else _foreign(curve)
    evidence = weigh(curve.wavenumbers, curve.values)
    high = high_of(curve) if evidence is None else evidence.high
    if stated == KUBELKA_MUNK:
        return Ordinate(stated, said)
    if stated in SCALED_ABSORBANCE:
        factor = SCALED_ABSORBANCE[stated]
        return Ordinate(stated, (*said, f"{stated} turned into decadic absorbance: times {factor:.6g}"))
    if stated == "absorbance" and high > 6.0 and curve.values.size >= _ENOUGH_POINTS:
        raise _impossible_absorbance(curve, high)
    if stated != "absorbance" and high > 200.0 and curve.values.size >= _ENOUGH_POINTS:
        raise _impossible_ratio(curve, stated, high)
    if stated.startswith("percent") and high <= 1.3:
        raise _percent_or_fraction(curve, stated)
    if evidence is not None and curve.values.size >= _ENOUGH_POINTS:
        _require_direction(curve, stated, evidence)
    return Ordinate(stated, said)


def _foreign(curve: Curve) -> FormatError:
    return FormatError(
        f"{curve.where}: the heading calls it {curve.foreign}; expected absorbance, transmittance or "
        f"reflectance. If it is one of them, {state_it('absorbance')}"
    )


def _impossible_absorbance(curve: Curve, high: float) -> AmbiguityError:
    return AmbiguityError(
        f"{curve.where}: stated as absorbance, but the ordinates reach {high:.4g}, which no detector "
        f"measures: they may be percent transmittance ({reading_of(curve, 'percent transmittance')}), "
        f"thousandths of absorbance or raw intensity; if percent, {state_it('percent transmittance')}"
    )


def _impossible_ratio(curve: Curve, stated: str, high: float) -> AmbiguityError:
    return AmbiguityError(
        f"{curve.where}: stated as {stated}, but the ordinates reach {high:.4g}: neither a fraction nor "
        "percent (raw intensity?); export the ratio to the background"
    )


def _percent_or_fraction(curve: Curve, stated: str) -> AmbiguityError:
    quantity = stated.removeprefix("percent ")
    return AmbiguityError(
        f"{curve.where}: stated as {stated}, but no value exceeds {span_of([curve])[1]:.3g}: as percent the "
        f"absorbance is {reading_of(curve, stated)}, as fraction {reading_of(curve, quantity)}; "
        f"{state_it(stated, quantity)}"
    )


def _require_direction(curve: Curve, stated: str, evidence: Evidence) -> None:
    """Refuse a heading that the bands contradict clearly.

    Raises
    ------
    AmbiguityError
        With both readings.
    """
    scores = evidence.scores
    if "absorbance" not in scores and stated.endswith("transmittance"):
        if scores and max(scores.values()) < -DOUBT / 2:
            raise AmbiguityError(
                f"{curve.where}: stated as {stated}, but the bands of the ordinates up to "
                f"{evidence.high:.3g} point up: as {stated} the absorbance is "
                f"{reading_of(curve, stated)}; export the ratio to the background, or {state_it(stated)}"
            )
        return
    rival = _contradicting(stated, evidence)
    if rival is not None:
        raise AmbiguityError(
            f"{curve.where}: stated as {stated}, but the bands point {_way(rival)}, as in "
            f"{rival}: as {stated} the absorbance is {reading_of(curve, stated)}, as {rival} "
            f"{reading_of(curve, rival)}; {state_it(stated, rival)}"
        )


def _contradicting(stated: str, evidence: Evidence) -> str | None:
    """Return the reading that the bands show far more clearly than the stated one, or None."""
    scores, upward = evidence.scores, stated == "absorbance"
    ratios = {name: score for name, score in scores.items() if name != "absorbance"}
    if not ratios or "absorbance" not in scores:
        return None
    ratio = max(ratios, key=lambda name: ratios[name])
    mine, other = (scores["absorbance"], ratios[ratio]) if upward else (ratios[ratio], scores["absorbance"])
    rival = ratio if upward else "absorbance"
    clear = other > ENOUGH and other - mine > DOUBT and evidence.looks[rival].base < 0.3
    return rival if clear and not (evidence.swings or evidence.hump) else None


def _way(reading: str) -> str:
    return "up" if reading == "absorbance" else "down"


def _agree_on_percent(curves: Sequence[Curve], found: list[Ordinate | ReadingError | None]) -> None:
    """Decide fraction or percent for ratios whose heading leaves it open: one table, one unit."""
    for quantity in ("transmittance", "reflectance"):
        mine = [i for i, one in enumerate(found) if isinstance(one, Ordinate) and one.unit == quantity]
        highs = [high_of(curves[i]) for i in mine]
        if not mine or max(highs) <= 2.0:
            continue
        if min(highs) <= 1.3:
            raise _percent_or_fraction(curves[mine[int(np.argmin(highs))]], f"percent {quantity}")
        high = span_of([curves[i] for i in mine])[1]
        for i in mine:
            before = found[i]
            said = f"values up to {high:g} taken as {quantity} in percent"
            found[i] = Ordinate(
                f"percent {quantity}", (*(before.said if isinstance(before, Ordinate) else ()), said)
            )
