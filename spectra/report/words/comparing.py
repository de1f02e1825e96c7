"""Words for what samples say beside each other: specimens, evenness, treatments, requirements, strangers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from spectra.report.words.numerals import (
    counted,
    listed,
    plain,
    span,
)

if TYPE_CHECKING:
    from spectra.apart.likeness import LooksLike
    from spectra.comparison.design import EvennessPlan
    from spectra.comparison.layouts import LayoutFit
    from spectra.study.records import LeftOutFile, Study
    from spectra.verification.result import ApartFinding, CoatingFinding, SampleFinding, VerdictWithout


def share(fraction: float) -> str:
    """Write a measured share in per cent, two digits.

    Examples
    --------
    >>> share(0.123), share(0.98)
    ('12 %', '98 %')
    """
    return f"{plain(100.0 * fraction, 2)} %"


def looks_like(like: LooksLike) -> str:
    """Say what a spectrum that does not belong looks like.

    Examples
    --------
    >>> from spectra.apart.likeness import LooksLike
    >>> looks_like(LooksLike("coating", "gelatin", 0.51, 0.98))
    'holds 0.51 of the neat gelatin (98 % of the difference)'
    """
    return LIKENESS[like.kind](like)


def _other(like: LooksLike) -> str:
    places = listed([span(low, high).removesuffix(" cm-1") for low, high in like.regions])
    text = f"another substrate or kind: differs at {places} cm-1"
    return (
        f"{text}; {share(like.share or 0.0)} of the difference is the shape of {like.name}"
        if like.name
        else text
    )


LIKENESS: dict[str, Callable[[LooksLike], str]] = {
    "unit": lambda _: "looks like transmittance read as absorbance",
    "inverted": lambda _: "points the other way: inverted, or sample and background swapped",
    "scale": lambda like: f"same shape at {plain(like.value)} times the height: wrong unit, scale or contact",
    "noise": lambda like: f"noise at least {plain(like.value, 2)} times that of the noisiest other",
    "gas": lambda like: f"gas lines, {plain(like.value, 2)} times the others' or of the difference",
    "neat": lambda like: f"holds {plain(like.value, 2)} of the neat {like.name}: the neat spectrum itself?",
    "bare": lambda like: (
        f"holds none of the {like.name} that the others hold: left bare, or a bare spectrum?"
    ),
    "without": lambda like: f"holds none of the {like.name} that the others hold",
    "coating": lambda like: (
        f"holds {plain(like.value, 2)} of the neat {like.name} ({share(like.share or 0.0)} of the difference)"
    ),
    "lacks": lambda like: (
        f"lacks {plain(like.value, 2)} of the neat {like.name} ({share(like.share or 0.0)} of the "
        "difference): do the others hold it?"
    ),
    "group": lambda like: f"looks like {like.name}",
    "other": _other,
}


def apart_line(item: ApartFinding) -> str:
    """Say in one line who does not belong, what it looks like, what it costs and what to write."""
    what = "is of another kind than the rest" if item.kind == "two kinds" else "does not belong"
    costs = [
        f"with it {share(item.detectable_with[name])} of the neat {name} can be detected, without it "
        f"{share(after)}"
        for name, after in item.detectable_without.items()
    ]
    cost = f" {listed(costs)[0].upper()}{listed(costs)[1:]}." if costs else ""
    paths = ", ".join(f'{{ file = "{path}", reason = "..." }}' for path in item.paths)
    result = " A piece that the process left bare is a result, not a mistake." if _is_bare(item) else ""
    like = looks_like(item.outsider.like)
    return (
        f"In {_where(item)}, {item.outsider.name} {what}: {like}{'' if like.endswith('?') else '.'}{cost}"
        f"{_second(item)} Nothing was left out; if it is a mistake, write leave_out = [{paths}].{result}"
    )


def _where(item: ApartFinding) -> str:
    return {"bare": "the bare set", "neat": f"neat {item.group}"}.get(item.role, f"sample {item.group}")


def _is_bare(item: ApartFinding) -> bool:
    return item.outsider.like.kind in ("bare", "without")


def _second(item: ApartFinding) -> str:
    """Say what the verdicts would be without it; nothing where they were not judged again."""
    if not item.verdicts:
        return ""
    changed = [_changed(verdict) for verdict in item.verdicts if verdict.differs]
    said = f" Without it {listed(changed)}." if changed else " Without it every verdict is the same."
    amounts = [text for verdict in item.verdicts if (text := _amount_without(verdict))]
    return f"{said} T{listed(amounts)[1:]}." if amounts else said


WORTH_SAYING = 0.05  # relative change of an amount


def _amount_without(verdict: VerdictWithout) -> str:
    """Say how much a coating's amount is another without it; nothing where it is about the same."""
    one, other = verdict.amount, verdict.amount_without
    there = verdict.presence == verdict.presence_without == "present"
    if not there or one is None or other is None or abs(other - one) < WORTH_SAYING * abs(one):
        return ""
    return (
        f"the amount on {verdict.sample} is then {share(other)} of the neat {verdict.coating} instead of "
        f"{share(one)}"
    )


