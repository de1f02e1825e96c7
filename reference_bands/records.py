"""Records of the tables, and the words their cells may hold.

A band row says where a material absorbs, how strongly, by which vibration, in which state, who says so and
how sure that is. Positions are wavenumbers in cm-1. The words are those of the trade; the lists below are
complete, and a cell that uses another word is an error.
"""

from __future__ import annotations

from dataclasses import dataclass

LOWEST, HIGHEST = 200.0, 4000.0  # cm-1: the mid infrared with a little margin below

STRENGTHS = {
    "vs": "very strong", "s": "strong", "m": "medium", "w": "weak", "v": "variable", "": "not stated",
}  # fmt: skip

SHAPES = ("", "sharp", "broad", "shoulder")

TECHNIQUES = ("", "ATR", "transmission", "diffuse reflectance")

# read: the number stood in a passage that was read, and the publication is known. unidentified: it stood in
# a passage, but whose it is is not known, so it is never cited as a publication. memory: recalled, not read
# again. computed: the maximum of a published absorption index k.
CHECKED = ("read", "unidentified", "memory", "computed")

# Where the limits low and high come from. ours: the source gives one number and the width is our choice.
WINDOWS = ("source", "ours", "memory")

# The last words of every part of a vibration: "CH3 rock + C-C stretch" is two parts.
MODES = (
    "stretch",
    "symmetric stretch",
    "asymmetric stretch",
    "bend",
    "in-plane bend",
    "out-of-plane bend",
    "deformation",
    "symmetric deformation",
    "asymmetric deformation",
    "scissor",
    "wag",
    "twist",
    "rock",
    "ring stretch",
    "ring deformation",
    "ring vibration",
    "skeletal vibration",
    "libration",
    "lattice vibration",
    "two-phonon absorption",
    "rotation-vibration lines",
    "combination",
    "overtone",
    "amide A",
    "amide B",
    "amide I",
    "amide II",
    "amide III",
    "amide V",
    "not assigned",
)

CHANGES = ("appears", "grows", "shrinks", "disappears", "shifts", "splits", "merges", "varies")


@dataclass(frozen=True)
class Source:
    """Where a number was found; what is not known stays empty.

    Attributes
    ----------
    key
        As written in the ``source`` column.
    authors, title, published, year, doi
        Of the publication; ``published`` is the journal or book with volume and pages.
    about
        What it is, where the title is not known.
    read
        Which part was read (``"abstract"``, ``"Table 2"``); empty when nothing was.
    seen_at
        Address where it was read.
    note
        What the reader should know about it.
    """

    key: str
    authors: str = ""
    title: str = ""
    about: str = ""
    published: str = ""
    year: int | None = None
    doi: str = ""
    read: str = ""
    seen_at: str = ""
    note: str = ""

    @property
    def identified(self) -> bool:
        """Whether a reader could find it: it has a title, a journal or book, or a DOI.

        Examples
        --------
        >>> Source("a", title="A spectrum").identified, Source("b", about="Passage on gelatin").identified
        (True, False)
        """
        return bool(self.title or self.published or self.doi)

    @property
    def citation(self) -> str:
        """The source in one line, saying what was read or that nothing was.

        Examples
        --------
        >>> Source("a", authors="Liang, Krimm", published="J. Polym. Sci. 27:241", year=1958).citation
        'Liang, Krimm, J. Polym. Sci. 27:241, 1958 (recalled, not read again)'
        """
        year = "" if self.year is None else str(self.year)
        doi = f"doi:{self.doi}" if self.doi else ""
        about = f"[{self.about}]" if self.about else ""
        parts = [part for part in (self.authors, self.title, about, self.published, year, doi) if part]
        how = f"read: {self.read}" if self.read else "recalled, not read again"
        if self.read and not self.identified:
            how = f"{how}; source not identified"
        return f"{', '.join(parts)} ({how})"


