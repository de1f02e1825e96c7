"""Why bands count as unchanged or changed, and what to do about it: part of ``report.view``."""

from __future__ import annotations

import math

from spectra.report.words.numerals import exact, plain, with_interval
from spectra.report.words.remedies import MORE_BANDS, MORE_SPOTS
from spectra.report.words.values import Values, Wording, count_of_bands, whole_share

NOT_ITS_OWN = "What only adds to a band may be another substance that absorbs there, water or a residue."
LAYOUTS = {"film": "an even film", "mixed": "material mixed in (or in islands)"}


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


def _may_be_optical(v: Values, why: str) -> str:
    bound = v.get("bound")
    size = (
        "an unknown part" if bound is None or not math.isfinite(bound) else f"up to {math.ceil(bound)} cm-1"
    )
    return f"No position could be predicted ({why}); {size} of any shift may be optical."


def _open(v: Values) -> str:
    return (
        f"{v.band(v['position'])} is neither surely at its place and strength nor surely changed: shift "
        f"{plain(v['shift'], 2)} cm-1, margin +/- {exact(v['margin'])} cm-1, {plain(v['ratio'], 2)} times as "
        "strong as expected."
        + (f" {NOT_ITS_OWN}" if v["ratio"] > 1.0 + v.get("ratio_margin", math.inf) else "")
    )


def _not_judged(v: Values) -> str:
    if "share" not in v:
        return f"Not judged, too weak or too broad here: {v.bands(v['positions'])}."
    return (
        f"Not judged, too weak here or under the substrate's: {v.bands(v['positions'])}; the judged bands "
        f"hold {whole_share(v['share'])} of the coating's band strength."
    )


CHEMISTRY: dict[str, Wording] = {
    "no-detected-band": Wording(
        lambda _: "No coating band was detected, so there is no position to judge.",
        "Measure more specimens, or a thicker coating, until a band stands out.",
    ),
    "all-equivalent": Wording(
        lambda v: (
            f"Every shift that could be judged lies within +/- {exact(v['margin'])} cm-1 of the expected "
            f"position, its whole interval included: {count_of_bands(v, v['bands'])}."
        )
    ),
    "shifted": Wording(_moved),
    "interval-too-wide": Wording(
        _too_wide, "Measure more specimens, or state a wider margin before measuring, with its reason."
    ),
    "layout-otherwise": Wording(
        lambda v: (
            f"The study says {LAYOUTS[v['stated']]}, but {LAYOUTS[v['fits']]} fits the spectrum: in that, "
            "bands stand elsewhere than was computed."
        ),
        'Say in the study how the coating lies: layout = "film" or "mixed".',
    ),
    "not-like-with-like": Wording(
        lambda v: (
            f"The reference was measured by {v['neat_technique']}, the sample by {v['sample_technique']}; "
            "positions are not comparable between them."
        ),
        "Measure the reference by the sample's technique.",
    ),
    "lost-band": Wording(_lost),
    "grown-band": Wording(
        lambda v: f"{v.band(v['position'])} is stronger against the other bands: {_times(v)}."
    ),
    "coating-not-shown": Wording(
        lambda _: "The coating is not shown, so there is no chemistry of it to judge.",
        "Show the coating first: a thicker one, or more specimens.",
    ),
    "presence-open": Wording(
        lambda _: (
            "Whether the coating is there is undecided: the bands may belong to another material, or to a "
            "changed coating."
        ),
        "Do first what stands beside the verdict on the coating itself.",
    ),
    "band-open": Wording(_open, MORE_SPOTS),
    "strong-absorber": Wording(
        lambda v: (
            f"The neat coating absorbs so strongly (absorption index {plain(v['k'], 2)}) that its ATR "
            "spectrum does not tell its optical constants well enough to judge bands by."
        ),
        "Measure the neat coating in transmission, as a film of known thickness, or state its contact.",
    ),
    "left-over-beside-band": Wording(
        lambda v: f"Something is left over beside {v.bands(v['positions'])}, which may be a part that moved.",
        "See the difference figure there; more coated specimens may bring the part out.",
    ),
    "not-judged": Wording(_not_judged),
    "too-little-judged": Wording(
        lambda v: (
            f"The bands that can be judged here hold only {whole_share(v['share'])} of the coating's band "
            f"strength; not judged: {v.bands(v['positions'])}."
        ),
        MORE_BANDS,
    ),
    "strongest-not-judged": Wording(
        lambda v: (
            f"The strongest band, {v.band(v['position'])}, cannot be judged here; those that can hold "
            f"{whole_share(v['share'])} of the coating's band strength."
        ),
        MORE_BANDS,
    ),
    "layer-over-substrate": Wording(
        lambda _: (
            "A layer that was not recognised lies over the substrate and may be what changes its bands."
        ),
        "Find out what the layer is: measure it neat and name it among the coatings.",
    ),
    "optics-no-model": Wording(
        lambda _: "Positions were compared like with like only: this technique has no optical model here.",
        "Measure the reference and the sample by ATR or in transmission.",
    ),
    "optics-technique-not-stated": Wording(
        lambda v: _may_be_optical(v, "the technique is not stated"),
        "State technique, and for ATR crystal and angle_deg.",
    ),
    "optics-unknown-geometry": Wording(
        lambda v: _may_be_optical(v, "crystal and angle of incidence are not stated"),
        "State crystal and angle_deg under [instrument].",
    ),
    "optics-no-total-reflection": Wording(
        lambda v: _may_be_optical(v, "for the stated crystal and angle the light is not totally reflected"),
        "Check crystal and angle_deg under [instrument].",
    ),
    "optics-too-strong": Wording(
        lambda v: _may_be_optical(v, "the neat spectrum is stronger than the stated crystal and angle allow"),
        "Check [instrument], and that no neat spectrum was normalised.",
    ),
    "optics-not-converged": Wording(
        lambda v: _may_be_optical(v, "the optical constants could not be found from the neat spectrum"),
        "Check [instrument], and that no neat spectrum was normalised or smoothed.",
    ),
}
