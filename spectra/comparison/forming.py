"""Amounts by spot from the joint model: one matrix product, the error from the bare spots.

A film too thick to be linear is read back through its computed response: its thickness is where the response,
seen through the same weights, equals the spot's amount. The sample's own amount, which is fitted to the whole
spectrum, anchors the scale, so that spots, specimens and sample tell one number.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.detection.capability import Yardstick, amount_weights, set_yardstick, spot_amounts
from spectra.detection.presence import LINEAR_NM
from spectra.detection.settings import PresenceSettings
from spectra.findings import Presence
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.variation.model import Variation

REACH, STEPS = 8.0, 80  # films up to so many times the sample's are looked up, at so many thicknesses


def form_amounts(
    raw: Stack,
    variation: Variation,
    shapes: Mapping[str, Shape],
    presence: Mapping[str, Presence],
    settings: PresenceSettings,
) -> dict[str, Amounts]:
    """Form the amounts of every coating in every spot of one sample.

    Parameters
    ----------
    raw : Stack
        Its spots as measured, on the common grid of the bare set.
    variation : Variation
        Learned from the bare spots.
    shapes : mapping of str to Shape
    presence : mapping of str to Presence
        Of the sample as a whole.
    settings : PresenceSettings

    Returns
    -------
    dict of str to Amounts
    """
    if not shapes:
        return {}
    curves = {name: variation.reduction.apply(shape.curve) for name, shape in shapes.items()}
    yardstick = set_yardstick(variation, curves, settings)
    spots, weights = spot_amounts(raw, variation, yardstick), amount_weights(variation, yardstick)
    return {
        name: _with_film(
            _linear(i, spots[:, i], raw.specimens, variation, yardstick, shape),
            weights[i],
            variation,
            shape,
            presence[name],
        )
        for i, (name, shape) in enumerate(shapes.items())
    }


def _linear(
    i: int,
    values: FloatArray,
    specimens: tuple[str, ...],
    variation: Variation,
    yardstick: Yardstick,
    shape: Shape,
) -> Amounts:
    """Take the amounts as they are, with their errors."""
    widening = yardstick.widenings[i]
    unit = float(yardstick.errors[i] * widening.factor) ** 2
    share = 0.0 if variation.one_specimen else variation.share
    spot = unit
    if variation.share is not None:
        # A bare unit is the mean of its spots.
        spot = unit / (variation.share + (1.0 - variation.share) / variation.per_unit)
    return Amounts(
        values,
        specimens,
        spot_variance=spot,
        specimen_share=share,
        least_variance=0.0 if variation.share is None else unit,
        bare_variance=unit / len(variation),
        degrees=widening.degrees,
        nm_per_amount=shape.nm_per_amount,
        nm_error=float(np.hypot(shape.contact_error, yardstick.contact_scatter / np.sqrt(len(variation)))),
    )


def _with_film(
    amounts: Amounts, weights: FloatArray, variation: Variation, shape: Shape, presence: Presence
) -> Amounts:
    """Read thick films back through their computed response, anchored at the sample's own thickness."""
    scale, nm = shape.nm_per_amount, presence.thickness_nm
    if shape.response is None or not scale or nm is None or nm < LINEAR_NM or presence.amount is None:
        return amounts
    films = np.linspace(0.0, REACH * nm, STEPS)
    seen = np.array([0.0, *(weights @ variation.reduction.apply(shape.response(d)) for d in films[1:])])
    rising = int(np.argmax(np.diff(seen) <= 0.0)) or seen.size - 1
    read = _read_back(amounts.values, seen[: rising + 1], films[: rising + 1]) / scale
    # How far a small change of the signal moves the amount: the errors grow as the film saturates.
    slope = float(np.interp(nm, films[1:], scale * np.diff(seen) / np.diff(films)))
    means = Amounts(read, amounts.specimens).mean
    anchor = presence.amount / means if means > 0.0 else 1.0
    growth = (anchor / slope) ** 2 if slope > 0.0 else 1.0
    return Amounts(
        read * anchor,
        amounts.specimens,
        amounts.spot_variance * growth,
        amounts.specimen_share,
        amounts.least_variance * growth,
        amounts.bare_variance * growth,
        amounts.degrees,
        scale,
        amounts.nm_error,
    )


def _read_back(values: FloatArray, seen: FloatArray, films: FloatArray) -> FloatArray:
    """Thickness of every spot; below nothing and above the highest film the line is carried on."""
    found = np.interp(values, seen, films)
    below = (values - seen[0]) * (films[1] - films[0]) / (seen[1] - seen[0])
    above = films[-1] + (values - seen[-1]) * (films[-1] - films[-2]) / (seen[-1] - seen[-2])
    return np.asarray(np.where(values < seen[0], below, np.where(values > seen[-1], above, found)))
