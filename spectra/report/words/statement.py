"""Longer texts of ``report.view``: the rule, the statement for a paper, the cautions.

A statement claims no more than the data: bands above their critical value in so many specimens,
consistent with a material, beyond what bare specimens show. It never says that something is proven,
even or complete.
"""

from __future__ import annotations

from spectra.findings import CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, BandFinding, Chemistry, Presence
from spectra.groups import Group
from spectra.report.words.numerals import counted, exact, limit, percent, wavenumbers, with_interval
from spectra.report.words.reasons import sentence
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

LIMIT = "This holds for the spots measured; coverage between them, adhesion, dose and efficacy are not shown."

# Reasons that a statement puts into words of its own; every other one is quoted.
GROUNDS = ("amount-above-critical", "bands-found", "pattern-agrees")

NAMED = 5  # unexplained bands that a statement names

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "What a present coating means",
        "Infrared shows the material at the spots that were measured, averaged over each spot. It does "
        "not show coverage of every point, adhesion, durability, sterility, dose, efficacy or "
        "biocompatibility.",
    ),
    (
        "What a coating that is not shown means",
        "Less than the detectable amount may be there. Read the verdict together with that amount.",
    ),
    (
        "Medical devices",
        "These results are one input to the chemical characterisation of ISO 10993-18 within an "
        "evaluation by ISO 10993-1. They say nothing of extractables, leachables or degradation products "
        "and replace no part of that evaluation, which belongs to qualified people.",
    ),
    (
        "Food contact",
        "Compliance with Regulation (EU) No 10/2011 is not shown: neither overall nor specific migration "
        "is measured here.",
    ),
    (
        "Residues",
        "The smallest residue infrared can see is far above toxicological limits. A residue that is not "
        "shown may still matter; use a method made for traces.",
    ),
    (
        "Solvents and process chemicals",
        "For hazards and handling follow the safety data sheet and licensed practice; nothing here "
        "replaces them.",
    ),
)


def rule(verification: Verification) -> tuple[str, ...]:
    """Return the decision rule, fixed before the data are seen, one sentence a verdict."""
    decision, presence = verification.study.settings.decision, verification.study.settings.presence
    alpha, power, margin = exact(decision.alpha), percent(decision.power), exact(decision.margin)
    return (
        "present: the joint amount of all coating bands is above its critical value; at least "
        f"{presence.bands.needed} bands that the substrate does not mask are found without the others; the "
        "bands stand to each other as in the neat coating; and the bare spots represent the sample's "
        "substrate, or the coating stands far above what they do not explain. The chance of calling a "
        f"bare sample coated is held at {alpha} (one-sided, against the scatter of bare spots, checked by "
        "leaving each of them out).",
        "not shown: the bare spots represent the sample's substrate and the joint amount is not above its "
        f"critical value. The detectable amount is the smallest one found with a probability of {power}.",
        "unchanged: the interval of every shift that can be judged lies within the margin, at least +/- "
        f"{margin} cm-1.",
        "changed: the interval of a shift lies outside its margin, or the height of a band against the "
        f"others is off by more than {percent(decision.ratio_margin)}, interval included.",
        "cannot tell: neither can be said from these data; the reason and a remedy are given.",
    )


def statement(verification: Verification, sample: SampleFinding, coating: CoatingFinding) -> str:
    """Return a paragraph for a paper about one coating on one sample.

    Parameters
    ----------
    verification
        For the study's settings and groups.
    sample, coating
        The findings to put into words; ``coating`` is one of ``sample.coatings``.
    """
    parts = (
        _measured(verification, sample, coating),
        _prepared(verification),
        _presence(verification, coating),
        _amount(sample, coating),
        _chemistry(coating),
        _substrate(sample),
        _left(sample),
        LIMIT,
    )
    return " ".join(part for part in parts if part)


def material(coating: CoatingFinding) -> str:
    """Return the coating's name, with its material where that is another word."""
    same = coating.material is None or coating.material.casefold() == coating.name.casefold()
    return coating.name if same else f"{coating.name} ({coating.material})"


def amount(presence: Presence) -> str:
    """Return the amount with its interval."""
    text = with_interval(presence.amount, presence.amount_low, presence.amount_high)
    return text if presence.amount is None else f"{text} of the neat spectrum"


def thickness(presence: Presence) -> str:
    """Return the film thickness with its interval."""
    low, high = presence.thickness_low_nm, presence.thickness_high_nm
    return with_interval(presence.thickness_nm, low, high, "nm")


def confidence(level: float | None) -> str:
    """Return how to call an interval of the given level."""
    return "interval" if level is None else f"{percent(level)} interval"


def _count(group: Group, verification: Verification) -> str:
    """Spectra and specimens of a group, as they were read."""
    mine = [item for item in verification.inputs if (item.role, item.group) == (group.role, group.name)]
    pieces = {item.specimen for item in mine}
    return f"{counted(len(mine), 'spot')} on {counted(len(pieces), 'specimen')}"


