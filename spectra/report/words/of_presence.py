"""Why a layer or a coating counts as there or not, and what to do about it: part of ``report.view``."""

from __future__ import annotations

from collections.abc import Iterable

from spectra.report.words.numerals import counted, limit, listed, plain, probability, span
from spectra.report.words.values import Values, Wording, count_of_bands, whole_share


def _regions(regions: Iterable[tuple[float, float]]) -> str:
    return listed([span(low, high) for low, high in sorted(regions, reverse=True)])


def _chance(v: Values) -> str:
    """P value as it is written in brackets."""
    text = probability(v["p_value"])
    return f"p {text}" if text.startswith("below") else f"p = {text}"


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


PRESENCE: dict[str, Wording] = {
    "too-few-bare": Wording(
        lambda v: (
            f"At least {counted(v['needed'], 'bare spot')} are needed to learn how much bare spots differ by "
            "themselves."
        ),
        "Measure more bare specimens of the same lot in the same way; five are a good start.",
    ),
    "negative-amount": Wording(
        lambda v: (
            f"The amount is clearly negative, {plain(100.0 * v['amount'])} %, which no coating can cause: "
            "the bare set does not represent this substrate, or another material is there."
        ),
        "Measure bare specimens of the same lot and history, and take a fresh background.",
    ),
    "few-specimens": Wording(
        lambda v: (
            f"The coated spots come from {counted(v['found'], 'specimen')} only: scatter between specimens "
            f"is not known, and the verdict holds for {'this piece' if v['found'] == 1 else 'these pieces'}."
        ),
        "Measure at least three specimens each, bare and coated.",
    ),
    "amount-above-critical": Wording(lambda v: _against_limit(v, "above")),
    "amount-below-critical": Wording(lambda v: _against_limit(v, "not above")),
    "bands-found": Wording(
        lambda v: (
            f"{len(v['found'])} of {counted(v['looked_at'], 'band')} that can be tested alone "
            f"{'is' if len(v['found']) == 1 else 'are'} significant (Holm): {v.bands(v['found'])}."
        )
    ),
    "rests-on-one-band": Wording(
        lambda v: f"Only {v.bands(v['found'])} is significant by itself; {v['needed']} bands are needed."
    ),
    "no-band-alone": Wording(
        lambda v: (
            f"None of {counted(v['looked_at'], 'band')} that can be tested alone is significant; "
            f"{v['needed']} are needed."
        )
    ),
    "pattern-agrees": Wording(
        lambda v: f"Band ratios agree with the neat coating (test of the pattern, {_chance(v)})."
    ),
    "pattern-differs": Wording(
        lambda v: (
            f"Band ratios differ from those of the neat coating (test of the pattern, {_chance(v)}): another "
            "material may share some of the bands, or the coating is changed."
        )
    ),
    "unmistakable": Wording(
        lambda v: (
            f"The model leaves more unexplained at {_regions(v['regions'])} than differs between bare "
            "specimens, but the coating's bands are far higher than that."
        )
    ),
    "bands-masked": Wording(
        lambda v: (
            f"The substrate hides {count_of_bands(v, v['masked'])}; {v['unmasked']} left, and {v['needed']} "
            "are needed."
        )
    ),
    "no-bands": Wording(
        lambda v: (
            f"The neat spectrum has {counted(v['unmasked'], 'usable band')} in the range; {v['needed']} are "
            "needed."
        )
    ),
    "inseparable": Wording(
        lambda v: (
            f"Its spectrum and that of {v['other']} are too alike to be told apart (correlation "
            f"{plain(v['correlation'])})."
        )
    ),
    "bare-set-differs": Wording(
        lambda v: (
            f"At {_regions(v['regions'])} the sample differs from substrate plus coating as no bare spot "
            "does."
        )
    ),
    "few-bare": Wording(
        lambda v: (
            f"Learned from {counted(v['found'], 'bare spot')} only; {v['wanted']} or more make the verdict "
            "surer."
        )
    ),
    "one-bare-specimen": Wording(
        lambda v: (
            f"{counted(v['spots'], 'bare spot')}, all on one specimen: scatter between specimens is not "
            "known."
        )
    ),
    "recognised": Wording(
        lambda v: (
            "A film of the coating, its bands free to move and to weaken, explains "
            f"{whole_share(v['explained'])} of what the sample shows beyond bare specimens; of the band "
            f"strength that could be found, {whole_share(v['share'])} was found."
        )
    ),
    "layer-shown": Wording(_layer),
    "layer-not-shown": Wording(lambda v: f"The sample shows no more than bare specimens do ({_chance(v)})."),
    "layer-differs": Wording(
        lambda v: (
            f"The coating, its bands free to move and to weaken, explains only {whole_share(v['explained'])} "
            "of what the sample shows beyond bare specimens: most of it is something else."
        )
    ),
    "not-sensitive": Wording(
        lambda v: (
            f"The amount is below the decision limit, but {limit(v['detectable'])} of neat would be needed "
            "to be found: that it was not found shows little."
        )
    ),
}
