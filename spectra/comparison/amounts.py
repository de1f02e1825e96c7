"""Amounts of one coating by spot, with what the bare spots say of their error.

The record every comparison starts from. Amounts come from the joint model in one matrix product
(:func:`spectra.detection.capability.spot_amounts`); the bare mean is common to all spots of a study, so its
error cancels in differences and stays in ratios.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.replicates import group_rows
from spectra.spectrum import Frozen, read_only
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Amounts(Frozen):
    """Amount of one coating in every spot of one sample, in units of the neat spectrum (neat = 1).

    Attributes
    ----------
    values : ndarray, shape (m,)
    specimens : tuple of str, length m
        The piece each spot was measured on.
    spot_variance : float
        Variance of one spot's amount by substrate and measurement alone, as bare spots show it.
    specimen_share : float or None
        Share of it that all spots of a specimen have in common; None where the bare set cannot tell.
    least_variance : float
        Variance that no specimen's mean falls below, however many its spots: how much bare specimens differ
        is seldom known well enough for more.
    bare_variance : float
        Variance of the bare mean, common to every amount of the study.
    degrees : float
        Degrees of freedom of both; infinite where they are known.
    bare_units : int
        Bare specimens, or spots of the only one, that these rest on.
    nm_per_amount : float or None
        Turns amounts into film thickness; None where the geometry is unknown.
    nm_error : float
        Relative standard error of that factor: what optics leave open, common to all spots.

    Raises
    ------
    SpectraError
        If there is no spot, a value is not finite or the lengths differ.
    """

    values: FloatArray
    specimens: tuple[str, ...]
    spot_variance: float = 0.0
    specimen_share: float | None = None
    least_variance: float = 0.0
    bare_variance: float = 0.0
    degrees: float = float("inf")
    bare_units: int = 2
    nm_per_amount: float | None = None
    nm_error: float = 0.0

    def __post_init__(self) -> None:
        values = read_only(self.values)
        if values.ndim != 1 or values.size == 0 or values.size != len(self.specimens):
            raise SpectraError(
                f"found amounts of shape {values.shape} on {len(self.specimens)} named specimens; expected "
                "one amount and one specimen for every spot"
            )
        if not np.all(np.isfinite(values)):
            at = self.specimens[int(np.argmin(np.isfinite(values)))]
            raise SpectraError(f"an amount on specimen {at!r} is not a number; leave that spot out")
        object.__setattr__(self, "values", values)

    def __len__(self) -> int:
        return int(self.values.size)

    @property
    def pieces(self) -> tuple[str, ...]:
        """Specimens in order of first appearance."""
        return tuple(dict.fromkeys(self.specimens))

    @property
    def spots(self) -> FloatArray:
        """Count the spots on every specimen, shape (k,)."""
        return np.array([len(rows) for rows in group_rows(self.specimens)], dtype=np.float64)

    @property
    def means(self) -> FloatArray:
        """Mean amount of every specimen, shape (k,).

        Examples
        --------
        >>> Amounts(np.array([1.0, 3.0, 5.0]), ("a", "a", "b")).means
        array([2., 5.])
        """
        return np.array([self.values[list(rows)].mean() for rows in group_rows(self.specimens)])

    @property
    def piece_variances(self) -> FloatArray:
        """Variance of every specimen's mean by substrate and measurement, shape (k,).

        Examples
        --------
        >>> Amounts(np.ones(3), ("a", "a", "b"), spot_variance=4.0, specimen_share=0.5).piece_variances
        array([3., 4.])
        """
        share = 1.0 if self.specimen_share is None else self.specimen_share
        return np.maximum(self.least_variance, self.spot_variance * (share + (1.0 - share) / self.spots))

    @property
    def mean(self) -> float:
        """Mean of the specimens' means: the sample's amount."""
        return float(self.means.mean())

    def of(self, pieces: Sequence[str]) -> FloatArray:
        """Mean amounts of the specimens named, in that order."""
        found = dict(zip(self.pieces, self.means, strict=True))
        return np.array([found[piece] for piece in pieces])
