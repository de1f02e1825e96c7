"""Features: the bands a material is expected to show, rows of the tables that mean the same band joined.

Two sources that disagree by some cm-1, a crystalline and an amorphous position, or an ATR and a transmission
position are one expectation, not two.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from reference_bands import Band, BandTable
from reference_bands.records import Range
from spectra.assignment.settings import FeatureSettings

# Nominal height for a strength letter, relative to the strongest band. No standard defines the letters;
# the numbers are the middle of what is common practice. A band whose strength is not stated is taken as weak.
NOMINAL = {"vs": 1.0, "s": 0.5, "m": 0.2, "w": 0.07, "v": 0.2, "": 0.07}


@dataclass(frozen=True)
class Feature:
    """One expected band.

    Attributes
    ----------
    rows : tuple of Band
        The rows that mean it, strongest first.
    """

    rows: tuple[Band, ...] = field(repr=False)

    @property
    def position(self) -> float:
        """Usual position of its strongest row, cm-1."""
        return self.rows[0].centre

    @property
    def nominal(self) -> float:
        """Expected height relative to the material's strongest band."""
        return NOMINAL[self.rows[0].strength]

    @property
    def required(self) -> bool:
        """Whether the material cannot be there without it: strong, and not tied to one state."""
        states = {row.state for row in self.rows}
        return self.rows[0].strong and ("" in states or len(states) > 1)


def features_of(material: str, table: BandTable, settings: FeatureSettings) -> tuple[Feature, ...]:
    """Return the features of a material, by falling wavenumber.

    Raises
    ------
    BandTableError
        For an unknown material.

    Examples
    --------
    >>> from reference_bands import load
    >>> carbonyl = [f for f in features_of("PCL", load(), FeatureSettings()) if f.position > 1700][-1]
    >>> len(carbonyl.rows), carbonyl.required
    (2, True)
    """
    groups: list[list[Band]] = []
    for row in table.of(material):
        if is_region(row, settings):
            continue
        joined = [group for group in groups if any(_same(row, other, settings) for other in group)]
        groups = [group for group in groups if group not in joined]
        groups.append([*(other for group in joined for other in group), row])
    features = [Feature(tuple(sorted(group, key=_strongest_first))) for group in groups]
    return tuple(sorted(features, key=lambda feature: -feature.position))


def is_region(row: Range, settings: FeatureSettings) -> bool:
    """Tell whether a row describes a region of the spectrum, which any band would meet."""
    return row.high - row.low > settings.region and row.shape != "broad"


def _strongest_first(row: Band) -> tuple[float, bool, bool, str]:
    """Order of the rows in a feature: strong, unconditional and read before the rest."""
    return (-NOMINAL[row.strength], bool(row.state), row.checked != "read", row.origin)


def _same(one: Band, other: Band, settings: FeatureSettings) -> bool:
    """Tell whether two rows of a material mean one band."""
    apart = abs(one.centre - other.centre)
    if one.vibration == other.vibration and one.shape == other.shape == "broad":
        return max(one.low, other.low) - min(one.high, other.high) <= settings.same_vibration
    if one.vibration == other.vibration and (one.technique, one.state) != (other.technique, other.state):
        return apart <= settings.same_vibration
    return apart <= settings.same_band
