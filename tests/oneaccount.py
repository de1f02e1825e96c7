"""One account of a sample: does any number or state that is said twice differ? Found on any finding.

``python -m tests.oneaccount [--repeats N] [--seed N] [--cells NAME ...]`` asks it of the shipped examples and
of simulated studies (:mod:`tests.fatetrial`), and prints every contradiction with how often it occurs.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from math import isclose
from pathlib import Path
from typing import Any

import numpy as np

from spectra.findings import CHANGED, PRESENT, UNCHANGED, BandFinding, Presence, SpecimenAmount
from spectra.report.record import as_dict
from spectra.report.table_files import as_csv
from spectra.report.tables.frames import tables
from spectra.study.loading import load_study
from spectra.verification.result import CoatingFinding, SampleFinding, Verification
from spectra.verification.verify import verify
from tests.fatetrial import PLANS, findings_of, tasks

EXAMPLES = Path(__file__).parents[1] / "examples"
STUDIES = ("gelatin_on_pcl/study.toml", "polycarbonate_on_polystyrene/study.toml")
NEAR = 12.0  # cm-1: two bands of one coating are never meant as two when closer than this
Said = tuple[str, str]  # the rule that is broken, and the numbers


def contradictions(sample: SampleFinding) -> Iterator[Said]:
    """What one sample's finding says twice and differently: the rule broken, and the numbers."""
    for name, coating in sample.coatings.items():
        pieces = sample.evenness.get(name, ())
        yield from _amounts(coating.presence, pieces)
        yield from _intervals(coating)
        yield from _same_bands(coating)
        yield from _reasons(coating)
        yield from _verdicts(coating, getattr(getattr(sample, "layer", None), "verdict", None))
        yield from _left_over(sample, coating)


def _amounts(presence: Presence, pieces: Sequence[SpecimenAmount]) -> Iterator[Said]:
    """Specimens, spots and the pooled amount."""
    if not pieces or presence.amount is None:
        return
    for piece in pieces:
        if not isclose(float(np.mean(piece.spots)), piece.amount, rel_tol=1e-9, abs_tol=1e-12):
            yield (
                "a specimen's amount is the mean of its spots",
                f"{piece.amount:g}, {np.mean(piece.spots):g}",
            )
    if len(pieces) != presence.specimens or sum(len(p.spots) for p in pieces) != presence.spots:
        yield "as many specimens and spots as were counted", f"{len(pieces)} of {presence.specimens}"
    mean, low, high = float(np.mean([p.amount for p in pieces])), presence.amount_low, presence.amount_high
    if low is not None and high is not None and not low <= mean <= high:
        yield "the specimens' mean lies in the pooled interval", f"{mean:.4g} in {low:.4g} to {high:.4g}"


TRIPLES = (
    ("amount", "amount_low", "amount_high"),
    ("thickness_nm", "thickness_low_nm", "thickness_high_nm"),
    ("attenuation_nm", "attenuation_low_nm", "attenuation_high_nm"),
)


def _intervals(coating: CoatingFinding) -> Iterator[Said]:
    """Values inside their intervals, lengths not negative, one length for one amount."""
    presence = coating.presence
    for names in TRIPLES:
        values = [getattr(presence, name, None) for name in names]
        if None in values:
            continue
        value, low, high = values
        if not low <= value <= high:
            yield "a value lies in its interval", f"{names[0]} {value:.4g} in {low:.4g} to {high:.4g}"
        if names[0].endswith("_nm") and low < 0.0:
            yield "no length is negative", f"{names[0]} {value:.4g} ({low:.4g} to {high:.4g})"
    ends = [presence.thickness_low_nm, presence.thickness_high_nm]
    others = [presence.attenuation_low_nm, presence.attenuation_high_nm]
    clean = coating.chemistry.verdict == UNCHANGED
    if clean and None not in (*ends, *others) and (ends[1] < others[0] or others[1] < ends[0]):
        yield "two thicknesses of a clean film agree", f"{ends}, {others}"
    for band in coating.bands:
        if band.shift is None or band.shift_low is None or band.shift_high is None:
            continue
        if not band.shift_low <= band.shift <= band.shift_high:
            yield "a shift lies in its interval", f"{band.expected_position:.0f}"
        if band.found_position is not None and not isclose(
            band.found_position - band.expected_position, band.shift, abs_tol=1e-6
        ):
            yield "found minus expected is the shift", f"{band.expected_position:.1f}"


def _same_bands(coating: CoatingFinding) -> Iterator[Said]:
    """The joint fit's bands are the band table's bands, each in one state."""
    table = {b.expected_position: b for b in coating.bands}
    supports = coating.presence.band_evidence
    for support in supports:
        if support.position not in table:
            yield "every band of the joint fit is in the band table", f"{support.position:.1f}"
        band = _nearest(coating.bands, support.position)
        if band is None:
            continue
        if band.masked != support.masked:
            yield "a band is masked everywhere or nowhere", f"{band.expected_position:.1f}"
        if not support.masked and not band.masked and band.detected != support.supports:
            yield "a band is seen everywhere or nowhere", f"{band.expected_position:.1f}"
    if supports and len(supports) != len(coating.bands):
        yield "as many bands in the joint fit as in the band table", f"{len(supports)}, {len(coating.bands)}"


def _nearest(bands: Sequence[BandFinding], position: float) -> BandFinding | None:
    """Return the band nearest to a position, if one is near."""
    near = [b for b in bands if abs(b.expected_position - position) < NEAR]
    return min(near, key=lambda b: abs(b.expected_position - position), default=None)


