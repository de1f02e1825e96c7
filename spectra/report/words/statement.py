"""The statement for a paper about one coating on one sample: part of ``report.view``.

It claims no more than the data and names every verdict. It never says that something is proven, even or
complete. How the spectra were measured and judged stands in ``words.procedure``, once for all samples.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    NOT_SHOWN,
    PRESENT,
    UNCHANGED,
    BandFinding,
    Chemistry,
    Presence,
    Residue,
)
from spectra.report.words.numerals import (
    counted,
    exact,
    length,
    limit,
    listed,
    percent,
    plain,
    position,
    share,
    wavenumber,
    wavenumbers,
)
from spectra.report.words.procedure import material
from spectra.report.words.reasons import Values, names_of, sentence
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

LIMIT = "This holds for the spots measured; coverage between them, adhesion, dose and efficacy are not shown."

NO_LIMIT = "no detection limit was determined for it"

RESIDUE_CAUTION = "This is not a toxicological statement."

# Reasons that a statement puts into words of its own; every other one is quoted.
GROUNDS = ("amount-above-critical", "bands-found", "pattern-agrees", "bands-detected", "all-equivalent")

NAMED = 5  # unexplained bands that a statement names

# What a reader sees for a verdict on a residue: "present" is the coating's word.
RESIDUE_WORDS = {PRESENT: "signs of it", NOT_SHOWN: "not shown", CANNOT_TELL: "cannot tell"}


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
        _whose(sample, coating),
        *_layer(sample),
        _presence(verification, coating),
        _amount(coating),
        _chemistry(verification, coating),
        _substrate(sample),
        _left(sample),
        *_residues(sample),
        LIMIT,
    )
    reasons = (*_reasons(sample, coating),)
    return _once(" ".join(" ".join(parts).split()), reasons)


def _reasons(sample: SampleFinding, coating: CoatingFinding) -> Iterator[str]:
    """Yield the sentences of every reason that the statement may quote."""
    layer = () if sample.layer is None else sample.layer.reasons
    residues = (reason for residue in sample.residues.values() for reason in residue.reasons)
    yield from (sentence(reason, names_of(coating.bands)) for reason in coating.presence.reasons)
    yield from (sentence(reason, names_of(coating.bands)) for reason in coating.chemistry.reasons)
    yield from (
        sentence(reason, names_of(sample.substrate.bands)) for reason in sample.substrate.chemistry.reasons
    )
    yield from (sentence(reason) for reason in (*layer, *residues))


def _once(text: str, sentences: Iterable[str]) -> str:
    """Say a sentence that several verdicts rest on where it comes first, and not again."""
    for said in dict.fromkeys(sentences):
        head, found, rest = text.partition(said)
        if found:
            text = head + found + rest.replace(f" {said}", "")
    return text


def amount(presence: Presence) -> str:
    """Return the amount with its interval, per cent of the neat spectra."""
    return share(presence.amount, presence.amount_low, presence.amount_high)


def thickness(presence: Presence) -> str:
    """Return the mean thickness with its interval, or the bound it is below."""
    return length(presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm)


def has_thickness(presence: Presence) -> bool:
    """Tell whether anything is known of the thickness."""
    return presence.thickness_nm is not None or presence.thickness_high_nm is not None


def confidence(level: float | None) -> str:
    """Return how to call an interval of the given level."""
    return "interval" if level is None else f"{percent(level)} confidence interval"


def _whose(sample: SampleFinding, coating: CoatingFinding) -> str:
    """Name the sample and its replication."""
    presence = coating.presence
    pieces = counted(presence.specimens, "coated specimen")
    return f"Sample {sample.name} ({counted(presence.spots, 'spot')} on {pieces})."


def _layer(sample: SampleFinding) -> Iterator[str]:
    """Say whether anything at all is on the surface."""
    layer = sample.layer
    if layer is None:
        return
    yield f"A layer of any kind, beyond what bare specimens show: {layer.verdict}."
    if layer.verdict != "shown":
        yield from (sentence(reason) for reason in layer.reasons)
    if layer.looks_like:
        yield f"It looks like {listed(layer.looks_like)}."


def _presence(verification: Verification, coating: CoatingFinding) -> str:
    """Say what the spectra show of the coating."""
    decision, presence, name = verification.study.settings.decision, coating.presence, material(coating)
    said = " ".join(
        sentence(reason, names_of(coating.bands)) for reason in presence.reasons if reason.code not in GROUNDS
    )
    if presence.verdict == PRESENT:
        return (
            f"Bands consistent with {name} were detected: from all of them together {amount(presence)} of "
            f"the neat spectra as measured ({confidence(presence.confidence)}, n = "
            f"{counted(presence.specimens, 'specimen')}), above the decision limit of "
            f"{limit(presence.critical_amount)} (one-sided, alpha = {exact(decision.alpha)}). "
            f"{_bands_seen(coating)} {said}"
        ).strip()
    if presence.verdict == NOT_SHOWN:
        return (
            f"The coating {name} was not shown. An amount of {limit(presence.detectable_amount)} of the "
            "neat spectra (detection limit) would have been found with a probability of "
            f"{percent(decision.power)}. {said}"
        ).strip()
    why = " ".join(sentence(reason, names_of(coating.bands)) for reason in presence.reasons)
    return f"Whether {name} was present could not be decided from these data. {why}"


def _bands_seen(coating: CoatingFinding) -> str:
    """Name the bands that are significant each by itself."""
    single = coating.presence.band_evidence
    seen = [band.position for band in single if band.supports]
    free = sum(1 for band in single if not band.masked)
    if not free:
        return ""
    named = Values({}, names_of(coating.bands)).bands(seen)
    return (
        f"Of {counted(free, 'band')} that can be tested alone, {named} were significant by themselves (Holm)."
    )


def _amount(coating: CoatingFinding) -> str:
    """Say how thick an even film with this amount would be."""
    presence = coating.presence
    if presence.verdict != PRESENT or not has_thickness(presence):
        return ""
    called = f" ({confidence(presence.confidence)})" if presence.thickness_low_nm is not None else ""
    return f"An even film holding the same amount would be {thickness(presence)} thick{called}."


def _chemistry(verification: Verification, coating: CoatingFinding) -> str:
    """Positions and ratios of the coating's bands; the verdict is never left out."""
    return _positions(material(coating), coating.chemistry, coating.bands, _computed(verification, coating))


