"""Which files of a folder may hold spectra: told by a look at a few of their bytes, never by the name alone.

Images, documents, and notes and programs without a row of numbers lie beside measurements anyway and are
passed over without a word. Everything else is worth reading, empty files and binary ones of unknown kinds
too: what keeps them from being read is then said.
"""

from __future__ import annotations

import io
import os
import re
import stat
import zipfile
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from spectra.reading.jcamp.reader import looks_like_jcamp
from spectra.reading.source import image_kind, is_text
from spectra.reading.tables.delimiter import holds_numbers
from spectra.reading.tables.lines import one_byte_text
from spectra.reading.unpacking import ZIP_START

_LOOKED_AT = 1 << 14  # bytes at the start and in the middle

# Members by which office documents and packed programs show themselves.
_DOCUMENT = re.compile(r"(?:word|ppt|META-INF|visio)/|mimetype$|AndroidManifest\.xml$")

# Endings of notes and programs, which are passed over if they hold no row of numbers.
_NOTES = re.compile(r"(?i).*\.(toml|md|py|html?|css|js|json|log|lnk|ini|ipynb|rtf|ya?ml|cfg)")

_MARKUP = re.compile(
    rb"\s*(?:<\?xml[^>]*>\s*)?(?:<!--.*?-->\s*)?<(?:!doctype\s+(?:html|svg)|html|svg)",
    re.IGNORECASE | re.DOTALL,
)


def list_candidates(folder: Path, *, plain: bool) -> Iterator[tuple[str, os.stat_result]]:
    """Yield the files in a folder, and in all folders inside it, that may hold spectra.

    Hidden files and folders are passed over, folders with a ``result.json``, and names that are not text.

    Parameters
    ----------
    folder
    plain
        Pass over names with control characters too, and links that lead out of the folder.

    Yields
    ------
    str
        Path in the folder, with ``/``; in no order.
    os.stat_result
        Of the file.
    """
    home = Path(os.path.realpath(folder))
    yield from _walk(home, home, "", plain)


def _walk(home: Path, folder: Path, before: str, plain: bool) -> Iterator[tuple[str, os.stat_result]]:
    try:
        with os.scandir(folder) as entries:
            inside = list(entries)
    except OSError:
        return
    if before and any(entry.name == "result.json" for entry in inside):
        return
    for entry in inside:
        if entry.name.startswith(".") or not _is_text_name(entry.name, plain):
            continue
        try:
            yield from _entry(home, entry, before, plain)
        except OSError:  # gone again since it was listed
            continue


def _entry(
    home: Path, entry: os.DirEntry[str], before: str, plain: bool
) -> Iterator[tuple[str, os.stat_result]]:
    """Yield one file, or what a folder holds; no link to a folder is followed."""
    name = f"{before}{entry.name}"
    if entry.is_dir(follow_symlinks=False):
        yield from _walk(home, Path(entry.path), f"{name}/", plain)
        return
    if plain and entry.is_symlink() and not Path(os.path.realpath(entry.path)).is_relative_to(home):
        return
    about = entry.stat()
    version = (about.st_size, about.st_mtime_ns, about.st_ino)
    if stat.S_ISREG(about.st_mode) and _may_hold_spectra(entry.path, version):
        yield name, about


def is_plain_name(name: str) -> bool:
    """Whether a name is text without control characters."""
    return _is_text_name(name, plain=True)


def _is_text_name(name: str, plain: bool) -> bool:
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return name.isprintable() or not plain


@lru_cache(maxsize=20_000)
def _may_hold_spectra(path: str, version: tuple[int, int, int]) -> bool:
    """Look at a file, once for each version of it."""
    size = version[0]
    with open(path, "rb") as stream:  # noqa: PTH123  (one call for each of thousands of files)
        head = stream.read(_LOOKED_AT)
        middle = b""
        if size > 2 * _LOOKED_AT:
            stream.seek(size // 2)
            middle = stream.read(_LOOKED_AT)
        if head.startswith(ZIP_START):
            stream.seek(0)
            return not _is_document(stream)
    return may_hold_spectra(path, head, middle)


def may_hold_spectra(name: str, head: bytes, middle: bytes = b"") -> bool:
    r"""Tell from a few bytes whether a file is worth reading.

    Parameters
    ----------
    name
        Notes and programs are known by their ending, unless they hold numbers.
    head
        First bytes.
    middle
        Some from the middle of a long file.

    Examples
    --------
    >>> may_hold_spectra("a.log", b"film\n4000;0,1\n3998;0,2\n"), may_hold_spectra("a.md", b"Spots 1 to 4.\n")
    (True, False)
    >>> may_hold_spectra("a.csv", b"\x89PNG\r\n\x1a\n"), may_hold_spectra("a.raw", b"\x00 of an unknown kind")
    (False, True)
    """
    if image_kind(head) or (_MARKUP.match(head) and b"<td" not in head.lower()):
        return False
    if not _NOTES.fullmatch(name) or not is_text(head) or looks_like_jcamp(head):
        return True
    return any(holds_numbers(one_byte_text(part)) for part in (head, middle) if part)


def _is_document(stream: io.BufferedReader) -> bool:
    """Whether an archive is an office document that holds no cells; a damaged one is worth a word."""
    try:
        with zipfile.ZipFile(stream) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return False
    workbook = any(name.startswith("xl/") for name in names) or "content.xml" in names
    return not workbook and any(_DOCUMENT.match(name) for name in names)
