"""What is not a file of spectra gets one message that names the file, and what to do."""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import time
import tracemalloc
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pytest

from spectra.errors import CoatproofError, FormatError, ReadingError
from spectra.reading import READERS, read
from tests.places import DATA


def test_missing_file(tmp_path):
    with pytest.raises(ReadingError, match=r"none\.csv: no such file; check the name and the folder"):
        read(tmp_path / "none.csv")


def test_folder(tmp_path):
    with pytest.raises(ReadingError, match=r": is a folder; name the files in it"):
        read(tmp_path)


@pytest.mark.parametrize("content", [b"", b"  \r\n\n", b"\x00\x00\x1a"])
def test_empty_file(content, tmp_path):
    path = tmp_path / "empty.csv"
    path.write_bytes(content)
    with pytest.raises(ReadingError, match=r"empty\.csv: the file is empty; export the spectrum again"):
        read(path)


def test_pipe_is_not_waited_for(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    with pytest.raises(ReadingError, match="is not a regular file"):
        read(path)


def test_name_that_no_file_can_have():
    with pytest.raises(ReadingError, match="cannot be opened"):
        read("film\x00.csv")


@pytest.mark.parametrize(
    ("magic", "what"),
    [
        (b"\x89PNG\r\n\x1a\n", "a PNG image"),
        (b"\xff\xd8\xff\xe0", "a JPEG image"),
        (b"GIF89a", "a GIF image"),
        (b"II*\x00", "a TIFF image"),
        (b"BM\x10\x00\x00\x00", "a bitmap image"),
        (b"%PDF-1.7", "a PDF document"),
    ],
)
def test_image_or_document(magic, what, tmp_path):
    path = tmp_path / "figure.csv"
    path.write_bytes(magic + bytes(range(256)))
    with pytest.raises(
        FormatError, match=rf"is {what}, which holds no numbers; export the spectrum itself as JCAMP-DX"
    ):
        read(path)


def test_binary_file_of_a_measuring_program(tmp_path):
    path = tmp_path / "film.bin"
    path.write_bytes(b"\x0a\x0aprogram" + np.linspace(0, 1, 500).astype("<f4").tobytes())
    with pytest.raises(
        FormatError, match=r"binary file of a kind that is not read; export .* as JCAMP-DX or as text"
    ):
        read(path)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("of a book", "found no table of numbers"),
        ("<html><body><table><tr><td>4000</td></tr></table></body></html>", "found no table of numbers"),
        ('{"x": [4000, 3999], "y": [0.1, 0.2]}', "found no table of numbers"),
    ],
)
def test_text_of_another_kind(text, message, tmp_path):
    path = tmp_path / "page.csv"
    path.write_text("page\n" + text)
    with pytest.raises(FormatError, match=message):
        read(path)


