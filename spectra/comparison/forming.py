"""Amounts by spot from the joint model, with the error that bare spots give them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.detection.capability import Yardstick
from spectra.detection.least_squares import fit_shapes, specimen_means
from spectra.findings import Presence
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.variation.model import Variation, orthonormal


@dataclass(frozen=True)
class SpotError:
    """Error of one spot's amount: variance of a bare unit and of a spot, the specimens' share, degrees."""

    unit: float
    variance: float
    share: float | None
    degrees: float


def spot_error(i: int, variation: Variation, yardstick: Yardstick) -> SpotError:
    """Return the error of one spot's amount of coating ``i``, as bare spots show it.

    A bare unit is the mean of its spots: one spot has a larger variance, of which the specimens' share is
    known only where bare specimens hold several.
    """
    widening = yardstick.widenings[i]
    unit, spot = float(yardstick.errors[i] * widening.factor) ** 2, 1.0
    if variation.share is not None:
        spot = 1.0 / (variation.share + (1.0 - variation.share) / variation.per_unit)
    return SpotError(unit, unit * spot, 0.0 if variation.one_specimen else variation.share, widening.degrees)


def level_contact(
    values: FloatArray, raw: Stack, variation: Variation, yardstick: Yardstick, least: float
) -> FloatArray:
    """Take the contact of every ATR spot out of its amounts; the sample's own amounts stay as they are.

    The substrate and the film on it are seen through the same contact: A = -log10(1 - p (1 - R)), so a
    relative change of p adds (10^A - 1) / ln 10 times itself to the substrate's spectrum. Without this, spots
    that touch more of the crystal would pass for thicker coating.

    Parameters
    ----------
    values : ndarray, shape (m, j)
        Amount of every coating in every spot.
    raw : Stack
    variation : Variation
    yardstick : Yardstick
    least : float
        Of the bare spots' mean contact, and its inverse: a spot beyond is not levelled further.

    Returns
    -------
    ndarray, shape (m, j)
        With the same mean of the specimens' means.
    """
    spots = variation.whiten(variation.reduction.apply(raw.absorbance)) - variation.whitened.mean(axis=0)
    rows = np.vstack([variation.contacts[-1] / np.log(10.0), yardstick.shapes])
    contact = 1.0 + fit_shapes(orthonormal(variation.fixed), rows, spots).amounts[:, 0]
    levelled = values / np.clip(contact, least, 1.0 / least)[:, None]
    before, after = (specimen_means(rows, raw.specimens).mean(axis=0) for rows in (values, levelled))
    return np.asarray(np.where(before * after > 0.0, levelled * before / np.where(after, after, 1.0), values))


def form_amounts(
    values: FloatArray,
    specimens: tuple[str, ...],
    i: int,
    variation: Variation,
    yardstick: Yardstick,
    films: tuple[Shape, Presence],
) -> Amounts:
    """Put the error of the bare spots beside the amounts of one coating.

    Parameters
    ----------
    values : ndarray, shape (m,)
        From ``detection.capability.spot_amounts``.
    specimens : tuple of str, length m
    i : int
        The coating's place in the yardstick.
    variation : Variation
    yardstick : Yardstick
    films : Shape and Presence
        Of the coating on the sample: its thickness, where it was found, says what an amount is in nm.

    Returns
    -------
    Amounts
    """
    (shape, presence), error = films, spot_error(i, variation, yardstick)
    return Amounts(
        values,
        specimens,
        spot_variance=error.variance,
        specimen_share=error.share,
        least_variance=0.0 if variation.share is None else error.unit,
        bare_variance=error.unit / len(variation),
        degrees=error.degrees,
        bare_units=len(variation),
        nm_per_amount=_nm_per_amount(shape, presence),
        nm_error=float(np.hypot(shape.contact_error, yardstick.contact_scatter / np.sqrt(len(variation)))),
    )


def _nm_per_amount(shape: Shape, presence: Presence) -> float | None:
    """Return the thickness of a unit of amount: the sample's own where found, so that all lengths agree."""
    if presence.thickness_nm and presence.amount and presence.amount > 0.0:
        return presence.thickness_nm / presence.amount
    return shape.nm_per_amount
