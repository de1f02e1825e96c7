"""The abscissa of a JCAMP-DX table, as the header promises it and as the table's own lines show it."""

from __future__ import annotations

import numpy as np

from spectra.errors import PromiseError
from spectra.reading.jcamp.asdf import OrdinateTable
from spectra.reading.jcamp.promises import Kept, Promises, require_count
from spectra.reading.jcamp.tokens import IntArray
from spectra.spectrum import Fault
from spectra.units import FloatArray


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
    stated = _stated_axis(count, promises)
    if stated is not None:
        for factor, repair in _factor_readings(promises):
            if _first_off(table, stated, factor) is None:
                return Kept(stated, repair + _stale_extras(stated, promises, where))
    if stated is not None and promises.npoints is not None:
        off = _drift(table, stated, promises.xfactor)
        if off is not None:
            return Kept(stated, _stale_extras(stated, promises, where), (_drifting(stated, off),))
    own = _table_axis(table, promises)
    if stated is None and own is None:
        raise PromiseError(
            f"{where}: the header states no FIRSTX with LASTX or DELTAX, and the table has too few lines to "
            "tell the abscissa; export the spectrum again"
        )
    if stated is None:
        assert own is not None
        return Kept(own, ("abscissa taken from the line starts of the table",))
    if own is not None and _supported(own, promises):
        said = (
            f"FIRSTX to LASTX ({stated[0]:.10g} to {stated[-1]:.10g}) does not fit the table, whose "
            "line starts run "
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
        return np.asarray(first.value + step.value * np.arange(count))
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
    """One unit of the last digit that line starts are printed with, in final units.

    Some programs print a fixed number of decimals, others of significant digits; the wider unit counts.
    """
    unit = np.full(abscissae.shape, 1e-9)
    for decimals in range(9):
        if np.allclose(abscissae, np.round(abscissae, decimals), rtol=1e-12, atol=1e-12):
            unit[:] = 10.0**-decimals
            break
    leading = np.floor(np.log10(np.maximum(np.abs(abscissae), 1e-300)))
    for digits in range(4, 9):
        last = 10.0 ** (leading - digits + 1)
        if np.allclose(abscissae, np.round(abscissae / last) * last, rtol=1e-12, atol=1e-12):
            unit = np.maximum(unit, last)
            break
    return np.asarray(abs(factor) * (unit + 1e-7 * np.abs(abscissae)))


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


def _drift(table: OrdinateTable, axis: FloatArray, factor: float) -> float | None:
    """Return how far the line starts drift from the axis, if it is less than half a step; else None.

    A drift is even. A lost point makes a jump of a whole step, which stands out from the straight line
    through first and last line start by at least half a step.
    """
    if table.lines.size < 3:
        return None
    found = table.abscissae * factor
    step = abs(float(axis[1] - axis[0]))
    straight = np.interp(table.starts, table.starts[[0, -1]], found[[0, -1]])
    off = float(np.max(np.abs(found - axis[table.starts])))
    uneven = float(np.max(np.abs(found - straight) - _tolerance(table.abscissae, factor) / 2))
    return off if off < 0.5 * step and uneven < 0.25 * step else None


def _drifting(axis: FloatArray, off: float) -> Fault:
    """Say that the line starts are near the axis of the header, but not on it."""
    return Fault(
        "axis-differs-within-step",
        "warning",
        f"{axis.min():.6g} to {axis.max():.6g}",
        f"line starts are up to {off:.3g} off the even axis of FIRSTX, LASTX and NPOINTS, less than "
        "half a step "
        f"of {abs(axis[1] - axis[0]):.4g}",
        "Export again if positions matter at that level.",
    )


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
                    f"{where}: line {stated.line}: DELTAX is {stated.value:.8g}, but FIRSTX, LASTX "
                    "and the points "
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
        f"{where}: line {int(table.lines[at])}: begins at {found:.10g}, but FIRSTX, LASTX and the "
        "number of points "
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
        f"{where}: line {int(lines[at])}: the abscissa is {x[at] * promises.xfactor:.10g}, but line "
        f"{end.line} "
        f"promises {end.value:.10g}; points were lost or the header is wrong, export again"
    )
