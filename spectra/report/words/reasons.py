"""Why a verdict is what it is, in words: the sentences of ``report.view``.

``REASONS`` maps the code of a :class:`~spectra.findings.Reason` to the maker of its sentence; ``REMEDIES``
of ``remedies`` says what to do about it. Adding a code is one line in each. A code that is not known is
shown bare with its values, so that a report never fails over a word.

A maker is given the reason's values as :class:`Values`, which also know what the bands near a position are
called, so that a sentence names its bands.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from spectra.findings import BandFinding, Reason
from spectra.report.words.comparing import COMPARING
from spectra.report.words.numerals import (
    counted,
    exact,
    fixed,
    limit,
    listed,
    percent,
    plain,
    probability,
    span,
    wavenumber,
    wavenumbers,
    with_interval,
)
from spectra.report.words.remedies import REMEDIES

NEAR = 12.0  # cm-1: a band this near to a position is the one meant

Names = Mapping[float, str]


class Values(dict[str, Any]):
    """Values of a reason, and the names of the bands it may speak of by position."""

    def __init__(self, values: Mapping[str, Any], names: Names) -> None:
        super().__init__(values)
        self.names = names

    def name(self, position: float) -> str:
        """Return what the band at a position is called, or nothing."""
        near = min(self.names, key=lambda place: abs(place - position), default=math.inf)
        return self.names[near] if abs(near - position) <= NEAR else ""

    def band(self, position: float) -> str:
        """Name one band: ``amide I (1655 cm-1)``, or ``the band at 1655 cm-1``."""
        name = self.name(position)
        return f"{name} ({wavenumber(position)})" if name else f"the band at {wavenumber(position)}"

    def bands(self, positions: Iterable[float]) -> str:
        """Name several bands by falling wavenumber: ``amide I 1655 and amide II 1549 cm-1``."""
        falling = sorted(positions, reverse=True)
        words = [f"{self.name(each)} {fixed(each, 0)}".strip() for each in falling]
        return f"{listed(words)} cm-1" if words else "none"


def names_of(bands: Iterable[BandFinding]) -> dict[float, str]:
    """Return what bands are called, by expected and by reference position.

    A name is the first part of the assignment, without the state it holds for.
    """
    found: dict[float, str] = {}
    for band in bands:
        if band.assignment and "not assigned" not in band.assignment:
            name = band.assignment.split(" (")[0].split(" + ")[0].split(" or ")[0]
            found[band.expected_position] = name
            found.setdefault(band.neat_position, name)
    return found


def sentence(reason: Reason, names: Names | None = None) -> str:
    """Return the sentence of a reason.

    Parameters
    ----------
    reason
    names
        From :func:`names_of`; without them bands are told by their wavenumber alone.

    Examples
    --------
    >>> sentence(Reason("one-band", {"position": 1655.2}), {1655.0: "amide I"})
    'Only one band is significant: amide I (1655 cm-1).'
    >>> sentence(Reason("unheard_of", {"n": 3}))
    'unheard_of (n = 3)'
    """
    try:
        return _capital(REASONS[reason.code](Values(reason.values, names or {})))
    except (AttributeError, KeyError, TypeError, ValueError):
        return _bare(reason)


def remedy(reason: Reason) -> str:
    """Return what to do about a reason, or an empty text where nothing needs doing.

    Examples
    --------
    >>> remedy(Reason("not-like-with-like"))
    "Measure the reference by the sample's technique."
    """
    return REMEDIES.get(reason.code, "")


def named_remedy(reason: Reason) -> str:
    """Return the text of a remedy that the decision names itself; a code without text is shown bare."""
    return remedy(reason) or _bare(reason)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _bare(reason: Reason) -> str:
    """Code and values as they are: for codes without a sentence, or values that do not fit it."""
    values = ", ".join(f"{name} = {value}" for name, value in reason.values.items())
    return f"{reason.code} ({values})" if values else reason.code


def _count(v: Values, value: Any) -> str:
    """Count of bands, with their names where they are given."""
    if not hasattr(value, "__iter__"):
        return counted(value, "band")
    places = list(value)
    return f"{counted(len(places), 'band')} ({v.bands(places)})" if places else "no band"


def _regions(regions: Iterable[tuple[float, float]]) -> str:
    return listed([span(low, high) for low, high in sorted(regions, reverse=True)])


def _chance(v: Values) -> str:
    """P value as it is written in brackets."""
    text = probability(v["p_value"])
    return f"p {text}" if text.startswith("below") else f"p = {text}"


def _moved(v: Values) -> str:
    return (
        f"{v.band(v['position'])} is not where the unchanged material must show it: it is shifted by "
        f"{with_interval(v['shift'], v['low'], v['high'], 'cm-1')}, outside the margin of +/- "
        f"{exact(v['margin'])} cm-1."
    )


def _times(v: Values) -> str:
    return f"{with_interval(v['ratio'], v['low'], v['high'])} times its height in the reference"


def _lost(v: Values) -> str:
    if "ratio" not in v:
        return f"{v.band(v['position'])} was not found where the unchanged material must show it."
    return f"{v.band(v['position'])} is weaker against the other bands: {_times(v)}."


def _too_wide(v: Values) -> str:
    if v["low"] is None or v["high"] is None:
        return f"The position of {v.band(v['position'])} could not be measured."
    middle = (v["low"] + v["high"]) / 2
    return (
        f"The shift of {v.band(v['position'])}, {with_interval(middle, v['low'], v['high'], 'cm-1')}, is "
        f"neither inside nor outside the margin of +/- {exact(v['margin'])} cm-1."
    )


def _not_seen(v: Values) -> str:
    seen = f"No unexplained band at its places in the tables: {wavenumbers(_falling(v['bands']))}."
    return (
        f"{seen} Hidden by substrate or coating: {wavenumbers(_falling(v['hidden']))}."
        if v.get("hidden")
        else seen
    )


def _falling(positions: Iterable[float]) -> list[float]:
    return sorted(positions, reverse=True)


def _may_be_optical(v: Values, why: str) -> str:
    bound = v.get("bound")
    size = (
        "an unknown part" if bound is None or not math.isfinite(bound) else f"up to {math.ceil(bound)} cm-1"
    )
    return f"No position could be predicted ({why}); {size} of any shift may be optical."


def _share(value: float) -> str:
    """Share in whole per cent, never as all of it."""
    whole = math.floor(100.0 * value)
    return percent(whole / 100.0) if whole < 100 else "over 99 %"


def _against_limit(v: Values, said: str) -> str:
    """Say how the amount stands to its decision limit; ``said`` where no critical value is known."""
    if v["amount"] is not None and v["critical"] is not None:
        said = "above" if v["amount"] > v["critical"] else "not above"
    return (
        f"The amount from all bands together, {plain(100.0 * v['amount'])} % of neat, is {said} the "
        f"decision limit of {limit(v['critical'])}."
    )


def _layer(v: Values) -> str:
    if v["p_value"] < v["alpha"]:
        return f"Something is on the surface that bare specimens do not show ({_chance(v)})."
    return f"A present coating is a layer; the test of everything at once sees less ({_chance(v)})."


def _open(v: Values) -> str:
    return (
        f"{v.band(v['position'])} is neither surely at its place and strength nor surely changed: shift "
        f"{plain(v['shift'], 2)} cm-1, margin +/- {exact(v['margin'])} cm-1, {plain(v['ratio'], 2)} times as "
        "strong as expected."
    )


def _not_judged(v: Values) -> str:
    if "share" not in v:
        return f"Not judged, too weak or too broad here: {v.bands(v['positions'])}."
    return (
        f"Not judged, too weak here or under the substrate's: {v.bands(v['positions'])}; the judged bands "
        f"hold {_share(v['share'])} of the coating's band strength."
    )


REASONS: dict[str, Callable[[Values], str]] = {
    **COMPARING,
    "too-few-bare": lambda v: (
        f"At least {counted(v['needed'], 'bare spot')} are needed to learn how much bare spots differ by "
        "themselves."
    ),
    "one-band": lambda v: f"Only one band is significant: {v.band(v['position'])}.",
    "negative-amount": lambda v: (
        f"The amount is clearly negative, {plain(100.0 * v['amount'])} %, which no coating can cause: the "
        "bare set does not represent this substrate, or another material is there."
    ),
    "no-detected-band": lambda _: "No coating band was detected, so there is no position to judge.",
    "all-equivalent": lambda v: (
        f"Every shift that could be judged lies within +/- {exact(v['margin'])} cm-1 of the expected "
        f"position, its whole interval included: {_count(v, v['bands'])}."
    ),
    "shifted": _moved,
    "interval-too-wide": _too_wide,
    "not-like-with-like": lambda v: (
        f"The reference was measured by {v['neat_technique']}, the sample by {v['sample_technique']}; "
        "positions are not comparable between them."
    ),
    "lost-band": _lost,
    "grown-band": lambda v: f"{v.band(v['position'])} is stronger against the other bands: {_times(v)}.",
    "few-specimens": lambda v: (
        f"The coated spots come from {counted(v['found'], 'specimen')} only: scatter between specimens is "
        f"not known, and the verdict holds for {'this piece' if v['found'] == 1 else 'these pieces'}."
    ),
    "residue-bands": lambda v: (
        f"Unexplained bands at {wavenumbers(_falling(v['positions']))} agree with its places in the tables; "
        "other causes are not excluded."
    ),
    "residue-or-change": lambda v: (
        f"Unexplained bands at {wavenumbers(_falling(v['positions']))} lie where it absorbs, but the coating "
        "itself is changed and may cause them."
    ),
    "residue-or-optics": lambda v: (
        f"Unexplained bands at {wavenumbers(_falling(v['positions']))} lie where it absorbs, but the "
        "film's own spectrum could not be computed and may cause them."
    ),
    "coating-not-shown": lambda _: "The coating is not shown, so there is no chemistry of it to judge.",
    "presence-open": lambda _: (
        "Whether the coating is there is undecided: the bands may belong to another material, or to a "
        "changed coating."
    ),
    "optics-no-model": lambda _: (
        "Positions were compared like with like only: this technique has no optical model here."
    ),
    "optics-technique-not-stated": lambda v: _may_be_optical(v, "the technique is not stated"),
    "optics-unknown-geometry": lambda v: _may_be_optical(v, "crystal and angle of incidence are not stated"),
    "optics-no-total-reflection": lambda v: _may_be_optical(
        v, "for the stated crystal and angle the light is not totally reflected"
    ),
    "optics-too-strong": lambda v: _may_be_optical(
        v, "the neat spectrum is stronger than the stated crystal and angle allow"
    ),
    "optics-not-converged": lambda v: _may_be_optical(
        v, "the optical constants could not be found from the neat spectrum"
    ),
    "residue-outside": lambda _: "None of its bands in the tables lies where these spectra can show one.",
    "residue-hidden": lambda v: (
        f"Substrate or coating hide its strong bands: {wavenumbers(_falling(v['hidden']))}."
    ),
    "residue-not-seen": _not_seen,
    "not-judged": _not_judged,
    "material-bands-missing": lambda v: (
        f"Of {counted(v['strong'], 'strong band')} that the tables give for this material and that could be "
        f"seen, {len(v['missing'])} {'is' if len(v['missing']) == 1 else 'are'} not there: "
        f"{v.bands(v['missing'])}."
    ),
    "another-material-fits": lambda v: (
        f"The bands fit {v['material']} better, with strong bands at {wavenumbers(_falling(v['bands']))}"
        + (f"; {listed(v['also'])} would fit better too." if v.get("also") else ".")
    ),
    # of the joint fit
    "amount-above-critical": lambda v: _against_limit(v, "above"),
    "amount-below-critical": lambda v: _against_limit(v, "not above"),
    "bands-found": lambda v: (
        f"{len(v['found'])} of {counted(v['looked_at'], 'band')} that can be tested alone "
        f"{'is' if len(v['found']) == 1 else 'are'} significant (Holm): {v.bands(v['found'])}."
    ),
    "rests-on-one-band": lambda v: (
        f"Only {v.bands(v['found'])} is significant by itself; {v['needed']} bands are needed."
    ),
    "no-band-alone": lambda v: (
        f"None of {counted(v['looked_at'], 'band')} that can be tested alone is significant; {v['needed']} "
        "are needed."
    ),
    "pattern-agrees": lambda v: (
        f"Band ratios agree with the neat coating (test of the pattern, {_chance(v)})."
    ),
    "pattern-differs": lambda v: (
        f"Band ratios differ from those of the neat coating (test of the pattern, {_chance(v)}): another "
        "material may share some of the bands, or the coating is changed."
    ),
    "unmistakable": lambda v: (
        f"The model leaves more unexplained at {_regions(v['regions'])} than differs between bare "
        "specimens, but the coating's bands are far higher than that."
    ),
    "bands-masked": lambda v: (
        f"The substrate hides {_count(v, v['masked'])}; {v['unmasked']} left, and {v['needed']} are needed."
    ),
    "no-bands": lambda v: (
        f"The neat spectrum has {counted(v['unmasked'], 'usable band')} in the range; {v['needed']} are "
        "needed."
    ),
    "inseparable": lambda v: (
        f"Its spectrum and that of {v['other']} are too alike to be told apart (correlation "
        f"{plain(v['correlation'])})."
    ),
    "bare-set-differs": lambda v: (
        f"At {_regions(v['regions'])} the sample differs from substrate plus coating as no bare spot does."
    ),
    "few-bare": lambda v: (
        f"Learned from {counted(v['found'], 'bare spot')} only; {v['wanted']} or more make the verdict surer."
    ),
    "one-bare-specimen": lambda v: (
        f"{counted(v['spots'], 'bare spot')}, all on one specimen: scatter between specimens is not known."
    ),
    # of the film fit, whose bands are free to move, weaken and widen
    "recognised": lambda v: (
        f"A film of the coating, its bands free to move and to weaken, explains {_share(v['explained'])} of "
        f"what the sample shows beyond bare specimens; of the band strength that could be found, "
        f"{_share(v['share'])} was found."
    ),
    "layer-shown": _layer,
    "layer-not-shown": lambda v: f"The sample shows no more than bare specimens do ({_chance(v)}).",
    "layer-differs": lambda v: (
        f"The coating, its bands free to move and to weaken, explains only {_share(v['explained'])} of what "
        "the sample shows beyond bare specimens: most of it is something else."
    ),
    "not-sensitive": lambda v: (
        f"The amount is below the decision limit, but {limit(v['detectable'])} of neat would be needed to be "
        "found: that it was not found shows little."
    ),
    "band-open": _open,
    "left-over-beside-band": lambda v: (
        f"Something is left over beside {v.bands(v['positions'])}, which may be a part that moved."
    ),
    "too-little-judged": lambda v: (
        f"The bands that can be judged here hold only {_share(v['share'])} of the coating's band strength; "
        f"not judged: {v.bands(v['positions'])}."
    ),
    "strongest-not-judged": lambda v: (
        f"The strongest band, {v.band(v['position'])}, cannot be judged here; those that can hold "
        f"{_share(v['share'])} of the coating's band strength."
    ),
    "layer-over-substrate": lambda _: (
        "A layer that was not recognised lies over the substrate and may be what changes its bands."
    ),
}
