"""Coherence: a material's expected bands beside the bands that were found.

A position fits when it lies within two combined uncertainties of a row: the table's window, the band's own
error and what instruments differ by. Strong bands carry the weight, since a table may leave out weak ones. A
missing band that would lie on the flank of a higher one is hidden and speaks neither way. Strength is shown
beside each match and rejects nothing: on mixtures, where bands of several materials add up, rejecting by
strength lost more true materials than false ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reference_bands import Band, BandTable
from reference_bands.records import Range
from spectra.assignment.features import NOMINAL, Feature, features_of
from spectra.assignment.settings import MatchingSettings
from spectra.errors import SpectraError
from spectra.spectrum import Frozen, read_only
from spectra.units import FloatArray

FOUND, MISSING, HIDDEN = "found", "missing", "hidden"

NARROWEST_BROAD = 30.0  # cm-1: a row marked "broad" is not met by a band narrower than this; our own choice

WIDEST_SHARP = 15.0  # cm-1: nor one marked "sharp" by a band wider than this


@dataclass(frozen=True, eq=False)
class FoundBands(Frozen):
    """Bands found in a spectrum.

    Parameters
    ----------
    positions, errors : array_like, shape (n,), cm-1
        Position and its standard error.
    heights : array_like, shape (n,)
        Above the baseline, any unit, one for all.
    widths : array_like, shape (n,), cm-1
        Full width at half height.
    covered : tuple of float, cm-1
        Lowest and highest wavenumber at which a band would have been found.
    masked : tuple of tuple of float, cm-1
        Ranges in which none could be found.

    Raises
    ------
    SpectraError
        If the arrays differ in length or hold a number that is not finite.
    """

    positions: FloatArray
    errors: FloatArray
    heights: FloatArray
    widths: FloatArray
    covered: tuple[float, float]
    masked: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        for name in ("positions", "errors", "heights", "widths"):
            values = read_only(getattr(self, name))
            if values.ndim != 1 or values.shape != np.shape(self.positions):
                raise SpectraError(
                    f"found bands: {name} has shape {values.shape}; "
                    f"expected one number for each of the {np.size(self.positions)} positions"
                )
            if not np.all(np.isfinite(values)):
                raise SpectraError(f"found bands: {name} holds a value that is not a number; leave it out")
            object.__setattr__(self, name, values)

    def visible(self, position: float) -> bool:
        """Tell whether a band at a position would have been found."""
        low, high = self.covered
        return low <= position <= high and not any(a <= position <= b for a, b in self.masked)


@dataclass(frozen=True)
class Match:
    """One expected band beside what was found.

    Attributes
    ----------
    feature : Feature
    state
        ``"found"``, ``"missing"`` or ``"hidden"`` (would lie on the flank of a higher band).
    row : Band
        The row that fits best; the first row of the feature where none was found.
    index
        Which found band, or None.
    distance, uncertainty
        Found minus usual position and its combined uncertainty, cm-1; None where not found.
    strength_ratio
        Height over the height expected beside the material's other strong bands; None where not found. Far
        below 1 speaks against the material; far above 1 means that something else absorbs here too.
    width_fits
        Whether the width suits the shape of the row: a broad or sharp row is met by no other band. None where
        not found or the row gives no shape.
    """

    feature: Feature
    state: str
    row: Band
    index: int | None = None
    distance: float | None = None
    uncertainty: float | None = None
    strength_ratio: float | None = None
    width_fits: bool | None = None


def uncertainty(
    row: Range, positions: ArrayLike, errors: ArrayLike, settings: MatchingSettings
) -> FloatArray:
    """Return the combined uncertainty of found positions against a row.

    The window is taken as a rectangular distribution on the side the position lies (JCGM 100:2008, 4.3.7),
    combined in quadrature with the position's own error and the spread between instruments.

    Parameters
    ----------
    row : Range
    positions, errors : array_like, shape (n,) or scalar, cm-1
    settings : MatchingSettings

    Returns
    -------
    ndarray, shape of ``positions``, cm-1

    Examples
    --------
    >>> row = Band(material="x", low=1716, typical=1724, high=1732, strength="vs",
    ...            vibration="C=O stretch", source="a", checked="read")
    >>> uncertainty(row, 1726.0, 1.0, MatchingSettings()).round(2)
    np.float64(5.6)
    """
    half = np.where(np.asarray(positions) >= row.centre, row.high - row.centre, row.centre - row.low)
    return np.sqrt(np.square(errors) + half**2 / 3.0 + settings.spread**2)


def match_material(
    material: str, found: FoundBands, table: BandTable, settings: MatchingSettings
) -> tuple[Match, ...]:
    """Put every visible expected band of a material beside the found bands.

    Returns
    -------
    tuple of Match
        By falling wavenumber.
    """
    features = [
        feature
        for feature in features_of(material, table, settings.features)
        if any(found.visible(row.centre) for row in feature.rows)
    ]
    fits = [_best_fit(feature, found, settings) for feature in features]
    scales = _scales(fits, found)
    return tuple(_judged(match, scales, found) for match in fits)


def is_coherent(matches: Sequence[Match], settings: MatchingSettings) -> bool:
    """Tell whether enough of a material's strong bands are there; hidden ones speak neither way."""
    strong = [match for match in matches if match.feature.required]
    visible = [match for match in strong if match.state != HIDDEN]
    there = [match for match in visible if match.state == FOUND]
    telling = [m for m in fitting(matches) if m.feature.nominal >= NOMINAL["m"]]
    return (
        bool(there)
        and len(telling) >= settings.least
        and len(there) >= settings.seen * len(strong)
        and nominal(there) >= settings.coherence * nominal(visible)
    )


