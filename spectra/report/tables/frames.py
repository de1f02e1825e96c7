"""The result as tables of numbers: the very ones that the CSV files, the workbook and the page are made of.

Units stand in the heads of the columns and in ``attrs["units"]``; what could not be determined is missing
(NaN). Amounts are in per cent of the neat spectra as measured, positions and widths in cm-1, heights in
absorbance, lengths in nm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from spectra.findings import BandFinding
from spectra.report.tables.inputs import shown_path
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

if TYPE_CHECKING:
    import pandas as pd

# Unit of each number of a band, and how far it is rounded in files: decimals, or significant digits ("s").
BAND_UNITS: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys(("neat_position", "expected_position", "found_position"), ("cm-1", "2")),
    **dict.fromkeys(("neat_error", "expected_error", "found_error"), ("cm-1", "2")),
    **dict.fromkeys(("shift", "shift_low", "shift_high", "margin", "optical_bound"), ("cm-1", "2")),
    **dict.fromkeys(("neat_width", "found_width"), ("cm-1", "1")),
    **dict.fromkeys(
        ("neat_height", "found_height", "critical_height", "evidence_height"), ("absorbance", "3s")
    ),
    **dict.fromkeys(("p_value", "p_adjusted"), ("", "2s")),
    **dict.fromkeys(("ratio", "ratio_low", "ratio_high"), ("1", "3s")),
    "evidence": ("t", "3s"),
    "confidence": ("", "3s"),
}

# The reference of a substrate band is the bare substrate, that of a coating band the neat coating.
RENAMED = {
    "neat_position": "reference_position",
    "neat_error": "reference_error",
    "neat_height": "reference_height",
    "neat_width": "reference_width",
    "verdict": "position_verdict",
}

FIRST = ("assignment", "neat_position", "neat_error")


@dataclass(frozen=True, eq=False)
class Tables:
    """The four tables of a result.

    Attributes
    ----------
    samples : DataFrame
        One row a coating on a sample: verdicts, amount, thickness, limits, residues.
    bands : DataFrame
        One row a band, coatings first, then the substrate.
    amounts : DataFrame
        One row a spot.
    inputs : DataFrame
        One row a spectrum read.
    """

    samples: pd.DataFrame
    bands: pd.DataFrame
    amounts: pd.DataFrame
    inputs: pd.DataFrame


def tables(verification: Verification) -> Tables:
    """Return a result as DataFrames.

    Parameters
    ----------
    verification : Verification

    Returns
    -------
    Tables
        Of ``samples``, ``bands``, ``amounts`` and ``inputs``.
    """
    return Tables(
        _frame(_sample_rows(verification)),
        _frame(_band_rows(verification)),
        _frame(_amount_rows(verification)),
        _frame(_input_rows(verification)),
    )


def _frame(rows: Iterable[Mapping[tuple[str, str], Any]]) -> pd.DataFrame:
    """Make a table of rows keyed by name and unit; a column without any value is left out."""
    import pandas as pd

    listed = list(rows)
    names = list(dict.fromkeys(key for row in listed for key in row))
    heads = {key: f"{key[0]} / {key[1]}" if key[1] else key[0] for key in names}
    columns = {heads[key]: [row.get(key) for row in listed] for key in names}
    known = {head: cells for head, cells in columns.items() if any(cell not in (None, "") for cell in cells)}
    table = pd.DataFrame(known)
    table.attrs["units"] = {heads[key]: key[1] for key in names if key[1] and heads[key] in known}
    return table


def _sample_rows(verification: Verification) -> Iterator[dict[tuple[str, str], Any]]:
    """Yield one row for each coating on each sample."""
    for sample in verification.samples.values():
        for coating in sample.coatings.values():
            yield {
                ("sample", ""): sample.name,
                ("coating", ""): coating.name,
                ("material", ""): coating.material or "",
                ("technique", ""): verification.study.samples[sample.name].technique,
                ("expected", ""): sample.expect,
                **_layer(sample),
                ("presence", ""): coating.presence.verdict,
                ("chemistry", ""): coating.chemistry.verdict,
                ("substrate chemistry", ""): sample.substrate.chemistry.verdict,
                **_amount_of(coating),
                ("residues", ""): "; ".join(
                    f"{name}: {residue.verdict}" for name, residue in sample.residues.items()
                ),
                ("unexplained bands", ""): len(sample.unexplained) + sample.unexplained_more,
            }


def _layer(sample: SampleFinding) -> dict[tuple[str, str], Any]:
    """Whether anything at all is on the surface, where that was judged."""
    return {} if sample.layer is None else {("layer", ""): sample.layer.verdict}


def _amount_of(coating: CoatingFinding) -> dict[tuple[str, str], Any]:
    """Amount, thickness, limits and replication of a coating."""
    presence = coating.presence
    shares = ("amount", "amount_low", "amount_high", "critical_amount", "detectable_amount")
    lengths = ("thickness", "thickness_low", "thickness_high", "critical", "detectable")
    known = {(name, "%"): _percent(getattr(presence, name)) for name in shares}
    heads = {"critical": "critical_thickness", "detectable": "detectable_thickness"}
    nm = {(heads.get(name, name), "nm"): getattr(presence, f"{name}_nm") for name in lengths}
    rest = {
        ("confidence", ""): presence.confidence,
        ("p_value", ""): presence.p_value,
        ("spots", ""): presence.spots,
        ("specimens", ""): presence.specimens,
        ("judged_share", "%"): _percent(coating.judged_share),
    }
    return known | nm | rest


def _percent(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _band_rows(verification: Verification) -> Iterator[dict[tuple[str, str], Any]]:
    """Yield every band with its sample, role and material; assignment and positions first."""
    names = [item.name for item in fields(BandFinding)]
    ordered = [*FIRST, *(name for name in names if name not in FIRST)]
    for where, band in _bands(verification):
        head = {("sample", ""): where[0], ("role", ""): where[1], ("material", ""): where[2]}
        yield head | {
            (RENAMED.get(name, name), BAND_UNITS.get(name, ("", ""))[0]): getattr(band, name)
            for name in ordered
        }


def _bands(verification: Verification) -> Iterator[tuple[tuple[str, str, str], BandFinding]]:
    """Every band with its sample, role and group."""
    substrate = verification.study.substrate
    for name, sample in verification.samples.items():
        for coating in sample.coatings.values():
            yield from (((name, "coating", coating.name), band) for band in coating.bands)
        bare = substrate.material or substrate.name
        yield from (((name, "substrate", bare), band) for band in sample.substrate.bands)


def _amount_rows(verification: Verification) -> Iterator[dict[tuple[str, str], Any]]:
    """Yield every spot's amount with that of its specimen."""
    for sample in verification.samples.values():
        spots = _spots_of(verification, sample.name)
        for coating, pieces in sample.evenness.items():
            for piece in pieces:
                names = spots.get(piece.specimen, [])
                for number, amount in enumerate(piece.spots):
                    yield {
                        ("sample", ""): sample.name,
                        ("coating", ""): coating,
                        ("specimen", ""): piece.specimen,
                        ("spot", ""): names[number] if len(names) == len(piece.spots) else str(number + 1),
                        ("spot_amount", "%"): _percent(amount),
                        ("specimen_amount", "%"): _percent(piece.amount),
                        ("specimen_amount_low", "%"): _percent(piece.amount_low),
                        ("specimen_amount_high", "%"): _percent(piece.amount_high),
                    }