def _computed(verification: Verification, coating: CoatingFinding) -> str:
    """Say what the positions were compared with."""
    moved = [abs(band.expected_position - band.neat_position) for band in coating.bands]
    if not moved or max(moved) < 0.05:
        return "the reference positions"
    index = exact(verification.study.settings.inversion.n_inf_error)
    return (
        "the positions computed for an unchanged film (Fresnel and Kramers-Kronig; refractive index far "
        f"from bands assumed to +/- {index}; up to {plain(max(moved), 2)} cm-1 from the neat positions)"
    )


def _substrate(sample: SampleFinding) -> str:
    """Positions of the substrate's bands: counted where unchanged, named where not."""
    chemistry, bands = sample.substrate.chemistry, sample.substrate.bands
    judged = [band for band in bands if band.verdict == UNCHANGED]
    if chemistry.verdict != UNCHANGED or not judged:
        return _positions("the substrate", chemistry, bands, "those of bare specimens")
    margin = exact(max(band.margin for band in judged))
    number = counted(len(judged), "substrate band")
    return f"The {number} that could be judged lay within +/- {margin} cm-1 of those of bare specimens."


def _positions(whose: str, chemistry: Chemistry, bands: tuple[BandFinding, ...], reference: str) -> str:
    """Say whether bands are where, and as strong against each other, as they should be."""
    names = names_of(bands)
    judged = [band for band in bands if band.verdict == UNCHANGED and band.found_position is not None]
    why = " ".join(sentence(reason, names) for reason in chemistry.reasons)
    if chemistry.verdict == UNCHANGED and judged:
        margin = exact(max(band.margin for band in judged))
        rest = " ".join(sentence(r, names) for r in chemistry.reasons if r.code not in GROUNDS)
        return (
            f"Band positions of {whose} unchanged: {_found(judged, names)} cm-1 (standard errors) lay "
            f"within +/- {margin} cm-1 of {reference}, intervals included. {rest}"
        ).strip()
    if chemistry.verdict == CHANGED:
        return f"The bands of {whose} are changed against {reference}. {why}"
    return f"Whether the bands of {whose} are unchanged could not be decided. {why}".strip()


def _found(bands: list[BandFinding], names: dict[float, str]) -> str:
    """List found positions with their standard errors, named."""
    values = Values({}, names)
    return listed(
        [
            f"{values.name(b.expected_position)} {position(b.found_position, b.found_error)}".strip()
            for b in bands[:NAMED]
        ]
    )


def _left(sample: SampleFinding) -> str:
    """Say what remains unexplained."""
    places = [band.position for band in sample.unexplained[:NAMED]]
    more = len(sample.unexplained) + sample.unexplained_more - len(places)
    if not places:
        return ""
    rest = f" and {more} more" if more else ""
    noun = "A band" if len(places) + more == 1 else "Bands"
    verb = "was" if len(places) + more == 1 else "were"
    return f"{noun} at {wavenumbers(places)}{rest} {verb} not assigned."


def _residues(sample: SampleFinding) -> Iterator[str]:
    """Say what was found of each residue looked for, with its limit, and what that is not."""
    for name, residue in sample.residues.items():
        why = "" if residue.verdict == NOT_SHOWN else " ".join(sentence(reason) for reason in residue.reasons)
        said = f"{name[:1].upper()}{name[1:]}: {RESIDUE_WORDS[residue.verdict]}"
        yield f"{said} ({residue_limit(residue)}). {why} {from_memory(residue)}".strip()
    if sample.residues:
        yield RESIDUE_CAUTION


def residue_limit(residue: Residue) -> str:
    """Return what of a residue would have been found, or that nothing could be."""
    if residue.detectable is not None:
        return f"detection limit {limit(residue.detectable)} of its own spectrum"
    if residue.detectable_height is None or residue.detectable_at is None:
        return NO_LIMIT
    height, place = plain(residue.detectable_height, 2), wavenumber(residue.detectable_at)
    return f"its band at {place} would have been found from an absorbance of {height} on"


def from_memory(residue: Residue) -> str:
    """Say which of a residue's places no source was read for."""
    if not residue.recalled:
        return ""
    places = wavenumbers(sorted(residue.recalled, reverse=True))
    return f"Places from memory, no source read: {places}."


def hidden_bands(residue: Residue) -> str:
    """Name the bands of a residue that substrate or coating hide, where that is known."""
    falling = sorted(residue.hidden, reverse=True)
    return f"hidden by substrate or coating: {wavenumbers(falling)}" if falling else ""