def fitting(matches: Sequence[Match]) -> tuple[Match, ...]:
    """Return the matches that were found."""
    return tuple(match for match in matches if match.state == FOUND)


def nominal(matches: Sequence[Match]) -> float:
    """Return the summed expected heights, in units of a very strong band."""
    return sum(match.feature.nominal for match in matches)


def _best_fit(feature: Feature, found: FoundBands, settings: MatchingSettings) -> Match:
    """Return the row and found band that agree best, or a missing match."""
    best, closest = Match(feature, MISSING, feature.rows[0]), np.inf
    for row in feature.rows if found.positions.size else ():
        distances = found.positions - row.centre
        wide = uncertainty(row, found.positions, found.errors, settings)
        closeness = np.where(_width_fits(row, found.widths), np.abs(distances) / wide, np.inf)
        index = int(np.argmin(closeness))
        if closeness[index] <= settings.limit and closeness[index] < closest:
            closest = closeness[index]
            best = Match(feature, FOUND, row, index, float(distances[index]), float(wide[index]))
    return best


def _scales(matches: Sequence[Match], found: FoundBands) -> tuple[float, float]:
    """Return how high a "very strong" band of the material is: at least, and on the whole."""
    heights = [
        found.heights[m.index] / m.feature.nominal
        for m in matches
        if m.index is not None and m.feature.required
    ]
    return (float(np.min(heights)), float(np.median(heights))) if heights else (0.0, 0.0)


def _judged(match: Match, scales: tuple[float, float], found: FoundBands) -> Match:
    """Add strength and width to a match; a missing band on the flank of a higher one is hidden."""
    least, usual = (scale * match.feature.nominal for scale in scales)
    if match.index is None:
        return replace(match, state=HIDDEN if _hidden(match.feature, least, found) else MISSING)
    ratio = float(found.heights[match.index]) / usual if usual > 0 else None
    shown = bool(_width_fits(match.row, found.widths[match.index])) if match.row.shape else None
    return replace(match, strength_ratio=ratio, width_fits=shown)


def _hidden(feature: Feature, expected: float, found: FoundBands) -> bool:
    """Tell whether a band could lie unseen on the flank of a higher one, within its full width."""
    near = np.abs(found.positions - feature.position) <= found.widths
    return bool(np.any(near & (found.heights >= expected)))


def _width_fits(row: Band, widths: FloatArray) -> NDArray[np.bool_]:
    """Tell which widths suit the shape a row gives."""
    if row.shape == "broad":
        return np.asarray(widths) >= NARROWEST_BROAD
    if row.shape == "sharp":
        return np.asarray(widths) <= WIDEST_SHARP
    return np.full(np.shape(widths), True)
