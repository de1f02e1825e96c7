"""The paragraph of methods for a paper: part of ``report.view``.

Said once for all samples: what was measured how, and what was done to which spectra.
"""

from __future__ import annotations

from collections.abc import Iterator

from spectra.groups import Group
from spectra.report.words.conditions import geometry, range_used
from spectra.report.words.numerals import counted, exact, listed
from spectra.verification.result import CoatingFinding, Verification

# Where the baseline's method is described (known from memory).
ARPLS = "arPLS (Baek et al., Analyst 140, 250, 2015, doi:10.1039/C4AN01061B)"


def procedure(verification: Verification) -> str:
    """Return how the spectra were measured and judged, as a methods section says it.

    Parameters
    ----------
    verification
        For the study's settings and groups.
    """
    return " ".join((*_measured(verification), _decided(verification)))


def count_of(group: Group, verification: Verification) -> str:
    """Spectra and specimens of a group, as they were read."""
    mine = [item for item in verification.inputs if (item.role, item.group) == (group.role, group.name)]
    pieces = {item.specimen for item in mine}
    return f"{counted(len(mine), 'spot')} on {counted(len(pieces), 'specimen')}"


def material(coating: Group | CoatingFinding) -> str:
    """Return a coating's name, with its material where that is another word."""
    same = coating.material is None or coating.material.casefold() == coating.name.casefold()
    return coating.name if same else f"{coating.name} ({coating.material})"


def _measured(verification: Verification) -> Iterator[str]:
    """Yield technique, geometry, range and replication, one sentence a technique of the samples."""
    study = verification.study
    bare = f"bare {study.substrate.material or 'substrate'} ({count_of(study.substrate, verification)})"
    neat = [f"neat {material(each)} ({count_of(each, verification)})" for each in study.coatings.values()]
    version = verification.versions.get("coatproof", "")
    by = f"coatproof {version}" if version[:1].isdigit() else "coatproof"
    for technique in dict.fromkeys(group.technique for group in study.samples.values()):
        mine = [group for group in study.samples.values() if group.technique == technique]
        coated = listed([f"{group.name} ({count_of(group, verification)})" for group in mine])
        named = technique != "other"
        how = f"{technique[:1].upper()}{technique[1:]} infrared spectra" if named else "Infrared spectra"
        known = (*(() if named else ("technique not stated",)), *geometry(study, technique))
        details = "; ".join((*known, range_used(verification)))
        yield (
            f"{how} ({details}) of {counted(len(mine), 'coated sample')}, {coated}, were compared with those "
            f"of {listed([bare, *neat])} by {by}."
        )


def _decided(verification: Verification) -> str:
    """Say what was done to which spectra."""
    settings = verification.study.settings
    method = settings.normalisation.method
    levelling = "scaling to the substrate's bands" if method == "substrate" else f"scaling (method {method})"
    smooth = f"baselines by {ARPLS}, features longer than {exact(settings.baseline.period)} cm-1 taken off"
    base = smooth if settings.baseline.method == "arpls" else "no baseline"
    return (
        "Presence, amount and the coating's bands were decided on the spectra as measured, by one model of "
        "how bare specimens vary and of a film whose bands may move, weaken and widen. For the substrate's "
        f"own bands and the figures the spectra were levelled: {base}, and {levelling}."
    )
