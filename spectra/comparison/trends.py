"""Trend of the amount over the position of the spots: across the piece, and from the middle to the rim.

Least squares on the specimens' own positions, each specimen with its own mean, so that specimens which
differ are no trend. The two questions are corrected for each other (Holm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.replicates import group_rows
from spectra.statistics import critical_factor, holm, variance_ratio_exceedance
from spectra.units import FloatArray


@dataclass(frozen=True)
class Trend:
    """One kind of trend.

    Attributes
    ----------
    kind
        ``linear`` (across the piece) or ``radial`` (from the middle of the spots outwards).
    p_value, p_adjusted
        Chance of such a trend where there is none; after Holm over both kinds.
    change, change_low, change_high
        Change of the amount over the mean: linear, between the two ends of a piece along the steepest
        direction; radial, from the innermost spot to the outermost.
    direction_deg
        Of the steepest rise, from x towards y; None for radial.
    degrees : int
        Of the residuals.
    """

    kind: str
    p_value: float
    p_adjusted: float
    change: float
    change_low: float
    change_high: float
    direction_deg: float | None
    degrees: int


def find_trends(
    amounts: Amounts, positions: Sequence[tuple[float, float]], level: float
) -> tuple[Trend, ...]:
    """Fit a linear and a radial trend.

    Parameters
    ----------
    amounts : Amounts
    positions : sequence of (x, y)
        Of every spot, in any one unit.
    level : float
        Of the intervals.

    Returns
    -------
    tuple of Trend
        Linear, then radial; a kind that the positions cannot show is left out.
    """
    place = np.array(positions, dtype=np.float64)
    centred = _about_specimens(place, amounts)
    radius = _about_specimens(np.hypot(*_from_middle(place, amounts).T)[:, None], amounts)
    values = _about_specimens(amounts.values[:, None], amounts)[:, 0]
    found = [
        _fit("linear", centred, values, place, amounts, level),
        _fit("radial", radius, values, np.hypot(*_from_middle(place, amounts).T)[:, None], amounts, level),
    ]
    shown = [trend for trend in found if trend is not None]
    adjusted = holm(np.array([trend.p_value for trend in shown]))
    return tuple(_with(trend, float(p)) for trend, p in zip(shown, adjusted, strict=True))


def _about_specimens(columns: FloatArray, amounts: Amounts) -> FloatArray:
    """Return columns, shape (m, c), minus their mean on each specimen."""
    centred = np.array(columns, dtype=np.float64)
    for rows in group_rows(amounts.specimens):
        centred[list(rows)] -= centred[list(rows)].mean(axis=0)
    return centred


def _from_middle(place: FloatArray, amounts: Amounts) -> FloatArray:
    """Return positions from the middle of the range on each specimen."""
    moved = np.array(place)
    for rows in group_rows(amounts.specimens):
        piece = moved[list(rows)]
        moved[list(rows)] = piece - (piece.min(axis=0) + piece.max(axis=0)) / 2.0
    return moved


def _fit(
    kind: str, design: FloatArray, values: FloatArray, where: FloatArray, amounts: Amounts, level: float
) -> Trend | None:
    """Fit one kind; None where the positions do not vary or nothing is left to judge by."""
    rank = int(np.linalg.matrix_rank(design, tol=1e-9 * max(1.0, float(np.abs(where).max()))))
    degrees = len(amounts) - len(amounts.pieces) - rank
    if rank == 0 or degrees < 1:
        return None
    solved = np.linalg.lstsq(design, values, rcond=None)[0]
    rest = values - design @ solved
    noise = max(float(rest @ rest) / degrees, 1e-300)
    explained = float(values @ values - rest @ rest)
    chance = float(variance_ratio_exceedance(explained / rank / noise, rank, degrees))
    # Along the fitted direction: from the spot furthest back to the one furthest on, of one piece.
    steepest = solved / max(float(np.linalg.norm(solved)), 1e-300)
    places = where @ steepest
    along = max(float(np.ptp(places[list(rows)])) for rows in group_rows(amounts.specimens))
    change = along * float(np.linalg.norm(solved)) * (1.0 if kind == "linear" else float(np.sign(solved[0])))
    spread = design @ steepest
    half = along * critical_factor((1.0 - level) / 2.0, degrees) * np.sqrt(noise / float(spread @ spread))
    mean = amounts.mean
    ends = sorted(((change - half) / mean, (change + half) / mean))
    angle = float(np.degrees(np.arctan2(*solved[::-1]))) if kind == "linear" else None
    return Trend(kind, chance, chance, change / mean, float(ends[0]), float(ends[1]), angle, degrees)


def _with(trend: Trend, adjusted: float) -> Trend:
    return Trend(**{**vars(trend), "p_adjusted": adjusted})
