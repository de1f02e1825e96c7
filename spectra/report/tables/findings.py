"""The tables of ``report.view``: column heads, cells, notes; every cell is finished text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from spectra.findings import NOT_SHOWN, BandFinding, Candidate, PossibleCause, Presence, Unexplained
from spectra.report.words.numerals import (
    counted,
    exact,
    plain,
    position,
    probability,
    span,
    wavenumber,
    wavenumbers,
    with_error,
    with_interval,
)
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

# Marks a fact of the band tables that was written down without the source at hand.
RECALLED = "recalled, source not read"

MISSING_BAND = "not found"

PLACE_HEAD = ("reference, cm-1", "expected, cm-1", "found, cm-1", "shift, cm-1", "margin, cm-1")

VERDICT_HEAD = ("position", "assignment", "source")


@dataclass(frozen=True)
class Table:
    """A table of finished text; ``empty`` is said when there are no rows."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    note: str = ""


def overview_table(verification: Verification) -> Table:
    """Return every verdict in one line a coating; residues that are not shown are left to the sample."""
    rows = tuple(
        (
            sample.name,
            coating.name,
            coating.presence.verdict,
            coating.chemistry.verdict,
            sample.substrate.chemistry.verdict,
            "\n".join(f"{r.name}: {r.verdict}" for r in sample.residues.values() if r.verdict != NOT_SHOWN)
            or ("none shown" if sample.residues else "none looked for"),
        )
        for sample in verification.samples.values()
        for coating in sample.coatings.values()
    )
    head = ("sample", "coating", "coating is", "its chemistry is", "substrate chemistry is", "residues")
    return Table("", head, rows)


def band_table(title: str, bands: Sequence[BandFinding], numbers: Mapping[str, int]) -> Table:
    """Return the classical band table: where each band should be, where it was found, and what it is."""
    head = (*PLACE_HEAD, "height", "critical height", "p (Holm)", "seen", *VERDICT_HEAD)
    rows = tuple((*_place(band), *_strength(band), *_verdict(band, numbers)) for band in bands)
    note = (
        "Heights are absorbance after baseline and normalisation. +/- is a standard error. Seen: above the "
        "critical height and of the expected shape."
    )
    return Table(title, head, rows, "No band was looked for.", note + _optics(bands))


def joint_table(coating: CoatingFinding) -> Table:
    """Return what each band says by itself in the joint fit that presence rests on."""
    rows = tuple(
        (
            wavenumber(band.position),
            span(band.low, band.high),
            with_error(band.amount, band.error),
            plain(band.critical_amount, 2),
            "-" if band.masked else probability(band.p_adjusted),
            "masked" if band.masked else "yes" if band.supports else "no",
        )
        for band in coating.presence.band_evidence
    )
    head = ("band", "fitted on", "amount, neat = 1", "critical, neat = 1", "p (Holm)", "found by itself")
    return Table(f"Joint fit of {coating.name}", head, rows, "", _quality(coating.presence) if rows else "")


def _quality(presence: Presence) -> str:
    """Say how good the joint fit is, and how far its errors were widened."""
    known = (
        ("t of the joint amount", presence.evidence),
        ("degrees of freedom", presence.degrees),
        ("left-out bare spots, in units of the model's error", presence.widening),
        ("squared residual per point, in units of bare scatter", presence.chi_square),
        ("p of the bands' pattern", presence.pattern_p),
    )
    said = "; ".join(f"{name}: {plain(value)}" for name, value in known if value is not None)
    return f"+/- is the standard error that bare spots leave; scatter between specimens comes on top. {said}"


def substrate_table(bands: Iterable[BandFinding], numbers: Mapping[str, int]) -> Table:
    """Return the positions of the substrate's own bands; that they are there is not in question."""
    rows = tuple((*_place(band), *_verdict(band, numbers)) for band in bands)
    title, head = "Substrate bands, coated against bare", (*PLACE_HEAD, *VERDICT_HEAD)
    return Table(title, head, rows, "No band was looked for.", "+/- is a standard error.")


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


def _strength(band: BandFinding) -> tuple[str, ...]:
    """How strong a band is, and whether that is enough."""
    return (
        plain(band.found_height),
        plain(band.critical_height, 2),
        "-" if band.masked else probability(band.p_adjusted),
        "masked" if band.masked else "yes" if band.detected else "no",
    )


def _verdict(band: BandFinding, numbers: Mapping[str, int]) -> tuple[str, ...]:
    """Whether a band stayed in its place, and what it is."""
    return band.verdict, band.assignment or "none in the tables", _sourced(band, numbers)


def number_sources(verification: Verification) -> dict[str, int]:
    """Return the number of every source of an assignment or candidate, in the order of the report."""
    numbers: dict[str, int] = {}
    for sample in verification.samples.values():
        bands = [band for coating in sample.coatings.values() for band in coating.bands]
        candidates = [item.source for band in sample.unexplained for item in band.candidates]
        parts = (*sample.coatings.values(), sample.substrate)
        causes = [cause.source for part in parts for cause in part.causes]
        cited = [band.source for band in (*bands, *sample.substrate.bands)]
        for source in (*cited, *causes, *candidates):
            if source:
                numbers.setdefault(source, len(numbers) + 1)
    return numbers


def source_table(numbers: Mapping[str, int]) -> Table:
    """Return the numbered list of sources."""
    rows = tuple((f"[{number}]", source) for source, number in numbers.items())
    return Table("Sources of the assignments", ("", "source"), rows, "No band was assigned.")


def _sourced(item: BandFinding | Candidate | PossibleCause, numbers: Mapping[str, int]) -> str:
    """Return the source's number, marked where the row was written from memory."""
    if not item.source:
        return "-"
    mark = f", {RECALLED}" if item.checked == "memory" else ""
    return f"[{numbers[item.source]}]{mark}"


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
            _sourced(cause, numbers),
        )
        for cause in causes
    )
    head = ("band", "what happened", "process that can do this", "what it does there", "source")
    note = "Candidates from the tables of process changes, not findings: support one by another method."
    return Table(f"What could have changed {name}", head, rows, "", note if rows else "")


def unexplained_table(sample: SampleFinding, numbers: Mapping[str, int]) -> Table:
    """Return the bands that neither substrate nor coating accounts for, with what could cause them."""
    head = ("position", "height", "width, cm-1", "evidence (t)", "possible origin, not identified")
    rows = tuple(_unexplained_row(band, numbers) for band in sample.unexplained)
    note = "Negative height: a lost band. Origins are candidates from the band tables, not findings."
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
    return f"{item.material}: {item.assignment}, {wavenumber(item.position)} {_sourced(item, numbers)}{look}"


def amount_table(sample: SampleFinding) -> Table:
    """Return the amount of each coating on each specimen."""
    rows = tuple(
        (
            coating,
            item.specimen,
            with_interval(item.amount, item.amount_low, item.amount_high),
            ", ".join(plain(spot) for spot in item.spots),
        )
        for coating, pieces in sample.evenness.items()
        for item in pieces
    )
    head = ("coating", "specimen", "amount (interval), neat = 1", "amount at each spot, neat = 1")
    return Table("Amount on each specimen", head, rows, "No amount was determined.")
