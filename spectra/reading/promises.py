"""What a JCAMP-DX header promises about its table, checked against the table.

A promise that fails is an error. Where the table itself settles who is right, the promise is set aside and
the fact recorded as a repair: DELTAX or FIRSTX left over from before the range was cut, FIRSTY or MAXY
written in raw counts or in percent, a factor written as its inverse. The number of points is never
repaired.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.errors import PromiseError
from spectra.reading.asdf import IntArray, OrdinateTable
from spectra.reading.labels import Stated
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
            f"{where}: line {stated.line}: NPOINTS promises {stated.value:g} points, the table holds {found}; "
            "points were lost or added, export the spectrum again"
        )


def checked_axis(table: OrdinateTable, promises: Promises, where: str) -> Kept:
    """Return the abscissa of an evenly spaced table.

    FIRSTX and LASTX span the axis; the abscissa at the start of every line must lie on it, to within one
    unit of its last digit. Where they do not, but the line starts are even among themselves and agree
    with DELTAX, FIRSTX or LASTX, the table is right and the header was left over.

    Raises
    ------
    PromiseError
        If neither header nor table gives an axis that the other supports.
    """
    count = table.ordinates.size
    require_count(count, promises, where)
    own = _table_axis(table, promises)
    stated = _stated_axis(count, promises)
    if stated is None and own is None:
        raise PromiseError(
            f"{where}: the header states no FIRSTX with LASTX or DELTAX, and the table has too few lines to "
            "tell the abscissa; export the spectrum again"
        )
    if stated is None:
        assert own is not None
        return Kept(own, ("abscissa taken from the line starts of the table",))
    for factor, repair in _factor_readings(promises):
        if _first_off(table, stated, factor) is None:
            return Kept(stated, repair + _stale_extras(stated, promises, where))
    if own is not None and _supported(own, promises):
        said = (
            f"FIRSTX to LASTX ({stated[0]:.10g} to {stated[-1]:.10g}) does not fit the table, whose line starts run "
            f"evenly from {own[0]:.10g} to {own[-1]:.10g} and agree with the rest of the header; table taken"
        )
        return Kept(own, (said,))
    raise _axis_error(table, stated, promises, where)


def _stated_axis(count: int, promises: Promises) -> FloatArray | None:
    """Axis as the header gives it."""
    first, last, step = promises.firstx, promises.lastx, promises.deltax
    if first is not None and last is not None:
        return np.linspace(first.value, last.value, count)
    if first is not None and step is not None:
        return first.value + step.value * np.arange(count)
    return None


def _table_axis(table: OrdinateTable, promises: Promises) -> FloatArray | None:
    """Axis through the line starts, if they are even; DELTAX refines the step if it agrees."""
    if table.lines.size < 3 or table.starts[-1] == table.starts[0]:
        return None
    at_lines = table.abscissae * promises.xfactor
    step = float((at_lines[-1] - at_lines[0]) / (table.starts[-1] - table.starts[0]))
    index = np.arange(table.ordinates.size)
    axis = at_lines[0] + step * (index - table.starts[0])
    if step == 0 or _first_off(table, axis, promises.xfactor) is not None:
        return None
    stated = promises.deltax
    if stated is not None:
        refined = at_lines[0] + stated.value * (index - table.starts[0])
        if _first_off(table, refined, promises.xfactor) is None:
            return np.asarray(refined)
    return np.asarray(axis)


def _tolerance(abscissae: FloatArray, factor: float) -> FloatArray:
    """One unit of the last decimal any line start uses, in final units."""
    for decimals in range(9):
        if np.allclose(abscissae, np.round(abscissae, decimals), rtol=1e-12, atol=1e-12):
            return np.asarray(abs(factor) * 10.0**-decimals + 1e-7 * np.abs(abscissae * factor))
    return np.asarray(1e-7 * np.abs(abscissae * factor) + 1e-9)


def _first_off(table: OrdinateTable, axis: FloatArray, factor: float) -> int | None:
    """Index of the first line whose start does not lie on the axis, or None.

    Writers differ on whether the abscissa before a check ordinate belongs to it or to the point after.
    """
    found = table.abscissae * factor
    coarse = _tolerance(table.abscissae, factor)
    off = np.abs(found - axis[table.starts]) > coarse
    if not np.any(off):
        return None
    after = np.abs(found[1:] - axis[np.minimum(table.starts[1:] + 1, axis.size - 1)]) > coarse[1:]
    if table.checked and not off[0] and not np.any(after[:-1]):
        return None
    return int(np.argmax(off))


def _factor_readings(promises: Promises) -> list[tuple[float, tuple[str, ...]]]:
    """XFACTOR as stated, and as if the table had not been divided by it."""
    readings: list[tuple[float, tuple[str, ...]]] = [(promises.xfactor, ())]
    if promises.xfactor != 1.0:
        readings.append((1.0, ("XFACTOR set aside: the line starts are wavenumbers already",)))
    return readings


def _supported(axis: FloatArray, promises: Promises) -> bool:
    """Whether anything else in the header agrees with the table's own axis."""
    step = float(axis[1] - axis[0])
    by_step = promises.deltax is not None and abs(promises.deltax.value - step) <= 1e-3 * abs(step)
    ends = ((promises.firstx, axis[0]), (promises.lastx, axis[-1]))
    by_end = any(stated is not None and abs(stated.value - end) <= abs(step) / 2 for stated, end in ends)
    return promises.npoints is not None and (by_step or by_end)