def _measured(verification: Verification, sample: SampleFinding, coating: CoatingFinding) -> str:
    """Technique and replication."""
    study, presence = verification.study, coating.presence
    technique = study.samples[sample.name].technique
    by = "technique not stated" if technique == "other" else technique
    neat = _count(study.coatings[coating.name], verification)
    return (
        f"Infrared spectra ({by}) of {counted(presence.spots, 'spot')} on "
        f"{counted(presence.specimens, 'coated specimen')} ({sample.name}) were compared with those of the "
        f"bare substrate ({_count(study.substrate, verification)}) and of neat {material(coating)} "
        f"({neat})."
    )


def _prepared(verification: Verification) -> str:
    """Say what was done to every spectrum alike."""
    settings = verification.study.settings
    return (
        f"Baseline (method {settings.baseline.method}) and normalisation (method "
        f"{settings.normalisation.method}) were the same for all spectra."
    )


def _presence(verification: Verification, coating: CoatingFinding) -> str:
    """Say what the spectra show of the coating."""
    decision, presence = verification.study.settings.decision, coating.presence
    if presence.verdict == PRESENT:
        return (
            f"Against the scatter of the bare spots the joint amount of all bands of {material(coating)} "
            f"was above its critical value of {limit(presence.critical_amount)}, one-sided, alpha = "
            f"{exact(decision.alpha)}. {_bands_seen(coating)} They are consistent with {material(coating)} "
            f"and exceed what bare spots show. {_reserves(presence)}"
        ).strip()
    if presence.verdict == NOT_SHOWN:
        return (
            f"The coating {material(coating)} was not shown. The detectable amount, found with a "
            f"probability of {percent(decision.power)}, is {limit(presence.detectable_amount)}."
        )
    why = " ".join(sentence(reason) for reason in presence.reasons)
    return f"Whether {material(coating)} was present could not be decided from these data. {why}"


def _reserves(presence: Presence) -> str:
    """Say what else the verdict carries besides its grounds."""
    return " ".join(sentence(reason) for reason in presence.reasons if reason.code not in GROUNDS)


def _left(sample: SampleFinding) -> str:
    """Say what remains unexplained and which residues were looked for."""
    places = [band.position for band in sample.unexplained[:NAMED]]
    more = len(sample.unexplained) + sample.unexplained_more - len(places)
    text = f"Not explained: bands at {wavenumbers(places)}" if places else ""
    text += f" and {more} more. " if more else ". " if places else ""
    for name, residue in sample.residues.items():
        why = "" if residue.verdict == NOT_SHOWN else " ".join(sentence(reason) for reason in residue.reasons)
        text += f"Residue {name}: {residue.verdict}. {why} "
    return " ".join(text.split())


def _bands_seen(coating: CoatingFinding) -> str:
    """Name the bands that were found each by itself."""
    single = coating.presence.band_evidence
    seen = [band.position for band in single if band.supports]
    free = sum(1 for band in single if not band.masked)
    places = wavenumbers(sorted(seen, reverse=True))
    return f"Of {counted(free, 'unmasked band')}, those at {places} were found each by itself (Holm)."


def _amount(sample: SampleFinding, coating: CoatingFinding) -> str:
    """Say how much there is, and in how many specimens by itself."""
    presence = coating.presence
    if presence.verdict != PRESENT or presence.amount is None:
        return ""
    text = f"The amount was {amount(presence)} ({confidence(presence.confidence)})"
    if presence.thickness_nm is not None:
        text += f", as a film {thickness(presence)}"
    pieces = [item for item in sample.evenness.get(coating.name, ()) if item.amount_low is not None]
    above = sum(1 for item in pieces if item.amount_low is not None and item.amount_low > 0)
    if not pieces:
        return f"{text}."
    share = f"{above} of {counted(len(pieces), 'specimen')}"
    return f"{text}; the interval of a specimen's own spots was above zero in {share}."


def _chemistry(coating: CoatingFinding) -> str:
    """Positions of the coating's bands."""
    if coating.presence.verdict != PRESENT:
        return ""
    return _positions("coating", coating.chemistry, coating.bands)


def _substrate(sample: SampleFinding) -> str:
    """Positions of the substrate's bands."""
    return _positions("substrate", sample.substrate.chemistry, sample.substrate.bands)


def _positions(whose: str, chemistry: Chemistry, bands: tuple[BandFinding, ...]) -> str:
    """Say whether bands are where, and as strong against each other, as they should be."""
    verdict = chemistry.verdict
    judged = [band for band in bands if band.verdict == UNCHANGED]
    if verdict == UNCHANGED and judged:
        margin = exact(max(band.margin for band in judged))
        number = counted(len(judged), f"{whose} band")
        return (
            f"The {number} whose position could be judged lay within +/- {margin} cm-1 of the expected "
            "position, intervals included."
        )
    if verdict == CHANGED:
        why = " ".join(sentence(reason) for reason in chemistry.reasons)
        return f"The {whose} bands differed from the reference. {why}"
    return f"Whether the {whose} bands kept their positions could not be decided."