@dataclass(frozen=True, kw_only=True)
class Sourced:
    """A stretch of the spectrum, what vibrates there, and who says so.

    Attributes
    ----------
    low, typical, high
        Window and usual position, cm-1; ``low <= typical <= high``. None where the source gives a range
        and no position within it.
    vibration
        Parts joined by " + " or " or ", each ending in one of :data:`MODES`.
    source
        Keys of :class:`Source`, joined by "; ".
    checked
        Member of :data:`CHECKED`.
    window
        Member of :data:`WINDOWS`: who chose ``low`` and ``high``.
    note
        What else matters, disagreements included.
    origin
        File and line of the row.
    """

    low: float
    typical: float | None
    high: float
    vibration: str
    source: str
    checked: str
    window: str = "ours"
    note: str = ""
    origin: str = ""

    @property
    def sources(self) -> tuple[str, ...]:
        """Keys of the sources, one by one."""
        return tuple(key.strip() for key in self.source.split(";") if key.strip())

    @property
    def centre(self) -> float:
        """Usual position; of a range without one its middle, for sorting and matching only, cm-1."""
        return (self.low + self.high) / 2.0 if self.typical is None else self.typical

    @property
    def place(self) -> str:
        """Where it absorbs, in cm-1, as the source gives it: a position or a range.

        Examples
        --------
        >>> row = Sourced(
        ...     low=1650, typical=None, high=1680, vibration="C=O stretch", source="a", checked="read"
        ... )
        >>> row.place
        '1650 to 1680'
        """
        return f"{self.low:g} to {self.high:g}" if self.typical is None else f"{self.typical:g}"

    def distance(self, position: float) -> float:
        """Return how far ``position`` lies outside the window, cm-1; 0 inside."""
        return max(self.low - position, position - self.high, 0.0)


@dataclass(frozen=True, kw_only=True)
class Range(Sourced):
    """Where something absorbs.

    Attributes
    ----------
    strength
        Key of :data:`STRENGTHS`, relative to the strongest band of the same spectrum; empty where the source
        gives none.
    shape
        Member of :data:`SHAPES`; empty for an ordinary band.
    technique
        Member of :data:`TECHNIQUES`; empty where the source does not say.
    state
        When the row holds ("crystalline", "calcium salt", "hydrated"); empty for always.
    low, typical, high, vibration, source, checked, window, note, origin
        As in :class:`Sourced`.
    """

    strength: str
    shape: str = ""
    technique: str = ""
    state: str = ""

    @property
    def assignment(self) -> str:
        """The vibration, with the state it holds for in brackets."""
        return f"{self.vibration} ({self.state})" if self.state else self.vibration

    @property
    def strong(self) -> bool:
        """Whether the band is strong or very strong."""
        return self.strength in ("s", "vs")


@dataclass(frozen=True, kw_only=True)
class Band(Range):
    """One band of one material."""

    material: str

    @property
    def name(self) -> str:
        """The material."""
        return self.material


@dataclass(frozen=True, kw_only=True)
class GroupRange(Range):
    """The general correlation range of one functional group.

    Attributes
    ----------
    look_for
        Other bands the group shows, cm-1, by common practice: they tell it from groups that absorb here too.
    """

    group: str
    look_for: tuple[float, ...] = ()

    @property
    def name(self) -> str:
        """The functional group."""
        return self.group


@dataclass(frozen=True, kw_only=True)
class ProcessChange(Sourced):
    """What a process does to a band; the window is where the band is looked for, before or after.

    Attributes
    ----------
    process
        Name of the process.
    materials
        Canonical material names it is known for; ``("any",)`` for all.
    change
        Member of :data:`CHANGES`.
    shift_low, shift_high
        Signed size of a shift in cm-1, smaller number first; None where no size is known.
    shift_checked
        As ``checked``, for the size alone; empty without a size.
    low, typical, high, vibration, source, checked, window, note, origin
        As in :class:`Sourced`.
    """

    process: str
    materials: tuple[str, ...]
    change: str
    shift_low: float | None = None
    shift_high: float | None = None
    shift_checked: str = ""

    def concerns(self, material: str) -> bool:
        """Tell whether the change is known for the material (canonical name)."""
        return material in self.materials or "any" in self.materials


@dataclass(frozen=True)
class Name:
    """A material's canonical name, family and other names."""

    name: str
    family: str
    synonyms: tuple[str, ...] = ()
    note: str = ""
    origin: str = ""
