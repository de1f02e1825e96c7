"""A hand-made verification: invented numbers that show every verdict, for the tests of the report.

Nothing is measured or computed by the package: the records are filled in by hand, the spectra are sums of
Gaussian bands, and ripples of fixed phase stand for the scatter of spots.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

import numpy as np

from spectra.findings import (
    Candidate,
    Chemistry,
    Layer,
    Presence,
    Reason,
    Residue,
    SpecimenAmount,
    Unexplained,
)
from spectra.groups import Group, Instrument, Specimen
from spectra.spectrum import Fault, Stack
from spectra.study.records import Study
from spectra.verification.result import (
    CoatingFinding,
    InputRecord,
    SampleFinding,
    Stages,
    SubstrateFinding,
    Verification,
)
from tests.fakebands import (
    COATING_BANDS,
    GRID,
    HIDDEN,
    JOINT,
    MOVED_SUBSTRATE,
    NOT_SEEN,
    ROOT,
    SUBSTRATE_BAND,
    SUBSTRATE_BANDS,
    USABLE,
    band,
    bands_at,
    presence,
)

SEEN = Layer("shown", (Reason("layer-shown", {"p_value": 3e-12, "alpha": 0.01}),), 3e-12, ("gelatin",))
UNSEEN = Layer("not shown", (Reason("layer-not-shown", {"p_value": 0.41, "alpha": 0.01}),), 0.41)

__all__ = ["GRID", "ROOT", "band", "presence", "verification"]


def stack(shape: np.ndarray[Any, Any], prefix: str, specimens: int, spots: int, ripple: float) -> Stack:
    """Spots that differ by a slow ripple of fixed phase."""
    count = specimens * spots
    rows = [
        shape * (1 + 0.02 * np.sin(1.0 + 2.3 * i)) + ripple * np.sin(GRID / 37.0 + 1.7 * i)
        for i in range(count)
    ]
    names = tuple(f"{prefix}/{prefix}_{i + 1}.csv" for i in range(count))
    return Stack(GRID, np.array(rows), tuple(f"s{i // spots + 1}" for i in range(count)), names, USABLE)


def with_presence(sample: SampleFinding, found: Presence) -> SampleFinding:
    """The same sample with another finding of presence."""
    return replace(sample, coatings={"gelatin": replace(sample.coatings["gelatin"], presence=found)})


def good_sample() -> SampleFinding:
    """Present and unchanged, nothing left over."""
    bands = (
        band(3290.0, **HIDDEN, assignment="amide A"),
        band(1648.0),
        band(1542.0, assignment="amide II", checked="memory", shift=-0.8, shift_low=-2.1, shift_high=0.5),
        band(1238.0, **NOT_SEEN, assignment="", source="", checked=""),
    )
    found = CoatingFinding(
        "gelatin",
        "gelatin",
        presence(
            "present",
            Reason("amount-above-critical", JOINT),
            Reason("bands-found", {"found": [1655.4, 1549.4], "looked_at": 3, "masked": 1, "needed": 2}),
            Reason("pattern-agrees", {"p_value": 0.41}),
            Reason("few-specimens", {"found": 2}),
            thickness_nm=31.4,
            thickness_low_nm=22.0,
            thickness_high_nm=41.0,
        ),
        bands,
        Chemistry("unchanged", (Reason("all-equivalent", {"bands": [1655.0, 1549.0], "margin": 4.0}),)),
        judged_share=0.71,
    )
    pieces = (
        SpecimenAmount("s1", 0.0221, 0.0147, 0.0295, (0.0213, 0.0224, 0.0226)),
        SpecimenAmount("s2", 0.0199, -0.0012, 0.0410, (0.0121, 0.0198, 0.0278)),
    )
    residue = Residue(
        "acetic acid",
        "not shown",
        (Reason("residue-not-seen", {"bands": (1713.0, 1295.0)}),),
        detectable=0.0017,
        hidden=(2950.0,),
    )
    return SampleFinding(
        "aqueous",
        {"gelatin": found},
        SubstrateFinding(
            (SUBSTRATE_BAND,),
            Chemistry("unchanged", (Reason("all-equivalent", {"bands": 1, "margin": 4.0}),)),
        ),
        (),
        {"acetic acid": residue},
        {"gelatin": pieces},
        0.021 * bands_at(COATING_BANDS, 7.0) + 0.0008 * np.sin(GRID / 37.0),
        layer=SEEN,
        spot_amounts={"gelatin": np.array([spot for piece in pieces for spot in piece.spots])},
    )


def changed_sample() -> SampleFinding:
    """Present but changed; a residue, a lost and an unexplained band; untrusted text in names."""
    bands = (
        band(
            1648.0,
            verdict="changed",
            found_position=1641.2,
            shift=-13.8,
            shift_low=-16.1,
            shift_high=-11.5,
            fate="moved",
        ),
        band(1542.0, **(NOT_SEEN | {"verdict": "changed", "fate": "lost"}), assignment="amide II"),
    )
    found = CoatingFinding(
        "gelatin",
        "gelatin",
        presence(
            "present",
            Reason("amount-above-critical", JOINT),
            Reason("bands-found", {"found": [1655.4, 1549.4], "looked_at": 3, "masked": 1, "needed": 2}),
            Reason("unmistakable", {"regions": [(1700.0, 1728.0)]}),
        ),
        bands,
        Chemistry(
            "changed",
            (
                Reason(
                    "shifted",
                    {"position": 1655.0, "shift": -13.8, "low": -16.1, "high": -11.5, "margin": 4.0},
                ),
                Reason("lost-band", {"position": 1549.0}),
            ),
        ),
    )
    acid = Candidate(
        "acetic acid", "C=O stretch of the dimer", 1712.0, "invented2026", "memory", (1295.0, 935.0)
    )
    residue = Residue(
        "acetic acid",
        "cannot tell",
        (Reason("one-band", {"position": 1713.2}),),
        (1713.2,),
    )
    return SampleFinding(
        "acetic <script>alert(1)</script> $x_{$",
        {"gelatin": found},
        SubstrateFinding((SUBSTRATE_BAND,), Chemistry("changed", (MOVED_SUBSTRATE,))),
        (
            Unexplained(1713.2, 0.0123, 18.0, 9.8, (acid,)),
            Unexplained(1165.0, -0.0087, 14.0, -6.1, ()),
        ),
        {"acetic acid": residue},
        {"gelatin": ()},
        0.021 * bands_at(COATING_BANDS, -7.0) + bands_at(((1713.2, 0.012, 8.0),)),
        layer=SEEN,
    )


def silent_sample() -> SampleFinding:
    """Not shown; so nothing can be said of its chemistry."""
    bands = (band(1648.0, **NOT_SEEN), band(1542.0, **NOT_SEEN, assignment="amide II"))
    found = CoatingFinding(
        "gelatin",
        "gelatin",
        presence(
            "not shown",
            Reason("amount-below-critical", JOINT | {"amount": 0.0012, "p_value": 0.31}),
            amount=0.0012,
            amount_low=-0.0046,
            amount_high=0.0070,
            p_value=0.31,
        ),
        bands,
        Chemistry("cannot tell", (Reason("no-detected-band"),)),
    )
    wide = Reason("interval-too-wide", {"position": 1722.0, "low": -6.0, "high": 5.2, "margin": 4.0})
    return SampleFinding(
        "rinsed",
        {"gelatin": found},
        SubstrateFinding((SUBSTRATE_BAND,), Chemistry("cannot tell", (wide,))),
        (),
        {},
        {},
        0.0009 * np.sin(GRID / 37.0),
        layer=UNSEEN,
    )


def doubtful_sample() -> SampleFinding:
    """Cannot tell, twice, with nothing determined."""
    nothing = dict.fromkeys(
        ("amount", "amount_low", "amount_high", "critical_amount", "detectable_amount", "p_value")
    )
    found = CoatingFinding(
        "gelatin",
        None,
        presence(
            "cannot tell",
            Reason("bare-set-differs", {"regions": [(1000.0, 1100.0)]}),
            remedies=(Reason("measure-bare-alike"),),
            band_evidence=(),
            confidence=None,
            **nothing,
        ),
        (band(3290.0, **HIDDEN),),
        Chemistry(
            "cannot tell",
            (Reason("not-like-with-like", {"neat_technique": "transmission", "sample_technique": "ATR"}),),
        ),
    )
    return SampleFinding(
        "other lot",
        {"gelatin": found},
        SubstrateFinding((), Chemistry("cannot tell", (Reason("too-few-bare", {"found": 1, "needed": 2}),))),
        (),
        {},
        {},
        np.where(USABLE, 0.004 * np.cos(GRID / 61.0), np.nan),
        layer=Layer("cannot tell", (Reason("too-few-bare", {"found": 1, "needed": 2}),)),
    )


def group(role: str, name: str, pieces: int, **more: Any) -> Group:
    specimens = tuple(Specimen(f"s{i + 1}", (ROOT / role / f"{name}_{i + 1}.csv",)) for i in range(pieces))
    return Group(role, name, "ATR", specimens, **more)


def records(role: str, name: str, source: Stack) -> tuple[InputRecord, ...]:
    """One record a spot; the first bare spot carries faults, all but the neat ones an assumption."""
    made = []
    for row, (path, piece) in enumerate(zip(source.names, source.specimens, strict=True)):
        first = role == "bare" and row == 0
        fault = Fault(
            "vapour",
            "warning",
            "1400 to 1800 cm-1",
            "water vapour lines of 0.004 A",
            "Purge and measure again.",
        )
        made.append(
            InputRecord(
                path=str(ROOT / path),
                part="block 2" if role == "neat" else "",
                sha256=hashlib.sha256(path.encode()).hexdigest(),
                role=role,
                group=name,
                specimen=piece,
                points=GRID.size,
                low=float(GRID[0]),
                high=float(GRID[-1]),
                reader="jcamp" if role == "neat" else "delimited",
                x_unit="cm-1",
                y_unit="percent transmittance" if role == "neat" else "absorbance",
                assumed=() if role == "neat" else ("the first column is wavenumber in cm-1",),
                repairs=("DELTAX 2.5 replaced by 2.0 from first and last x",) if role == "neat" else (),
                faults=(fault,) if first else (),
            )
        )
    return tuple(made)


def verification(*samples: SampleFinding, title: str = "Gelatin mist coat, invented") -> Verification:
    """The result of an invented study with the given samples, or all four."""
    chosen = samples or (good_sample(), changed_sample(), silent_sample(), doubtful_sample())
    bare = bands_at(SUBSTRATE_BANDS)
    levelled = {
        ("bare", "substrate"): stack(bare, "bare", 5, 1, 0.002),
        ("neat", "gelatin"): stack(bands_at(COATING_BANDS), "neat", 1, 2, 0.001),
    }
    for number, sample in enumerate(chosen):
        shape = bare + np.nan_to_num(sample.difference)
        levelled["coated", sample.name] = stack(shape, f"coated{number}", 2, 3, 0.002)
    inputs = tuple(
        record for (role, name), spots in levelled.items() for record in records(role, name, spots)
    )
    study = Study(
        title=title,
        file=ROOT / "study.toml",
        sha256=hashlib.sha256(b"study").hexdigest(),
        instrument=Instrument("diamond", None, 45.0),
        substrate=group("bare", "substrate", 5, material="polycaprolactone"),
        coatings={"gelatin": group("neat", "gelatin", 1, material="gelatin")},
        samples={sample.name: group("coated", sample.name, 2, coatings=("gelatin",)) for sample in chosen},
        watch=("acetic acid",),
    )
    few = Fault(
        "few-specimens", "note", "samples", "2 specimens of each sample", "Three or more show the scatter."
    )
    versions = {"coatproof": "0.1.0", "python": "3.11.9", "numpy": "2.4.6"}
    return Verification(
        study, inputs, (few,), {sample.name: sample for sample in chosen}, Stages({}, {}, levelled), versions
    )
