"""Small band tables of invented materials, so that every rule can be asked alone."""

from __future__ import annotations

from typing import Any

from reference_bands import Band, BandTable, GroupRange, ProcessChange, Source
from reference_bands.records import Name

SOURCES = {"a": Source("a", title="Invented for the tests"), "b": Source("b", title="Another")}


def band(material: str, centre: float, strength: str = "s", half: float = 4.0, **more: Any) -> Band:
    """A row whose window reaches ``half`` to both sides."""
    given = {"vibration": "C=O stretch", "source": "a", "checked": "read"} | more
    return Band(
        material=material, low=centre - half, typical=centre, high=centre + half, strength=strength, **given
    )


def group(name: str, low: float, high: float, look_for: tuple[float, ...] = (), **more: Any) -> GroupRange:
    """A range of a functional group, without a usual position."""
    given = {"vibration": "C=O stretch", "source": "a", "checked": "memory", "strength": "s"} | more
    return GroupRange(group=name, low=low, typical=None, high=high, look_for=look_for, **given)


def change(process: str, centre: float, what: str, materials: tuple[str, ...], **more: Any) -> ProcessChange:
    """A process and what it does at a place, ten to both sides."""
    given = {"vibration": "C=O stretch", "source": "a", "checked": "read"} | more
    return ProcessChange(
        process=process, low=centre - 10.0, typical=centre, high=centre + 10.0, change=what,
        materials=materials, **given,
    )  # fmt: skip


def table(*rows: Band | GroupRange | ProcessChange, families: dict[str, str] | None = None) -> BandTable:
    """A table of rows; materials belong to the family polymers unless said."""
    bands = tuple(row for row in rows if isinstance(row, Band))
    names = {
        row.material: Name(row.material, (families or {}).get(row.material, "polymers")) for row in bands
    }
    return BandTable(
        bands,
        tuple(row for row in rows if isinstance(row, GroupRange)),
        tuple(row for row in rows if isinstance(row, ProcessChange)),
        names,
        SOURCES,
        {name: name for name in names},
    )
