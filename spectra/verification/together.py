"""Several coatings of one sample put together from what was found of each."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from spectra.comparison.together import Together, alike_pairs, error_correlation, parts_of, sum_of
from spectra.findings import CHANGED, PRESENT, UNCHANGED
from spectra.study.settings import Settings
from spectra.verification.films import Films
from spectra.verification.result import CoatingFinding


def put_together(
    films: Films, coatings: Mapping[str, CoatingFinding], left_over: int, settings: Settings
) -> Together | None:
    """Return the coatings of a sample together; None with fewer than two, or where an amount is not known.

    Parameters
    ----------
    films : Films
    coatings : mapping of str to CoatingFinding
    left_over : int
        Unexplained bands.
    settings : Settings
    """
    names = films.yardstick.names
    found = [films.presence[name] for name in names]
    rows = [(p.amount, p.amount_low, p.amount_high) for p in found]
    if len(names) < 2 or any(None in row for row in rows):
        return None
    table = np.array(rows, dtype=np.float64)
    amounts, halves = table[:, 0], (table[:, 2] - table[:, 1]) / 2.0
    correlation = error_correlation(films.yardstick.correlation)
    total, half = sum_of(amounts, halves, correlation)
    lengths = [p.thickness_nm for p in found]
    there = [p.verdict == PRESENT for p in found]
    known = [nm for nm, here in zip(lengths, there, strict=True) if here and nm is not None]
    return Together(
        names,
        correlation,
        total,
        total - half,
        total + half,
        sum(known) if known and len(known) == sum(there) else None,
        parts_of(amounts, halves, correlation) if all(there) else (),
        alike_pairs(names, films.yardstick.correlation, settings.presence.inseparable),
        _as_the_sum([coatings[name] for name in names], left_over),
        settings.presence.interval,
    )


def _as_the_sum(coatings: list[CoatingFinding], left_over: int) -> bool | None:
    """Tell whether the bands found are those of the coatings added up."""
    there = [coating for coating in coatings if coating.presence.verdict == PRESENT]
    if left_over or any(coating.chemistry.verdict == CHANGED for coating in there):
        return False
    if len(there) > 1 and all(coating.chemistry.verdict == UNCHANGED for coating in there):
        return True
    return None
