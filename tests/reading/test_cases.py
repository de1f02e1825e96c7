"""Hard files made for the purpose, with what they hold: read right, or refused, and never wrong unsaid.

The truth stands in ``data/reading_cases/expected.json``: it was written when the files were made, from the
curves they were made of, and not by this program.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from spectra.errors import ReadingError, SpectraError
from spectra.quality.checks import check_spectrum
from spectra.reading import read
from spectra.spectrum import Spectrum
from tests.places import DATA

FOLDER = DATA / "reading_cases"
CASES: dict[str, dict[str, Any]] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))

# What a case of each kind may come to. Standard deviations beside a spectrum are no spectra.
ALLOWED = {
    "read": {"right"},
    "read_or_refuse": {"right", "refused"},
    "refuse": {"refused"},
    "refuse_or_warn": {"refused", "warned"},
    "half_sd": {"right"},
}
MOST_REFUSED = 2  # of the cases that a person reads at a glance


def warned(spectra: tuple[Spectrum, ...]) -> bool:
    """Whether anything about the spectra is said to be doubtful."""
    faults = [fault for spectrum in spectra for fault in spectrum.origin.faults]
    for spectrum in spectra:
        try:
            faults += check_spectrum(spectrum)
        except SpectraError:
            return True  # said aloud: nothing of it can be used
    return any(fault.severity == "warning" for fault in faults)


def differs(spectrum: Spectrum, truth: dict[str, Any]) -> bool:
    """Whether points or values are not those of the truth, to the digits of the files."""
    if len(spectrum) != truth["points"]:
        return True
    for position, expected in zip(truth["at_cm-1"], truth["absorbance"], strict=True):
        at = int(np.argmin(np.abs(spectrum.wavenumbers - position)))
        found = spectrum.absorbance[at]
        if abs(spectrum.wavenumbers[at] - position) > 0.02 + 2e-4 * position:
            return True
        if (
            np.isfinite(found)
            if expected is None
            else not abs(found - expected) <= 2e-5 + 2e-3 * abs(expected)
        ):
            return True
    return False


def outcome(name: str) -> str:
    """``right``, ``refused``, ``warned``, or ``wrong``."""
    case = CASES[name]
    try:
        spectra = read(FOLDER / name)
    except ReadingError:
        return "refused"
    truth = case.get("spectra")
    if truth is None:
        return "warned" if warned(spectra) else "wrong"
    if len(spectra) == len(truth) and not any(map(differs, spectra, truth)):
        return "right"
    return "wrong"


def test_every_case_has_its_file():
    assert {path.name for path in FOLDER.iterdir()} == {*CASES, "expected.json", "README.md"}
    assert len(CASES) == 95


@pytest.mark.parametrize("name", CASES)
def test_case(name):
    assert outcome(name) in ALLOWED[CASES[name]["kind"]]


def test_a_refusal_says_where_and_what_to_do():
    for name, case in CASES.items():
        if case["kind"] == "refuse":
            with pytest.raises(ReadingError, match=name.replace("+", r"\+")) as caught:
                read(FOLDER / name)
            assert any(word in str(caught.value) for word in ("export", "state", "save", "correct", "Export"))
