"""The forward search: from the trusted half outwards, who stands apart from those inside.

For m outsiders the least extreme of them must be beyond what the choice of any m could bring: all m must
stand apart, so that nobody is dragged along, and two cannot hide one another, because neither is inside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import comb

from spectra.apart.evidence import Evidence, lay_out, weigh
from spectra.apart.members import Members
from spectra.apart.settings import ApartSettings
from spectra.apart.trusted import trusted_half
from spectra.units import FloatArray

SHARE_OF_SHAPE = 0.5  # of a difference: it is mostly the coating's shape


@dataclass(frozen=True)
class Step:
    """So many outside, what stands against each of them, and who is trusted."""

    evidence: tuple[Evidence, ...]
    trusted: tuple[int, ...]

    @property
    def outside(self) -> int:
        """Number of members outside."""
        return len(self.evidence)


def search(members: Members, curves: Mapping[str, FloatArray], settings: ApartSettings) -> tuple[Step, ...]:
    """Grow the trusted half by the member that agrees best until one is left.

    Parameters
    ----------
    members : Members
        Three or more.
    curves : mapping of str to ndarray, shape (r,)
        Shapes of the coatings on the model's points.
    settings : ApartSettings

    Returns
    -------
    tuple of Step
        From the half to all but one.
    """
    trusted = list(trusted_half(members))
    steps = []
    while len(trusted) < len(members):
        outside = [i for i in range(len(members)) if i not in trusted]
        yard = lay_out(members.learn(trusted), settings)
        found = weigh(yard, curves, members.reduced, outside, settings)
        steps.append(Step(tuple(found), tuple(trusted)))
        nearest = max(found, key=lambda item: (item.chance, -item.ratio))
        trusted = sorted([*trusted, nearest.member])
    return tuple(steps)


def most_outside(count: int) -> int:
    """Return the most members that may stand apart: a minority; an even split is only called two kinds."""
    return count // 2 if count > 3 else 1


def first_apart(steps: Sequence[Step], count: int, settings: ApartSettings, alpha: float) -> Step | None:
    """Return the step with the largest minority whose every member stands apart, or None.

    Parameters
    ----------
    steps : sequence of Step
    count : int
        Members of the group.
    settings : ApartSettings
    alpha : float
        Chance of naming anybody in a group where all belong.
    """
    most = most_outside(count)
    for step in steps:
        choices = comb(count, step.outside)
        least = max(item.chance for item in step.evidence) * choices
        # Not a coating, and only further along the group's own direction: the end of one kind.
        strange = [item.along for item in step.evidence if item.share < SHARE_OF_SHAPE]
        end = max(strange, default=0.0) * choices > settings.along
        if step.outside <= most and least < alpha / most and not end:
            return step
    return None