def _changed(verdict: VerdictWithout) -> str:
    """Say how one verdict changes."""
    name = " ".join(part for part in (verdict.sample, verdict.coating) if part)
    shown = _in_words(verdict.presence, verdict.chemistry)
    return f"{name} is {_in_words(verdict.presence_without, verdict.chemistry_without)} (with it: {shown})"


def _in_words(presence: str | None, chemistry: str) -> str:
    """Write a verdict on coating and chemistry; what is not there has none.

    Examples
    --------
    >>> _in_words("present", "unchanged"), _in_words("not shown", "cannot tell"), _in_words(None, "changed")
    ('present and unchanged', 'not shown', 'changed')
    """
    if presence is None:
        return chemistry
    return f"{presence} and {chemistry}" if presence == "present" and chemistry != "cannot tell" else presence


def without_lines(found: Iterable[ApartFinding], sample: str, coating: str) -> list[str]:
    """Say beside a verdict what it would be without the files that do not belong, where that is another."""
    said = {}
    for item in found:
        for verdict in item.verdicts:
            if (verdict.sample, verdict.coating) == (sample, coating) and verdict.differs:
                names = [o.outsider.name for o in found if (o.role, o.group) == (item.role, item.group)]
                other = _in_words(verdict.presence_without, verdict.chemistry_without)
                said[_where(item)] = (
                    f"Without {listed(names)} in {_where(item)}, which {'do' if names[1:] else 'does'} not "
                    f"belong, the verdict would be: {other}."
                )
    return list(said.values())


def apart_headline(found: Iterable[ApartFinding]) -> list[str]:
    """Return who does not belong, for the headline; empty where all do."""
    names = list(dict.fromkeys(f"{item.outsider.name} in {_where(item)}" for item in found))
    if not names:
        return []
    few = names[:3] + ([f"{len(names) - 3} more"] if len(names) > 3 else [])
    return [f"{listed(few)} {'do' if names[1:] else 'does'} not belong"]


def evenness_lines(plan: EvennessPlan) -> list[str]:
    """Say which designs decide a wanted variation."""
    hand = plan.at_hand
    lines = [
        f"  variation of at most {share(plan.wanted)} decided, for a coating that varies by "
        f"{share(plan.assumed)}:",
        f"    {counted(hand.specimens, 'specimen')} x {counted(hand.spots, 'spot')}: decided in "
        f"{share(hand.power)} of studies",
    ]
    if plan.fewest is None:
        out = "    out of reach of any design anybody would measure; measure thicker coatings, or allow more"
        return [*lines, out]
    names = [f"{d.specimens} x {d.spots} ({share(d.power)})" for d in plan.enough]
    best = f"{plan.fewest.specimens} x {plan.fewest.spots}"
    enough = f"    enough, specimens x spots: {listed(names)}"
    return [*lines, enough, f"    with the fewest spots in all: {best}"]


def left_out_line(item: LeftOutFile, study: Study) -> str:
    """Say which file was left out by the user, and why."""
    file = item.path.relative_to(study.file.parent) if study.file and _inside(item, study) else item.path
    return f"Left out by the study: {file.as_posix()} ({item.role} {item.group}): {item.reason}"


def _inside(item: LeftOutFile, study: Study) -> bool:
    return study.file is not None and item.path.is_relative_to(study.file.parent)


def contamination(sample: SampleFinding, coating: str) -> str:
    """Say that a control shows a coating, and how much of it."""
    amount = sample.coatings[coating].presence.amount
    size = "" if amount is None else f" {share(amount)} of the neat"
    return (
        f"the control {sample.name} shows{size} {coating}: contamination, or a step of the process that "
        "mimics it"
    )


def layout_line(fit: LayoutFit) -> str:
    """Say whether a film or a blend fits, and what to do where it is not the one that the study states."""
    even, mixed = plain(fit.film_misfit, 2), plain(fit.mixed_misfit, 2)
    if fit.fits == "cannot tell":
        return f"cannot tell: an even film and material mixed in fit about alike ({even} and {mixed})"
    numbers = f"squared residual a degree of freedom {even} for a film, {mixed} mixed in"
    if fit.fits == "film":
        text = f"an even film fits: {numbers}"
        cure = '; the study says mixed: write layout = "film", or leave it out'
    else:
        text = f"mixed in, or in islands thicker than the light is deep, fits: {numbers}"
        cure = (
            "; the study says an even film: its thickness and chemistry are then not to be relied on; write "
            'layout = "mixed"'
        )
    return f"{text}{cure}" if fit.otherwise else text


def specimens_line(coating: CoatingFinding) -> str:
    """Say on how many specimens the coating is present, and who stands out; empty for one specimen.

    The verdict of the sample is not changed by it.
    """
    found = coating.specimens
    if len(found) < 2:
        return ""
    there = sum(item.verdict == "present" for item in found.values())
    text = f"present on {there} of {counted(len(found), 'specimen')}"
    odd = [
        f"{name} {item.verdict} (below {_size(item.detectable_amount, item.detectable_nm)})"
        if item.verdict != "present"
        else f"{name} alone"
        for name, item in found.items()
        if item.stands_out
    ]
    return f"{text}; {'; '.join(odd)}" if odd else text


def _size(amount: float, nm: float | None) -> str:
    return f"{plain(nm, 2)} nm" if nm is not None else f"{share(amount)} of the neat"
