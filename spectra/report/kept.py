"""A result read back: from ``result.json`` and the spectra kept beside it to the records of the chain.

So a report can be laid out anew, with other words or figures, without judging again. Records are rebuilt by
the types their fields declare; nothing is computed.
"""

from __future__ import annotations

import csv
import io
import json
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.errors import StudyError
from spectra.findings import Reason
from spectra.groups import Group, Instrument, Specimen
from spectra.spectrum import Fault, Stack
from spectra.units import FloatArray

if TYPE_CHECKING:
    from spectra.study.records import Study
    from spectra.verification.result import SampleFinding, Verification

AGAIN = "judge the study again with `coatproof verify`"

DECIMALS = 7  # of absorbance in ``spectra.csv``: below the noise of any spectrum

# Rows of ``spectra.csv`` that are no measured spot.
DIFFERENCE, EXPECTED = "difference", "computed film"


def rounded(verification: Verification) -> Verification:
    """Return the result with its spectra as ``spectra.csv`` holds them, so that both draw the same."""
    from spectra.verification.result import Stages

    stacks = {
        key: stack.with_absorbance(np.where(stack.usable, stack.absorbance, 0.0).round(DECIMALS))
        for key, stack in verification.stages.levelled.items()
    }
    usable = next(iter(stacks.values())).usable
    samples = {name: _rounded(sample, usable) for name, sample in verification.samples.items()}
    return replace(verification, stages=Stages({}, {}, stacks), samples=samples)


def _rounded(sample: SampleFinding, usable: Any) -> SampleFinding:
    def kept(values: FloatArray) -> FloatArray:
        return np.asarray(np.where(usable, values, np.nan).round(DECIMALS))

    expected = {name: kept(np.asarray(values)) for name, values in sample.expected.items()}
    return replace(sample, difference=kept(sample.difference), expected=expected)


def as_spectra_csv(verification: Verification) -> str:
    """Return every levelled spot, difference and computed film, one column each.

    The head has four lines: role, group, specimen and spot; then wavenumber and absorbance. A point that the
    study leaves out is an empty cell.
    """
    first = next(iter(verification.stages.levelled.values()))
    columns = list(_columns(verification))
    target = io.StringIO()
    writer = csv.writer(target)
    for number, head in enumerate(("role", "group", "specimen", "spot")):
        writer.writerow([head, *(column[0][number] for column in columns)])
    rows = np.array([values for _, values in columns]).T
    writer.writerow(["wavenumber / cm-1", *["absorbance"] * len(columns)])
    for wavenumber, usable, row in zip(first.grid, first.usable, rows, strict=True):
        cells = [repr(round(float(value), DECIMALS) + 0.0) if usable else "" for value in row]
        writer.writerow([repr(float(wavenumber)), *("" if cell == "nan" else cell for cell in cells)])
    return target.getvalue()


def _columns(verification: Verification) -> Iterator[tuple[tuple[str, str, str, str], FloatArray]]:
    """Yield every column with its four heads."""
    for (role, group), stack in verification.stages.levelled.items():
        for specimen, name, row in zip(stack.specimens, stack.names, stack.absorbance, strict=True):
            yield (role, group, specimen, name), row
    for name, sample in verification.samples.items():
        yield (DIFFERENCE, name, "", ""), sample.difference
        for coating, values in sample.expected.items():
            yield (EXPECTED, name, coating, ""), np.asarray(values)


