"""The working process: it reads a study, judges it and writes the report, one piece of work at a time.

It is a process of its own so that the page answers while it computes, and so that a stop stops it. It ends
by itself when the page is gone.
"""

from __future__ import annotations

import datetime
import os
import signal
import threading
import traceback
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

import numpy as np

from spectra.errors import CoatproofError
from spectra.page.results import Findings, Mark, Running, Sheaf
from spectra.spectrum import Stack

# Values of a reason that are wavenumbers.
PLACES = frozenset({"position", "positions", "bands", "found", "expected", "hidden", "regions"})

Tell = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Job:
    """One piece of work: ``kind`` is a key of :data:`JOBS`; the day is that of the report."""

    number: int
    kind: str
    study: Path
    day: datetime.date


def serve(pipe: Connection) -> None:
    """Do the jobs that come through a pipe until it is closed.

    Answers are ``(number, word, value)``: ``progress`` with phase, done and total; ``done`` with the result;
    ``failed`` with one message.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the page decides; it hears the user itself
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    threading.Thread(target=_end_with_the_page, daemon=True).start()
    try:
        while True:
            job: Job = pipe.recv()
            pipe.send((job.number, *_answer(job, pipe)))
    except (EOFError, OSError, KeyboardInterrupt):
        return


def _end_with_the_page() -> None:
    """End at once when the page's process is gone, even in the middle of a computation."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _answer(job: Job, pipe: Connection) -> tuple[str, Any]:
    """Do one job; every error becomes a message."""

    def tell(phase: str, done: int, total: int) -> None:
        pipe.send((job.number, "progress", (phase, done, total)))

    try:
        return "done", JOBS[job.kind](job, tell)
    except CoatproofError as error:
        return "failed", str(error)
    except OSError as error:
        return "failed", f"{error.filename or 'a file'}: {error.strerror or error}"
    except MemoryError:
        return "failed", "this machine has too little memory for the study; leave some spectra out"
    except Exception:
        traceback.print_exc()
        return "failed", "a fault of coatproof, not of your files: the window it was started from says more"


# -- while measuring -----------------------------------------------------------------------------------


def look_ahead(job: Job, tell: Tell) -> Running:
    """Bring the spectra onto common footing and say what they could find by now."""
    from spectra.report.view import as_shown
    from spectra.report.words.comparing import apart_line
    from spectra.report.words.while_measuring import measuring_lines
    from spectra.study.loading import load_study
    from spectra.verification.planning import look_while_measuring
    from spectra.verification.preparation import prepare

    study = load_study(job.study, need_samples=False)
    prepared = prepare(study, tell)
    outlook = look_while_measuring(study, prepared)
    marks = tuple(
        Mark(name, "neat", band.position, band.low, band.high, band.masked)
        for name, plan in outlook.plans.items()
        for band in plan.bands
    )
    doubts = tuple((fault.found, fault.remedy) for fault in prepared.faults if fault.severity == "warning")
    remarks = {
        Path(path).relative_to(job.study.parent).as_posix(): apart_line(as_shown(item, study))
        for item in outlook.apart
        for path in item.paths
        if Path(path).is_relative_to(job.study.parent)
    }
    return Running(measuring_lines(outlook), remarks, doubts, marks, _prepared_stages(prepared.stages))


def _prepared_stages(stages: Any) -> dict[str, tuple[Sheaf, ...]]:
    return {"flat": _sheaves(stages.flat), "levelled": _sheaves(stages.levelled)}


def _sheaves(stacks: Mapping[tuple[str, str], Stack]) -> tuple[Sheaf, ...]:
    return tuple(
        _sheaf(role, "" if role == "bare" else name, stack.names, stack.grid, stack.absorbance)
        for (role, name), stack in stacks.items()
    )


def _sheaf(role: str, group: str, names: tuple[str, ...], grid: Any, values: Any) -> Sheaf:
    return Sheaf(
        role, group, names, np.asarray(grid, np.float32), np.atleast_2d(np.asarray(values, np.float32))
    )


