"""What the groups of a study must have in common, and what is doubtful about it.

A mistake stops the study. A warning is carried in ``Study.warnings`` and reaches the report: the
verdicts stand, but on less.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from reference_bands import BandTable, BandTableError, load
from spectra.groups import TECHNIQUES, Group, Instrument
from spectra.optics.geometry import CRYSTALS, Geometry
from spectra.spectrum import Fault
from spectra.study.form import InstrumentForm
from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.records import Study
from spectra.study.settings_form import made
from spectra.study.toml_lines import KeyPath

UNSTATED = "other"

STATED = (
    "resolution",
    "scans",
    "apodisation",
    "detector",
    "pressure",
    "conditioning",
    "background",
    "scale_check",
)

CRYSTAL_SYMBOLS = {"znse": "zinc selenide", "ge": "germanium", "si": "silicon", "c": "diamond"}


def place_of(role: str, name: str) -> KeyPath:
    """Return the way to the table of a group in the study file.

    Examples
    --------
    >>> place_of("neat", "gelatin")
    ('coatings', 'gelatin')
    """
    tables: dict[str, KeyPath] = {
        "bare": (),
        "neat": ("coatings",),
        "coated": ("samples",),
        "residue": ("residues", "measured"),
    }
    return (*tables[role], name)


def note_mixed_techniques(groups: Sequence[Group], mistakes: Mistakes) -> None:
    """Note groups that are not measured as the first of them; one without technique is noted before."""
    known = [group for group in groups if group.technique]
    for group in known[1:]:
        if group.technique != known[0].technique:
            text = f"measured by {group.technique!r}, but {_called(known[0])} by {known[0].technique!r}"
            hint = f"measure both alike, or correct the key{_unstated_hint(group, known[0])}"
            place = (*place_of(group.role, group.name), "technique")
            mistakes.add(place, f"{text}; mixed techniques cannot be compared: {hint}")


def _called(group: Group) -> str:
    return {"bare": "the bare substrate", "neat": f"neat {group.name}"}.get(group.role, group.name)


def _unstated_hint(*groups: Group) -> str:
    stated = all(group.technique != UNSTATED for group in groups)
    return "" if stated else f" (a group without a technique counts as {UNSTATED!r})"


def read_instrument(form: InstrumentForm, mistakes: Mistakes) -> Instrument:
    """Return the instrument; what the optics refuse (range, unknown crystal) is noted and left out."""
    given = {"index": form.index, "angle_deg": form.angle_deg, "reflections": form.reflections}
    crystal = form.crystal
    if crystal is not None:
        folded = crystal.strip().casefold()
        crystal = CRYSTAL_SYMBOLS.get(folded, folded)
    if crystal is not None and crystal not in CRYSTALS:
        known = f"{nearest(crystal, CRYSTALS)} (known: {', '.join(CRYSTALS)}; or give its index)"
        mistakes.add(("instrument", "crystal"), f"unknown crystal {shown(form.crystal)}{known}")
    elif crystal is not None and form.index is not None:
        mistakes.add(("instrument", "index"), "given besides a crystal; keep one of the two")
    checked = made(partial(Geometry, "ATR"), given, ("instrument",), mistakes)
    as_stated = {key: getattr(form, key) for key in STATED}
    return Instrument(crystal, checked.index, checked.angle_deg, checked.reflections, **as_stated)


def read_tables(study_tables: Iterable[object], mistakes: Mistakes) -> BandTable:
    """Return the reference bands with the study's own tables; a broken table is noted and left out."""
    try:
        return load(*(str(path) for path in study_tables))
    except BandTableError as error:
        mistakes.add(("bands",), str(error))
        return load()


def note_unknown_residues(watch: Iterable[str], table: BandTable, mistakes: Mistakes) -> None:
    """Note residues that cannot be looked for, because no table holds their bands."""
    for number, name in enumerate(watch):
        if unknown := _unknown(name, table):
            mistakes.add(("residues", "watch", number), f"{unknown}; correct it, or add a table under bands")


def _unknown(material: str, table: BandTable) -> str:
    """Say that no table knows a material, with the nearest names; nothing if one does."""
    try:
        table.resolve(material)
    except BandTableError as error:
        return str(error)
    return ""


def warnings_of(study: Study, stated: bool, table: BandTable, mistakes: Mistakes) -> Iterator[Fault]:
    """Yield what is doubtful about a study without mistakes.

    Parameters
    ----------
    study
        Without warnings so far.
    stated
        Whether the technique of every group is said.
    table
        The reference bands.
    mistakes
        Of the study, to name places; none in it.
    """
    yield from _technique_warnings(study, stated, mistakes)
    yield from _material_warnings(study, table, mistakes)


def _technique_warnings(study: Study, stated: bool, mistakes: Mistakes) -> Iterator[Fault]:
    if not stated:
        yield Fault(
            "technique-not-stated",
            "warning",
            mistakes.place(("technique",)),
            "how the spectra were measured is not said, so positions are compared like with like only",
            f"State the technique: one of {', '.join(TECHNIQUES)}.",
        )
    for group in study.coatings.values():
        if group.technique != study.substrate.technique:
            yield Fault(
                "techniques-differ",
                "warning",
                mistakes.place((*place_of(group.role, group.name), "technique")),
                f"neat {group.name} was measured by {group.technique}, the samples by "
                f"{study.substrate.technique}: bands differ in place and height with the same chemistry",
                "Measure the neat coating as the samples were measured.",
            )
    yield from _geometry_warnings(study, mistakes)


def _geometry_warnings(study: Study, mistakes: Mistakes) -> Iterator[Fault]:
    instrument, techniques = study.instrument, {group.technique for group in study.groups}
    known = instrument.angle_deg is not None and (instrument.crystal or instrument.index) is not None
    if "ATR" in techniques and not known:
        yield Fault(
            "geometry-not-stated",
            "note",
            mistakes.place(("instrument",)),
            "crystal and angle of incidence are not both given, so a part of any shift may be optical",
            "Give crystal (or index) and angle_deg under [instrument].",
        )
    if "ATR" not in techniques and (instrument.crystal or instrument.index):
        yield Fault(
            "crystal-unused",
            "warning",
            mistakes.place(("instrument",)),
            "a crystal is given, but no group was measured by ATR",
            'Set technique = "ATR", or take the crystal out.',
        )


def _material_warnings(study: Study, table: BandTable, mistakes: Mistakes) -> Iterator[Fault]:
    for group in study.groups:
        if group.material is not None and (unknown := _unknown(group.material, table)):
            yield Fault(
                "material-not-in-tables",
                "warning",
                mistakes.place((*place_of(group.role, group.name), "material")),
                unknown,
                "Correct the name, or add a table of its bands under bands.",
            )
