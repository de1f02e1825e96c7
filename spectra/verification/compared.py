"""A study's samples beside each other: specimens, evenness, conditions, recipes, the stated requirement.

All from the amounts by spot of the joint model; a spectrum is looked at only to form them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import combinations

from spectra.comparison.amounts import Amounts
from spectra.comparison.conditions import Kept, judge_kept
from spectra.comparison.recipes import Difference, compare_recipes, compare_sides
from spectra.comparison.requirement import CONFORMS, DOES_NOT, Conformity, judge_requirement
from spectra.comparison.sources import MaterialsCompared, compare_sources
from spectra.comparison.specimens import SpecimenRule, judge_specimens
from spectra.comparison.spread import judge_evenness
from spectra.comparison.treatment import TreatmentFinding, compare_bands, compare_residue
from spectra.comparison.trends import Trend, find_trends
from spectra.findings import CANNOT_TELL
from spectra.groups import Group
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.verification.result import (
    CoatingFinding,
    RequirementFinding,
    SampleDifference,
    SampleFinding,
    Stages,
)

# Amounts of every coating, by sample.
Looked = Mapping[str, Mapping[str, Amounts]]


def compare(
    study: Study, stages: Stages, samples: Mapping[str, SampleFinding]
) -> tuple[dict[str, SampleFinding], tuple[SampleDifference, ...]]:
    """Add to every sample what its spots, its specimens and the other samples say.

    Parameters
    ----------
    study : Study
    stages : Stages
    samples : mapping of str to SampleFinding
        Judged one by one.

    Returns
    -------
    samples : dict of str to SampleFinding
    differences : tuple of SampleDifference
        Of recipes and of sides.
    """
    expecting = {name: replace(found, expect=study.samples[name].expect) for name, found in samples.items()}
    looked = {name: found.amounts for name, found in expecting.items()}
    full = {name: _compared(found, looked, stages, study) for name, found in expecting.items()}
    full = {name: replace(found, treatment=_treatment(name, full, study)) for name, found in full.items()}
    return full, (*_recipes(looked, study), *_sides(looked, study))


def _compared(sample: SampleFinding, looked: Looked, stages: Stages, study: Study) -> SampleFinding:
    """Return one sample with everything that comes from amounts."""
    mine = looked[sample.name]
    coatings = {
        name: _coating(finding, sample.name, looked, stages, study) if name in mine else finding
        for name, finding in sample.coatings.items()
    }
    return replace(sample, coatings=coatings, requirement=_requirement(sample, mine, study))


def _coating(
    finding: CoatingFinding, sample: str, looked: Looked, stages: Stages, study: Study
) -> CoatingFinding:
    """Return one coating with its specimens, its evenness, what a treatment left and its trends."""
    settings, amounts = study.settings, looked[sample][finding.name]
    decision = settings.decision
    rule = SpecimenRule(
        decision.alpha,
        decision.power,
        settings.presence.interval,
        settings.apart.remark,
        settings.comparison.stand_out,
    )
    return replace(
        finding,
        specimens=judge_specimens(amounts, finding.presence.verdict, rule),
        evenness=judge_evenness(amounts, settings.comparison, decision.confidence),
        kept=_kept(finding.name, sample, looked, study),
        trends=_trends(amounts, stages.raw["coated", sample], study),
    )


def _kept(coating: str, sample: str, looked: Looked, study: Study) -> Kept | None:
    """Judge what a treatment left; None for a sample that is after nothing."""
    before = study.samples[sample].after
    if before is None or coating not in looked.get(before, {}):
        return None
    settings = study.settings
    return judge_kept(
        looked[before][coating], looked[sample][coating], settings.comparison, settings.decision.confidence
    )


def _treatment(sample: str, found: Mapping[str, SampleFinding], study: Study) -> TreatmentFinding | None:
    """Compare chemistry and residues with those before a treatment; None for one that is after nothing."""
    before = study.samples[sample].after
    if before is None or before not in found:
        return None
    one, other, decision = found[before], found[sample], study.settings.decision
    return TreatmentFinding(
        before,
        {
            name: compare_bands(one.coatings[name].bands, coating.bands, decision)
            for name, coating in other.coatings.items()
            if name in one.coatings
        },
        compare_bands(one.substrate.bands, other.substrate.bands, decision),
        {
            name: compare_residue(one.residues[name], residue)
            for name, residue in other.residues.items()
            if name in one.residues
        },
    )


def _trends(amounts: Amounts, raw: Stack, study: Study) -> tuple[Trend, ...]:
    """Look for trends over the spots whose position is given."""
    places = {str(file): place for file, place in study.positions.items()}
    rows = [i for i, name in enumerate(raw.names) if name in places]
    if len(rows) < 3:
        return ()
    some = replace(amounts, values=amounts.values[rows], specimens=tuple(amounts.specimens[i] for i in rows))
    return find_trends(some, [places[raw.names[i]] for i in rows], study.settings.decision.confidence)


def _requirement(
    sample: SampleFinding, amounts: Mapping[str, Amounts], study: Study
) -> RequirementFinding | None:
    """Judge a sample against the stated requirement; a control is asked nothing."""
    if study.requirement is None or not sample.expected_present or not amounts:
        return None
    found = {name: judge_requirement(item, study.requirement) for name, item in amounts.items()}
    return RequirementFinding(_worst(found), found, study.requirement.risk)


def _worst(found: Mapping[str, Conformity]) -> str:
    """Return the verdict of all coatings together: all must conform."""
    verdicts = {item.verdict for item in found.values()}
    return next((v for v in (DOES_NOT, CANNOT_TELL) if v in verdicts), CONFORMS)


def _recipes(looked: Looked, study: Study) -> tuple[SampleDifference, ...]:
    """Compare recipes: samples with a coating expected, on the side first measured, before treatments."""
    names = [
        name
        for name, group in study.samples.items()
        if group.expected and (name == study.against or (group.after is None and not _is_back(group, study)))
    ]
    found: list[SampleDifference] = []
    for coating in study.coatings:
        mine = {name: looked[name][coating] for name in names if coating in looked[name]}
        against = study.against if study.against in mine else None
        if len(mine) > 1 and (against or study.against is None):
            level = study.settings.decision.confidence
            found += [
                SampleDifference(coating, d)
                for d in compare_recipes(mine, study.settings.comparison, against, level)
            ]
    return tuple(found)


def _sides(looked: Looked, study: Study) -> tuple[SampleDifference, ...]:
    """Compare the sides of the same pieces."""
    found = []
    for name, front, coating in _pairs_of_sides(looked, study):
        level = study.settings.decision.confidence
        difference: Difference | None = compare_sides(
            looked[front][coating], looked[name][coating], (front, name), level, study.settings.comparison
        )
        if difference is not None:
            found.append(SampleDifference(coating, difference))
    return tuple(found)


def _pairs_of_sides(looked: Looked, study: Study) -> list[tuple[str, str, str]]:
    """Return (back, front, coating) for every back that shares a coating with a front."""
    return [
        (name, front, coating)
        for name, group in study.samples.items()
        if _is_back(group, study)
        for front, other in study.samples.items()
        if front != name and other.expected and not _is_back(other, study) and other.after is None
        for coating in looked[name]
        if coating in looked[front]
    ]


def _is_back(group: Group, study: Study) -> bool:
    """Tell whether a sample is another side than the first sample's; one without a side is on the first."""
    first = next((item.side for item in study.samples.values() if item.side), "")
    sides = [item.side for item in study.samples.values()]
    usual = "" if "" in sides else first
    return bool(group.side) and group.side not in (usual, "front")


def compare_materials(study: Study, stages: Stages) -> tuple[MaterialsCompared, ...]:
    """Compare every two neat sets that the study gives for one material.

    Parameters
    ----------
    study : Study
    stages : Stages
    """
    settings = study.settings
    pairs = combinations(study.coatings.values(), 2)
    return tuple(
        compare_sources(
            (stages.flat["neat", one.name], stages.flat["neat", other.name]),
            (one.name, other.name),
            str(one.material),
            settings.peaks,
            settings.decision,
            settings.comparison.same_band,
        )
        for one, other in pairs
        if one.material is not None and one.material == other.material and one.technique == other.technique
    )
