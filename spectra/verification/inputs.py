"""Reading a study: every file of every group, and what is doubtful about each and about all together.

Files that were written alike are read together, so that one unit is settled for all of them. A file is read
once, however many groups take spectra of it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from spectra.errors import ReadingError, StudyError
from spectra.preprocessing.common_grid import Placed
from spectra.quality.checks import check_groups, check_set, check_spectrum
from spectra.reading import read_alike
from spectra.reading.together import FileRead
from spectra.spectrum import Fault, Spectrum
from spectra.study.mistakes import nearest
from spectra.study.records import Group, Study
from spectra.units import StatedUnits
from spectra.verification.result import InputRecord

Progress = Callable[[str, int, int], None]

_MOST_TOLD = 10  # files that cannot be read, told one by one

Files = dict[tuple[Path, StatedUnits], FileRead]


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
        If a file cannot be read as infrared spectra, or a spectrum that the study names is none.
    StudyError
        If a spectrum that the study names is not in its file, or is named twice.
    """
    files = _read_all(study.groups, progress)
    checked: dict[int, Spectrum] = {}
    placed: list[Placed] = []
    taken: dict[tuple[Path, str], str] = {}
    for group in study.groups:
        for specimen in group.specimens:
            for path, columns in specimen.parts:
                for spectrum in chosen(files[path, group.units], path, columns):
                    _require_once(taken, path, spectrum, f"{group.role} {group.name}, {specimen.name}")
                    if id(spectrum) not in checked:
                        checked[id(spectrum)] = spectrum.with_faults(
                            check_spectrum(spectrum, study.settings.checks)
                        )
                    placed.append(Placed(checked[id(spectrum)], group.role, group.name, specimen.name))
    faults = (*check_set([item.spectrum for item in placed]), *check_groups(_by_role(placed)))
    named = (_as_named(fault, study) for fault in faults)
    return tuple(placed), tuple(_record(item) for item in placed), (*study.warnings, *named)


def _as_named(fault: Fault, study: Study) -> Fault:
    """Return a fault with its files as the study names them: the same in whatever folder the study lies."""
    return replace(fault, where=fault.where.replace(f"{study.folder}{os.sep}", ""))


def _read_all(groups: Iterable[Group], progress: Progress | None) -> Files:
    """Read every file of a study once, all of them together.

    Raises
    ------
    ReadingError
        With every file that cannot be read.
    """
    wanted = list(
        dict.fromkeys(
            (path, group.units)
            for group in groups
            for specimen in group.specimens
            for path, _ in specimen.parts
        )
    )

    def told(done: int) -> None:
        if progress is not None:
            progress("reading", done, len(wanted))

    found = read_alike([path for path, _ in wanted], [units for _, units in wanted], told)
    files = {key: one for key, one in zip(wanted, found, strict=True) if isinstance(one, FileRead)}
    _raise_together([one for one in found if isinstance(one, ReadingError)])
    return files


def _raise_together(errors: Sequence[ReadingError]) -> None:
    """Raise what stops a study: one error as it is, several in one message, each said once."""
    different = list({str(error): error for error in errors}.values())
    if len(different) == 1:
        raise different[0]
    if different:
        told = [str(error) for error in different[:_MOST_TOLD]]
        more = [f"and {len(different) - _MOST_TOLD} more"] if len(different) > _MOST_TOLD else []
        raise ReadingError("\n  ".join([f"{len(errors)} files cannot be read", *told, *more]))


def chosen(file: FileRead, path: Path, columns: Sequence[str]) -> tuple[Spectrum, ...]:
    """Return the spectra of a file that are meant: by name, else by number from 1; all if none is named.

    Raises
    ------
    ReadingError
        If one that is named was left out, with the reason.
    StudyError
        If there is no such spectrum, or several.
    """
    return tuple(_one(file, path, name) for name in columns) if columns else file.spectra


def _one(file: FileRead, path: Path, name: str) -> Spectrum:
    """Return the spectrum of a file that a name or number means."""
    for part, error in file.left_out.items():
        if _is_meant(part, name):
            raise error
    named = [spectrum for spectrum in file.spectra if _is_meant(spectrum.origin.part, name)]
    if not named and name.isdecimal() and 1 <= int(name) <= len(file.spectra):
        named = [file.spectra[int(name) - 1]]
    if len(named) == 1:
        return named[0]
    parts = [spectrum.origin.part for spectrum in file.spectra]
    if named:
        raise StudyError(f"{path}: {len(named)} spectra are called {name!r}; name one by its number")
    shown = ", ".join(f"{i} {part!r}" for i, part in enumerate(parts[:12], 1))
    raise StudyError(f"{path}: no spectrum {name!r}{nearest(name, parts)} (it holds {shown})")


def _is_meant(part: str, name: str) -> bool:
    """Tell whether a name means a part: the whole of it, or what follows the sheet or block."""
    folded, wanted = part.casefold(), name.casefold()
    return folded == wanted or folded.endswith((f": {wanted}", f", {wanted}"))


def _require_once(taken: dict[tuple[Path, str], str], path: Path, spectrum: Spectrum, place: str) -> None:
    """Require that no spectrum is used twice, however it is named.

    Raises
    ------
    StudyError
        Naming both places.
    """
    first = taken.setdefault((path, spectrum.origin.part), place)
    if first != place:
        raise StudyError(
            f"{spectrum.origin.name}: is used for {first} and for {place}; use each spectrum once"
        )


def _by_role(placed: Iterable[Placed]) -> dict[tuple[str, str], list[Spectrum]]:
    """Return the spectra of every group."""
    groups: dict[tuple[str, str], list[Spectrum]] = {}
    for item in placed:
        groups.setdefault((item.role, item.group), []).append(item.spectrum)
    return groups


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
