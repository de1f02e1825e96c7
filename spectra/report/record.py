"""``result.json``, format 1: the verification as plain data, for programs.

Numbers keep their full precision; what could not be determined is ``null``, never NaN. Each reason carries
its code, its values and its sentence. The form is fixed by ``result.schema.json`` beside this module; keys
may be added in format 1, none is renamed or removed.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.findings import Reason
from spectra.report.tables.inputs import shown_path
from spectra.report.words.comparing import looks_like
from spectra.report.words.reasons import REASONS, Names, named_remedy, names_of, remedy, sentence

if TYPE_CHECKING:
    from spectra.groups import Group
    from spectra.study.records import Study
    from spectra.verification.result import (
        ApartFinding,
        InputRecord,
        SampleDifference,
        SampleFinding,
        Verification,
    )

FORMAT = 1


def as_dict(verification: Verification) -> dict[str, Any]:
    """Return the content of ``result.json``, format 1.

    Parameters
    ----------
    verification
        The whole result.

    Returns
    -------
    dict
        Of dicts, lists, text, finite numbers, booleans and None only.
    """
    study = verification.study
    return {
        "format": FORMAT,
        "software": {"name": "coatproof", "versions": dict(verification.versions)},
        "study": _study(study),
        "all_shown": verification.all_shown,
        "inputs": [_input(item, study) for item in verification.inputs],
        "faults": plain_data(verification.faults),
        "settings": plain_data(study.settings),
        "samples": {name: _sample(sample) for name, sample in verification.samples.items()},
        "spike_recovery": plain_data(verification.spikes),
        "materials": plain_data(verification.materials),
        "comparisons": [_difference(item) for item in verification.comparisons],
        "materials_compared": plain_data(verification.materials_compared),
        "apart": [entry for item in verification.apart for entry in _apart(item, study)],
    }


def as_json(verification: Verification) -> str:
    """Return ``result.json`` as text: two-space indent, one final line break, the same bytes each time."""
    return json.dumps(as_dict(verification), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def plain_data(value: Any, names: Names | None = None) -> Any:
    """Turn records, mappings and arrays into plain data; a number that is not finite becomes None.

    Parameters
    ----------
    value
        A record, mapping, sequence, array or scalar.
    names
        What the bands are called that reasons speak of.

    Examples
    --------
    >>> plain_data({"a": (1.5, float("nan"))})
    {'a': [1.5, None]}
    """
    if isinstance(value, Reason):
        return _reason(value, names)
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: plain_data(getattr(value, item.name), names) for item in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_data(entry, names) for key, entry in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain_data(value.tolist())
    if isinstance(value, tuple | list):
        return [plain_data(entry, names) for entry in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value.as_posix() if isinstance(value, PurePath) else value


def _reason(reason: Reason, names: Names | None) -> dict[str, Any]:
    text = sentence(reason, names) if reason.code in REASONS else named_remedy(reason)
    return {
        "code": reason.code,
        "values": plain_data(reason.values),
        "text": text,
        "remedy": remedy(reason),
    }


def _study(study: Study) -> dict[str, Any]:
    return {
        "title": study.title,
        "file": None if study.file is None else study.file.name,
        "sha256": study.sha256 or None,
        "instrument": plain_data(study.instrument),
        "groups": [_group(group) for group in study.groups],
        "watch": list(study.watch),
        "band_tables": [shown_path(str(path), study) for path in study.band_tables],
        "notes": dict(study.notes),
        "left_out": [
            plain_data(item) | {"path": shown_path(str(item.path), study)} for item in study.left_out
        ],
        "against": study.against,
        "requirement": plain_data(study.requirement),
        "positions": {shown_path(str(f), study): list(at) for f, at in study.positions.items()},
    }


def _group(group: Group) -> dict[str, Any]:
    """Return what the study says of a group; its files are in ``inputs``."""
    named = {item.name: plain_data(getattr(group, item.name)) for item in fields(group)}
    return named | {"specimens": [specimen.name for specimen in group.specimens]}


def _input(item: InputRecord, study: Study) -> dict[str, Any]:
    return plain_data(item) | {"path": shown_path(item.path, study)}  # type: ignore[no-any-return]


def _sample(sample: SampleFinding) -> dict[str, Any]:
    """Everything about a sample but its name, which is the key, and the spectra the figures show."""
    apart = ("name", "difference", "expected", "expect", "amounts")
    kept = [item.name for item in fields(sample) if item.name not in apart]
    found: dict[str, Any] = {name: plain_data(getattr(sample, name)) for name in kept}
    found["coatings"] = {
        n: plain_data(coating, names_of(coating.bands)) for n, coating in sample.coatings.items()
    }
    found["substrate"] = plain_data(sample.substrate, names_of(sample.substrate.bands))
    return found | {"expected": sample.expect}


def _difference(item: SampleDifference) -> dict[str, Any]:
    return {"coating": item.coating, **plain_data(item.found)}


def _apart(item: ApartFinding, study: Study) -> list[dict[str, Any]]:
    """Return one entry for every file of what stands apart."""
    entry = {
        "role": item.role,
        "group": item.group,
        "unit": item.outsider.name,
        "kind": item.kind,
        "chance": item.outsider.chance,
        "looks_like": looks_like(item.outsider.like),
        "description": plain_data(item.outsider.like),
        "detectable_with": plain_data(item.detectable_with),
        "detectable_without": plain_data(item.detectable_without),
        "verdicts": plain_data(item.verdicts),
    }
    return [{"path": shown_path(path, study), **entry} for path in item.paths]