def read_back(result: str, kept: str, where: str) -> Verification:
    """Return the verification that ``result.json`` and ``spectra.csv`` hold.

    Parameters
    ----------
    result, kept
        Texts of the two files.
    where
        Folder, for messages.

    Raises
    ------
    StudyError
        If the texts are not what ``coatproof verify`` of this version writes.
    """
    from spectra.verification.result import InputRecord, Stages, Verification

    try:
        data = json.loads(result)
        if data.get("format") != 1:
            raise StudyError(f"{where}/result.json: format {data.get('format')!r}; expected 1; {AGAIN}")
        stacks, extra = _stacks(kept)
        study = _study(data)
        samples = {name: _sample(name, found, extra) for name, found in data["samples"].items()}
        inputs = tuple(built(InputRecord, item) for item in data["inputs"])
        faults = tuple(built(Fault, item) for item in data["faults"])
        hints = typing.get_type_hints(Verification)
        spikes = built(hints["spikes"], data["spike_recovery"])
        return Verification(
            study,
            inputs,
            faults,
            samples,
            Stages({}, {}, stacks),
            data["software"]["versions"],
            spikes,
            built(hints["materials"], data["materials"]),
            tuple(_difference(item) for item in data["comparisons"]),
            _apart(data["apart"]),
            built(hints["materials_compared"], data["materials_compared"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        if isinstance(error, StudyError):
            raise
        raise StudyError(
            f"{where}: result.json and spectra.csv do not hold a whole result ({error}); {AGAIN}"
        ) from None


def _stacks(text: str) -> tuple[dict[tuple[str, str], Stack], dict[tuple[str, str, str], FloatArray]]:
    """Return the stacks by role and group, and the other columns by role, group and coating."""
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
    heads = list(zip(*(row[1:] for row in rows[:4]), strict=True))
    grid = np.array([float(row[0]) for row in rows[5:]])
    values = np.array([[float(cell) if cell else np.nan for cell in row[1:]] for row in rows[5:]]).T
    spots: dict[tuple[str, str], list[int]] = {}
    extra: dict[tuple[str, str, str], FloatArray] = {}
    for number, (role, group, specimen, _) in enumerate(heads):
        if role in (DIFFERENCE, EXPECTED):
            extra[role, group, specimen] = values[number]
        else:
            spots.setdefault((role, group), []).append(number)
    usable = np.isfinite(values[[number for mine in spots.values() for number in mine]]).all(axis=0)
    return {
        key: Stack(
            grid,
            np.where(usable, values[mine], 0.0),
            tuple(heads[number][2] for number in mine),
            tuple(heads[number][3] for number in mine),
            usable,
        )
        for key, mine in spots.items()
    }, extra


def _sample(name: str, found: Mapping[str, Any], extra: Mapping[tuple[str, str, str], FloatArray]) -> Any:
    from spectra.verification.result import SampleFinding

    expected = {
        coating: values
        for (role, group, coating), values in extra.items()
        if (role, group) == (EXPECTED, name)
    }
    whole = {**found, "name": name, "difference": [], "expected": {}, "expect": found["expected"]}
    return replace(built(SampleFinding, whole), difference=extra[DIFFERENCE, name, ""], expected=expected)


def _difference(item: Mapping[str, Any]) -> Any:
    from spectra.comparison.recipes import Difference
    from spectra.verification.result import SampleDifference

    return SampleDifference(item["coating"], built(Difference, item))


def _apart(entries: Sequence[Mapping[str, Any]]) -> Any:
    """Return what stands apart: the entries of one member, one a file, joined again."""
    from spectra.apart.groups import Outsider
    from spectra.apart.likeness import LooksLike
    from spectra.verification.result import ApartFinding, VerdictWithout

    found: dict[tuple[str, str, str], list[Mapping[str, Any]]] = {}
    for entry in entries:
        found.setdefault((entry["role"], entry["group"], entry["unit"]), []).append(entry)
    return tuple(
        ApartFinding(
            role,
            group,
            Outsider(unit, built(LooksLike, mine[0]["description"]), mine[0]["chance"]),
            tuple(entry["path"] for entry in mine),
            mine[0]["kind"],
            dict(mine[0]["detectable_with"]),
            dict(mine[0]["detectable_without"]),
            tuple(built(VerdictWithout, verdict) for verdict in mine[0]["verdicts"]),
        )
        for (role, group, unit), mine in found.items()
    )


def _study(data: Mapping[str, Any]) -> Study:
    """Return the study as far as a report asks for it: the files of its groups are those that were read."""
    from spectra.study.records import Study
    from spectra.study.settings import Settings

    about = data["study"]
    groups = [_group(item, data["inputs"]) for item in about["groups"]]
    by_role = {role: {g.name: g for g in groups if g.role == role} for role in ("neat", "coated", "residue")}
    return Study(
        title=about["title"],
        file=None if about["file"] is None else Path(about["file"]),
        sha256=about["sha256"] or "",
        instrument=built(Instrument, about["instrument"]),
        substrate=next(group for group in groups if group.role == "bare"),
        coatings=by_role["neat"],
        samples=by_role["coated"],
        watch=tuple(about["watch"]),
        measured=by_role["residue"],
        band_tables=tuple(Path(path) for path in about["band_tables"]),
        settings=built(Settings, data["settings"]),
        **{
            item.name: built(typing.get_type_hints(Study)[item.name], about[item.name])
            for item in fields(Study)
            if item.name in about and item.name not in STUDY_KEYS
        },
    )


STUDY_KEYS = ("title", "file", "sha256", "instrument", "groups", "watch", "band_tables", "settings")


def _group(item: Mapping[str, Any], inputs: Any) -> Group:
    """Return a group with the files that were read for it."""
    files = {
        name: tuple(
            Path(each["path"])
            for each in inputs
            if (each["role"], each["group"], each["specimen"]) == (item["role"], item["name"], name)
        )
        for name in item["specimens"]
    }
    specimens = tuple(Specimen(name, found) for name, found in files.items())
    group: Group = built(Group, {**item, "specimens": []})
    return replace(group, specimens=specimens)


def built(hint: Any, value: Any) -> Any:
    """Build what a type hint says from plain data.

    Examples
    --------
    >>> built(tuple[float, ...], [1, None])
    (1, nan)
    >>> built(Reason, {"code": "one-band", "values": {"position": 1655.2}, "text": "..."})
    Reason(code='one-band', values={'position': 1655.2})
    """
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if hint is Reason:
        return Reason(value["code"], dict(value["values"]))
    if origin in (typing.Union, types.UnionType):
        return None if value is None else built(next(each for each in inner if each is not type(None)), value)
    if hint is float:
        return float("nan") if value is None else value
    if isinstance(hint, type) and is_dataclass(hint):
        hints = typing.get_type_hints(hint, vars(__import__(hint.__module__, fromlist=["*"])))
        known = {item.name for item in fields(hint)}
        return hint(**{name: built(hints[name], entry) for name, entry in value.items() if name in known})
    if origin is np.ndarray:
        return np.array([np.nan if entry is None else entry for entry in value], dtype=float)
    if hint is Path:
        return Path(value)
    if origin is tuple:
        kinds = [inner[0]] * len(value) if inner[1:] == (...,) else list(inner)
        return tuple(built(kind, entry) for kind, entry in zip(kinds, value, strict=True))
    if origin is not None and isinstance(value, Mapping):
        return {built(inner[0], key): built(inner[1], entry) for key, entry in value.items()}
    return tuple(value) if isinstance(value, list) else value
