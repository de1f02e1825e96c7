"""AnIML, the open XML format for analytical data (ASTM E13.15): spectra of its result series.

A series set holds one independent series (the abscissa) and one or more dependent ones. Values are listed
one by one, counted from a start value, or packed in base 64 as little-endian numbers.
"""

from __future__ import annotations

import base64
import binascii
import re
from dataclasses import replace
from xml.etree.ElementTree import Element, ParseError, fromstring

import numpy as np

from spectra.errors import FormatError
from spectra.reading.numbers import MOST_POINTS, shorten
from spectra.reading.source import Source
from spectra.reading.trace import Trace
from spectra.reading.units.words import foreign_label, foreign_y, hinted_y_unit, named_x_unit, named_y_unit
from spectra.reading.xml_scan import local_name, scan_xml
from spectra.units import FloatArray

# Data types of the format that hold numbers, and their packed form.
_PACKED = {"Float32": "<f4", "Float64": "<f8", "Int32": "<i4", "Int64": "<i8"}


def looks_like_animl(data: bytes) -> bool:
    """Whether the file is XML whose root is ``AnIML``."""
    head = data[:4096].replace(b"\x00", b"")
    return re.search(rb"<(?:\w+:)?AnIML[\s>]", head) is not None


def read_animl(source: Source) -> tuple[Trace, ...]:
    """Read every spectrum of an AnIML document.

    Parameters
    ----------
    source : Source

    Returns
    -------
    tuple of Trace
        In document order; ``part`` names the step and the series.

    Raises
    ------
    FormatError
        If the XML is broken or declares a document type, or no series set is a spectrum.
    """
    scan_xml(source.data, source.path, lambda *_: None, lambda _: None)
    try:
        root = fromstring(source.data)
    except (ParseError, ValueError, LookupError) as error:
        raise FormatError(f"{source.path}: is broken XML ({error}); export it again") from None
    traces: list[Trace] = []
    left_out: list[str] = []
    for step in _all(root, "ExperimentStep"):
        name = step.get("name", "")
        for series_set in _all(step, "SeriesSet"):
            found = _set_traces(series_set, name, source.path)
            traces += found
            if not found:
                left_out.append(
                    f"series set {shorten(series_set.get('name', ''))!r} left out: no infrared axis"
                )
    if not traces:
        raise FormatError(f"{source.path}: no series set has an infrared axis; export the spectrum itself")
    single = len(traces) == 1
    return tuple(
        replace(trace, assumed=(*trace.assumed, *left_out), part="" if single else trace.part)
        for trace in traces
    )


def _all(element: Element, name: str) -> list[Element]:
    """Descendants with this local name, in document order."""
    return [child for child in element.iter() if isinstance(child.tag, str) and local_name(child.tag) == name]


def _set_traces(series_set: Element, step: str, path: str) -> list[Trace]:
    """Read the spectra of one series set; none if it has no infrared axis."""
    where = f"{path} [{shorten(step or series_set.get('name', 'series set'))}]"
    length = series_set.get("length", "")
    if not length.isdecimal() or int(length) > MOST_POINTS:
        raise FormatError(f"{where}: length is {shorten(length)!r}; expected the number of points")
    series = _all(series_set, "Series")
    axes = [one for one in series if one.get("dependency") == "independent" and _x_unit(one) is not None]
    if not axes:
        return []
    x = _values(axes[0], int(length), where)
    traces = []
    for one in series:
        if one.get("dependency") == "independent":
            continue
        name = one.get("name", "")
        traces.append(
            Trace(
                x,
                _values(one, int(length), where),
                x_unit=_x_unit(axes[0]),
                y_unit=named_y_unit(_unit_text(one)) or named_y_unit(name),
                y_hint=hinted_y_unit(_unit_text(one)) or hinted_y_unit(name),
                y_foreign=foreign_label(_unit_text(one)) or foreign_y(name),
                part=shorten(", ".join(filter(None, (step, name))), 120),
                title=shorten(step or name, 200),
            )
        )
    return traces


def _unit_text(series: Element) -> str:
    """Label of a series' unit."""
    return " ".join(unit.get("label", "") for unit in _all(series, "Unit"))


