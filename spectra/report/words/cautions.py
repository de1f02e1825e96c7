"""What the results do not show, and the decision rule: part of ``report.view``."""

from __future__ import annotations

from spectra.report.words.numerals import exact, percent
from spectra.verification.result import Verification

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "A coating that is present",
        "Infrared shows the material at the spots that were measured, averaged over each spot: not "
        "coverage of every point, adhesion, durability, sterility, dose, efficacy or biocompatibility.",
    ),
    (
        "A coating or residue that is not shown",
        "Less than the detection limit may be there. What infrared can see is far above toxicological "
        "limits: nothing here is a toxicological statement. Use a method made for traces.",
    ),
    (
        "Medical devices",
        "These results are at most one input to the chemical characterisation of ISO 10993-18 within an "
        "evaluation by ISO 10993-1. They say nothing of extractables, leachables or degradation products "
        "and replace no part of that evaluation, which belongs to qualified people.",
    ),
    (
        "Food contact",
        "Compliance with Regulation (EC) No 1935/2004, and for plastics with Regulation (EU) No 10/2011, "
        "is not shown: neither overall nor specific migration is measured here.",
    ),
    (
        "Solvents and process chemicals",
        "For hazards and handling follow the safety data sheet and licensed practice; nothing here "
        "replaces them.",
    ),
)


def rule(verification: Verification) -> tuple[str, ...]:
    """Return the decision rule, fixed before the data are seen, a paragraph a verdict."""
    settings = verification.study.settings
    decision, presence, known = settings.decision, settings.presence, settings.presence.identity
    alpha, power, margin = exact(decision.alpha), percent(decision.power), exact(decision.margin)
    return (
        "layer of any kind: shown where everything the sample shows beyond bare specimens, contact and gases "
        f"together is more than chance (F test at {exact(known.layer_alpha)}), or a coating is present.",
        "present: a film of the coating whose bands are free to move, weaken and widen explains at least "
        f"{percent(known.explained)} of what the sample shows beyond bare specimens ({percent(known.surely)} "
        f"where much more than noise is left; {percent(known.mostly)} where little more is left and most "
        f"bands are as strong as expected), at least {known.needed} of its bands are found, and with them "
        f"{percent(known.share)} of the band strength that could be found. Or: with the bands as in an "
        "unchanged film, the amount from all of them together is above its decision limit (L_C), at least "
        f"{presence.bands.needed} bands that the substrate does not hide are significant by themselves, "
        "their ratios agree with the neat coating, and the bare spots represent the sample's substrate or "
        "the coating stands far above what they do not explain. The decision limit sets the chance of "
        f"calling a bare sample coated to {alpha} (one-sided, against the scatter of bare spots, checked by "
        "leaving each of them out).",
        "not shown: the bare spots represent the sample's substrate and the amount is not above its "
        "decision limit. The detection limit (L_D) is the smallest amount found with a probability of "
        f"{power}.",
        "unchanged: every band that this amount lets judge has its whole interval of the shift within +/- "
        f"{margin} cm-1 and its height within {percent(decision.ratio_margin)} of the expected; these bands "
        f"hold at least {percent(settings.chemistry.least_share)} of the coating's strength, the strongest "
        "among them. This is a statement on band positions and ratios, not on everything chemical.",
        "changed: the interval of a shift lies outside its margin, or a band's height surely differs from "
        f"the expected and its estimate is off by more than {percent(decision.ratio_margin)}.",
        "cannot tell: neither can be said from these data; the reason and a remedy are given.",
    )


DEFINITIONS = (
    "Amount: height of the coating's bands in per cent of the mean of the neat spectra as measured, with "
    "their contact and thickness (neat = 100 %). Decision limit: an amount above it is not a bare specimen's "
    "(critical value, L_C); detection limit: the smallest amount found with the stated probability "
    "(minimum detectable value, L_D; ISO 11843-1, IUPAC 1995). Mean thickness: that of an even film "
    "holding the same amount; a thickness below one molecule is an amount, not a film. The limits rest on "
    "the scatter of bare spots alone; an interval also holds the scatter between coated specimens and the "
    "contact, and is therefore much wider."
)
