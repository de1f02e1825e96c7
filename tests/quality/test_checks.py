"""Faults are found where they were planted, and not in clean spectra."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.errors import SettingError, SpectraError
from spectra.quality.checks import CheckSettings, check_set, check_spectrum
from spectra.quality.measures import measure_quality
from spectra.quality.set_faults import SET_CHECKS
from spectra.quality.spectrum_faults import SPECTRUM_CHECKS
from spectra.reading import read
from spectra.spectrum import Fault, Origin, Spectrum
from tests.quality.test_measures import DISK, X, bands, carbon_dioxide, noise, vapour, zero_filled


def film(y=None, x=X, name: str = "film.csv", **origin) -> Spectrum:
    values = bands(x) + noise(1e-4, x.size) if y is None else y
    return Spectrum(x, values, Origin(name, **origin))


def codes(spectrum: Spectrum) -> list[str]:
    return [fault.code for fault in check_spectrum(spectrum)]


def changed(where, value) -> np.ndarray:
    y = bands() + noise(1e-4)
    y[where] = value
    return y


def test_a_clean_spectrum_has_no_fault():
    assert codes(film()) == []


INTERFEROGRAM = np.cos(np.arange(X.size) * 2.1) * np.exp(-np.abs(np.arange(X.size) - 1800) / 4.0) + noise(
    2e-4
)
SINGLE_BEAM = np.exp(-(((X - 1900) / 900) ** 2)) * 10 ** -vapour(0.4, 2.0)

PLANTED = {
    "absorbance-saturated": film(changed(slice(700, 705), 3.0)),
    "ordinate-contradicts-unit": film(10 ** -bands()),
    "values-quantised": film(np.round(bands() + noise(1e-4), 2)),
    "axis-gap": film(np.delete(bands() + noise(1e-4), slice(1500, 1560)), np.delete(X, slice(1500, 1560))),
    "axis-uneven": film(x=1e4 / np.linspace(2.5, 25, 3000)[::-1]),
    "constant-end": film(changed(slice(-30, None), 0.0)),
    "interferogram-suspected": film(INTERFEROGRAM),
    "single-beam-suspected": film(SINGLE_BEAM),
    "outside-mid-infrared": film(x=np.arange(400.0, 7000.0, 2.0)),
    "resolution-coarse": film(x=np.arange(400.0, 4000.0, 8.0)),
    "noise-high": film(bands() + noise(5e-3)),
    "detector-cut-off": film(bands() + noise(1e-4) * np.where(X < 480, 300.0, 1.0)),
    "water-vapour": film(bands() + vapour(0.02, 2.0) + noise(1e-4)),
    "carbon-dioxide": film(bands() + carbon_dioxide(0.02) + noise(1e-4)),
    "zero-filled": zero_filled(2),
    "gas-lines-only": film(vapour(0.1, 2.0) + carbon_dioxide(0.1) + noise(1e-5)),
    "fringes": film(bands() + 0.01 * np.cos(2 * np.pi * X / 60) + noise(1e-4)),
}


@pytest.mark.parametrize("code", PLANTED)
def test_planted_faults_are_found_with_a_remedy(code):
    faults = {fault.code: fault for fault in check_spectrum(PLANTED[code])}
    assert code in faults
    fault = faults[code]
    assert fault.severity in ("note", "warning")
    assert fault.where
    assert any(letter.isdigit() for letter in fault.found) or code.endswith(("suspected", "unit", "only"))
    assert fault.remedy.endswith(".")
    assert fault.remedy.count(". ") == 0  # one sentence


@pytest.mark.parametrize(
    ("code", "where"),
    [
        ("absorbance-saturated", "1100 to 1104 cm-1"),
        ("axis-gap", "1899.0 to 1960.0 cm-1"),
        ("constant-end", "3970 to 3999 cm-1"),
    ],
)
def test_faults_say_where(code, where):
    assert {fault.code: fault.where for fault in check_spectrum(PLANTED[code])}[code] == where


def test_fringes_give_the_optical_thickness():
    (fault,) = (fault for fault in check_spectrum(PLANTED["fringes"]) if fault.code == "fringes")
    assert fault.found.startswith("fringes every 60.0 cm-1, amplitude 0.01 A: thickness times index 83.3 um")


def test_detector_cut_off_names_the_limit():
    (fault,) = (
        fault for fault in check_spectrum(PLANTED["detector-cut-off"]) if fault.code == "detector-cut-off"
    )
    # 480, to within the stretch of 60 points that is looked at
    assert 420 <= float(fault.where.split(" to ")[1].split()[0]) <= 540


@pytest.mark.parametrize(
    ("spectrum", "message"),
    [
        (
            film(np.array([0.1, 0.2, 0.1]), np.array([1000.0, 1001, 1002])),
            "found 3 points; expected at least 50",
        ),
        (
            film(np.ones(300), np.arange(5000.0, 8000.0, 10.0)),
            "5000 to 7990 cm-1 holds 0 points with a value",
        ),
        (film(np.ones(300), np.arange(50.0, 350.0)), "50 to 349 cm-1 holds 0 points"),
        (film(np.where(X > 3980, 0.1, np.nan)), "holds 19 points with a value in the mid infrared"),
    ],
)
def test_spectra_that_cannot_be_used(spectrum, message):
    with pytest.raises(SpectraError, match=message):
        check_spectrum(spectrum)


def test_what_reading_has_said_is_not_said_again():
    spectrum = PLANTED["constant-end"]
    assert "constant-end" in codes(spectrum)
    known = spectrum.with_faults([Fault("constant-end", "warning", "", "", "")])
    assert "constant-end" not in codes(known)


def test_settings_move_the_limits():
    spectrum = film(changed(slice(700, 705), 1.5))
    assert codes(spectrum) == []
    assert [fault.code for fault in check_spectrum(spectrum, CheckSettings(saturated=1.0))] == [
        "absorbance-saturated"
    ]
    with pytest.raises(SettingError, match=r"'saturated' of CheckSettings is 9; expected 0\.5 to 6"):
        CheckSettings(saturated=9)


EXPECTED = {
    "fixinc2": {"absorbance-saturated"},
    "jtpolys": set(),
    "jtpolysd": set(),
    "pacdec1": set(),
    "fixinc1": {"absorbance-saturated", "water-vapour"},  # 0.03 A, visible as lines in 1400 to 1900 cm-1
}


@pytest.mark.parametrize("name", EXPECTED)
def test_public_spectra(name):
    (spectrum,) = read(DISK / f"{name}.jdx")
    assert set(codes(spectrum)) == EXPECTED[name]


def test_transmittance_that_is_absorbance():
    film_in_a = film(10 ** -(bands() + 0.3) * 0 + bands(), y_unit="absorbance")
    mistaken = Spectrum(X, -np.log10(film_in_a.absorbance + 0.001), Origin("a.csv", y_unit="transmittance"))
    assert "ordinate-contradicts-unit" in codes(mistaken)


def named(*names: str, **changes) -> list[Spectrum]:
    return [film(bands() + noise(1e-4, seed=i), name=name, **changes) for i, name in enumerate(names)]


def test_a_good_set_has_no_fault():
    assert check_set(named("a.csv", "b.csv", "c.csv")) == ()
    assert check_set([]) == ()


def test_identical_spectra_are_one_measurement():
    first, second = named("a.csv", "b.csv")
    copy = film(first.absorbance, name="copy.csv")
    (fault,) = check_set([first, second, copy])
    assert (fault.code, fault.where, fault.found) == (
        "identical-spectra",
        "a.csv, copy.csv",
        "the numbers are identical",
    )
    same_bytes = [film(first.absorbance, name=name, sha256="ab") for name in ("a.csv", "b.csv")]
    assert check_set(same_bytes)[0].found == "the files are byte-identical"


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        (film(x=np.arange(400.0, 4000.0, 2.0), name="odd.csv"), "mixed-resolution"),
        (film(x=np.arange(400.0, 2000.0, 1.0), name="odd.csv"), "mixed-range"),
        (film(100 * bands(), name="odd.csv"), "mixed-scale"),
        (
            film(
                bands() + noise(1e-4, seed=9),
                name="odd.csv",
                y_unit="transmittance",
                assumed=("values taken as transmittance (fraction)",),
            ),
            "mixed-ordinates",
        ),
    ],
)
def test_the_odd_one_out_is_named(odd, code):
    faults = check_set([*named("a.csv", "b.csv", "c.csv"), odd])
    assert [(fault.code, fault.where) for fault in faults] == [(code, "odd.csv")]
    assert faults[0].remedy.endswith(".")


@pytest.mark.parametrize("check", SPECTRUM_CHECKS)
def test_every_check_finds_something_planted(check):
    found = [check(one, measure_quality(one), CheckSettings()) for one in PLANTED.values()]
    assert any(found)


def test_every_check_of_a_set_is_tried():
    assert len(SET_CHECKS) == 5  # the four odd ones out above, and copies
