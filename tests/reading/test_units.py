"""Where nothing states a unit: a small run of the trial, and what the sets agree on."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.errors import AmbiguityError, FormatError, ReadingError
from spectra.quality.group_faults import check_groups
from spectra.reading import read, read_alike
from spectra.spectrum import Origin, Spectrum
from spectra.units import UNSTATED, StatedUnits
from tests.unittrial import FULL, real_spectra, sets, singles

X = np.arange(650.0, 4000.1, 2.0)
FILM = 0.02 + 0.5 * np.exp(-(((X - 1700) / 20) ** 2)) + 0.2 * np.exp(-(((X - 2900) / 40) ** 2))
FILM += 0.3 * np.exp(-(((X - 1100) / 30) ** 2))


def put(folder, name, y, head="", x=X):
    path = folder / name
    path.write_text(head + "".join(f"{a:.2f},{b:.6g}\n" for a, b in zip(x, y, strict=True)), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def few():
    return list(real_spectra())[::12]


def test_no_altered_spectrum_is_read_wrongly(few):
    found = [outcome for _, _, outcome in singles(few, np.random.default_rng(7))]
    assert len(found) == len(few) * 11 * 3
    assert "wrong" not in found
    assert "refused without a remedy" not in found
    assert found.count("refused") <= 0.25 * len(found)  # every oxide is among the few


def test_no_set_of_five_is_read_wrongly(few):
    found = [outcome for _, _, outcome in sets(few[::3], np.random.default_rng(8))]
    assert "wrong" not in found
    assert "refused without a remedy" not in found


@pytest.mark.parametrize("unit", FULL)
def test_a_weak_file_is_read_as_those_beside_it(unit, tmp_path):
    rng, full = np.random.default_rng(4), FULL[unit]

    def values(a):
        a = a + rng.normal(0, 3e-4, a.size)
        return a if full is None else full * 10.0**-a

    blank = 0.3 + 0.0 * FILM
    alone = read_alike([put(tmp_path, "blank.csv", values(blank))], [UNSTATED])[0]
    assert isinstance(alone, ReadingError) or alone.spectra[0].origin.y_unit == unit
    paths = [put(tmp_path, f"film_{i}.csv", values(FILM * s)) for i, s in enumerate((0.5, 1.0, 0.2))]
    paths.append(put(tmp_path, "blank.csv", values(blank)))
    found = read_alike(paths, [UNSTATED] * 4)
    assert [one.spectra[0].origin.y_unit for one in found] == [unit] * 4
    assert {one.spectra[0].origin.assumed[-1] for one in found} == {found[0].spectra[0].origin.assumed[-1]}
    assert "of 4 spectra" in found[0].spectra[0].origin.assumed[-1]


def test_a_set_that_is_divided_is_refused_with_the_line_to_add(tmp_path):
    paths = [
        put(tmp_path, "a.csv", FILM),
        put(tmp_path, "b.csv", FILM * 0.8),
        put(tmp_path, "c.csv", 10**-FILM),
    ]
    found = read_alike(paths, [UNSTATED] * 3)
    assert all(isinstance(one, AmbiguityError) for one in found)
    assert 'ordinate = "absorbance" or ordinate = "transmittance" under [files]' in str(found[0])
    stated = [StatedUnits("absorbance"), StatedUnits("absorbance"), StatedUnits("transmittance")]
    spectra = [one.spectra[0] for one in read_alike(paths, stated)]
    assert np.allclose(spectra[0].absorbance, spectra[2].absorbance, atol=1e-4)


@pytest.mark.parametrize(
    ("y", "wanted", "message"),
    [
        (
            100 * 10**-FILM,
            "absorbance",
            r"stated as absorbance, but the ordinates reach 95.*percent transmittance",
        ),
        (10**-FILM, "percent transmittance", r"stated as percent transmittance, but .* reach 0\.955 only"),
        (100 * 10**-FILM, "transmittance", r'reach 95.*state it: ordinate = "percent transmittance"'),
    ],
)
def test_what_a_person_states_is_held_against_the_values(y, wanted, message, tmp_path):
    with pytest.raises(AmbiguityError, match=message):
        read(put(tmp_path, "film.csv", y), ordinate=wanted)


def test_a_person_overrules_a_heading_aloud(tmp_path):
    path = put(tmp_path, "film.csv", 10**-FILM, "cm-1,absorbance\n")
    with pytest.raises(AmbiguityError, match="stated as absorbance, but the bands point down"):
        read(path)
    (spectrum,) = read(path, ordinate="transmittance")
    assert np.allclose(spectrum.absorbance, FILM, atol=1e-5)
    assert [fault.code for fault in spectrum.origin.faults] == ["ordinate-overruled"]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Raman intensity", "a Raman intensity"),
        ("single beam", "a single beam"),
        ("signal (V)", "a voltage"),
        ("dA/dv", "a derivative"),
        ("Absorption (%)", "an absorptance"),
        ("weight (mg)", "a mass"),
    ],
)
def test_other_quantities_are_named(name, said, tmp_path):
    with pytest.raises(FormatError, match=f"the heading calls it {said}"):
        read(put(tmp_path, "film.csv", FILM, f"cm-1,{name}\n"))


@pytest.mark.parametrize(
    ("name", "factor"), [("absorbance (mAU)", 1000.0), ("Napierian absorbance", 2.302585092994046)]
)
def test_scaled_absorbances_become_decadic(name, factor, tmp_path):
    # ln 10 by definition of the Napierian absorbance (IUPAC Gold Book, doi:10.1351/goldbook.N04097)
    (spectrum,) = read(put(tmp_path, "film.csv", FILM * factor, f"cm-1,{name}\n"))
    assert np.allclose(spectrum.absorbance, FILM, rtol=1e-5)


def test_a_derivative_and_a_single_beam_without_headings_are_refused(tmp_path):
    second = np.gradient(np.gradient(FILM, X), X)
    with pytest.raises(FormatError, match="swing about zero with no net area"):
        read(put(tmp_path, "second.csv", second))
    # a black body of 1300 K behind an envelope that fades at both ends; Planck's law, textbook form
    source = X**3 / np.expm1(1.4388 * X / 1300) * np.exp(-(((X - 2000) / 1100) ** 4))
    beam = source / source.max() * 10 ** -(0.8 * np.exp(-(((X - 2350) / 15) ** 2)))
    with pytest.raises(FormatError, match="rise from dark ends to a bright middle, as a single beam"):
        read(put(tmp_path, "beam.csv", 0.8 * beam))


@pytest.mark.parametrize("decimals", [-1, 0])
def test_an_axis_rounded_to_three_digits_is_rebuilt_or_refused(decimals, tmp_path):
    x = np.linspace(400.0, 4000.0, 1868)
    rounded = np.array([float(f"{v:.3g}") for v in x]) if decimals < 0 else np.round(x)
    y = 0.1 + 0.3 * np.exp(-(((x - 1700) / 30) ** 2))
    path = tmp_path / "film.csv"
    path.write_text(
        "cm-1,absorbance\n" + "".join(f"{a:g},{b:.5f}\n" for a, b in zip(rounded, y, strict=True))
    )
    (spectrum,) = read(path)
    assert np.max(np.abs(spectrum.wavenumbers - x)) < 1.0  # half a step of 1.93


def test_roles_that_contradict_one_another_are_named():
    def made(y, name):
        return Spectrum(X, y, Origin(name))

    bare = [made(FILM * s, f"bare_{i}") for i, s in enumerate((1.0, 0.9, 1.1))]
    odd = made(0.9 - FILM, "odd")
    codes = {
        name: {fault.code for fault in check_groups(groups)}
        for name, groups in {
            "clean": {("bare", "substrate"): bare, ("neat", "wax"): [made(FILM, "n")]},
            "inverted": {("bare", "substrate"): bare, ("coated", "wet"): [odd]},
            "neat flat": {("bare", "substrate"): bare, ("neat", "wax"): [made(0.0 * X + 0.1, "n")]},
            "neat inverted": {("bare", "substrate"): bare, ("neat", "wax"): [odd]},
            "factor": {("bare", "substrate"): [*bare, made(FILM * 100, "percent")]},
        }.items()
    }
    assert codes == {
        "clean": set(),
        "inverted": {"unlike-bare"},
        "neat flat": {"neat-flat"},
        "neat inverted": {"neat-inverted"},
        "factor": {"heights-differ"},
    }
