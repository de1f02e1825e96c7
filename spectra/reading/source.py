"""The bytes of one file, read once, with their hash; and the files that are refused before reading."""

from __future__ import annotations

import hashlib
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from spectra.errors import FormatError, ReadingError
from spectra.units import UNSTATED, StatedUnits

# A 10^6-point two-column file is about 25 MB. Larger files are not single spectra, and text needs
# several times its size in memory.
MOST_BYTES = 96 * 1024**2

_IMAGES = {
    b"\x89PNG\r\n": "a PNG image",
    b"\xff\xd8\xff": "a JPEG image",
    b"GIF8": "a GIF image",
    b"BM": "a bitmap image",
    b"II*\x00": "a TIFF image",
    b"MM\x00*": "a TIFF image",
    b"%PDF": "a PDF document",
    b"{\\rtf": "a rich-text document",
}

_CONTROLS = bytes(set(range(32)) - set(b"\t\n\r\f\x1a"))

_FILLED = re.compile(rb"[^ \t\r\n\x00\x1a]")

_NUMBERS_WANTED = "export the spectrum itself as JCAMP-DX or as text (CSV)"


@dataclass(frozen=True)
class Source:
    """One file in memory.

    Attributes
    ----------
    path
        As it was named by the user.
    data
        Its bytes.
    sha256
        Of the bytes, hexadecimal.
    stated : StatedUnits
        What a person says about the file.
    """

    path: str
    data: bytes
    sha256: str
    stated: StatedUnits = UNSTATED

    @property
    def stem(self) -> str:
        """File name without its last suffix."""
        return Path(self.path).stem

    @property
    def suffix(self) -> str:
        """Last suffix in lower case, with its dot."""
        return Path(self.path).suffix.lower()


def load_source(path: str | Path) -> Source:
    """Read a file.

    Raises
    ------
    ReadingError
        If it is missing, no regular file, not readable or empty.
    FormatError
        If it is too large, an image or a document.
    """
    name, file = str(path), Path(path)
    try:
        about = file.stat()
    except FileNotFoundError:
        raise ReadingError(f"{name}: no such file; check the name and the folder") from None
    except (OSError, ValueError) as error:
        raise ReadingError(f"{name}: cannot be opened ({error}); check the name") from None
    if stat.S_ISDIR(about.st_mode):
        raise ReadingError(
            f"{name}: is a folder; name the files in it, for instance {name.rstrip('/')}/*.csv"
        )
    if not stat.S_ISREG(about.st_mode):
        raise ReadingError(f"{name}: is not a regular file; save the data to a file first")
    if about.st_size > MOST_BYTES:
        raise FormatError(
            f"{name}: {about.st_size / 1e6:.0f} MB; expected at most {MOST_BYTES / 1e6:.0f} MB, "
            "split the file"
        )
    try:
        data = file.read_bytes()
    except OSError as error:
        raise ReadingError(f"{name}: cannot be read ({error.strerror}); check the permissions") from None
    if _FILLED.search(data) is None:
        raise ReadingError(f"{name}: the file is empty; export the spectrum again")
    if (what := image_kind(data)) is not None:
        raise FormatError(f"{name}: is {what}, which holds no numbers; {_NUMBERS_WANTED}")
    return Source(name, data, hashlib.sha256(data).hexdigest())


def image_kind(data: bytes) -> str | None:
    """Name the commonest things that are not spectra, by their first bytes."""
    for magic, what in _IMAGES.items():
        binary = magic != b"BM" or b"\x00" in data[:64]
        if data.startswith(magic) and binary:
            return what
    return None


def two_byte_order(data: bytes) -> str:
    """Return the coding of text in two-byte characters without a mark at its start; empty if it is none."""
    sample = data[:400]
    if len(sample) < 20 or len(data) % 2 or sample.count(0) < 0.45 * len(sample):
        return ""
    if not any(sample[1::2]):
        return "utf-16-le"
    return "utf-16-be" if not any(sample[::2]) else ""


def is_text(data: bytes) -> bool:
    """Whether bytes are text, in characters of one byte or two."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or two_byte_order(data):
        return True
    sample = data[:65536]
    return len(sample) - len(sample.translate(None, _CONTROLS)) <= 0.001 * len(sample)


def refuse_binary(source: Source) -> None:
    """Refuse what is neither text nor an open container.

    Raises
    ------
    FormatError
        With the way out: measuring programs write binary files of their own, and all of them export text.
    """
    if not is_text(source.data):
        raise FormatError(
            f"{source.path}: is a binary file of a kind that is not read; {_NUMBERS_WANTED} "
            "in the program that wrote it"
        )