def _stale_extras(axis: FloatArray, promises: Promises, where: str) -> tuple[str, ...]:
    """DELTAX, MAXX and MINX against an axis that the table has confirmed."""
    repairs = []
    intervals = axis.size - 1
    step = float((axis[-1] - axis[0]) / intervals) if intervals else 0.0
    stated = promises.deltax
    if stated is not None and promises.lastx is not None and intervals:
        slack = max(abs(step) / 2, stated.step * intervals)
        if abs(stated.value * intervals - (axis[-1] - axis[0])) > slack:
            if promises.npoints is None:
                raise PromiseError(
                    f"{where}: line {stated.line}: DELTAX is {stated.value:.8g}, but FIRSTX, LASTX and the points "
                    f"found give {step:.8g}; points were lost, export the spectrum again"
                )
            repairs.append(f"DELTAX {stated.value:.8g} set aside: FIRSTX, LASTX and NPOINTS give {step:.8g}")
    for name, extreme, found in (("MAXX", promises.maxx, axis.max()), ("MINX", promises.minx, axis.min())):
        if extreme is not None and abs(extreme.value - found) > max(abs(step), extreme.step):
            repairs.append(f"{name} {extreme.value:.8g} set aside: the table runs to {found:.8g}")
    return tuple(repairs)


def _axis_error(table: OrdinateTable, axis: FloatArray, promises: Promises, where: str) -> PromiseError:
    """Name the first line that is off."""
    at = _first_off(table, axis, promises.xfactor)
    at = 0 if at is None else at
    found = float(table.abscissae[at] * promises.xfactor)
    return PromiseError(
        f"{where}: line {int(table.lines[at])}: begins at {found:.10g}, but FIRSTX, LASTX and the number of points "
        f"give {float(axis[table.starts[at]]):.10g}; points were lost or the header is wrong, export again"
    )


def checked_pairs(x: FloatArray, lines: IntArray, promises: Promises, where: str) -> Kept:
    """Return the abscissa of a table of pairs, which must begin and end where the header says.

    Raises
    ------
    PromiseError
        If NPOINTS fails, or both ends differ from FIRSTX and LASTX.
    """
    require_count(x.size, promises, where)
    ends = [(promises.firstx, 0), (promises.lastx, -1)]
    stated = [(end, at) for end, at in ends if end is not None]
    for factor, repair in _factor_readings(promises):
        scaled = x * factor
        off = [
            (end, at) for end, at in stated if abs(scaled[at] - end.value) > end.step + 1e-6 * abs(end.value)
        ]
        if not off:
            return Kept(scaled, repair)
        if len(off) < len(stated) and promises.npoints is not None and factor == promises.xfactor:
            end, at = off[0]
            name = "FIRSTX" if at == 0 else "LASTX"
            return Kept(scaled, (f"{name} {end.value:.8g} set aside: the table has {scaled[at]:.8g} there",))
    end, at = stated[0]
    raise PromiseError(
        f"{where}: line {int(lines[at])}: the abscissa is {x[at] * promises.xfactor:.10g}, but line {end.line} "
        f"promises {end.value:.10g}; points were lost or the header is wrong, export again"
    )


def checked_ordinates(raw: FloatArray, promises: Promises, where: str) -> Kept:
    """Apply YFACTOR and compare FIRSTY, MAXY and MINY.

    Parameters
    ----------
    raw : ndarray, shape (n,)
        Ordinates of the table; NaN where missing.
    promises : Promises
    where
        File and block, for messages.

    Raises
    ------
    PromiseError
        If a promise fails and the data do not settle it.
    """
    finite = raw[np.isfinite(raw)]
    if finite.size == 0 or promises.yfactor == 0:
        return Kept(raw * promises.yfactor)
    first = raw[0] if np.isfinite(raw[0]) else None
    checks = [("FIRSTY", promises.firsty, first), ("MAXY", promises.maxy, finite.max())]
    checks.append(("MINY", promises.miny, finite.min()))
    factor, repairs = _settled_factor(raw, promises)
    faults: list[Fault] = []
    for name, stated, found in checks:
        if stated is None or found is None:
            continue
        span = float(finite.max() - finite.min()) * abs(factor)
        repair, fault = _compare(name, stated, float(found), factor, span, promises, where)
        repairs += repair
        faults += fault
    return Kept(raw * factor, repairs, tuple(faults))


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
    name: str, stated: Stated, raw: float, factor: float, span: float, promises: Promises, where: str
) -> tuple[tuple[str, ...], tuple[Fault, ...]]:
    """Judge one promise about an ordinate: kept, set aside as a repair, doubtful or broken."""
    found, quantum = raw * factor, abs(factor) / 2
    if _agrees(found, stated, quantum):
        return (), ()
    if factor != 1.0 and _agrees(raw, stated, 0.5):
        return (f"{name} {stated.value:.8g} is in raw counts; with YFACTOR it is {found:.6g}",), ()
    for scale, said in (
        (100.0, "in percent, the table is a fraction"),
        (0.01, "a fraction, the table is in percent"),
    ):
        size = abs(stated.value) if name == "FIRSTY" else max(abs(stated.value), scale * span)
        if abs(found * scale - stated.value) <= _CLOSE * size + stated.step + scale * quantum:
            return (f"{name} {stated.value:.8g} is {said}",), ()
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
