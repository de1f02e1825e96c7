"""Reading: from a file to spectra, without losing a point.

In: a path, or bytes. Out: spectra, each with its origin.

:func:`read` looks at the first bytes of a file, not at its name, and hands it to the reader that fits.
Every reader ends in :class:`~spectra.reading.trace.Trace`; units are settled in one place, for all files
that were written alike (:func:`read_alike`). What the file did not say, what was
mended and what is doubtful is kept with each spectrum.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from spectra.errors import FormatError, ReadingError
from spectra.reading.animl import looks_like_animl, read_animl
from spectra.reading.hdf5 import is_hdf5, read_hdf5
from spectra.reading.jcamp.reader import looks_like_jcamp, read_jcamp
from spectra.reading.matlab import read_matlab
from spectra.reading.numpy_files import read_numpy_archive, read_numpy_array
from spectra.reading.source import Source, load_source, refuse_binary
from spectra.reading.tables.delimited import read_delimited
from spectra.reading.tables.workbook import is_workbook, read_workbook
from spectra.reading.together import Decoded, FileRead, understand
from spectra.reading.trace import Trace
from spectra.reading.unpacking import ZIP_START, unwrapped
from spectra.spectrum import Spectrum
from spectra.units import StatedUnits

Reader = Callable[[Source], tuple[Trace, ...]]


def read(
    path: str | Path,
    *,
    ordinate: str | None = None,
    abscissa: str | None = None,
    decimal: str | None = None,
) -> tuple[Spectrum, ...]:
    r"""Read every infrared spectrum of a file.

    Parameters
    ----------
    path
        JCAMP-DX, delimited text, a spreadsheet, named arrays (npz, MATLAB, HDF5) or AnIML, plain or packed
        alone with gzip or ZIP.
    ordinate, abscissa, decimal
        What the file does not say: members of ``units.Y_UNITS``, ``units.X_UNITS`` and
        ``units.DECIMAL_MARKS``. Held against the values.

    Returns
    -------
    tuple of Spectrum
        In file order, in absorbance over increasing wavenumber. Several spectra in one file carry their
        block, column, row or sheet in ``origin.part``.

    Raises
    ------
    ReadingError
        If the file is missing, a folder or empty.
    FormatError
        If it is not of a kind that is read, or broken.
    PromiseError
        If it contradicts its own header.
    AmbiguityError
        If it can be read in two ways that give different numbers, or contradicts what is stated.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "film.csv"
    >>> _ = path.write_text("cm-1;absorbance\n" + "".join(f"{4000 - 4 * i};0,0{i:02}\n" for i in range(50)))
    >>> (spectrum,) = read(path)
    >>> spectrum.wavenumbers[[0, -1]], spectrum.absorbance[0], spectrum.origin.assumed
    (array([3804., 4000.]), np.float64(0.049), ('decimal commas',))
    """
    (found,) = read_alike([path], [StatedUnits(ordinate, abscissa, decimal)])
    if isinstance(found, ReadingError):
        raise found
    return found.spectra


def read_alike(
    paths: Sequence[str | Path],
    stated: Sequence[StatedUnits],
    told: Callable[[int], None] = lambda _: None,
) -> list[FileRead | ReadingError]:
    """Read files, those that were written alike together.

    Parameters
    ----------
    paths
        Each as in :func:`read`.
    stated : sequence of StatedUnits
        What a person says about each.
    told
        Called with the number of files decoded, before each.

    Returns
    -------
    list of FileRead or ReadingError
        In the order given; an error in place of a file that cannot be read.
    """
    decoded = []
    for done, (path, said) in enumerate(zip(paths, stated, strict=True)):
        told(done)
        decoded.append(_decoded(path, said))
    return understand(decoded)


def _decoded(path: str | Path, stated: StatedUnits) -> Decoded | ReadingError:
    """Have the reader that fits decode a file."""
    try:
        source = unwrapped(replace(load_source(path), stated=stated))
        name = reader_for(source)
        traces = READERS[name](source)
    except ReadingError as error:
        return error
    # a long file's bytes are not needed beside its arrays
    return Decoded(replace(source, data=b""), name, traces)


def reader_for(source: Source) -> str:
    """Name the reader in :data:`READERS` that fits a file, by its first bytes.

    Raises
    ------
    FormatError
        If none does; what to export instead is said.
    """
    data = source.data
    if is_hdf5(data):
        return "HDF5"
    if data.startswith(ZIP_START):
        return _archive_reader(source)
    if data.startswith(b"\x93NUMPY"):
        return "numpy array"
    if data.startswith(b"MATLAB 5.0") and data[126:128] in (b"IM", b"MI"):
        return "MATLAB"
    if looks_like_animl(data):
        return "AnIML"
    if looks_like_jcamp(data):
        return "JCAMP-DX"
    refuse_binary(source)
    return "delimited text"


def _archive_reader(source: Source) -> str:
    """Tell spreadsheets and numpy archives apart by the names of their members."""
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise FormatError(f"{source.path}: is a damaged archive ({error}); save it again") from None
    if is_workbook(names):
        return "workbook"
    if names and all(name.endswith(".npy") for name in names):
        return "numpy archive"
    raise FormatError(f"{source.path}: is a ZIP archive; unpack it and name the files in it")


READERS: dict[str, Reader] = {
    "JCAMP-DX": read_jcamp,
    "delimited text": read_delimited,
    "workbook": read_workbook,
    "numpy archive": read_numpy_archive,
    "numpy array": read_numpy_array,
    "MATLAB": read_matlab,
    "HDF5": read_hdf5,
    "AnIML": read_animl,
}
