"""Reading a study: every file of every group, and what is doubtful about each and about all together."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from spectra.preprocessing.common_grid import Placed
from spectra.quality.checks import check_set, check_spectrum
from spectra.reading import read
from spectra.spectrum import Fault, Spectrum
from spectra.study.records import Study
from spectra.verification.result import InputRecord

Progress = Callable[[str, int, int], None]


def gather(
    study: Study, progress: Progress | None = None
) -> tuple[tuple[Placed, ...], tuple[InputRecord, ...], tuple[Fault, ...]]:
    """Read and check every spectrum of a study.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with a phase, how many are done, and of how many.

    Returns
    -------
    tuple of Placed
        Every spectrum with its role, group and specimen, in the order of the study.
    tuple of InputRecord
        The same, as shown in reports.
    tuple of Fault
        About the study and the set of spectra; a single spectrum's faults stay with it.

    Raises
    ------
    ReadingError
        If a file cannot be read as infrared spectra.
    """
    wanted = [
        (group.role, group.name, specimen.name, path)
        for group in study.groups
        for specimen in group.specimens
        for path in specimen.files
    ]
    placed: list[Placed] = []
    for done, (role, group, specimen, path) in enumerate(wanted):
        if progress is not None:
            progress("reading", done, len(wanted))
        for spectrum in read(path):
            faults = check_spectrum(spectrum, study.settings.checks)
            placed.append(Placed(spectrum.with_faults(faults), role, group, specimen))
    of_all = (*study.warnings, *check_set([item.spectrum for item in placed]))
    return tuple(placed), tuple(_record(item) for item in placed), of_all


def _record(item: Placed) -> InputRecord:
    """Return what a report shows of one spectrum."""
    spectrum: Spectrum = item.spectrum
    origin = spectrum.origin
    return InputRecord(
        path=str(Path(origin.path)),
        part=origin.part,
        sha256=origin.sha256,
        role=item.role,
        group=item.group,
        specimen=item.specimen,
        points=len(spectrum),
        low=float(spectrum.wavenumbers[0]),
        high=float(spectrum.wavenumbers[-1]),
        reader=origin.reader,
        x_unit=origin.x_unit,
        y_unit=origin.y_unit,
        assumed=origin.assumed,
        repairs=origin.repairs,
        faults=origin.faults,
    )
