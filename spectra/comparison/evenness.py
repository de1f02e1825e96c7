"""How much and how evenly: amounts specimen by specimen, spot by spot, all from the joint model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.findings import SpecimenAmount
from spectra.replicates import group_rows
from spectra.units import FloatArray


def amounts_by_specimen(
    amounts: FloatArray, specimens: Sequence[str], errors: tuple[float, float, float]
) -> tuple[SpecimenAmount, ...]:
    """Return the amount on every specimen with its interval.

    Parameters
    ----------
    amounts : ndarray, shape (m,)
        Of every spot, from ``detection.capability.spot_amounts``.
    specimens : sequence of str, length m
    errors : (float, float, float)
        Error of one specimen's amount against the bare mean, its degrees of freedom, Student's factor.

    Returns
    -------
    tuple of SpecimenAmount
        In units of the neat spectrum, in order of first appearance; their mean is the sample's amount.

    Examples
    --------
    >>> found = amounts_by_specimen(np.array([1.0, 3.0, 5.0]), ("a", "a", "b"), (0.5, 8.0, 2.0))
    >>> [(item.specimen, item.amount, item.amount_low) for item in found]
    [('a', 2.0, 1.0), ('b', 5.0, 4.0)]
    """
    error, _, reach = errors
    found = []
    for rows in group_rows(specimens):
        own = amounts[list(rows)]
        middle, half = float(np.mean(own)), reach * error
        name = specimens[rows[0]]
        found.append(SpecimenAmount(name, middle, middle - half, middle + half, tuple(float(s) for s in own)))
    return tuple(found)
