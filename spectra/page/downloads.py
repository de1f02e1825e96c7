"""Everything of a study in one archive."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Sequence
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
    return tuple(found)


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