def _reasons(coating: CoatingFinding) -> Iterator[Said]:
    """Numbers in reasons are those of the tables."""
    places = {b.expected_position for b in coating.bands}
    for reason in coating.chemistry.reasons:
        at = reason.values.get("position")
        if at is None:
            continue
        band = next((b for b in coating.bands if b.expected_position == at), None)
        if band is None:
            yield "a reason names a band of the table", f"{reason.code} {at:.1f}"
        elif any(
            key in reason.values and reason.values[key] != value
            for key, value in (("shift", band.shift), ("margin", band.margin))
        ):
            yield "a reason has the table's numbers", f"{reason.code} {at:.1f}"
    for reason in coating.presence.reasons:
        if reason.code == "bands-found":
            seen = {b.expected_position for b in coating.bands if b.detected}
            strange = [p for p in reason.values["found"] if p not in seen]
            if strange:
                where = "not seen there" if set(strange) <= places else "not in the table"
                yield f"bands called found are seen in the band table ({where})", f"{strange}"
        for key, value in (
            ("amount", coating.presence.amount),
            ("critical", coating.presence.critical_amount),
        ):
            if key in reason.values and reason.values[key] != value:
                yield "presence's reasons have presence's numbers", f"{reason.code} {key}"


def _verdicts(coating: CoatingFinding, layer: str | None) -> Iterator[Said]:
    """Verdicts that go together."""
    presence, chemistry = coating.presence.verdict, coating.chemistry.verdict
    if chemistry == UNCHANGED and presence != PRESENT:
        yield "unchanged only where present", presence
    if layer is not None and presence == PRESENT and layer != "shown":
        yield "present only where a layer is shown", layer
    if chemistry == UNCHANGED:
        changed = [f"{b.expected_position:.0f}" for b in coating.bands if b.verdict == CHANGED]
        if changed:
            yield "no band changed in an unchanged coating", ", ".join(changed)
    fates = {getattr(b, "fate", None) for b in coating.bands} - {None}
    if fates and chemistry == UNCHANGED and fates & {"moved", "weaker", "stronger", "lost", "split"}:
        yield "no band of an unchanged coating has another fate", f"{sorted(fates)}"
    if fates and chemistry == CHANGED and not fates & {"moved", "weaker", "stronger", "lost", "split"}:
        yield "a changed coating has a changed band", f"{sorted(fates)}"


def _left_over(sample: SampleFinding, coating: CoatingFinding) -> Iterator[Said]:
    """Nothing of the coating under another name; one place for one band."""
    for band in sample.unexplained:
        own = _nearest(coating.bands, band.position)
        if own is not None and coating.presence.verdict == PRESENT and not own.masked:
            yield "no unexplained band at the coating's own", f"{band.position:.0f}"
    for residue in sample.residues.values():
        for at in residue.bands:
            near = [u.position for u in sample.unexplained if abs(u.position - at) < NEAR]
            if near and at not in near:
                yield "a residue's band is the unexplained band", f"{at:.1f}, {near}"


# -- the files of a report ------------------------------------------------------------------------------


def report_contradictions(verification: Verification) -> Iterator[Said]:
    """Numbers of ``result.json`` and ``bands.csv`` that are not the findings' own."""
    record = json.loads(json.dumps(as_dict(verification)))
    table = list(csv.DictReader(io.StringIO(as_csv(tables(verification).bands))))
    rows = {(row["sample"], row["role"], float(row["expected_position / cm-1"])): row for row in table}
    for name, sample in verification.samples.items():
        written = record["samples"][name]
        for coating in sample.coatings.values():
            there = written["coatings"][coating.name]
            yield from _written(there["presence"], coating.presence, ("amount", "thickness_nm"))
            for band, line in zip(coating.bands, there["bands"], strict=True):
                yield from _written(line, band, ("expected_position", "shift", "shift_low", "found_height"))
                row = rows.get((name, "coating", round(band.expected_position, 2)))
                if row is None or row["position_verdict"] != line["verdict"]:
                    yield "bands.csv has the bands of result.json", f"{name} {band.expected_position}"
    if record["all_shown"] != verification.all_shown:
        yield "all_shown is written as it is", ""


def _written(line: Mapping[str, Any], found: object, names: Sequence[str]) -> Iterator[Said]:
    for name in names:
        if line[name] != getattr(found, name):
            yield "result.json has the findings' numbers", f"{name} {line[name]}"


@cache
def example(study: str) -> Verification:
    """Decide one of the shipped examples."""
    return verify(load_study(EXAMPLES / study))


def of_examples() -> Iterator[tuple[str, Said]]:
    """Contradictions of every sample of the shipped examples."""
    for study in STUDIES:
        result = example(study)
        yield from ((f"{study}", said) for said in report_contradictions(result))
        for name, sample in result.samples.items():
            yield from ((f"{study} {name}", said) for said in contradictions(sample))


def main() -> None:
    """Print how often each rule is broken, with one case of it."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=1)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--cells", nargs="*", default=("unchanged-30", "moved-3", "bare", "acid", "browned"))
    parser.add_argument("--pairs", default="")
    asked = parser.parse_args()
    broken: Counter[str] = Counter()
    cases: dict[str, str] = {}
    for where, (rule, numbers) in of_examples():
        print(f"{where}: not so: {rule}: {numbers}")
    samples = 0
    for task in tasks("table", asked.cells, asked.pairs, range(asked.repeats), asked.seed, False):
        for cell, _, finding in findings_of(task):
            samples += 1
            told = dict(contradictions(finding))
            broken.update(told.keys())
            for rule, numbers in told.items():
                cases.setdefault(rule, f"{task.pair}, {task.design} {cell}: {numbers}")
    print(f"{samples} simulated samples of {len(PLANS['table'][1])} pairs")
    for rule, count in broken.most_common():
        print(f"{count:5d} / {samples}  not so: {rule}  (first: {cases[rule]})")


if __name__ == "__main__":
    main()
