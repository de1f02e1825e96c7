"""The terminal: short, plain, and the same words as the page."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spectra.report.text import as_text, look_text
from spectra.spectrum import Fault, Origin, Spectrum
from tests import fakes
from tests.goldfiles import require_gold


def test_one_sample_fits_a_screen() -> None:
    lines = as_text(fakes.verification(fakes.good_sample())).splitlines()
    assert len(lines) <= 34
    assert max(len(line) for line in lines) <= 100


def test_terminals_of_every_locale_can_show_it() -> None:
    as_text(fakes.verification()).encode("ascii")


def test_verdicts_reasons_numbers_and_remedies_are_there() -> None:
    text = as_text(fakes.verification())
    for needed in ("PRESENT", "NOT SHOWN", "CANNOT TELL", "CHANGED", "UNCHANGED", "To do:"):
        assert needed in text
    assert "1 of 4 expected coatings present and unchanged" in text
    assert "2.10 % (1.52 to 2.68 %)" in text


def test_names_have_no_power_over_the_terminal() -> None:
    evil = "\x1b]0;owned\x07\x1b[2J\u202e\rPRESENT"
    sample = replace(fakes.good_sample(), name=evil)
    spectrum = Spectrum(np.array([400.0, 402.0]), np.array([0.1, 0.2]), Origin("a.csv", title=evil))
    for text in (as_text(fakes.verification(sample, title=evil)), look_text((spectrum,))):
        assert all(line.isprintable() for line in text.split("\n"))
        assert "\\x1b]0;owned" in text


def test_gold() -> None:
    require_gold("verdicts.txt", as_text(fakes.verification()))


def test_look_says_units_assumptions_mendings_and_faults() -> None:
    fault = Fault(
        "fringes", "warning", "2000 to 2600 cm-1", "interference fringes, period 33 cm-1", "Tilt the film."
    )
    origin = Origin(
        "film.dx", "block 2", "a film", "0" * 64, "jcamp", "um", "percent transmittance",
        assumed=("percent, from the size of the values",), repairs=("DELTAX taken from the axis",),
        faults=(fault,),
    )  # fmt: skip
    spectrum = Spectrum(np.array([400.0, 402.0, 404.0]), np.array([0.1, np.nan, 0.2]), origin)
    clean = Spectrum(np.array([400.0, 402.0]), np.array([0.1, 0.2]), Origin("clean.csv", reader="delimited"))
    text = look_text((spectrum, clean))
    for needed in (
        "film.dx [block 2]",
        "units in the file: um, percent transmittance",
        "points: 3, 400 to 404 cm-1, one every 2.00 cm-1",
        "without absorbance: 1 point",
        "assumed: percent, from the size of the values",
        "mended: DELTAX taken from the axis",
        "warning: interference fringes, period 33 cm-1 (2000 to 2600 cm-1)",
        "To do: Tilt the film.",
        "faults: none found",
    ):
        assert needed in text, text
    assert text.count("none found") == 1
