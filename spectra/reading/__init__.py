"""Reading: from a file to spectra, without losing a point.

:func:`read` looks at the first bytes of a file, not at its name, and hands it to the reader that fits.
Every reader ends in :class:`~spectra.reading.trace.Trace`; units are settled and converted in one place.
What the file did not say, what was mended and what is doubtful is kept with each spectrum.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from spectra.errors import FormatError, SpectraError
from spectra.reading.delimited import read_delimited
from spectra.reading.jcampdx import looks_like_jcamp, read_jcamp
from spectra.reading.source import Source, load_source
from spectra.reading.trace import Trace, conclude
from spectra.spectrum import Spectrum

Reader = Callable[[Source], tuple[Trace, ...]]


def read(path: str | Path) -> tuple[Spectrum, ...]:
    """Read every infrared spectrum of a file.

    Parameters
    ----------
    path
        JCAMP-DX or delimited text.

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
        If it can be read in two ways that give different numbers.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "film.csv"
    >>> _ = path.write_text("cm-1;absorbance\\n" + "".join(f"{4000 - 4 * i};0,0{i:02}\\n" for i in range(50)))
    >>> (spectrum,) = read(path)
    >>> spectrum.wavenumbers[[0, -1]], spectrum.absorbance[0], spectrum.origin.assumed
    (array([3804., 4000.]), np.float64(0.049), ('decimal commas',))
    """
    source = load_source(path)
    name = reader_for(source)
    traces = READERS[name](source)
    try:
        return tuple(conclude(trace, source, name) for trace in traces)
    except SpectraError as error:
        raise FormatError(str(error)) from None


def reader_for(source: Source) -> str:
    """Name the reader in :data:`READERS` that fits a file, by its first bytes."""
    if looks_like_jcamp(source.data):
        return "JCAMP-DX"
    return "delimited text"


READERS: dict[str, Reader] = {
    "JCAMP-DX": read_jcamp,
    "delimited text": read_delimited,
}
