"""Two sources of one material: the same within the margin, different (which bands), or cannot tell.

Every neat spectrum is a unit. Each band is measured in each spectrum; position and height against the other
bands are compared between the sources with Welch's t. ``same`` needs every interval inside its margin
(intersection-union); ``different`` an interval wholly outside one, at a level corrected for all bands and
both questions (Bonferroni); a band that all spectra of one source show and none of the other is different.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL
from spectra.peaks.finding import Peak, find_peaks
from spectra.peaks.settings import PeakSettings
from spectra.preprocessing.baseline import bridge
from spectra.spectrum import Stack
from spectra.statistics import critical_factor
from spectra.units import FloatArray

SAME, DIFFERENT = "same", "different"


@dataclass(frozen=True)
class BandCompared:
    """One band in two sources.

    Attributes
    ----------
    position : float, cm-1
        In the mean of both.
    shift, shift_low, shift_high : float or None, cm-1
        Second source minus first; None where one of them does not show the band.
    ratio, ratio_low, ratio_high : float or None
        Height against the other bands, second over first.
    verdict
        ``same``, ``different`` or ``cannot tell``.
    """

    position: float
    shift: float | None
    shift_low: float | None
    shift_high: float | None
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    verdict: str


@dataclass(frozen=True)
class MaterialsCompared:
    """Two neat sets of one material.

    Attributes
    ----------
    coatings : tuple of two str
    material : str
    verdict
        ``same``, ``different`` or ``cannot tell``.
    bands : tuple of BandCompared
        By rising wavenumber.
    spectra : tuple of two int
    """

    coatings: tuple[str, str]
    material: str
    verdict: str
    bands: tuple[BandCompared, ...]
    spectra: tuple[int, int]


def compare_sources(
    sources: tuple[Stack, Stack],
    names: tuple[str, str],
    material: str,
    peaks: PeakSettings,
    decision: DecisionSettings,
    same_band: float,
) -> MaterialsCompared:
    """Compare two neat sets, baselines removed, on one grid.

    Parameters
    ----------
    sources : tuple of two Stack
    names : tuple of two str
    material : str
    peaks : PeakSettings
    decision : DecisionSettings
        ``margin``, ``ratio_margin``, ``confidence`` and ``alpha``.
    same_band : float
        Share of a band's width within which it is the same band in another spectrum.

    Returns
    -------
    MaterialsCompared
        ``cannot tell`` with fewer than two spectra of either.
    """
    sizes = (len(sources[0]), len(sources[1]))
    if min(sizes) < 2:
        return MaterialsCompared(names, material, CANNOT_TELL, (), sizes)
    rows = [bridge(stack) for stack in sources]
    grid, middle = sources[0].grid, (rows[0].mean(axis=0) + rows[1].mean(axis=0)) / 2.0
    bands = find_peaks(grid, middle, peaks)
    measured = [_measure(bands, grid, source, peaks, same_band) for source in rows]
    compared = tuple(
        _compare(
            band,
            [places[:, i] for places, _ in measured],
            [h[:, i] for _, h in measured],
            len(bands),
            decision,
        )
        for i, band in enumerate(bands)
    )
    return MaterialsCompared(names, material, _overall(compared), compared, sizes)


def _measure(
    bands: Sequence[Peak], grid: FloatArray, rows: FloatArray, settings: PeakSettings, same_band: float
) -> tuple[FloatArray, FloatArray]:
    """Position and log height of every band in every spectrum, shape (m, bands); NaN where it is not found.

    Heights are taken against the median of the spectrum's own bands, so that contact cancels.
    """
    places = np.full((len(rows), len(bands)), np.nan)
    heights = np.full((len(rows), len(bands)), np.nan)
    for k, row in enumerate(rows):
        found = find_peaks(grid, row, settings)
        for i, band in enumerate(bands):
            near = min(found, key=lambda peak: abs(peak.position - band.position), default=None)
            if (
                near is not None
                and abs(near.position - band.position) < same_band * band.width
                and near.height > 0
            ):
                places[k, i], heights[k, i] = near.position, np.log(near.height / band.height)
    usual = np.array([np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else 0.0 for row in heights])
    return places, heights - usual[:, None]


def _compare(
    band: Peak,
    places: Sequence[FloatArray],
    heights: Sequence[FloatArray],
    count: int,
    decision: DecisionSettings,
) -> BandCompared:
    """Compare one band."""
    known = [np.isfinite(values) for values in places]
    nothing = (None, None, None)
    if any(k.sum() < 2 for k in known):
        gone = any(k.all() for k in known) and any(not k.any() for k in known)
        return BandCompared(band.position, *nothing, *nothing, DIFFERENT if gone else CANNOT_TELL)
    place = _welch(*(values[k] for values, k in zip(places, known, strict=True)))
    height = _welch(*(values[k] for values, k in zip(heights, known, strict=True)))
    margins = (decision.margin, float(np.log1p(decision.ratio_margin)))
    strict = 1.0 - decision.alpha / (2 * count)
    apart = any(_outside(*item, strict, m) for item, m in zip((place, height), margins, strict=True))
    inside = all(
        _inside(*item, decision.confidence, m) for item, m in zip((place, height), margins, strict=True)
    )
    low, high = _ends(*place, decision.confidence)
    ratio = [float(np.exp(value)) for value in (height[0], *_ends(*height, decision.confidence))]
    verdict = DIFFERENT if apart else SAME if inside else CANNOT_TELL
    return BandCompared(band.position, place[0], low, high, ratio[0], ratio[1], ratio[2], verdict)


def _welch(one: FloatArray, other: FloatArray) -> tuple[float, float, float]:
    """Difference, its standard error and degrees of freedom (Welch, Biometrika 34, 28, 1947)."""
    parts = np.array([np.var(values, ddof=1) / values.size for values in (one, other)])
    free = np.array([one.size - 1.0, other.size - 1.0])
    total = float(parts.sum())
    degrees = total**2 / float((parts**2 / free).sum()) if total else float(free.min())
    return float(other.mean() - one.mean()), float(np.sqrt(total)), degrees


def _ends(value: float, error: float, degrees: float, level: float) -> tuple[float, float]:
    half = critical_factor((1.0 - level) / 2.0, degrees) * error
    return value - half, value + half


def _outside(value: float, error: float, degrees: float, level: float, margin: float) -> bool:
    low, high = _ends(value, error, degrees, level)
    return low > margin or high < -margin


def _inside(value: float, error: float, degrees: float, level: float, margin: float) -> bool:
    low, high = _ends(value, error, degrees, level)
    return low > -margin and high < margin


def _overall(bands: Sequence[BandCompared]) -> str:
    """Return the verdict of all bands together."""
    verdicts = {band.verdict for band in bands}
    if DIFFERENT in verdicts:
        return DIFFERENT
    return SAME if verdicts == {SAME} else CANNOT_TELL
