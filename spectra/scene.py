"""A study's scene and one sample in it: what the judging functions hand to one another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reference_bands import BandTable
from spectra.bandfit import COATING_SPREAD, SUBSTRATE_SPREAD, Others
from spectra.bandtest import Reference
from spectra.bumps import BumpBank
from spectra.findings import Presence
from spectra.groups import Group
from spectra.prediction import Prediction
from spectra.replicates import Units, units_of
from spectra.spectrum import Stack
from spectra.study import Study
from spectra.units import FloatArray
from spectra.variation import Variation


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that is the same for all samples of a study.

    Attributes
    ----------
    study : Study
    bare : Stack
        Levelled bare spots.
    variation : Variation or None
        What bare spots do by themselves; None with fewer than two of them.
    bumps : BumpBank or None
        For the search of what is left behind.
    substrate : Reference
    predictions : mapping of (coating, technique of the sample) to Prediction
    residues : mapping of str to Reference
    table : BandTable
    """

    study: Study
    bare: Stack
    variation: Variation | None
    bumps: BumpBank | None
    substrate: Reference
    predictions: Mapping[tuple[str, str], Prediction]
    residues: Mapping[str, Reference]
    table: BandTable

    @property
    def units(self) -> Units:
        """Bare units of replication."""
        return units_of(self.bare)


@dataclass(frozen=True, eq=False)
class Coated:
    """One sample on the way to its verdicts.

    Attributes
    ----------
    group : Group
    raw, levelled : Stack
    predictions : mapping of coating to Prediction
    presence : mapping of coating to Presence
    references : mapping of coating to Reference
        At the thickness found.
    changes : mapping of coating to ndarray, shape (n,)
        Change of the raw spectrum per unit amount at the thickness found.
    """

    group: Group
    raw: Stack
    levelled: Stack
    predictions: Mapping[str, Prediction]
    presence: Mapping[str, Presence]
    references: Mapping[str, Reference]
    changes: Mapping[str, FloatArray]

    @property
    def units(self) -> Units:
        """Levelled units of replication."""
        return units_of(self.levelled)


def others_of(scene: Scene, references: Sequence[Reference], substrate: bool = True) -> Others:
    """Return what else varies: the substrate if asked for, and coatings."""
    columns = [scene.substrate.shape] * substrate + [reference.shape for reference in references]
    spread = [SUBSTRATE_SPREAD] * substrate + [COATING_SPREAD] * len(references)
    return Others(np.reshape(np.array(columns).T, (scene.bare.grid.size, len(columns))), np.array(spread))


def around(name: str, coated: Coated, scene: Scene) -> Others:
    """Return what else varies around one coating."""
    return others_of(scene, [ref for other, ref in coated.references.items() if other != name])
