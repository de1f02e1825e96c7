"""How much on every specimen, spot by spot, all from the joint model."""

from __future__ import annotations

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.findings import SpecimenAmount
from spectra.statistics import critical_factor


def amounts_by_specimen(amounts: Amounts, level: float) -> tuple[SpecimenAmount, ...]:
    """Return the amount on every specimen with its interval.

    Parameters
    ----------
    amounts : Amounts
    level : float
        Of the intervals, which are those of measuring: bare specimens' scatter and that of the bare mean.

    Returns
    -------
    tuple of SpecimenAmount
        In units of the neat spectrum, in order of first appearance; their mean is the sample's amount.

    Examples
    --------
    >>> spots = Amounts(np.array([1.0, 3.0, 5.0]), ("a", "a", "b"), spot_variance=0.25, degrees=8.0)
    >>> [(item.specimen, item.amount, round(item.amount_low, 2)) for item in amounts_by_specimen(spots, 0.95)]
    [('a', 2.0, 0.85), ('b', 5.0, 3.85)]
    """
    reach = critical_factor(0.5 * (1.0 - level), amounts.degrees)
    half = reach * np.sqrt(amounts.piece_variances + amounts.bare_variance)
    place = np.array(amounts.specimens)
    return tuple(
        SpecimenAmount(
            name,
            float(mean),
            float(mean - half[i]),
            float(mean + half[i]),
            tuple(float(value) for value in amounts.values[place == name]),
        )
        for i, (name, mean) in enumerate(zip(amounts.pieces, amounts.means, strict=True))
    )
