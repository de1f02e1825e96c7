"""Where assignments come from: numbered sources, and the marks of those that were not read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from spectra.findings import BandFinding, Candidate, PossibleCause
from spectra.report.tables.table import Table
from spectra.verification.result import Verification

# Marks a number of the band tables that was written down without the source at hand, and one that was read
# in a passage whose publication is not known. Such a row is never printed as a citation.
RECALLED, UNIDENTIFIED = "\N{DAGGER}", "\N{DOUBLE DAGGER}"

MARKS_NOTE = (
    f"{RECALLED} recalled, the source was not read: check it before you cite it. {UNIDENTIFIED} read in a "
    "passage whose publication is not known: do not cite it."
)


def marks_note(bands: Iterable[BandFinding | Candidate | PossibleCause]) -> str:
    """Explain the marks where one stands in the table."""
    return f" {MARKS_NOTE}" if any(band.checked in ("memory", "unidentified") for band in bands) else ""


def number_sources(verification: Verification) -> dict[str, int]:
    """Return the number of every source of an assignment or candidate, in the order of the report."""
    numbers: dict[str, int] = {}
    for sample in verification.samples.values():
        bands = [band for coating in sample.coatings.values() for band in coating.bands]
        candidates = [item for band in sample.unexplained for item in band.candidates]
        causes = [cause for coating in sample.coatings.values() for cause in coating.causes]
        causes += sample.substrate.causes
        cited: list[BandFinding | Candidate | PossibleCause] = [*bands, *sample.substrate.bands, *causes]
        for item in (*cited, *candidates):
            source = item.source if item.checked != "unidentified" else ""
            if source:
                numbers.setdefault(source, len(numbers) + 1)
    return numbers


def source_table(numbers: Mapping[str, int]) -> Table:
    """Return the numbered list of sources."""
    rows = tuple((f"[{number}]", source) for source, number in numbers.items())
    return Table("Sources of the assignments", ("", "source"), rows, "No band was assigned.")


def sourced(item: BandFinding | Candidate | PossibleCause, numbers: Mapping[str, int]) -> str:
    """Return the source's number, marked where it was not read; a source that is not known has no number."""
    if item.checked == "unidentified":
        return UNIDENTIFIED
    if not item.source:
        return "-"
    return f"[{numbers[item.source]}]{RECALLED if item.checked == 'memory' else ''}"
