"""Stated materials: whether neat or bare spectra show the bands of what they are said to be.

The strong bands that the tables give for a stated material must be there, wherever they are not masked or
hidden. The stated material has the benefit of the doubt: its bands may lie further from the tables than those
of a material that nobody named (:class:`~spectra.assignment.settings.MaterialSettings`). Another material is
shown as better only if it is coherent by the strict rule of the proposals, explains clearly more, and shows
more strong bands. Materials alike in their strong bands cannot be told apart in this way, and are not doubted
for one another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from reference_bands import BandTable
from spectra.assignment.coherence import (
    FOUND,
    HIDDEN,
    FoundBands,
    Match,
    fitting,
    is_coherent,
    match_material,
    nominal,
)
from spectra.assignment.settings import MatchingSettings, MaterialSettings
from spectra.findings import AGREES, CANNOT_TELL, DOUBTFUL, MaterialCheck, MaterialFit, Reason
from spectra.groups import Group
from spectra.peaks.finding import Peak
from spectra.spectrum import Stack
from spectra.stretches import runs

SHOWN = 3  # better materials that are named, the one that explains most first


def bands_of(stack: Stack, peaks: Sequence[Peak]) -> FoundBands:
    """Return the bands of a group's mean spectrum as matching takes them.

    Parameters
    ----------
    stack : Stack
        What the bands were found in: its range and the parts that are left out.
    peaks : sequence of Peak
    """
    grid = stack.grid
    left_out = tuple((float(grid[start]), float(grid[stop - 1])) for start, stop in runs(~stack.usable))
    return FoundBands(
        np.array([peak.position for peak in peaks]),
        np.array([peak.position_error for peak in peaks]),
        np.array([peak.prominence for peak in peaks]),
        np.array([peak.width for peak in peaks]),
        (float(grid[0]), float(grid[-1])),
        left_out,
    )


def check_material(
    group: Group,
    stated: str,
    found: FoundBands,
    table: BandTable,
    settings: MaterialSettings,
    matching: MatchingSettings,
) -> MaterialCheck:
    """Put a stated material beside the bands of its spectra, and every other material of the tables.

    Parameters
    ----------
    group : Group
        Whose spectra they are.
    stated
        Material as the study names it.
    found : FoundBands
    table : BandTable
    settings : MaterialSettings
    matching : MatchingSettings

    Returns
    -------
    MaterialCheck
        ``cannot tell`` where the tables hold no strong band of it that could be seen and none fits better.

    Examples
    --------
    >>> from reference_bands import load
    >>> heights = [2, 3, 3, 2, 6, 9]
    >>> seen = FoundBands([1601, 1493, 1452, 1028, 757, 698], [1] * 6, heights, [8] * 6, (500, 1900))
    >>> film, lenient, strict = Group("neat", "film", "ATR", ()), MaterialSettings(), MatchingSettings()
    >>> [check_material(film, name, seen, load(), lenient, strict).verdict for name in ("PS", "PLA")]
    ['agrees', 'doubtful']
    """
    name = table.named(stated)
    if name is None:
        return MaterialCheck(group.role, group.name, stated, None, CANNOT_TELL, (), (), (), ())
    own = match_material(name, found, table, replace(matching, spread=settings.spread))
    visible = [match for match in own if match.feature.required and match.state != HIDDEN]
    there = _places(visible, found=True)
    missing = _places(visible, found=False)
    better = _better(name, own, found, table, settings, matching)
    reasons = (*_missed(visible, missing, found, settings), *_outdone(better))
    verdict = DOUBTFUL if reasons else AGREES if visible else CANNOT_TELL
    return MaterialCheck(group.role, group.name, stated, name, verdict, reasons, there, missing, better)


def _places(matches: Sequence[Match], found: bool) -> tuple[float, ...]:
    """Return the usual positions of the bands that are there, or of those that are not."""
    return tuple(match.row.centre for match in matches if (match.state == FOUND) == found)


def _missed(
    visible: Sequence[Match], missing: tuple[float, ...], found: FoundBands, settings: MaterialSettings
) -> tuple[Reason, ...]:
    """Doubt a material too much of which is not there; of few bands only if none of it is."""
    if len(visible) < settings.visible:
        return ()
    share = nominal(fitting(visible)) / nominal(visible)
    enough = share == 0.0 or found.positions.size >= settings.bands
    if not enough or share >= settings.complete:
        return ()
    return (Reason("material-bands-missing", {"missing": missing, "strong": len(visible)}),)


def _outdone(better: Sequence[MaterialFit]) -> tuple[Reason, ...]:
    """Doubt a material where another explains more."""
    if not better:
        return ()
    first = better[0]
    others = tuple(fit.material for fit in better[1:])
    return (
        Reason("another-material-fits", {"material": first.material, "bands": first.bands, "also": others}),
    )


def _better(
    name: str,
    own: Sequence[Match],
    found: FoundBands,
    table: BandTable,
    settings: MaterialSettings,
    matching: MatchingSettings,
) -> tuple[MaterialFit, ...]:
    """Return the materials that explain clearly more than the stated one, with more strong bands."""
    if found.positions.size < settings.bands:
        return ()
    limit, strong = _explained(own, found) + settings.better, len(_strong(own))
    rivals: dict[str, Sequence[Match]] = {
        other: match_material(other, found, table, matching) for other in table.materials if other != name
    }
    gains: Mapping[str, float] = {
        other: _explained(matches, found)
        for other, matches in rivals.items()
        if is_coherent(matches, matching) and len(_strong(matches)) > strong
    }
    best = sorted((-gain, other) for other, gain in gains.items() if gain >= limit)
    return tuple(_fit(other, rivals[other], table) for _, other in best[:SHOWN])


def _strong(matches: Sequence[Match]) -> list[Match]:
    """Return the strong bands of a material that were found."""
    return [match for match in fitting(matches) if match.feature.required]


def _explained(matches: Sequence[Match], found: FoundBands) -> float:
    """Return the share of the summed heights that a material explains."""
    mine = sorted({match.index for match in matches if match.index is not None})
    return float(np.sum(found.heights[mine]) / np.sum(found.heights))


def _fit(material: str, matches: Sequence[Match], table: BandTable) -> MaterialFit:
    """Return a material with its bands that were found and where their positions come from."""
    strong = _strong(matches)
    sources = tuple(dict.fromkeys(table.cite(match.row) for match in strong))
    return MaterialFit(material, _places(strong, found=True), sources)
