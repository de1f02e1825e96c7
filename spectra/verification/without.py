"""A second verdict: what would be said without the spectra that stand apart.

The verdict that is shown stays that of all files until the user writes ``leave_out``; this one stands beside
it, so that one can see what the decision hangs on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from spectra.errors import SpectraError
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.model import StudyModel, learn_study
from spectra.verification.preparation import level
from spectra.verification.result import ApartFinding, SampleFinding, Stages, VerdictWithout
from spectra.verification.sample import judge_sample

FEWEST = {"bare": 2, "neat": 1, "coated": 1}  # spectra that must be left


def judge_without(
    study: Study,
    stages: Stages,
    model: StudyModel,
    samples: Mapping[str, SampleFinding],
    found: Sequence[ApartFinding],
) -> tuple[ApartFinding, ...]:
    """Add to every finding what the verdicts are without all that stand apart in its group.

    Parameters
    ----------
    study : Study
    stages : Stages
    model : StudyModel
        Learned from all files.
    samples : mapping of str to SampleFinding
        As judged with all files.
    found : sequence of ApartFinding

    Returns
    -------
    tuple of ApartFinding
        In the same order; without verdicts where too little is left to judge by.
    """
    groups = dict.fromkeys((item.role, item.group) for item in found)
    told = {key: _of_group(study, stages, model, samples, key, found) for key in groups}
    return tuple(replace(item, verdicts=told[item.role, item.group]) for item in found)


def _of_group(
    study: Study,
    stages: Stages,
    model: StudyModel,
    samples: Mapping[str, SampleFinding],
    key: tuple[str, str],
    found: Sequence[ApartFinding],
) -> tuple[VerdictWithout, ...]:
    """Judge again what one group bears on."""
    out = {path for item in found if (item.role, item.group) == key for path in item.paths}
    rest = _rest(stages.raw[key], out)
    concerned = [name for name in samples if _bears_on(key, name, study)]
    if len(rest) < FEWEST[key[0]] or not concerned:
        return ()
    try:
        again = _judged(study, {**stages.raw, key: rest}, None if key[0] != "coated" else model, concerned)
    except SpectraError:
        return ()  # what is left cannot be levelled or learned from: then there is no second verdict
    return tuple(
        item
        for name in concerned
        for item in _compared(samples[name], again[name], study.samples[name].coatings)
    )


def _rest(stack: Stack, out: set[str]) -> Stack:
    return stack.take([i for i, name in enumerate(stack.names) if name not in out])


def _bears_on(key: tuple[str, str], sample: str, study: Study) -> bool:
    """Tell whether a group has a part in the verdicts on a sample."""
    role, group = key
    return role == "bare" or group == sample or (role == "neat" and group in study.samples[sample].coatings)


def _judged(
    study: Study, raw: Mapping[tuple[str, str], Stack], model: StudyModel | None, names: Sequence[str]
) -> dict[str, SampleFinding]:
    """Judge samples from spectra as measured; a coated spot less changes nothing that was learned."""
    stages, _ = level(raw, study.settings)
    known = learn_study(study, stages) if model is None else model
    return {
        name: judge_sample(
            Measured(study.samples[name], stages.raw["coated", name], stages.levelled["coated", name]),
            study,
            known,
        )
        for name in names
    }


def _compared(shown: SampleFinding, again: SampleFinding, coatings: Sequence[str]) -> list[VerdictWithout]:
    """Put the verdicts on one sample beside each other."""
    if not coatings:
        verdicts = (shown.substrate.chemistry.verdict, again.substrate.chemistry.verdict)
        return [VerdictWithout(shown.name, "", None, None, *verdicts)]
    pairs = [(name, shown.coatings[name], again.coatings[name]) for name in coatings]
    return [
        VerdictWithout(
            shown.name,
            name,
            one.presence.verdict,
            other.presence.verdict,
            one.chemistry.verdict,
            other.chemistry.verdict,
            one.presence.amount,
            other.presence.amount,
        )
        for name, one, other in pairs
    ]
