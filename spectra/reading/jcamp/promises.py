"""What a JCAMP-DX header promises about its table, checked against the table.

A promise that fails is an error. Where the table itself settles who is right, the promise is set aside and
the fact recorded as a repair: DELTAX or FIRSTX left over from before the range was cut, FIRSTY or MAXY
written in raw counts or in percent, a factor written as its inverse. The number of points is never
repaired.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.errors import PromiseError
from spectra.reading.jcamp.records import Stated
from spectra.reading.numbers import finite_values
from spectra.spectrum import Fault
from spectra.units import FloatArray

# Headers computed from the unrounded data differ from the table in the third digit at most; a larger
# difference is another spectrum.
_CLOSE = 0.01


@dataclass(frozen=True)
class Promises:
    """The numbers a header states about its table; None where it is silent."""

    npoints: Stated | None = None
    firstx: Stated | None = None
    lastx: Stated | None = None
    deltax: Stated | None = None
    maxx: Stated | None = None
    minx: Stated | None = None
    firsty: Stated | None = None
    maxy: Stated | None = None
    miny: Stated | None = None
    xfactor: float = 1.0
    yfactor: float = 1.0


@dataclass(frozen=True, eq=False)
class Kept:
    """Values after all promises were checked, with what had to be set aside."""

    values: FloatArray
    repairs: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()


def require_count(found: int, promises: Promises, where: str) -> None:
    """Compare NPOINTS.

    Raises
    ------
    PromiseError
        If the table holds more or fewer points.
    """
    stated = promises.npoints
    if stated is not None and stated.value != found:
        raise PromiseError(
            f"{where}: line {stated.line}: NPOINTS promises {stated.value:g} points, the table "
            f"holds {found}; "
            "points were lost or added, export the spectrum again"
        )


def checked_ordinates(raw: FloatArray, promises: Promises, where: str) -> Kept:
    """Apply YFACTOR in place and compare FIRSTY, MAXY and MINY.

    Parameters
    ----------
    raw : ndarray, shape (n,)
        Ordinates of the table; NaN where missing. The array is taken over and scaled itself, because a
        second one of a long table costs more memory than its file.
    promises : Promises
    where
        File and block, for messages.

    Raises
    ------
    PromiseError
        If a promise fails and the data do not settle it.
    """
    finite = finite_values(raw)
    if finite.size == 0 or promises.yfactor == 0:
        return Kept(np.multiply(raw, promises.yfactor, out=raw))
    first = raw[0] if np.isfinite(raw[0]) else None
    checks = [("FIRSTY", promises.firsty, first), ("MAXY", promises.maxy, finite.max())]
    checks.append(("MINY", promises.miny, finite.min()))
    factor, repairs = _settled_factor(raw, promises)
    table = _Table(
        factor, float(finite.max() - finite.min()) * abs(factor), _header_scale(finite, factor, promises)
    )
    faults: list[Fault] = []
    for name, stated, found in checks:
        if stated is not None and found is not None:
            repair, fault = _compare(name, stated, float(found), table, promises, where)
            repairs += repair
            faults += fault
    return Kept(np.multiply(raw, factor, out=raw), repairs, _together(faults))


def _together(faults: list[Fault]) -> tuple[Fault, ...]:
    """Say once what differs in several labels for one reason."""
    if len(faults) < 2:
        return tuple(faults)
    where = "lines " + ", ".join(fault.where.removeprefix("line ") for fault in faults)
    return (replace(faults[0], where=where, found="; ".join(fault.found for fault in faults)),)


@dataclass(frozen=True)
class _Table:
    """What the ordinates are compared with: factor, range, and percent or fraction in the header."""

    factor: float
    span: float
    header_scale: float


_SCALES = {100.0: "in percent, the table is a fraction", 0.01: "a fraction, the table is in percent"}


def _header_scale(finite: FloatArray, factor: float, promises: Promises) -> float:
    """Tell by its largest value whether the header is in percent and the table a fraction, or the reverse."""
    for stated, raw in ((promises.maxy, finite.max()), (promises.firsty, finite[0])):
        if stated is None or stated.value == 0:
            continue
        for scale in _SCALES:
            slack = _CLOSE * abs(stated.value) + stated.step / 2 + scale * abs(factor) / 2
            if slack < abs(stated.value) / 3 and abs(raw * factor * scale - stated.value) <= slack:
                return scale
        return 1.0
    return 1.0


def _settled_factor(raw: FloatArray, promises: Promises) -> tuple[float, tuple[str, ...]]:
    """YFACTOR, or its inverse where only that gives FIRSTY."""
    factor, stated = promises.yfactor, promises.firsty
    if stated is None or not np.isfinite(raw[0]) or raw[0] == 0 or stated.value == 0 or abs(factor) == 1.0:
        return factor, ()
    if _agrees(raw[0] / factor, stated, 0.5 / abs(factor)) and not _agrees(
        raw[0] * factor, stated, abs(factor) / 2
    ):
        return 1.0 / factor, (
            f"YFACTOR {factor:.8g} is written as its inverse: FIRSTY holds for {1 / factor:.8g}",
        )
    return factor, ()


def _agrees(found: float, stated: Stated, quantum: float) -> bool:
    """Equal to within the printed digits and the step of the table."""
    return abs(found - stated.value) <= stated.step + quantum + 1e-6 * abs(stated.value)


def _compare(
    name: str, stated: Stated, raw: float, table: _Table, promises: Promises, where: str
) -> tuple[tuple[str, ...], tuple[Fault, ...]]:
    """Judge one promise about an ordinate: kept, set aside as a repair, doubtful or broken."""
    found, quantum, span = raw * table.factor, abs(table.factor) / 2, table.span
    if _agrees(found, stated, quantum):
        return (), ()
    if table.factor != 1.0 and _agrees(raw, stated, 0.5):
        return (f"{name} {stated.value:.8g} is in raw counts; with YFACTOR it is {found:.6g}",), ()
    scale = table.header_scale
    close = _CLOSE * max(abs(stated.value), scale * span) + stated.step
    if scale in _SCALES and abs(found * scale - stated.value) <= close:
        return (f"{name} {stated.value:.8g} is {_SCALES[scale]}",), ()
    if abs(found - stated.value) <= _CLOSE * max(span, abs(stated.value)):
        fault = Fault(
            "header-ordinate-differs",
            "warning",
            f"line {stated.line}",
            f"{name} is {stated.value:.6g}, the table gives {found:.6g}",
            "Export again if heights matter at that level; YFACTOR or the header was altered by hand.",
        )
        return (), (fault,)
    inside = found < stated.value if name == "MAXY" else found > stated.value
    if name != "FIRSTY" and inside and promises.npoints is not None:
        return (
            f"{name} {stated.value:.6g} set aside: the points promised are all there and reach {found:.6g}",
        ), ()
    raise PromiseError(
        f"{where}: line {stated.line}: {name} promises {stated.value:.8g}, the table gives {found:.8g}; "
        "YFACTOR or the data were altered, export again"
    )
