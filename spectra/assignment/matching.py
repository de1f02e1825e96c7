"""Matching: found bands against everything the reference tables hold.

A material is proposed only if the strong bands it must show are there, wherever they are not masked or
hidden (:mod:`spectra.assignment.coherence`). Proposals are listed so that each next one explains most of
what those before it leave unexplained; one that adds no strong band of its own is listed as a competitor
only.
Evidence, competitors and the bands that would tell them apart are shown; there is no score, and nothing is
decided here.

What limits it: bands of two materials that coincide within the tables' windows cannot be told apart by
position, and a minor material is proposed only where its bands come out between the others'.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reference_bands import BandTable
from spectra.assignment.coherence import (
    FOUND,
    FoundBands,
    Match,
    fitting,
    is_coherent,
    match_material,
    nominal,
)
from spectra.assignment.features import Feature
from spectra.assignment.settings import MatchingSettings


@dataclass(frozen=True)
class Competitor:
    """Another coherent material that fits bands of a proposal.

    Attributes
    ----------
    material
    shared : tuple of int
        Found bands that both fit.
    look_for : tuple of float, cm-1
        Strong bands of the competitor that the proposal lacks: present, they speak for it.
    there : tuple of bool
        Whether each of them was found.
    """

    material: str
    shared: tuple[int, ...]
    look_for: tuple[float, ...]
    there: tuple[bool, ...]


@dataclass(frozen=True)
class Proposal:
    """A material whose strong bands are there.

    Attributes
    ----------
    material
    matches : tuple of Match
        Every visible expected band by falling wavenumber.
    explained, adds : tuple of int
        Found bands it fits; those that no proposal before it fits.
    competitors : tuple of Competitor
        The one that shares most comes first.
    """

    material: str
    matches: tuple[Match, ...]
    explained: tuple[int, ...]
    adds: tuple[int, ...]
    competitors: tuple[Competitor, ...] = ()


def propose(
    found: FoundBands, table: BandTable, settings: MatchingSettings | None = None
) -> tuple[Proposal, ...]:
    """Propose materials for the bands of one spectrum.

    Parameters
    ----------
    found : FoundBands
    table : BandTable
    settings : MatchingSettings, optional

    Returns
    -------
    tuple of Proposal
        In the order of what each adds. A coherent material that adds nothing is shown as a competitor.

    Examples
    --------
    >>> from reference_bands import load
    >>> found = FoundBands([1724, 1240, 1190, 1170], [1] * 4, [1, 0.5, 0.5, 0.8], [20] * 4, (900, 1800))
    >>> [proposal.material for proposal in propose(found, load())][:1]
    ['polycaprolactone']
    """
    settings = settings or MatchingSettings()
    matched = {name: match_material(name, found, table, settings) for name in table.materials}
    rivals = {name: matches for name, matches in matched.items() if is_coherent(matches, settings)}
    coherent = dict(rivals)
    proposals: list[Proposal] = []
    taken: set[int] = set()
    while name := _next(coherent, taken, found, settings):
        explained = _indices(coherent.pop(name))
        adds = tuple(i for i in explained if i not in taken)
        proposals.append(Proposal(name, matched[name], explained, adds))
        taken.update(explained)
    return tuple(_with_competitors(proposal, rivals, found) for proposal in proposals)


def _complete(matches: Sequence[Match]) -> float:
    """Return the share of a material's strong bands that are there, by expected height."""
    strong = [match for match in matches if match.feature.required]
    return nominal([match for match in strong if match.state == FOUND]) / nominal(strong)


def _indices(matches: Sequence[Match]) -> tuple[int, ...]:
    """Return the found bands that a material explains."""
    return tuple(sorted({match.index for match in matches if match.index is not None}))


def _next(
    coherent: dict[str, tuple[Match, ...]], taken: set[int], found: FoundBands, settings: MatchingSettings
) -> str | None:
    """Return the material to list next, or None when no other adds enough.

    It must add a strong band of its own; of those that add nearly as much, the most complete one is next.
    """
    gains = {name: _gain(matches, taken, found) for name, matches in coherent.items()}
    least = settings.adds * float(np.sum(found.heights))
    gains = {name: gain for name, gain in gains.items() if gain > 0 and gain >= least}
    if not gains:
        return None
    close = [name for name in gains if gains[name] >= settings.near_best * max(gains.values())]
    return min(close, key=lambda name: (-_complete(coherent[name]), -len(fitting(coherent[name])), name))


def _gain(matches: Sequence[Match], taken: set[int], found: FoundBands) -> float:
    """Return the summed height that is explained and not yet taken; none without a strong band among it."""
    fresh = [match for match in fitting(matches) if match.index not in taken]
    if not any(match.feature.required for match in fresh):
        return 0.0
    return _height(_indices(fresh), found)


def _with_competitors(
    proposal: Proposal, rivals: dict[str, tuple[Match, ...]], found: FoundBands
) -> Proposal:
    """Add the coherent materials that fit bands of the proposal, the one that shares most first."""
    competitors = []
    for name, matches in rivals.items():
        shared = tuple(i for i in _indices(matches) if i in proposal.explained)
        if name == proposal.material or not shared:
            continue
        apart = [m for m in matches if m.feature.rows[0].strong and not _has(proposal, m.feature)]
        look_for = tuple(m.row.centre for m in apart)
        there = tuple(m.state == FOUND for m in apart)
        competitors.append(Competitor(name, shared, look_for, there))
    ordered = sorted(competitors, key=lambda c: (-_height(c.shared, found), c.material))
    return replace(proposal, competitors=tuple(ordered))


def _height(indices: Sequence[int], found: FoundBands) -> float:
    """Return the summed height of found bands."""
    return float(sum(found.heights[i] for i in indices))


def _has(proposal: Proposal, feature: Feature) -> bool:
    """Tell whether the proposal has a band of its own where the feature lies."""
    return any(
        row.low <= feature.position <= row.high for match in proposal.matches for row in match.feature.rows
    )
