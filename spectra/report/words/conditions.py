"""How the spectra were measured, and what the study does not say about it: part of ``report.view``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from spectra.groups import Instrument
from spectra.report.words.numerals import counted, exact, listed, plain, span
from spectra.study.records import Study
from spectra.verification.result import Verification

# What a paper is asked for and only the operator knows, with its key under [instrument].
ASKED_FOR = {
    "resolution": "resolution",
    "scans": "scans",
    "apodisation": "apodisation",
    "detector": "detector",
    "background": "background",
    "pressure on the crystal": "pressure",
    "humidity or drying": "conditioning",
}

NOT_CHECKED = "not checked: the study states no scale_check under [instrument]"

REFLECTIONS = {1: "single reflection"}


def geometry(study: Study, technique: str) -> Iterator[str]:
    """Yield what is known of the geometry and the instrument, as a methods section writes it."""
    if technique == "ATR":
        yield from _reflection(study.instrument)
    yield from _setting(study.instrument)


def _setting(instrument: Instrument) -> Iterator[str]:
    """Yield how the instrument was set, and what the spectra were divided by."""
    if instrument.scans is not None:
        yield counted(instrument.scans, "scan")
    if instrument.resolution is not None:
        yield f"resolution {exact(instrument.resolution)} cm-1"
    named = ("apodisation", "detector", "background", "pressure", "conditioning")
    yield from (f"{word}: {getattr(instrument, word)}" for word in named if getattr(instrument, word))
    if instrument.scale_check:
        yield f"wavenumber scale: {instrument.scale_check}"


def _reflection(instrument: Instrument) -> Iterator[str]:
    """Yield the geometry of attenuated total reflection."""
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
    if not study.instrument.scale_check:
        yield INSTRUMENT_WORDS["scale_check"], NOT_CHECKED
    yield from study.notes.items()
    yield "range, spacing", range_used(verification)
    for group in study.groups:
        mine = [item for item in verification.inputs if (item.role, item.group) == (group.role, group.name)]
        pieces = {item.specimen for item in mine}
        name = {"bare": "bare", "neat": f"neat {group.name}"}.get(group.role, f"{group.role} {group.name}")
        made = f", {group.material}" if group.material and group.material != group.name else ""
        yield f"{name}{made}", f"specimens: {len(pieces)}, spots: {len(mine)}"
    unknown = [word for word, key in ASKED_FOR.items() if not getattr(study.instrument, key)]
    if unknown:
        yield "not in the study, to be added by hand", listed(unknown)


ATR_ONLY = ("crystal", "index", "angle_deg", "reflections")

INSTRUMENT_WORDS = {
    "angle_deg": "angle of incidence",
    "index": "refractive index of the crystal",
    "scale_check": "check of the wavenumber scale",
}

UNITS = {"angle_deg": " degrees", "resolution": " cm-1"}


def _written(name: str, value: object) -> str:
    text = exact(value) if isinstance(value, float) else str(value)
    return text + UNITS.get(name, "")
