"""Why samples vary, keep what they had or meet what was asked, and what to do: part of ``report.view``."""

from __future__ import annotations

from spectra.report.words.comparing import share
from spectra.report.words.numerals import counted, exact, listed, percent, plain, with_interval
from spectra.report.words.remedies import SPECIMENS
from spectra.report.words.values import Values, Wording, falling, from_to


def _clause(v: Values) -> str:
    unit = " nm" if v["kind"] == "least_nm" else ""
    asked = "at least" if v["kind"] == "least_nm" else "at most"
    what = "film thickness" if v["kind"] == "least_nm" else "variation from spot to spot"
    found = with_interval(v["value"], v["low"], v["high"], unit.strip())
    return (
        f"Asked: {what} {asked} {exact(v['wanted'])}{unit}; found {found}, one-sided limits: "
        f"{v['verdict']}{_met(v.get('chance'))}."
    )


def _met(chance: float | None) -> str:
    """Say how likely a requirement is met; nothing where that is not known."""
    if chance is None:
        return ""
    size = "above 99.9 %" if chance > 0.999 else "below 0.1 %" if chance < 0.001 else f"{share(chance)}"
    return f" (conformance probability {size})"


SAMPLES: dict[str, Wording] = {
    "evenness-varies": Wording(
        lambda v: (
            f"The coating varies from spot to spot by {from_to(v['low'], v['high'])} of its mean, beyond "
            "what bare spots do."
        )
    ),
    "evenness-not-shown": Wording(
        lambda v: (
            f"The spots differ no more than bare spots do; the coating varies by {share(v['high'])} of its "
            "mean at most."
        )
    ),
    "evenness-one-spot": Wording(lambda _: "One spot says nothing of evenness.", SPECIMENS),
    "evenness-no-mean": Wording(
        lambda v: (
            f"The mean amount, {plain(100.0 * v['amount'])} % of neat, is not clearly above zero: a "
            "variation in per cent of it has no meaning."
        ),
        "Show the coating first: a thicker one, or more specimens.",
    ),
    "evenness-one-specimen": Wording(
        lambda _: "One specimen: scatter between specimens is not known.", SPECIMENS
    ),
    "evenness-one-spot-each": Wording(
        lambda _: "One spot on each specimen: scatter between and within specimens cannot be taken apart.",
        "Measure two spots or more on each specimen.",
    ),
    "comparison-one-specimen": Wording(
        lambda v: (
            f"Scatter between specimens is not known of {listed(list(v['samples']))}: one specimen only."
        ),
        SPECIMENS,
    ),
    "kept-within-margin": Wording(
        lambda v: (
            f"The share left, {from_to(v['low'], v['high'])}, lies within {percent(v['margin'])} of all: "
            "nothing lost."
        )
    ),
    "kept-lost": Wording(lambda v: f"The share left is {from_to(v['low'], v['high'])}: less than before."),
    "kept-gained": Wording(lambda v: f"The share left is {from_to(v['low'], v['high'])}: more than before."),
    "kept-interval-too-wide": Wording(
        lambda v: (
            f"The share left, {from_to(v['low'], v['high'])}, neither lies within {percent(v['margin'])} of "
            "all nor excludes it."
        ),
        "Measure more specimens, each before and after, under the same names.",
    ),
    "kept-one-specimen": Wording(
        lambda _: "One specimen before or after: no interval of the share left.", SPECIMENS
    ),
    "kept-nothing-before": Wording(
        lambda v: (
            f"The amount before, {plain(100.0 * v['amount'])} % of neat, is not clearly above zero: there is "
            "no share of it."
        ),
        "Show the coating before the treatment first.",
    ),
    "kept-not-paired": Wording(
        lambda _: "Other specimens were measured before than after: the interval is wider for it.",
        "Measure the same specimens before and after, and name them alike.",
    ),
    "treatment-changed": Wording(lambda v: f"Between before and after, changed: {falling(v['positions'])}."),
    "treatment-unchanged": Wording(
        lambda v: (
            f"Where they stood before{', and as strong for their amount' if v['heights'] else ''}: "
            f"{falling(v['positions'])}; they hold {share(v['share'])} of the band strength."
            + (f" Not judged: {falling(v['open'])}." if v["open"] else "")
        )
    ),
    "treatment-open": Wording(
        lambda v: (
            f"Of the bands compared, {falling(v['positions'])} could not be shown to be the same or another."
        ),
        "Measure more specimens, before and after.",
    ),
    "treatment-too-few": Wording(
        lambda v: (
            f"{counted(v['found'], 'band')} could be shown to be the same before and after, with "
            f"{share(v['share'])} of the band strength; {v['needed']} are needed, and half."
            if v["found"]
            else "No band could be compared before and after."
        ),
        "Compare samples with more of the coating left.",
    ),
    "new-bands": Wording(lambda v: f"New absorption at {falling(v['positions'])}."),
    "missing-absorption": Wording(lambda v: f"Absorption is missing at {falling(v['positions'])}."),
    "requirement-least-nm": Wording(_clause),
    "requirement-most-variation": Wording(_clause),
}
