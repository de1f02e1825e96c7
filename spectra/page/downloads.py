"""Everything of a study in one archive."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO

from spectra.page.folder import list_results, report_folder
from spectra.page.results import Figure

IN_MEMORY = 16_000_000  # bytes; a larger archive goes to a file of its own that vanishes when it is closed

# Every file in an archive bears this date, the first one the format knows: same study, same bytes.
DATE = (1980, 1, 1, 0, 0, 0)


def figure_words(written: Sequence[Path]) -> tuple[Figure, ...]:
    """Return the figures among the files of a report, with the words written beside each.

    Parameters
    ----------
    written
        Files of the report; beside ``figures/NAME.svg`` stands ``NAME.txt`` with caption and description.
    """
    found = []
    for path in written:
        words = path.with_suffix(".txt")
        if path.suffix == ".svg" and words in written:
            caption, _, alternative = words.read_text(encoding="utf-8").partition("\n\n")
            found.append(Figure(f"{path.parent.name}/{path.name}", caption.strip(), alternative.strip()))
    return _explained_once(found)


def _explained_once(figures: Sequence[Figure]) -> tuple[Figure, ...]:
    """Return figures of one kind with the caption at the first of them, and a pointer to it at the others."""
    first: dict[str, str] = {}
    told = []
    for figure in figures:
        name = first.setdefault(figure.caption, figure.file)
        shown = (
            figure
            if name == figure.file
            else replace(figure, caption=f"{figure.file}: panels and lines as at {name}.")
        )
        told.append(shown)
    return tuple(told)


def figure_files(results: Iterable[tuple[str, int]]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the forms of every figure among the files of a report: its name, then ending and file.

    Examples
    --------
    >>> figure_files([("report.html", 9), ("figures/key.pdf", 9), ("figures/key.svg", 9)])
    [('key', [('pdf', 'figures/key.pdf'), ('svg', 'figures/key.svg')])]
    """
    found: dict[str, list[tuple[str, str]]] = {}
    for name, _ in results:
        if name.startswith("figures/"):
            stem, _, form = name.removeprefix("figures/").rpartition(".")
            found.setdefault(stem, []).append((form, name))
    return list(found.items())


def everything(folder: Path, study: Path, spectra: Sequence[str]) -> IO[bytes]:
    """Return an archive of the study file, the spectra and the report, at its start.

    Parameters
    ----------
    folder, study
    spectra
        Paths in the folder, as it was listed.
    """
    files = {name: folder / name for name in spectra}
    if study.is_file():
        files[study.name] = study
    at = report_folder(folder, study).name
    files.update((f"{at}/{name}", path) for name, path in list_results(folder, study).items())
    stream = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  (handed on open)
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, path in sorted(files.items()):
            if path.is_file():
                archive.writestr(zipfile.ZipInfo(name, DATE), path.read_bytes(), zipfile.ZIP_DEFLATED)
    stream.seek(0)
    return stream
