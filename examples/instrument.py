"""What a spectrometer does to a spectrum, and how its files look: shared by the example generators.

Nothing here comes from the packages ``spectra`` or ``reference_bands``: an error in them must not be able
to hide in the examples. Sizes of drift and noise are common practice for a room-temperature detector with
some tens of scans; they are choices of the writer, not measured values.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]


def blur(values: Array, step: float, width: float) -> Array:
    """Convolve with a Gaussian line shape of full width ``width`` at half height (cm-1, grid ``step``)."""
    reach = int(np.ceil(2 * width / step))
    offsets = step * np.arange(-reach, reach + 1)
    shape = np.exp(-4 * np.log(2) * (offsets / width) ** 2)
    return np.convolve(np.pad(values, reach, mode="edge"), shape / shape.sum(), mode="valid")


def drift(nu: Array, rng: np.random.Generator, size: float) -> Array:
    """Draw a baseline: offset, slope and two slow waves, in absorbance of the order of ``size``."""
    place = (nu - nu.mean()) / np.ptp(nu)
    offset, slope, first, second = size * rng.normal(size=4)
    phases = rng.uniform(0, 2 * np.pi, size=2)
    waves = first * np.sin(2 * np.pi * 1.3 * place + phases[0]) + second * np.sin(
        2 * np.pi * 2.9 * place + phases[1]
    )
    return np.asarray(offset + slope * place + 0.3 * waves)


def noise_level(nu: Array) -> Array:
    """Return the standard deviation of the ratio of two scans: 1e-4, rising at both ends (detector, beam)."""
    return np.asarray(1e-4 * (1 + np.exp((750 - nu) / 100) + 0.6 * np.exp((nu - 3700) / 200)))


def columns(nu: Array, values: Array, *, separator: str, decimals: int, comma: bool = False) -> str:
    """Return two columns of text, one point a line, wavenumbers with three decimals."""
    lines = [f"{x:.3f}{separator}{y:.{decimals}f}" for x, y in zip(nu, values, strict=True)]
    text = "\n".join(lines) + "\n"
    return text.replace(".", ",") if comma else text


def jcamp(nu: Array, values: Array, *, title: str, yunits: str, remarks: list[str], factor: float) -> str:
    """Return a JCAMP-DX 4.24 file, even axis, ordinates as plain integers times ``factor``."""
    whole = np.rint(values / factor).astype(int)
    step = (nu[-1] - nu[0]) / (nu.size - 1)
    labels = {
        "TITLE": title,
        "JCAMP-DX": "4.24",
        "DATA TYPE": "INFRARED SPECTRUM",
        "ORIGIN": "computed, see the remarks; no instrument was used",
        "OWNER": "public domain",
        "RESOLUTION": "4",
        "XUNITS": "1/CM",
        "YUNITS": yunits,
        "XFACTOR": "1",
        "YFACTOR": f"{factor:g}",
        "FIRSTX": f"{nu[0]:.6f}",
        "LASTX": f"{nu[-1]:.6f}",
        "DELTAX": f"{step:.9f}",
        "MAXY": f"{whole.max() * factor:.5f}",
        "MINY": f"{whole.min() * factor:.5f}",
        "FIRSTY": f"{whole[0] * factor:.5f}",
        "NPOINTS": str(nu.size),
    }
    head = [f"##{label}= {value}" for label, value in labels.items()]
    rows = [" ".join([f"{nu[i]:.6f}", *(str(y) for y in whole[i : i + 8])]) for i in range(0, nu.size, 8)]
    body = ["##XYDATA= (X++(Y..Y))", *rows, "##END="]
    return "\n".join([head[0], *(f"$$ {line}" for line in remarks), *head[1:], *body]) + "\n"


def write_all(files: dict[str, str], folder: Path) -> None:
    """Write texts under ``folder``; names are relative, line ends the same on every system."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("ascii"))


def run(make: Callable[[], dict[str, str]], here: Path, about: str) -> None:
    """Command line of a generator: write the files beside it, or into another folder."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("folder", nargs="?", type=Path, default=here, help="where to write (default: here)")
    write_all(make(), parser.parse_args().folder)
