"""The tables in memory: look up by material, by wavenumber, by words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

from reference_bands.errors import BandTableError
from reference_bands.records import Band, GroupRange, Name, ProcessChange, Range, Source

R = TypeVar("R", bound=Range)
Cited = Band | GroupRange | ProcessChange


@dataclass(frozen=True)
class BandTable:
    """Bands, functional groups, process changes, names and sources.

    Attributes
    ----------
    bands, groups, changes
        In the order of the files and lines.
    names : mapping of str to Name
        By canonical name.
    sources : mapping of str to Source
        By key.
    """

    bands: tuple[Band, ...] = ()
    groups: tuple[GroupRange, ...] = ()
    changes: tuple[ProcessChange, ...] = ()
    names: Mapping[str, Name] = field(default_factory=dict)
    sources: Mapping[str, Source] = field(default_factory=dict)
    _lookup: Mapping[str, str] = field(default_factory=dict, repr=False)

    @cached_property
    def usual(self) -> tuple[Band, ...]:
        """The rows that searches use: computed rows only of materials that have no other rows."""
        described = {band.material for band in self.bands if band.checked != "computed"}
        return tuple(b for b in self.bands if b.checked != "computed" or b.material not in described)

    @property
    def materials(self) -> tuple[str, ...]:
        """Canonical names of all materials that have bands, in alphabetical order."""
        return tuple(sorted({band.material for band in self.bands}))

    def named(self, material: str) -> str | None:
        """Return the canonical name of a material, or None where no material has this name."""
        return self._lookup.get(_folded(material))

    def resolve(self, material: str) -> str:
        """Return the canonical name of a material given by any of its names.

        Raises
        ------
        BandTableError
            For a name that is not in the tables; the nearest ones are named.

        Examples
        --------
        >>> from reference_bands import load
        >>> load().resolve("pcl")
        'polycaprolactone'
        """
        name = self.named(material)
        if name is not None:
            return name
        key = _folded(material)
        near = difflib.get_close_matches(key, self._lookup, n=6, cutoff=0.5)
        meant = list(dict.fromkeys(self._lookup[name] for name in near))[:3]
        hint = f"nearest: {', '.join(meant)}" if meant else "`coatproof bands` lists all names"
        raise BandTableError(f"no material {material!r} in the reference band tables; {hint}")

    def of(self, material: str, *, computed: bool = False) -> tuple[Band, ...]:
        """Return the bands of a material by falling wavenumber.

        Parameters
        ----------
        material
            Any of its names.
        computed
            Also the rows computed from optical constants, which are kept apart otherwise.

        Raises
        ------
        BandTableError
            For an unknown name, with the nearest ones.
        """
        rows = self._by_material[self.resolve(material)]
        usual = tuple(band for band in rows if band.checked != "computed") or rows
        return rows if computed else usual

    @cached_property
    def _by_material(self) -> Mapping[str, tuple[Band, ...]]:
        """All rows of each material, by falling wavenumber."""
        rows: dict[str, list[Band]] = {name: [] for name in self.names}
        for band in self.bands:
            rows[band.material].append(band)
        return {name: tuple(sorted(found, key=lambda band: -band.centre)) for name, found in rows.items()}

    def near(self, position: float, tolerance: float = 0.0, material: str | None = None) -> tuple[Band, ...]:
        """Return the bands whose window reaches a position, the nearest first.

        Parameters
        ----------
        position
            cm-1.
        tolerance
            By how much the position may lie outside the window, cm-1.
        material
            Only this one, by any of its names.
        """
        bands = self.usual if material is None else self.of(material)
        return tuple(sorted_by_distance(bands, position, tolerance))

    def groups_near(self, position: float, tolerance: float = 0.0) -> tuple[GroupRange, ...]:
        """Return the functional groups whose range reaches a position, the nearest first."""
        return tuple(sorted_by_distance(self.groups, position, tolerance))

    def changes_of(self, material: str) -> tuple[ProcessChange, ...]:
        """Return the process changes known for a material, those known for any material included."""
        name = self.resolve(material)
        return tuple(change for change in self.changes if change.concerns(name))

    def cite(self, record: Cited) -> str:
        """Return the citations of a record, joined by "; "."""
        return "; ".join(self.sources[key].citation for key in self._keys(record))

    def _keys(self, record: Cited) -> tuple[str, ...]:
        """Keys of a record's sources; a citation that holds a semicolon is one source all the same."""
        known = any(key in self.sources for key in record.sources)
        return record.sources if known and record.source not in self.sources else (record.source,)

    def with_names(self, names: Iterable[Name]) -> BandTable:
        """Return the table with names added; a name that stands for two materials is an error."""
        known, lookup = dict(self.names), dict(self._lookup)
        for entry in names:
            known[entry.name] = entry
            for word in (entry.name, *entry.synonyms):
                other = lookup.setdefault(_folded(word), entry.name)
                if other != entry.name:
                    raise BandTableError(
                        f"{entry.origin}, column 'synonyms': {word!r} already stands for {other!r}; "
                        "expected every name to mean one material"
                    )
        return replace(self, names=known, _lookup=lookup)

    def with_records(self, records: Iterable[Cited], *, strict: bool) -> BandTable:
        """Return the table with rows added.

        Parameters
        ----------
        records
            Bands, groups and changes.
        strict
            Refuse sources and materials that are not listed. Otherwise a source cell that is no key is
            taken as the citation itself, and a new material is given a name of its own.

        Raises
        ------
        BandTableError
            Naming file, line and cell.
        """
        records = list(records)
        table = self if strict else self._with_listed(records)
        named = [table._checked(record) for record in records]
        return replace(
            table,
            bands=table.bands + tuple(r for r in named if isinstance(r, Band)),
            groups=table.groups + tuple(r for r in named if isinstance(r, GroupRange)),
            changes=table.changes + tuple(r for r in named if isinstance(r, ProcessChange)),
        )

    def _with_listed(self, records: Iterable[Cited]) -> BandTable:
        """List the materials and citations that the rows bring along."""
        sources, names = dict(self.sources), {}
        for record in records:
            for key in self._keys(record):
                sources.setdefault(key, Source(key, title=key, read="the user's table"))
            if isinstance(record, Band) and _folded(record.material) not in self._lookup:
                family = record.origin.split(".csv")[0]
                names[_folded(record.material)] = Name(record.material, family, origin=record.origin)
        return replace(self, sources=sources).with_names(names.values())

    def _checked(self, record: Cited) -> Cited:
        """Return the record under its canonical material name, its sources known and fitting."""
        for key in self._keys(record):
            if key not in self.sources:
                near = difflib.get_close_matches(key, self.sources, n=1, cutoff=0.4)
                hint = f"; nearest: {near[0]}" if near else ""
                raise BandTableError(
                    f"{record.origin}, column 'source': found {key!r}; expected a key of sources.toml{hint}"
                )
        try:
            if isinstance(record, Band):
                return replace(record, material=self.resolve(record.material))
            if isinstance(record, ProcessChange):
                names = tuple(n if n == "any" else self.resolve(n) for n in record.materials)
                return replace(record, materials=names)
        except BandTableError as error:
            raise BandTableError(f"{record.origin}: {error}") from error
        return record


def sorted_by_distance(rows: Iterable[R], position: float, tolerance: float) -> list[R]:
    """Return the rows that reach a position, sorted by the distance of their usual position."""
    fitting = [row for row in rows if row.distance(position) <= tolerance]
    return sorted(fitting, key=lambda row: (abs(row.centre - position), row.high - row.low, row.origin))


def _folded(name: str) -> str:
    """Return a name without case, hyphens and repeated blanks: how people vary it."""
    kept = "".join(letter if letter.isalnum() or letter in "(),'" else " " for letter in name.casefold())
    return " ".join(kept.split())