def _x_unit(series: Element) -> str | None:
    """Abscissa unit of a series, by its unit's label, its SI form, or its name."""
    for unit in _all(series, "SIUnit"):
        exponent, factor = unit.get("exponent", "1"), unit.get("factor", "1")
        si = {("-1", 0.01): "cm-1", ("1", 1e-6): "um", ("1", 1e-9): "nm"}
        if (unit.text or "").strip() == "m" and re.fullmatch(r"[\d.eE+-]{1,20}", factor):
            try:
                found = si.get((exponent.removesuffix(".0"), float(factor)))
            except ValueError:
                found = None
            if found:
                return found
    return named_x_unit(_unit_text(series)) or named_x_unit(series.get("name", ""))


def _values(series: Element, length: int, where: str) -> FloatArray:
    """All values of a series, which must be as many as the set promises."""
    pieces: dict[int, FloatArray] = {}
    filled = 0
    for child in series:
        kind = local_name(child.tag) if isinstance(child.tag, str) else ""
        start = _index(child, "startIndex", filled, where)
        if kind == "IndividualValueSet":
            piece = _individual(child, where)
        elif kind == "EncodedValueSet":
            piece = _encoded(child, series.get("seriesType", ""), where)
        elif kind == "AutoIncrementedValueSet":
            piece = _counted(child, _index(child, "endIndex", length - 1, where) - start + 1, where)
        else:
            continue
        if start in pieces:
            raise FormatError(f"{where}: two sets of values start at index {start}; export it again")
        pieces[start] = piece
        filled = start + piece.size
    values = _in_place(pieces, where)
    if values.size != length:
        raise FormatError(
            f"{where}: series {shorten(series.get('name', ''))!r} holds {values.size} values, its "
            "set promises "
            f"{length}; points were lost, export it again"
        )
    return values


def _index(values: Element, name: str, unstated: int, where: str) -> int:
    """Return a stated index of a set of values."""
    text = values.get(name, "")
    if not text:
        return unstated
    if not text.isdecimal() or int(text) > MOST_POINTS:
        raise FormatError(f"{where}: {name} is {shorten(text)!r}; expected a whole number from 0")
    return int(text)


def _in_place(pieces: dict[int, FloatArray], where: str) -> FloatArray:
    """Join sets of values by the index that each starts at; they must follow one another."""
    filled = 0
    for start in sorted(pieces):
        if start != filled:
            raise FormatError(
                f"{where}: values from index {start} follow those before index {filled}; export it again"
            )
        filled += pieces[start].size
    return np.concatenate([pieces[start] for start in sorted(pieces)]) if pieces else np.empty(0)


def _number(text: str | None, where: str) -> float:
    try:
        return float(text or "")
    except ValueError:
        raise FormatError(f"{where}: {shorten(text or '')!r} is not a number; export it again") from None


def _individual(values: Element, where: str) -> FloatArray:
    """Values listed one by one."""
    return np.array([_number(value.text, where) for value in values], dtype=np.float64)


def _encoded(values: Element, series_type: str, where: str) -> FloatArray:
    """Values packed in base 64."""
    if series_type not in _PACKED:
        raise FormatError(
            f"{where}: packed values of type {shorten(series_type)!r}; expected {', '.join(_PACKED)}"
        )
    try:
        data = base64.b64decode("".join((values.text or "").split()), validate=True)
        return np.asarray(np.frombuffer(data, _PACKED[series_type]), dtype=np.float64)
    except (binascii.Error, ValueError) as error:
        raise FormatError(f"{where}: packed values are damaged ({error}); export it again") from None


def _counted(values: Element, length: int, where: str) -> FloatArray:
    """Values that rise from a start by a fixed increment."""
    found = {local_name(child.tag): child for child in values if isinstance(child.tag, str)}
    if "StartValue" not in found or "Increment" not in found:
        raise FormatError(f"{where}: a counted series without start value or increment; export it again")
    start, step = ("".join(found[name].itertext()).strip() for name in ("StartValue", "Increment"))
    return np.asarray(_number(start, where) + _number(step, where) * np.arange(length))