def packed(members: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return stream.getvalue()


SHEET = b'<worksheet><row r="1"><c r="A1"><v>1</v></c><c r="%s"><v>2</v></c></row></worksheet>'
WORKBOOK = {"xl/workbook.xml": b"<workbook/>", "[Content_Types].xml": b"<Types/>"}
BILLION_LAUGHS = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><AnIML>&b;</AnIML>'


def npy(header: str, body: bytes = b"") -> bytes:
    text = header.ljust(117).encode() + b"\n"
    return b"\x93NUMPY\x01\x00" + struct.pack("<H", len(text)) + text + body


def mat5(*elements: tuple[int, int, bytes]) -> bytes:
    head = b"MATLAB 5.0 MAT-file".ljust(124) + b"\x00\x01IM"
    return head + b"".join(struct.pack("<II", kind, length) + body for kind, length, body in elements)


REPEATED = (
    b'<x xmlns:n="u"><table><table-row n:number-rows-repeated="1000000">'
    b'<table-cell n:number-columns-repeated="16000" n:value="1"/></table-row></table></x>'
)
ZEROS = b"\x00" * 200_000_000
DEFLATED_ZEROS = zlib.compress(ZEROS)
FLOATS = "{'descr': '<f8', 'fortran_order': False, 'shape': (300000000,), }"
OBJECTS = "{'descr': '|O', 'fortran_order': False, 'shape': (3,), }"


def sheet(content: bytes) -> bytes:
    return packed({**WORKBOOK, "xl/worksheets/sheet1.xml": content})


TOO_MUCH = "unpacks to more than 101 MB"
HOSTILE = {
    "bomb.xlsx": (sheet(ZEROS), TOO_MUCH),
    "bomb.npz": (packed({"a.npy": ZEROS}), TOO_MUCH),
    "bomb.mat": (mat5((15, len(DEFLATED_ZEROS), DEFLATED_ZEROS)), TOO_MUCH),
    "stray cell.xlsx": (sheet(SHEET % b"XFD1048576"), r"spans 1\.7e\+10 cells; at most 3e\+06 are read"),
    "repeated cells.ods": (packed({"content.xml": REPEATED}), r"a sheet spans 1\.6e\+10 cells"),
    "entities.animl": (BILLION_LAUGHS, "declares a document type"),
    "entities.xlsx": (sheet(BILLION_LAUGHS), "declares a document type"),
    "deep.animl": (b"<AnIML>" + b"<a>" * 200_000, "nested deeper than 60 levels"),
    "claim.npy": (npy(FLOATS), r"claims 2\.4e\+09 bytes"),
    "pickle.npy": (npy(OBJECTS, b"x" * 24), "found no abscissa"),
    "claim.mat": (mat5((14, 2_000_000_000, b"")), "is cut off: 2000000000 bytes promised"),
    "claim.dx": (b"##TITLE= x\n##NPOINTS= 250000000\n##XYDATA= (X++(Y..Y))\n1 2\n", r"NPOINTS is 2\.5e\+08"),
    "repeats.dx": (b"##TITLE= x\n##XYDATA= (X++(Y..Y))\n1A1S999999999\n", r"ask for 2e\+09 points"),
    "claim.animl": (
        b'<AnIML><ExperimentStep><SeriesSet length="2000000000"/></ExperimentStep></AnIML>',
        "length",
    ),
    "wide.csv": (b"1," * 1_000_000 + b"\n" + b"2," * 1_000_000 + b"\n", "more than 50000 cells"),
    "archive.zip": (packed({"a.csv": b"4000,0.1\n", "b.csv": b"4000,0.2\n"}), "is a ZIP archive; unpack it"),
    "cut.zip": (packed({"a.npy": b"x" * 1000})[:60], "is a damaged archive"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused_early(name, tmp_path):
    content, message = HOSTILE[name]
    path = tmp_path / name
    path.write_bytes(content)
    read_quietly(path)  # imports are not counted
    tracemalloc.start()
    began = time.perf_counter()
    with pytest.raises(FormatError, match=message):
        read(path)
    seconds, (_, peak) = time.perf_counter() - began, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert seconds < 5
    assert peak < 250e6


def read_quietly(path: Path) -> None:
    with pytest.raises(CoatproofError, match=path.name.split(".")[0]):
        read(path)


def test_hdf5_library_that_runs_in_circles_is_ended(tmp_path):
    # Found by the fuzzing: a heap object without number and size makes HDF5 2.0 (h5py 3.16) loop for ever.
    pytest.importorskip("h5py")
    data = bytearray((DATA / "reading" / "arrays.h5").read_bytes())
    heap = data.index(b"GCOL")
    data[heap + 16 : heap + 18] = bytes(2)
    data[heap + 24 : heap + 32] = bytes(8)
    path = tmp_path / "circles.h5"
    path.write_bytes(data)
    with pytest.raises(
        FormatError, match=r"circles\.h5: cannot be read as HDF5 \(the HDF5 library failed on it\)"
    ):
        read(path)


def test_matlab_file_that_may_crash_scipy_does_no_harm_here():
    # Found by the fuzzing: scipy 1.17 corrupts its memory, and crashes within some hundred readings.
    path = DATA / "reading" / "damaged" / "crash.mat"
    for _ in range(2):
        with pytest.raises(FormatError, match=r"crash\.mat: cannot be read as MATLAB"):
            read(path)


def test_file_that_is_too_large(tmp_path):
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(200 * 1024**2)
    with pytest.raises(FormatError, match="210 MB; expected at most 101 MB, split the file"):
        read(path)


def test_the_quick_path_imports_little(tmp_path):
    path = tmp_path / "film.csv"
    path.write_text("cm-1,absorbance\n" + "".join(f"{4000 - i},{i % 7 / 10}\n" for i in range(50)))
    code = (
        "import sys\nfrom spectra.reading import read\n"
        f"read({str(path)!r})\n"
        "print(*sorted({'pandas', 'scipy', 'h5py', 'python_calamine', 'pybaselines', 'matplotlib'} "
        "& set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == ""


def test_readers_are_named_in_what_was_read(tmp_path):
    path = tmp_path / "film.npy"
    np.save(path, np.column_stack([np.arange(400.0, 500.0), np.exp(-((np.arange(100) - 50) ** 2 / 9.0))]))
    (spectrum,) = read(path, abscissa="cm-1")
    assert spectrum.origin.reader == "numpy array"
    assert spectrum.origin.reader in READERS
