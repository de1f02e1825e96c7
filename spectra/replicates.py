"""Replicates: what repeats, and how far repeats of nothing lie apart.

The specimen is the unit of replication; spots on one specimen are averaged first. Where a group has one
specimen only, its spots stand in as units, and the verdict says so: its limits then describe that one piece.

For K bare units each is compared with the mean of the others. If one unit scatters with variance s**2, such a
difference has variance s**2 K / (K - 1), so from the K coefficients c of any linear estimate

    s**2 = (K - 1) / K**2 * sum(c**2),   K - 1 degrees of freedom,

and the mean of n sample units against the mean of the K bare units has the standard error
s sqrt(1/n + 1/K). Critical and detectable values follow from Student's t and from the non-central t (ISO
11843-2; Currie, Pure Appl. Chem. 67, 1699, 1995, doi:10.1351/pac199567101699).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.spectrum import Stack
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Units:
    """The units of replication of one group.

    Attributes
    ----------
    rows : ndarray, shape (k, n)
        Mean spectrum of each unit.
    names : tuple of str, length k
    are_specimens : bool
        False where spots stand in for specimens.
    """

    rows: FloatArray
    names: tuple[str, ...]
    are_specimens: bool

    def __len__(self) -> int:
        return len(self.names)


def units_of(stack: Stack) -> Units:
    """Average the spots of each specimen; one specimen alone gives its spots.

    Examples
    --------
    >>> pair = Stack([1.0, 2.0], [[1, 1], [3, 3], [5, 5]], ("a", "a", "b"), ("1", "2", "3"))
    >>> units_of(pair).rows[:, 0]
    array([2., 5.])
    """
    names = tuple(dict.fromkeys(stack.specimens))
    if len(names) == 1:
        return Units(stack.absorbance, stack.names, len(stack) == 1)
    belongs = np.array(stack.specimens)
    rows = np.array([stack.absorbance[belongs == name].mean(axis=0) for name in names])
    return Units(rows, names, True)


def leave_one_out(units: Units) -> FloatArray:
    """Return each unit minus the mean of the others, shape (k, n).

    Examples
    --------
    >>> leave_one_out(Units(np.array([[1.0], [2.0], [6.0]]), ("a", "b", "c"), True))[:, 0]
    array([-3. , -1.5,  4.5])
    """
    k = len(units)
    return np.asarray((units.rows - units.rows.mean(axis=0)) * (k / (k - 1)))


def unit_scatter(coefficients: FloatArray) -> FloatArray:
    """Return the standard deviation of one unit from leave-one-out coefficients, axis 0 over units.

    Examples
    --------
    >>> import numpy as np
    >>> found = unit_scatter(leave_one_out(Units(np.array([[1.0], [2.0], [6.0]]), ("a", "b", "c"), True)))
    >>> bool(np.isclose(found[0], np.std([1.0, 2.0, 6.0], ddof=1)))
    True
    """
    k = coefficients.shape[0]
    return np.asarray(np.sqrt((k - 1) / k**2 * (coefficients**2).sum(axis=0)))


def critical_factor(alpha: float, freedom: float) -> float:
    """Return how many standard errors a value must exceed to be called there: Student's t, one-sided.

    Examples
    --------
    >>> round(critical_factor(0.05, 9), 3)
    1.833
    """
    from scipy.special import stdtrit  # scipy.stats has the same function at a second of import time

    return float(stdtrit(freedom, 1 - alpha))


def detectable_factor(alpha: float, power: float, freedom: float) -> float:
    """Return how many standard errors a true value needs to be called there with probability ``power``.

    The non-centrality at which Student's t exceeds its critical value with that probability.

    Examples
    --------
    >>> round(detectable_factor(0.05, 0.95, 9), 3)
    3.575
    """
    from scipy.special import nctdtrinc

    return float(nctdtrinc(freedom, 1 - power, critical_factor(alpha, freedom)))


def exceedance(statistic: FloatArray, freedom: float) -> FloatArray:
    """Return the one-sided p value of Student's t.

    Examples
    --------
    >>> exceedance(np.array([1.833]), 9).round(3)
    array([0.05])
    """
    from scipy.special import stdtr

    return np.asarray(stdtr(freedom, -statistic))


def holm(p_values: FloatArray) -> FloatArray:
    """Adjust p values for looking at several bands (Holm, Scand. J. Statist. 6, 65, 1979).

    Examples
    --------
    >>> holm(np.array([0.04, 0.01, 0.03]))
    array([0.06, 0.03, 0.06])
    """
    if p_values.size == 0:
        return p_values
    order = np.argsort(p_values, kind="stable")
    factors = np.arange(p_values.size, 0, -1)
    adjusted = np.empty_like(p_values)
    adjusted[order] = np.minimum(np.maximum.accumulate(factors * p_values[order]), 1.0)
    return adjusted


def binomial_interval(found: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of a share (Clopper & Pearson, Biometrika 26, 404, 1934).

    Examples
    --------
    >>> [round(end, 3) for end in binomial_interval(0, 59)]
    [0.0, 0.061]
    """
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    low = 0.0 if found == 0 else float(betaincinv(found, of - found + 1, tail))
    high = 1.0 if found == of else float(betaincinv(found + 1, of - found, 1 - tail))
    return low, high
