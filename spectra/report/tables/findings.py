"""The tables of ``report.view``: column heads, cells, notes; every cell is finished text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from spectra.findings import NOT_SHOWN, BandFinding, Candidate, PossibleCause, Presence, Unexplained
from spectra.report.tables.sources import marks_note, sourced
from spectra.report.tables.table import Table
from spectra.report.words.numerals import (
    MISSING,
    counted,
    exact,
    plain,
    position,
    probability,
    share,
    span,
    wavenumber,
    wavenumbers,
    with_error,
    with_interval,
)
from spectra.report.words.signs import chemical
from spectra.report.words.statement import RESIDUE_WORDS, amount, confidence, has_thickness, thickness
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

MISSING_BAND = "not found"


def overview_table(verification: Verification) -> Table:
    """Return every verdict in one line a coating; residues that are not shown are left to the sample."""
    samples = verification.samples.values()
    layers = any(sample.layer is not None for sample in samples)
    rows = tuple(
        (
            sample.name,
            coating.name,
            *((_layer(sample),) if layers else ()),
            coating.presence.verdict,
            MISSING if coating.presence.amount is None else amount(coating.presence),
            thickness(coating.presence) if has_thickness(coating.presence) else MISSING,
            coating.chemistry.verdict,
            sample.substrate.chemistry.verdict,
            _residues(sample),
            f"{coating.presence.specimens} ({coating.presence.spots})",
        )
        for sample in samples
        for coating in sample.coatings.values()
    )
    head = (
        "sample", "coating", *(("layer",) if layers else ()), "the coating is", "amount, % of neat",
        "mean thickness", "its band positions are", "substrate bands are", "residues", "specimens (spots)",
    )  # fmt: skip
    levels = {coating.presence.confidence for sample in samples for coating in sample.coatings.values()}
    known = levels - {None}
    called = f"In brackets: {confidence(known.pop())}. " if len(known) == 1 else ""
    note = f"{called}Amount and thickness are defined below the measuring conditions."
    return Table("All samples", head, rows, "", note)


def _layer(sample: SampleFinding) -> str:
    return MISSING if sample.layer is None else sample.layer.verdict


def _residues(sample: SampleFinding) -> str:
    """Residues that are not simply not shown, one a line."""
    said = [
        f"{name}: {RESIDUE_WORDS[residue.verdict]}"
        for name, residue in sample.residues.items()
        if residue.verdict != NOT_SHOWN
    ]
    return "\n".join(said) or ("none shown" if sample.residues else "none looked for")


def band_table(title: str, bands: Sequence[BandFinding], numbers: Mapping[str, int]) -> Table:
    """Return where each band should be, where it was found, how strong it is, and what became of it."""
    fates = any(band.ratio is not None for band in bands)
    head = (
        "band", "neat, cm-1", "expected, cm-1", "found, cm-1", "shift, cm-1", "margin, cm-1", "height",
        *(("height against expected",) if fates else ()), "p (Holm)", "fate" if fates else "position",
        "source",
    )  # fmt: skip
    rows = tuple(_band_row(band, numbers, fates) for band in bands)
    note = (
        "Neat: in the neat spectrum; expected: where it must stand in this film and geometry if nothing "
        "changed. Heights are absorbance above the baseline; +/- is a standard error; in brackets: the "
        "interval of the shift."
    )
    return Table(title, head, rows, "No band was looked for.", note + _optics(bands) + marks_note(bands))


def _band_row(band: BandFinding, numbers: Mapping[str, int], fates: bool) -> tuple[str, ...]:
    """Return one band, its assignment first."""
    hidden = "hidden by the substrate"
    height = plain(band.found_height) if band.detected else f"{plain(band.found_height)}, not significant"
    ratio = (_ratio(band),) if fates else ()
    fate = band.fate if fates else (hidden if band.masked else band.verdict)
    p_value = "-" if band.masked else probability(band.p_adjusted)
    name = chemical(band.assignment) or "none in the tables"
    return (name, *_place(band), height, *ratio, p_value, fate, sourced(band, numbers))


def _ratio(band: BandFinding) -> str:
    """Height against the one expected of this amount, where it was measured."""
    if band.ratio is None:
        return "-"
    return with_interval(band.ratio, band.ratio_low, band.ratio_high)


def joint_table(coating: CoatingFinding) -> Table:
    """Return what each band says by itself in the joint fit that presence rests on."""
    rows = tuple(
        (
            wavenumber(band.position),
            span(band.low, band.high),
            with_error(100.0 * band.amount, 100.0 * band.error),
            plain(100.0 * band.critical_amount, 2),
            "-" if band.masked else probability(band.p_adjusted),
            "hidden" if band.masked else "yes" if band.supports else "no",
        )
        for band in coating.presence.band_evidence
    )
    head = ("band", "fitted on", "amount, %", "decision limit, %", "p (Holm)", "significant by itself")
    return Table(
        f"Each band of {coating.name} by itself", head, rows, "", _quality(coating.presence) if rows else ""
    )


def _quality(presence: Presence) -> str:
    """Say how good the joint fit is, and how far its errors were widened."""
    known = (
        ("Student's t of the amount", plain(presence.evidence)),
        ("degrees of freedom", plain(presence.degrees)),
        ("scatter of left-out bare spots against the model's error", plain(presence.widening)),
        ("squared residual per point against bare scatter", plain(presence.chi_square)),
        ("p of the test of the pattern", probability(presence.pattern_p)),
    )
    said = "; ".join(f"{name}: {value}" for name, value in known if value != MISSING)
    return f"+/- is the standard error that bare spots leave; scatter between specimens comes on top. {said}."


def substrate_table(bands: Iterable[BandFinding], numbers: Mapping[str, int]) -> Table:
    """Return the positions of the substrate's own bands; that they are there is not in question."""
    listed_bands = list(bands)
    rows = tuple(
        (
            chemical(band.assignment) or "none in the tables",
            *_place(band),
            band.verdict,
            sourced(band, numbers),
        )
        for band in listed_bands
    )
    head = (
        "band",
        "bare, cm-1",
        "expected, cm-1",
        "found, cm-1",
        "shift, cm-1",
        "margin, cm-1",
        "position",
        "source",
    )
    note = f"+/- is a standard error.{marks_note(listed_bands)}"
    return Table("Substrate bands, coated against bare", head, rows, "No band was looked for.", note)


