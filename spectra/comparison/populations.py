"""One population of spots or two: spots that are coated and spots that are hardly.

The spots, in order of amount, are cut where the two parts differ most for their own scatter: the largest
ratio of the variation between two parts to that within them (Engelman & Hartigan, J. Am. Stat. Assoc. 64,
1647, 1969): the likelihood of a mixture of two against one, every spot counted to one of them. Its chance
under one population comes from drawn samples with the specimens, spots and scatter of the data, so that
specimens which differ are not taken for populations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import split_scatter
from spectra.comparison.settings import ComparisonSettings
from spectra.units import FloatArray


@dataclass(frozen=True)
class Populations:
    """How many populations the spots show.

    Attributes
    ----------
    count : int or None
        1, 2, or None with too few spots to tell.
    p_value : float or None
        Chance of a cut as clear in one population.
    low, high : float or None
        Mean amounts of the two parts, whether or not they count as two populations.
    share_low : float or None
        Share of the spots in the lower part.
    apart : float or None
        Distance of the parts in units of their own scatter.
    """

    count: int | None
    p_value: float | None = None
    low: float | None = None
    high: float | None = None
    share_low: float | None = None
    apart: float | None = None


def count_populations(amounts: Amounts, settings: ComparisonSettings) -> Populations:
    """Say whether the spots show one population or two.

    Parameters
    ----------
    amounts : Amounts
    settings : ComparisonSettings

    Returns
    -------
    Populations
    """
    if len(amounts) < settings.populations_spots or not np.ptp(amounts.values):
        return Populations(None)
    ordered = np.sort(amounts.values)
    share = settings.populations_share
    ratios = cut_ratios(ordered[None, :], share)[0]
    cut = int(np.argmax(ratios)) + _least(ordered.size, share)
    below, above = ordered[:cut], ordered[cut:]
    squares = float(((below - below.mean()) ** 2).sum() + ((above - above.mean()) ** 2).sum())
    scatter = float(np.sqrt(squares / (ordered.size - 2)))
    apart = float((above.mean() - below.mean()) / max(scatter, 1e-300))
    drawn = cut_ratios(np.sort(_drawn(amounts, settings), axis=1), share).max(axis=1)
    chance = float((1 + np.count_nonzero(drawn >= ratios.max())) / (1 + settings.draws))
    two = chance <= settings.populations_alpha and apart >= settings.populations_apart
    return Populations(
        2 if two else 1, chance, float(below.mean()), float(above.mean()), cut / ordered.size, apart
    )


def cut_ratios(ordered: FloatArray, share: float) -> FloatArray:
    """Return variation between two parts over that within, for every cut of rows in rising order.

    Parameters
    ----------
    ordered : ndarray, shape (d, m)
    share : float
        Of the spots that a part has at least.

    Returns
    -------
    ndarray, shape (d, cuts)

    Examples
    --------
    >>> cut_ratios(np.array([[0.0, 1.0, 4.0, 5.0]]), 0.1)
    array([[16.]])
    """
    count = ordered.shape[1]
    least = _least(count, share)
    sums, squares = np.cumsum(ordered, axis=1), (ordered**2).sum(axis=1)[:, None]
    cuts = np.arange(least, count - least + 1)
    below, total = sums[:, cuts - 1], sums[:, -1:]
    means = below**2 / cuts + (total - below) ** 2 / (count - cuts)
    between = means - total**2 / count
    return np.asarray(between / np.maximum(squares - means, 1e-12 * between))


def _least(count: int, share: float) -> int:
    """Fewest spots of a part."""
    return max(2, int(np.ceil(share * count)))


def _drawn(amounts: Amounts, settings: ComparisonSettings) -> FloatArray:
    """Draw samples of one population, shape (draws, m), with the specimens and the scatter of the data."""
    found = split_scatter(amounts)
    rng = np.random.default_rng(settings.seed)
    place = np.array([amounts.pieces.index(name) for name in amounts.specimens])
    within = found.within if found.within is not None else found.total
    between = found.between or 0.0
    spots = rng.normal(size=(settings.draws, len(amounts))) * np.sqrt(within)
    pieces = rng.normal(size=(settings.draws, found.specimens)) * np.sqrt(between)
    return np.asarray(spots + pieces[:, place])
