"""Longer texts of ``report.view``: the rule, the statement for a paper, the cautions.

A statement claims no more than the data: bands above their critical value in so many specimens,
consistent with a material, beyond what bare specimens show. It never says that something is proven,
even or complete.
"""

from __future__ import annotations

from spectra.findings import (
    CHANGED,
    NOT_SHOWN,
    PRESENT,
    UNCHANGED,
    BandFinding,
    CoatingFinding,
    Presence,
    SampleFinding,
    Verification,
)
from spectra.report.numerals import (
    counted,
    fixed,
    listed,
    percent,
    plain,
    wavenumber,
    wavenumbers,
    with_interval,
)
from spectra.report.reasons import sentence
from spectra.study import Group

CAUTIONS: tuple[tuple[str, str], ...] = (
    (
        "What a present coating means",
        "Infrared shows the material at the spots that were measured, averaged over each spot. It does not show "
        "coverage of every point, adhesion, durability, sterility, dose, efficacy or biocompatibility.",
    ),
    (
        "What a coating that is not shown means",
        "Less than the detectable amount may be there. Read the verdict together with that amount.",
    ),
    (
        "Medical devices",
        "These results are one input to the chemical characterisation of ISO 10993-18 within an evaluation by "
        "ISO 10993-1. They say nothing of extractables, leachables or degradation products and replace no part "
        "of that evaluation, which belongs to qualified people.",
    ),
    (
        "Food contact",
        "Compliance with Regulation (EU) No 10/2011 is not shown: neither overall nor specific migration is "
        "measured here.",
    ),
    (
        "Residues",
        "The smallest residue infrared can see is far above toxicological limits. A residue that is not shown may "
        "still matter; use a method made for traces.",
    ),
    (
        "Solvents and process chemicals",
        "For hazards and handling follow the safety data sheet and licensed practice; nothing here replaces them.",
    ),
)


def rule(verification: Verification) -> tuple[str, ...]:
    """Return the decision rule, fixed before the data are seen, one sentence a verdict."""
    decision = verification.study.settings.decision
    alpha, power, margin = plain(decision.alpha), percent(decision.power), plain(decision.margin)
    return (
        "present: at least two coating bands that the substrate does not mask are above their critical values. "
        f"The chance of calling a bare sample coated is held at {alpha} over all bands together "
        "(one-sided tests against the scatter of the bare specimens, Holm).",
        "not shown: the data could have shown the coating and did not. The detectable amount is the smallest one "
        f"found with a probability of {power}.",
        f"unchanged: the whole interval of every shift lies within +/- {margin} cm-1 of the expected position. "
        "changed: an interval lies wholly outside it, or a band is lost.",
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
        "This applies to the spots measured; it does not show coverage between them, adhesion, dose or efficacy.",
    )
    return " ".join(part for part in parts if part)


def material(coating: CoatingFinding) -> str:
    """Return the coating's name, with its material where that is another word."""
    same = coating.material is None or coating.material.casefold() == coating.name.casefold()
    return coating.name if same else f"{coating.name} ({coating.material})"


def amount(presence: Presence) -> str:
    """Return the amount with its interval and, where known, the film thickness."""
    text = with_interval(presence.amount, presence.amount_low, presence.amount_high)
    if presence.amount is None:
        return text
    text += " of the neat spectrum"
    if presence.thickness_nm is None:
        return text
    nm = with_interval(presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm, "nm")
    return f"{text}; {nm}"


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
    neat = _count(study.coatings[coating.name], verification)
    return (
        f"Infrared spectra ({technique}) of {counted(presence.spots, 'spot')} on "
        f"{counted(presence.specimens, 'coated specimen')} ({sample.name}) were compared with those of the bare "
        f"substrate ({_count(study.substrate, verification)}) and of neat {material(coating)} ({neat})."
    )


def _prepared(verification: Verification) -> str:
    """What was done to every spectrum alike."""
    settings = verification.study.settings
    return (
        f"Baseline (method {settings.baseline.method}) and normalisation (method "
        f"{settings.normalisation.method}) were the same for all spectra."
    )


def _presence(verification: Verification, coating: CoatingFinding) -> str:
    """What the spectra show of the coating."""
    decision, presence = verification.study.settings.decision, coating.presence
    free = [band for band in coating.bands if not band.masked]
    seen = [band.expected_position for band in free if band.detected]
    if presence.verdict == PRESENT:
        return (
            f"In the mean of the coated specimens the bands at {wavenumbers(seen)} were above their critical values "
            f"(one-sided tests against the scatter of bare specimens, alpha = {plain(decision.alpha)}, Holm over "
            f"{counted(len(free), 'unmasked band')}). They are consistent with {material(coating)} and exceed what "
            "bare specimens show."
        )
    if presence.verdict == NOT_SHOWN:
        return (
            f"{material(coating)} was not shown; {plain(presence.detectable_amount)} of its neat spectrum would have "
            f"been found with a probability of {percent(decision.power)}."
        )
    why = " ".join(sentence(reason) for reason in presence.reasons)
    return f"Whether {material(coating)} was present could not be decided from these data. {why}"


def _amount(sample: SampleFinding, coating: CoatingFinding) -> str:
    """How much, and in how many specimens by itself."""
    presence = coating.presence
    if presence.verdict != PRESENT or presence.amount is None:
        return ""
    text = f"The amount was {amount(presence)} ({confidence(presence.confidence)})"
    pieces = [item for item in sample.evenness.get(coating.name, ()) if item.amount_low is not None]
    above = sum(1 for item in pieces if item.amount_low is not None and item.amount_low > 0)
    if not pieces:
        return f"{text}."
    return f"{text}; its interval was above zero in {above} of {counted(len(pieces), 'specimen')}."


def _chemistry(coating: CoatingFinding) -> str:
    """Positions of the coating's bands."""
    if coating.presence.verdict != PRESENT:
        return ""
    return _positions("coating", coating.chemistry.verdict, coating.bands)


def _substrate(sample: SampleFinding) -> str:
    """Positions of the substrate's bands."""
    return _positions("substrate", sample.substrate.chemistry.verdict, sample.substrate.bands)


def _positions(whose: str, verdict: str, bands: tuple[BandFinding, ...]) -> str:
    judged = [band for band in bands if band.found_position is not None]
    if verdict == UNCHANGED and judged:
        margin = fixed(max(band.margin for band in judged), 1)
        return (
            f"The {counted(len(judged), f'{whose} band')} found lay within +/- {margin} cm-1 of the expected "
            "position, intervals included."
        )
    moved = [_moved(band) for band in bands if band.verdict == CHANGED]
    if verdict == CHANGED and moved:
        return f"Of the {whose} bands, {listed(moved)}."
    if verdict == CHANGED:
        return f"The {whose} bands differed from the reference."
    return f"Whether the {whose} bands kept their positions could not be decided."


def _moved(band: BandFinding) -> str:
    """One changed band, as a clause."""
    where = f"that expected at {wavenumber(band.expected_position)}"
    if band.shift is None:
        return f"{where} was not found"
    return f"{where} was shifted by {with_interval(band.shift, band.shift_low, band.shift_high, 'cm-1')}"
