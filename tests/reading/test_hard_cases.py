"""Hard files written anew from known curves: read right, or refused, and never wrong without a word."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from spectra.errors import ReadingError
from spectra.reading import read
from spectra.spectrum import Spectrum
from tests.hardcases import CASES, Case
from tests.reading.test_cases import warned

ALLOWED = {
    "read": {"right"},
    "read or refuse": {"right", "refused"},
    "refuse": {"refused"},
    "refuse or warn": {"refused", "warned"},
}
ROUNDED = 0.51  # cm-1: some files give whole wavenumbers


def right(found: tuple[Spectrum, ...], case: Case) -> bool:
    """Whether the spectra are those of the truth, to the digits of the files."""
    if len(found) != len(case.truths):
        return False
    for spectrum, truth in zip(found, case.truths, strict=True):
        order = np.argsort(case.x[: truth.size])
        if len(spectrum) != truth.size:
            return False
        off = np.abs(spectrum.wavenumbers - case.x[order])
        close = np.abs(spectrum.absorbance - truth[order]) <= 2e-5 + 2e-3 * np.abs(truth[order])
        empty = np.isnan(spectrum.absorbance) & np.isnan(truth[order])
        if off.max() > ROUNDED or not np.all(close | empty):
            return False
    return True


def outcome(path: Path, case: Case) -> str:
    """``right``, ``refused``, ``warned``, or ``wrong``."""
    try:
        found = read(path)
    except ReadingError:
        return "refused"
    if case.truths:
        return "right" if right(found, case) else "wrong"
    return "warned" if warned(found) else "wrong"


@pytest.mark.parametrize("name", CASES)
def test_case(name, tmp_path):
    case, path = CASES[name], tmp_path / name
    case.write(path)
    assert outcome(path, case) in ALLOWED[case.kind]