def _spots_of(verification: Verification, sample: str) -> dict[str, list[str]]:
    """Return the names of the spots on each specimen of a sample, in the order they were read."""
    found: dict[str, list[str]] = {}
    for item in verification.inputs:
        if item.role == "coated" and item.group == sample:
            path = shown_path(item.path, verification.study)
            found.setdefault(item.specimen, []).append(f"{path} [{item.part}]" if item.part else path)
    return found


def _input_rows(verification: Verification) -> Iterator[dict[tuple[str, str], Any]]:
    """Yield every spectrum that was read; none is left out."""
    for item in verification.inputs:
        yield {
            ("file", ""): shown_path(item.path, verification.study),
            ("part", ""): item.part,
            ("role", ""): item.role,
            ("group", ""): item.group,
            ("specimen", ""): item.specimen,
            ("points", ""): item.points,
            ("low", "cm-1"): item.low,
            ("high", "cm-1"): item.high,
            ("unit of x", ""): item.x_unit,
            ("unit of y", ""): item.y_unit,
            ("read as", ""): item.reader,
            ("assumed", ""): "; ".join(item.assumed),
            ("mended", ""): "; ".join(item.repairs),
            ("faults", ""): "; ".join(f"{fault.severity}: {fault.found}" for fault in item.faults),
            ("sha256", ""): item.sha256,
        }
