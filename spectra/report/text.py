"""The same words for a terminal: verdicts of a verification, and what was understood of a file."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from spectra.report.judgements import Judgement
from spectra.report.looking import look
from spectra.report.tables.fault_groups import unit_lines, warning_lines
from spectra.report.view import Answer, View, view
from spectra.report.words.signs import visible

if TYPE_CHECKING:
    from spectra.spectrum import Spectrum
    from spectra.verification.result import Verification

WIDTH = 100

INDENT = "  "


def as_text(verification: Verification) -> str:
    """Return the verdicts with their reasons, numbers and remedies, for the terminal.

    ASCII but for names that come from the study; about twenty lines for one sample with one coating.

    Parameters
    ----------
    verification
        The whole result.
    """
    page = view(verification)
    lines = [page.title, INDENT + page.measured]
    for sample in page.samples:
        for answer in sample.answers:
            lines += ["", f"{sample.name}: {answer.coating}"]
            lines += [line for judgement in sample.layer for line in _judgement(judgement)]
            lines += _answer(answer)
        lines += _judgement(sample.substrate)
        for residue in sample.residues:
            lines += _judgement(residue)
    for line in (*page.apart, *page.left_out):
        lines += ["", *_wrapped(line, "")]
    return _printed([*lines, "", *_inputs(verification), *_foot(page)])


def look_text(spectra: Sequence[Spectrum]) -> str:
    """Return what was read, in which units, what was assumed or mended, and what is wrong with it.

    Parameters
    ----------
    spectra
        As ``spectra.read`` returns them.
    """
    several = len(spectra) > 1
    return _printed(
        line
        for number, spectrum in enumerate(spectra, 1)
        for line in _spectrum(spectrum, f" (number {number} of {len(spectra)})" if several else "")
    )


def _printed(lines: Iterable[str]) -> str:
    """Join lines; text from files keeps no power over the terminal."""
    return "".join(f"{visible(line)}\n" for line in lines)


def _answer(answer: Answer) -> Iterator[str]:
    for judgement in answer.judgements:
        yield from _judgement(judgement)
        if judgement is answer.judgements[0]:
            for name, number in answer.numbers:
                yield from _wrapped(f"{name}: {number}")


def _judgement(judgement: Judgement) -> Iterator[str]:
    yield f"{INDENT}{judgement.question}: {judgement.word.upper()}"
    for said, cure in judgement.reasons:
        yield from _wrapped(said)
        yield from _wrapped(f"To do: {cure}" if cure else "")


def _foot(page: View) -> Iterator[str]:
    """Count of verdicts, and the limit of what was shown."""
    yield from textwrap.wrap(page.headline, WIDTH)
    yield from _wrapped(page.limit, "")


def _inputs(verification: Verification) -> Iterator[str]:
    """Units that were taken, and the most serious warnings, one line for each kind."""
    for taken in unit_lines(verification):
        yield from _wrapped(taken, "")
    for warning in warning_lines(verification):
        yield from _wrapped(warning, "")


def _spectrum(spectrum: Spectrum, number: str) -> Iterator[str]:
    seen = look(spectrum)
    yield seen.name + number
    for label, value in seen.facts:
        yield f"{INDENT}{label}: {value}"
    for fault, cure in seen.faults:
        yield from _wrapped(fault, INDENT)
        yield from _wrapped(f"To do: {cure}")


def _wrapped(text: str, indent: str = INDENT * 2) -> Iterable[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False)
