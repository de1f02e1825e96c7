"""ZIP containers (workbooks, numpy archives), measured before they are unpacked.

A small archive can claim or hold gigabytes. Every member is unpacked once against a limit, in pieces, so
that nothing later meets more than was allowed here.
"""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from dataclasses import replace

from spectra.errors import FormatError
from spectra.reading.source import Source

ZIP_START = b"PK\x03\x04"

# A workbook of 200 spectra of 3,500 points unpacks to about 30 MB.
MOST_UNPACKED = 96 * 1024**2

_MOST_MEMBERS = 2000

_PIECE = 1 << 20

GZIP_START = b"\x1f\x8b"


def unwrapped(source: Source) -> Source:
    """Return a file packed alone, with gzip or ZIP, as if it had never been packed.

    Workbooks and numpy archives are ZIP archives of their own and stay as they are; so does an archive of
    several files. The hash stays that of the file on the disk.

    Raises
    ------
    FormatError
        If it is damaged, or unpacks to more than :data:`MOST_UNPACKED`.
    """
    if source.data.startswith(GZIP_START):
        return replace(source, data=_gunzipped(source))
    if not source.data.startswith(ZIP_START):
        return source
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            names = [info.filename for info in archive.infolist() if not _is_clutter(info)]
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return source  # the reader of archives says what is wrong
    if len(names) != 1 or names[0].endswith((".npy", ".xml")):
        return source
    return replace(source, data=unpack(source)[names[0]])


def _is_clutter(info: zipfile.ZipInfo) -> bool:
    """Whether a member is a folder or a hidden file that some systems pack along."""
    return info.is_dir() or info.filename.startswith("__MACOSX/") or "/." in f"/{info.filename}"


def _gunzipped(source: Source) -> bytes:
    """Unpack a gzip file, at most :data:`MOST_UNPACKED` of it."""
    try:
        with gzip.open(io.BytesIO(source.data)) as stream:
            data = stream.read(MOST_UNPACKED + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise FormatError(f"{source.path}: is a damaged gzip file ({error}); save it again") from None
    if len(data) > MOST_UNPACKED:
        raise _too_large(source)
    return data


def unpack(source: Source) -> dict[str, bytes]:
    """Unpack a ZIP archive.

    Returns
    -------
    dict of str to bytes
        Members in archive order, folders left out.

    Raises
    ------
    FormatError
        If it is damaged, encrypted, or unpacks to more than :data:`MOST_UNPACKED`.
    """
    members: dict[str, bytes] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            names = [info for info in archive.infolist() if not info.is_dir()]
            if len(names) > _MOST_MEMBERS or sum(info.file_size for info in names) > MOST_UNPACKED:
                raise _too_large(source)
            room = MOST_UNPACKED
            for info in names:
                members[info.filename] = _member(archive, info, room, source)
                room -= len(members[info.filename])
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError) as error:
        raise FormatError(
            f"{source.path}: is a damaged or protected archive ({error}); save it again"
        ) from None
    except (ValueError, KeyError, IndexError, OverflowError) as error:
        if isinstance(error, FormatError):
            raise
        raise FormatError(f"{source.path}: is a damaged archive; save it again") from None
    return members


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, room: int, source: Source) -> bytes:
    """Unpack one member, at most ``room`` bytes of it."""
    pieces, held = [], 0
    with archive.open(info) as stream:
        while piece := stream.read(_PIECE):
            held += len(piece)
            if held > room:
                raise _too_large(source)
            pieces.append(piece)
    return b"".join(pieces)


def _too_large(source: Source) -> FormatError:
    return FormatError(
        f"{source.path}: unpacks to more than {MOST_UNPACKED / 1e6:.0f} MB; split it, or export the "
        "spectra as text"
    )
