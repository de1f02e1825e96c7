"""The folder a page works on: which files in it may hold spectra, and how a dropped file is put there.

A page names files only as this module lists them, so no name that a request brings is ever joined to a
path: it is looked up. What a file is decides, not its name. A dropped file is written whole
beside its place and then linked to it, which fails where a file of that name stands already.
"""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from spectra.errors import OutputError, UsageError
from spectra.reading.candidates import is_plain_name, list_candidates, may_hold_spectra

STUDY = "study.toml"

LOCK = ".coatproof-page.lock"

# Names that some systems take for devices, whatever their suffix.
DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?")

CHUNK = 1 << 20

# Endings that systems run or open by themselves (common practice, no source): nothing dropped takes one.
OPENED = re.compile(r"(?i).*\.(bat|cmd|com|exe|html?|js|lnk|msi|ps1|scr|sh|svg|toml|vbs)")


@dataclass(frozen=True)
class Stamp:
    """What changes when a file changes."""

    size: int
    changed_ns: int
    number: int


def list_spectra(folder: Path) -> dict[str, Stamp]:
    """Return the files of a folder that may hold spectra, by their path in it, sorted.

    The same as ``coatproof new`` reads, but for links that lead out and names with control characters.
    """
    found = list_candidates(folder, plain=True)
    return {name: Stamp(about.st_size, about.st_mtime_ns, about.st_ino) for name, about in sorted(found)}


def list_results(folder: Path, study: Path) -> dict[str, Path]:
    """Return the files of the study's report by their path in its folder; none before it is written."""
    results = report_folder(folder, study)
    if not (results / "result.json").is_file():
        return {}
    return {
        file.relative_to(results).as_posix(): file
        for file in sorted(results.rglob("*"))
        if file.is_file() and not file.is_symlink() and not file.name.startswith(".")
    }


def report_folder(folder: Path, study: Path) -> Path:
    """Return where ``verify`` writes the report of a study."""
    return folder / f"{study.stem}_report"


def require_file_name(name: str) -> None:
    r"""Refuse a name under which no dropped file is written.

    Raises
    ------
    UsageError
        Saying what is wrong with it.

    Examples
    --------
    >>> require_file_name("../bare.csv")
    Traceback (most recent call last):
    spectra.errors.UsageError: '../bare.csv': a file name holds no / or \; rename the file
    """
    said = repr(name[:80])
    if not name or not is_plain_name(name):
        raise UsageError(f"{said}: not a name of printable characters; rename the file")
    if "/" in name or "\\" in name:
        raise UsageError(f"{said}: a file name holds no / or \\; rename the file")
    if name.startswith((".", " ")) or name.endswith((".", " ")) or re.search(r'[<>:"|?*]', name):
        raise UsageError(f"{said}: not a name every system takes; rename the file")
    if DEVICES.fullmatch(name) or len(name.encode()) > 200:
        raise UsageError(f"{said}: not a name every system takes; rename the file")
    if OPENED.fullmatch(name):
        raise UsageError(f"{said}: not the name of a file with spectra; rename the file")


def place_upload(folder: Path, name: str, content: BinaryIO, most_bytes: int) -> None:
    """Write a dropped file whole or not at all, never over one that is there.

    Parameters
    ----------
    folder
    name
        As the browser gave it.
    content
        Read from where it stands.
    most_bytes
        Longer files are refused.

    Raises
    ------
    UsageError
        For a name that is refused or taken, a file that is too long, or one without a number.
    OutputError
        If it cannot be written.
    """
    require_file_name(name)
    target = folder / name
    if os.path.lexists(target):
        raise UsageError(f"{name!r} is in the folder already; rename one of the two")
    draft = folder / f".{name[:60]}.{os.getpid()}.part"
    try:
        _copy(content, draft, name, most_bytes)
        with draft.open("rb") as stream:
            if not may_hold_spectra(name, stream.read(CHUNK)):
                raise UsageError(
                    f"{name!r} is an image, a document or a note: it holds no spectrum, and was not kept"
                )
        _link(draft, target)
    except FileExistsError:
        raise UsageError(f"{name!r} is in the folder already; rename one of the two") from None
    except OSError as error:
        raise OutputError(f"{name!r} cannot be written ({error.strerror}); nothing was kept of it") from None
    finally:
        draft.unlink(missing_ok=True)


def _copy(content: BinaryIO, draft: Path, name: str, most_bytes: int) -> None:
    """Copy to a draft, and to the disk itself."""
    written = 0
    with draft.open("xb") as stream:
        while chunk := content.read(CHUNK):
            written += len(chunk)
            if written > most_bytes:
                raise UsageError(f"{name!r} is longer than {most_bytes / 1e6:.0f} MB; split the file")
            stream.write(chunk)
        stream.flush()
        os.fsync(stream.fileno())


def _link(draft: Path, target: Path) -> None:
    """Give the draft its name, unless that is taken; where disks know no links, by the name alone."""
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:
        with target.open("xb"):
            draft.replace(target)


def clear_drafts(folder: Path, process: int | None = None) -> None:
    """Take away what a process that was killed left half-written: drafts are hidden and end in ``.part``."""
    number = r"\d+" if process is None else str(process)
    for path in folder.iterdir():
        if re.fullmatch(rf"\..+\.{number}\.part", path.name):
            with contextlib.suppress(OSError):
                _remove(path)


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        for inside in path.iterdir():
            _remove(inside)
        path.rmdir()
    else:
        path.unlink()


def used_files(stamps: Mapping[str, Stamp], names: Iterator[str]) -> tuple[tuple[str, Stamp], ...]:
    """Return the stamps of some files, to tell later whether one of them changed."""
    return tuple(sorted((name, stamps[name]) for name in names if name in stamps))
