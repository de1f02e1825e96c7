"""Of what is left over on a sample, what is none of its coatings'."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from spectra.findings import CANNOT_TELL, PRESENT
from spectra.residues.search import Bump
from spectra.residues.settings import ResidueSettings
from spectra.verification.sample import _none_of_the_coatings

SETTINGS = ResidueSettings()


def left(height: float, position: float, verdict: str = PRESENT, masked: bool = False) -> int:
    """How many of one bump are kept beside a broad band at 3300 and a narrow one at 1650."""
    bands = [
        SimpleNamespace(expected_position=at, neat_width=width, masked=masked)
        for at, width in ((3300.0, 200.0), (1650.0, 40.0))
    ]
    coating: Any = SimpleNamespace(presence=SimpleNamespace(verdict=verdict), bands=bands)
    search: Any = SimpleNamespace(found=(Bump(position, height, 40.0, 9.0, 1e-4),))
    return len(_none_of_the_coatings(search, {"film": coating}, SETTINGS))


@pytest.mark.parametrize(
    ("position", "kept"), [(3333.0, 0), (3345.0, 0), (3355.0, 1), (1660.0, 0), (1690.0, 1)]
)
def test_absorption_missing_at_a_coatings_own_band_is_that_bands(position: float, kept: int) -> None:
    assert left(-0.006, position) == kept


def test_new_absorption_is_told_wherever_it_stands() -> None:
    assert left(0.006, 3333.0) == left(0.006, 1650.0) == 1


def test_a_coating_that_is_not_there_or_a_hidden_band_explains_nothing() -> None:
    assert left(-0.006, 3333.0, verdict=CANNOT_TELL) == 1
    assert left(-0.006, 3333.0, masked=True) == 1