# -- the verdicts --------------------------------------------------------------------------------------


def verify(job: Job, tell: Tell) -> Findings:
    """Judge a study and write its report, exactly as the command does."""
    from spectra.page.downloads import figure_words
    from spectra.page.folder import report_folder
    from spectra.report import write_report
    from spectra.report.kept import rounded
    from spectra.report.tables.sources import number_sources
    from spectra.report.view import view
    from spectra.study.loading import load_study
    from spectra.verification.verify import verify as verify_study

    study = load_study(job.study)
    verification = verify_study(study, tell)
    tell("writing the report", 0, 1)
    written = write_report(verification, report_folder(job.study.parent, job.study), job.day)
    verification = rounded(verification)  # as the report words it
    seen, numbers = view(verification, job.day), number_sources(verification)
    return Findings(
        seen,
        seen.overview,
        figure_words(written),
        dict(_places(verification)),
        tuple(_marks(verification, numbers)),
        {**_prepared_stages(verification.stages), **_differences(verification)},
    )


def _differences(verification: Any) -> dict[str, tuple[Sheaf, ...]]:
    """Return the differences of all samples, and what the film found would add, one sheaf a sample."""
    grid = verification.stages.levelled["bare", verification.study.substrate.name].grid
    changes, films = [], []
    for name, sample in verification.samples.items():
        changes.append(_sheaf("coated", name, (name,), grid, sample.difference))
        for coating, curve in sample.expected.items():
            films.append(_sheaf("neat", coating, (f"{coating} on {name}",), grid, curve))
    return {"difference": tuple(changes), "film": tuple(films)}


def _marks(verification: Any, numbers: Mapping[str, int]) -> Iterator[Mark]:
    """Yield every band that was looked for, with its row of the report's table."""
    from spectra.report.tables.findings import band_table, substrate_table

    for name, sample in verification.samples.items():
        for coating in sample.coatings.values():
            for band in coating.bands:
                table = band_table("", (band,), numbers)
                yield _mark(coating.name, "neat", band, table, name)
        owner = verification.study.substrate.material or "bare"
        for band in sample.substrate.bands:
            yield _mark(owner, "bare", band, substrate_table((band,), numbers), name)


def _mark(owner: str, role: str, band: Any, table: Any, sample: str) -> Mark:
    half = 0.5 * float(band.neat_width)
    place = float(band.expected_position)
    row = tuple(zip(table.head, table.rows[0], strict=True))
    return Mark(owner, role, place, place - half, place + half, bool(band.masked), row, sample)


def _places(verification: Any) -> Iterator[tuple[str, tuple[float, float]]]:
    """Yield the range in the spectra that a sentence of a verdict speaks of."""
    from spectra.report.view import sentence

    for sample in verification.samples.values():
        found = [sample.substrate.chemistry, *sample.residues.values()]
        found += [sample.layer] if sample.layer else []
        for coating in sample.coatings.values():
            found += [coating.presence, coating.chemistry]
        for reason in (reason for verdict in found for reason in verdict.reasons):
            positions = sorted(_wavenumbers(reason.values))
            if positions:
                yield sentence(reason), (positions[0] - 60.0, positions[-1] + 60.0)


def _wavenumbers(value: Any) -> Iterator[float]:
    """Yield the wavenumbers among a reason's values; counts are no wavenumbers."""
    if isinstance(value, Mapping):
        for name in PLACES.intersection(value):
            yield from _wavenumbers(value[name])
    elif isinstance(value, float | np.floating) and 399.0 < value < 4001.0:
        yield float(value)
    elif isinstance(value, list | tuple | np.ndarray):
        for inner in value:
            yield from _wavenumbers(inner)


JOBS: Mapping[str, Callable[[Job, Tell], Any]] = {"look ahead": look_ahead, "verify": verify}
