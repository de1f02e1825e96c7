"""JCAMP-DX files: the axis is read back exactly, the ordinates to within half of YFACTOR."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from spectra.errors import OutputError
from spectra.spectrum import Spectrum
from spectra.units import FloatArray, from_absorbance
from spectra.writing.jcamp_lines import ENCODINGS, LONGEST_LINE, plain, table_lines
from spectra.writing.output import write_file

_UNITS = {"absorbance": "ABSORBANCE", "transmittance": "TRANSMITTANCE", "reflectance": "REFLECTANCE"}

_EVEN_WITHIN = 1e-7  # cm-1; a less even axis is written point by point


def write_jcamp(
    spectra: Spectrum | Sequence[Spectrum],
    path: str | Path,
    *,
    encoding: str = "DIFDUP",
    y_unit: str = "absorbance",
    y_factor: float | None = None,
    descending: bool = False,
    line_break: str = "\n",
    overwrite: bool = False,
) -> None:
    r"""Write one or several spectra to a JCAMP-DX 4.24 file.

    Parameters
    ----------
    spectra
        Several are written as blocks of one LINK file.
    path
        The file.
    encoding
        One of :data:`ENCODINGS`. Spectra on an uneven axis are written as pairs, in plain form.
    y_unit
        ``"absorbance"``, ``"transmittance"`` or ``"reflectance"``.
    y_factor
        Step of the ordinates; by default the power of ten that leaves nine digits.
    descending
        Whether the highest wavenumber comes first.
    line_break
        ``"\n"`` or ``"\r\n"``.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        For an unknown encoding or unit, a factor that is too coarse or too fine, or a file that exists or
        cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from spectra.spectrum import Origin
    >>> path = Path(tempfile.mkdtemp()) / "film.dx"
    >>> write_jcamp(Spectrum(np.arange(400.0, 405.0), [1, 2, 3, 3, 2], Origin("film")), path, y_factor=1.0)
    >>> path.read_text().splitlines()[-3:]
    ['400.0000AJT%j', '404.0000B', '##END=']
    """
    if encoding not in ENCODINGS:
        raise OutputError(f"encoding {encoding!r} is unknown; expected one of {', '.join(ENCODINGS)}")
    if y_unit not in _UNITS:
        raise OutputError(f"ordinate {y_unit!r} cannot be written; expected one of {', '.join(_UNITS)}")
    several = [spectra] if isinstance(spectra, Spectrum) else list(spectra)
    if not several:
        raise OutputError(f"{path}: there is no spectrum to write")
    blocks = [_block(one, i, encoding, y_unit, y_factor, descending) for i, one in enumerate(several, 1)]
    lines = [line for block in blocks for line in block]
    if len(several) > 1:
        cover = _labels([("TITLE", "several spectra"), ("JCAMP-DX", "4.24"), ("DATA TYPE", "LINK")])
        lines = [*cover, f"##BLOCKS= {len(several)}", *lines, "##END="]
    write_file(Path(path), "".join(line + line_break for line in lines).encode(), overwrite)


def _labels(entries: Sequence[tuple[str, str]]) -> list[str]:
    """Labelled records; what would end or begin a record inside a value is taken out."""
    cleaned = (
        (label, " ".join(value.replace("##", "#").replace("$$", "$").split())) for label, value in entries
    )
    return [f"##{label}= {value}"[:LONGEST_LINE] for label, value in cleaned]


def _block(
    spectrum: Spectrum, number: int, encoding: str, y_unit: str, y_factor: float | None, descending: bool
) -> list[str]:
    """All lines of one spectrum."""
    order = slice(None, None, -1) if descending else slice(None)
    x = spectrum.wavenumbers[order]
    y = from_absorbance(spectrum.absorbance, y_unit)[order]
    factor = _factor(y, spectrum.origin.name) if y_factor is None else float(y_factor)
    counts = _counts(y, factor, spectrum.origin.name)
    even = x.size > 1 and bool(np.max(np.abs(x - np.linspace(x[0], x[-1], x.size))) <= _EVEN_WITHIN)
    finite = counts[np.isfinite(counts)] * factor
    head = _labels(
        [
            ("TITLE", spectrum.origin.title or spectrum.origin.path),
            ("JCAMP-DX", "4.24"),
            ("DATA TYPE", "INFRARED SPECTRUM"),
            ("BLOCK_ID", str(number)),
            ("ORIGIN", "coatproof"),
            ("OWNER", "not stated"),
            ("XUNITS", "1/CM"),
            ("YUNITS", _UNITS[y_unit]),
        ]
    )
    head += [
        "##XFACTOR= 1",
        f"##YFACTOR= {factor!r}",
        f"##FIRSTX= {float(x[0])!r}",
        f"##LASTX= {float(x[-1])!r}",
        f"##NPOINTS= {x.size}",
        f"##MAXY= {float(finite.max())!r}",
        f"##MINY= {float(finite.min())!r}",
    ]
    if np.isfinite(counts[0]):
        head.append(f"##FIRSTY= {float(counts[0] * factor)!r}")
    if not even:
        pairs = (f"{float(a)!r}, {plain(b)}" for a, b in zip(x, counts, strict=True))
        return [*head, "##XYPOINTS= (XY..XY)", *pairs, "##END="]
    if x.size > 1:
        head.append(f"##DELTAX= {float((x[-1] - x[0]) / (x.size - 1))!r}")
    return [*head, "##XYDATA= (X++(Y..Y))", *table_lines(x, counts, encoding), "##END="]


def _factor(y: FloatArray, name: str) -> float:
    """Power of ten that leaves nine digits."""
    largest = float(np.max(np.abs(y[np.isfinite(y)]), initial=0.0))
    if not np.isfinite(largest):
        raise OutputError(f"{name}: an ordinate is not finite; it cannot be written")
    return float(10.0 ** (np.ceil(np.log10(largest)) - 9)) if largest > 1e-290 else 1.0


def _counts(y: FloatArray, factor: float, name: str) -> FloatArray:
    """Ordinates as whole numbers of the factor; NaN stays."""
    if not factor > 0:
        raise OutputError(f"{name}: y_factor is {factor:g}; expected a positive number")
    counts = np.round(y / factor)
    if np.max(np.abs(counts[np.isfinite(counts)]), initial=0.0) >= 2.0**52:
        raise OutputError(
            f"{name}: y_factor {factor:g} is too fine; expected at least {2.0**-52:.1g} of the height"
        )
    return counts
