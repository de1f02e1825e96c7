"""What is doubtful about the inputs in a few lines: one for each kind of fault, the most serious first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from spectra.report.tables.inputs import shown_path
from spectra.report.words.numerals import counted
from spectra.spectrum import Fault
from spectra.verification.result import Verification

# A reading that may be wrong comes first, then spectra that may not belong; everything else by number.
_MOST_SERIOUS = (
    "ordinate-contradicts-unit",
    "ordinate-overruled",
    "unlike-bare",
    "neat-inverted",
    "neat-flat",
    "heights-differ",
    "mixed-ordinates",
    "mixed-scale",
    "interferogram-suspected",
    "single-beam-suspected",
    "identical-spectra",
    "part-left-out",
    "gas-lines-only",
)

_SHOWN = 6


@dataclass(frozen=True)
class FaultGroup:
    """One kind of fault: the first of them, and the spectra it was found in."""

    fault: Fault
    names: tuple[str, ...]

    @property
    def line(self) -> str:
        """One line for all spectra with this fault."""
        fault, count = self.fault, len(self.names)
        if count == 1:
            return f"{self.names[0]}: {fault.found} ({fault.where})"
        return (
            f"{counted(count, 'spectrum', 'spectra')}, {self.names[0]} first: {fault.found} ({fault.where})"
        )


def fault_groups(verification: Verification) -> tuple[FaultGroup, ...]:
    """Return the warnings of a verification by kind, the most serious first."""
    found: dict[str, tuple[Fault, list[str]]] = {}
    for fault in verification.faults:
        if fault.severity == "warning":
            found.setdefault(fault.code, (fault, []))[1].append("the set")
    for item in verification.inputs:
        name = shown_path(item.path, verification.study) + (f" [{item.part}]" if item.part else "")
        for code, fault in {fault.code: fault for fault in item.faults}.items():
            if fault.severity == "warning":
                found.setdefault(code, (fault, []))[1].append(name)
    groups = [FaultGroup(fault, tuple(names)) for fault, names in found.values()]
    return tuple(sorted(groups, key=_rank))


def _rank(group: FaultGroup) -> tuple[int, int, str]:
    code = group.fault.code
    place = _MOST_SERIOUS.index(code) if code in _MOST_SERIOUS else len(_MOST_SERIOUS)
    return place, -len(group.names), code


def warning_lines(verification: Verification) -> Iterator[str]:
    """Yield the most serious warnings, one line for each kind, with its remedy; the rest is counted."""
    groups = fault_groups(verification)
    for group in groups[:_SHOWN]:
        yield f"Warning: {group.line}. {group.fault.remedy}"
    if rest := groups[_SHOWN:]:
        yield f"{counted(len(rest), 'more kind')} of warning: see 'Faults in the inputs' in the report"


def unit_lines(verification: Verification) -> Iterator[str]:
    """Yield what was taken for a unit that no file states, once for all files it was taken for."""
    said: dict[str, int] = {}
    for item in verification.inputs:
        for clause in item.assumed:
            if " taken as " in clause and clause.startswith(("ordinate", "abscissa", "wavelengths")):
                said[clause] = said.get(clause, 0) + 1
    for clause, count in said.items():
        yield f"Taken: {clause} ({counted(count, 'spectrum', 'spectra')})"
