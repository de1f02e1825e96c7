"""One verdict in words: the question, the word, its mark, why, what to do, and the numbers beside it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    NOT_SHOWN,
    PRESENT,
    UNCHANGED,
    Chemistry,
    Presence,
    Reason,
    Residue,
)
from spectra.report.words.comparing import layout_line
from spectra.report.words.numerals import counted, length, limit, listed, plain
from spectra.report.words.reasons import Names, named_remedy, remedy, sentence
from spectra.report.words.remedies import GENERAL_REMEDY
from spectra.report.words.statement import (
    RESIDUE_CAUTION,
    RESIDUE_WORDS,
    amount,
    confidence,
    from_memory,
    has_thickness,
    hidden_bands,
    residue_limit,
    thickness,
)
from spectra.verification.result import CoatingFinding, SampleFinding

# Style class of each verdict: a shape as well as a colour, so that it survives print in grey.
MARKS = {
    PRESENT: "yes",
    UNCHANGED: "yes",
    NOT_SHOWN: "no",
    CHANGED: "moved",
    CANNOT_TELL: "open",
    "shown": "yes",
}


@dataclass(frozen=True)
class Judgement:
    """One verdict: the question, the word, its mark and why; each reason with its remedy or ''."""

    question: str
    word: str
    mark: str
    reasons: tuple[tuple[str, str], ...]


def of_layer(sample: SampleFinding) -> tuple[Judgement, ...]:
    """Word the verdict on a layer of any kind, where it was judged."""
    layer = sample.layer
    if layer is None:
        return ()
    said = _judgement("layer of any kind", layer.verdict, layer.reasons, {})
    like = ((f"It looks like {listed(layer.looks_like)}.", ""),) if layer.looks_like else ()
    return (replace(said, reasons=(*said.reasons, *like)),)


def of_presence(presence: Presence, names: Names, without: Sequence[str] = ()) -> Judgement:
    """Word the verdict on presence with the remedies it names, and the second verdict where there is one."""
    said = [
        (sentence(reason, names), "" if presence.remedies else remedy(reason)) for reason in presence.reasons
    ]
    said += [(line, "") for line in without]
    said += [("", named_remedy(reason)) for reason in presence.remedies]
    return _with_remedy("coating", presence.verdict, said)


def of_chemistry(question: str, chemistry: Chemistry, names: Names) -> Judgement:
    """Word the verdict on the bands of a coating or of the substrate."""
    return _judgement(question, chemistry.verdict, chemistry.reasons, names)


def _judgement(question: str, verdict: str, reasons: tuple[Reason, ...], names: Names) -> Judgement:
    """Word a verdict, each reason with its remedy."""
    return _with_remedy(question, verdict, [(sentence(reason, names), remedy(reason)) for reason in reasons])


def _with_remedy(question: str, verdict: str, said: list[tuple[str, str]]) -> Judgement:
    """Return a verdict in words; an undecided one never goes without a remedy."""
    if verdict == CANNOT_TELL and not any(cure for _, cure in said):
        said.append(("", GENERAL_REMEDY))
    return Judgement(question, verdict, MARKS[verdict], tuple(said))


def of_residue(residue: Residue) -> Judgement:
    """Word the verdict on a residue: signs of it are marked like a change, its limit and caution stand by."""
    said = _judgement(f"residue {residue.name}", residue.verdict, residue.reasons, {})
    told = any("hidden" in reason.values for reason in residue.reasons)
    hidden = "" if told else hidden_bands(residue)
    known = (
        f"{residue_limit(residue)}{f'; {hidden}' if hidden else ''}. {from_memory(residue)} {RESIDUE_CAUTION}"
    ).replace("  ", " ")
    mark = MARKS[CHANGED] if residue.verdict == PRESENT else said.mark
    reasons = (*said.reasons, (known[:1].upper() + known[1:], ""))
    return replace(said, word=RESIDUE_WORDS[residue.verdict], mark=mark, reasons=reasons)


def numbers_of(presence: Presence) -> tuple[tuple[str, str], ...]:
    """Labelled numbers beside the verdict."""
    return (
        (f"amount ({confidence(presence.confidence)})", amount(presence)),
        (
            "decision limit, detection limit",
            _both(limit(presence.critical_amount), limit(presence.detectable_amount)),
        ),
        *_lengths(presence),
        (
            "measured",
            f"{counted(presence.spots, 'spot')} on {counted(presence.specimens, 'specimen')}",
        ),
    )


def layout_of(coating: CoatingFinding) -> Iterator[tuple[str, str]]:
    """Yield whether a film or a blend fits, where that was asked."""
    if coating.layout is not None:
        yield "film or mixed in", layout_line(coating.layout)


def _both(first: str, second: str) -> str:
    return first if first == second else f"{first}, {second}"


def _lengths(presence: Presence) -> Iterator[tuple[str, str]]:
    """Yield what is known as a mean thickness."""
    called = confidence(presence.confidence)
    if has_thickness(presence):
        yield f"mean thickness of an even film ({called})", thickness(presence)
    if presence.critical_nm is not None and presence.detectable_nm is not None:
        least = f"{plain(presence.critical_nm, 2)} nm, {plain(presence.detectable_nm, 2)} nm"
        yield "the same limits as mean thickness", least
    if presence.attenuation_nm is not None or presence.attenuation_high_nm is not None:
        low, high = presence.attenuation_low_nm, presence.attenuation_high_nm
        yield f"thickness from substrate bands ({called})", length(presence.attenuation_nm, low, high)
