"""How the spectra were measured, and what the study does not say about it: part of ``report.view``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from spectra.report.words.numerals import exact, listed, plain, span
from spectra.study.records import Study
from spectra.verification.result import Verification

# What a paper is asked for and only the operator knows.
ASKED_FOR = (
    "resolution",
    "scans",
    "apodisation",
    "detector",
    "background",
    "pressure on the crystal",
    "humidity or drying",
)

REFLECTIONS = {1: "single reflection"}


def geometry(study: Study, technique: str) -> Iterator[str]:
    """Yield what is known of the geometry, as a methods section writes it."""
    if technique != "ATR":
        return
    instrument = study.instrument
    yield REFLECTIONS.get(instrument.reflections, f"{instrument.reflections} reflections")
    if instrument.crystal:
        yield instrument.crystal
    elif instrument.index is not None:
        yield f"crystal of index {exact(instrument.index)}"
    if instrument.angle_deg is not None:
        yield f"{exact(instrument.angle_deg)} degrees"


def range_used(verification: Verification) -> str:
    """Return range, spacing and what is left out."""
    stack = next(iter(verification.stages.levelled.values()))
    used = stack.grid[stack.usable]
    gaps = left_out(verification)
    text = f"{span(float(used.min()), float(used.max()))}, a point each {plain(stack.step)} cm-1"
    return f"{text}, without {gaps}" if gaps else text


def left_out(verification: Verification) -> str:
    """Return the regions that the study leaves out inside the range, or nothing."""
    stack = next(iter(verification.stages.levelled.values()))
    used = stack.grid[stack.usable]
    regions = verification.study.settings.footing.leave_out
    inside = [pair for pair in regions if pair[1] > used.min() and pair[0] < used.max()]
    return listed([span(*pair) for pair in inside]) if inside else ""


def condition_rows(verification: Verification) -> Iterator[tuple[str, str]]:
    """Yield every condition of the measurement with its name."""
    study = verification.study
    techniques = {group.technique for group in study.groups}
    yield "technique", listed(["not stated" if name == "other" else name for name in sorted(techniques)])
    for item in fields(study.instrument):
        value = getattr(study.instrument, item.name)
        if value is not None and value != "" and ("ATR" in techniques or item.name not in ATR_ONLY):
            yield INSTRUMENT_WORDS.get(item.name, item.name.replace("_", " ")), _written(item.name, value)
    yield "range, spacing", range_used(verification)
    for group in study.groups:
        mine = [item for item in verification.inputs if (item.role, item.group) == (group.role, group.name)]
        pieces = {item.specimen for item in mine}
        name = {"bare": "bare", "neat": f"neat {group.name}"}.get(group.role, f"{group.role} {group.name}")
        made = f", {group.material}" if group.material and group.material != group.name else ""
        yield f"{name}{made}", f"specimens: {len(pieces)}, spots: {len(mine)}"
    unknown = [word for word in ASKED_FOR if not _said(study, word)]
    if unknown:
        yield "not in the study, to be added by hand", listed(unknown)


ATR_ONLY = ("crystal", "index", "angle_deg", "reflections")

INSTRUMENT_WORDS = {"angle_deg": "angle of incidence", "index": "refractive index of the crystal"}


def _written(name: str, value: object) -> str:
    text = exact(value) if isinstance(value, float) else str(value)
    return f"{text} degrees" if name == "angle_deg" else text


def _said(study: Study, word: str) -> bool:
    """Tell whether the study's instrument says something of this name."""
    first = word.split(" ")[0]
    return any(
        first in item.name and getattr(study.instrument, item.name) for item in fields(study.instrument)
    )