def _optics(bands: Sequence[BandFinding]) -> str:
    """Say how much of the margin stands for optics that could not be computed."""
    bound = max((band.optical_bound for band in bands if band.optical_bound is not None), default=0.0)
    if not bound:
        return ""
    return (
        f" Margins include up to {plain(bound, 2)} cm-1 that optics alone may move a band by: the geometry "
        "is not known well enough to compute it."
    )


def _place(band: BandFinding) -> tuple[str, ...]:
    """Where a band should be and where it is."""
    found = band.found_position
    return (
        position(band.neat_position, band.neat_error),
        position(band.expected_position, band.expected_error),
        MISSING_BAND if found is None else position(found, band.found_error),
        "-" if band.shift is None else with_interval(band.shift, band.shift_low, band.shift_high),
        f"+/- {exact(band.margin)}",
    )


# What happened to a band, as the tables of process changes are asked.
DIRECTIONS = {
    "new": "new band",
    "lost": "lost",
    "higher": "stronger",
    "lower": "weaker",
    "up": "moved up",
    "down": "moved down",
}


def cause_table(name: str, causes: Iterable[PossibleCause], numbers: Mapping[str, int]) -> Table:
    """Return what could have changed the bands of a material; no rows where nothing changed."""
    rows = tuple(
        (
            wavenumber(cause.position),
            DIRECTIONS[cause.direction],
            cause.process,
            f"band {cause.effect}",
            sourced(cause, numbers),
        )
        for cause in causes
    )
    head = ("band", "what happened", "process that can do this", "what it does there", "source")
    note = "Candidates from the tables of process changes, not findings: support one by another method."
    note += marks_note(causes)
    return Table(f"What could have changed {name}", head, rows, "", note if rows else "")


def unexplained_table(sample: SampleFinding, numbers: Mapping[str, int]) -> Table:
    """Return the bands that neither substrate nor coating accounts for, with what could cause them."""
    head = ("position", "height", "width, cm-1", "Student's t", "possible origin, not identified")
    rows = tuple(_unexplained_row(band, numbers) for band in sample.unexplained)
    found = [item for band in sample.unexplained for item in band.candidates]
    note = "Negative height: a lost band. Origins are candidates from the band tables, not findings."
    note += marks_note(found)
    more = f" {counted(sample.unexplained_more, 'weaker one')} not listed." if sample.unexplained_more else ""
    empty = "No band is left unexplained." if sample.substrate.bands else "Not looked for."
    return Table("Unexplained bands", head, rows, empty, f"{note}{more}" if rows else "")


def _unexplained_row(band: Unexplained, numbers: Mapping[str, int]) -> tuple[str, ...]:
    return (
        wavenumber(band.position),
        plain(band.height),
        plain(band.width),
        plain(band.evidence),
        "\n".join(_candidate(item, numbers) for item in band.candidates) or "nothing in the tables fits",
    )


def _candidate(item: Candidate, numbers: Mapping[str, int]) -> str:
    """Word one candidate with where to look for more of it."""
    look = f"; look for {wavenumbers(item.look_for)}" if item.look_for else ""
    ranged = item.low is not None and item.high is not None
    place = span(item.low, item.high) if ranged else wavenumber(item.position)  # type: ignore[arg-type]
    return f"{item.material}: {chemical(item.assignment)}, {place} {sourced(item, numbers)}{look}"


def amount_table(sample: SampleFinding) -> Table:
    """Return the amount of each coating on each specimen."""
    rows = tuple(
        (
            coating,
            item.specimen,
            share(item.amount, item.amount_low, item.amount_high),
            ", ".join(plain(100.0 * spot) for spot in item.spots),
        )
        for coating, pieces in sample.evenness.items()
        for item in pieces
    )
    head = ("coating", "specimen", "amount (interval)", "amount at each spot, %")
    note = (
        "Interval: what bare spots alone leave uncertain of the mean of these spots; their scatter is beside."
    )
    return Table("Amount on each specimen", head, rows, "No amount was determined.", note if rows else "")
