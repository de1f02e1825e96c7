"""The shipped examples: they are what they say they are, and the chain finds in them what is there."""

from __future__ import annotations

import datetime
import hashlib
import os
import shutil
import subprocess
from functools import cache
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from pypdf import PdfReader

from examples.gelatin_on_pcl import generate as gelatin
from examples.polycarbonate_on_polystyrene import generate as polycarbonate
from spectra.findings import CHANGED, NOT_SHOWN, PRESENT, UNCHANGED
from spectra.report.files import compose
from spectra.study.loading import load_study
from spectra.verification.result import CoatingFinding, SampleFinding, Verification
from spectra.verification.verify import verify
from tests.places import EXAMPLES

FILM = EXAMPLES / "polycarbonate_on_polystyrene" / "film" / "jtpolys.jdx"
GENERATORS = [
    pytest.param(gelatin, EXAMPLES / "gelatin_on_pcl", 61, id="gelatin"),
    pytest.param(polycarbonate, EXAMPLES / "polycarbonate_on_polystyrene", 17, id="polycarbonate"),
]


def spectrum_files(folder: Path) -> dict[str, bytes]:
    """Every file in a sub-folder of an example: the spectra."""
    found = [path for path in folder.glob("*/*") if path.parent.name != "__pycache__"]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


@pytest.mark.parametrize(("generator", "folder", "count"), GENERATORS)
def test_generator_writes_the_shipped_bytes(generator: ModuleType, folder: Path, count: int) -> None:
    shipped = spectrum_files(folder)
    shipped.pop("film/jtpolys.jdx", None)
    made = {name: text.encode("ascii") for name, text in generator.make().items()}
    assert len(made) == count
    assert made.keys() == shipped.keys()
    assert [name for name in made if made[name] != shipped[name]] == []


@pytest.mark.parametrize(
    ("folder", "label", "count"),
    [
        ("gelatin_on_pcl", "invented data, computed by", 61),
        ("polycarbonate_on_polystyrene", "computed from measured optical constants by", 17),
    ],
)
def test_every_computed_file_says_so(folder: str, label: str, count: int) -> None:
    files = spectrum_files(EXAMPLES / folder)
    files.pop("film/jtpolys.jdx", None)
    assert len(files) == count
    heads = {name: data[:400].decode("ascii") for name, data in files.items()}
    assert [name for name, head in heads.items() if label not in head] == []
    assert "measured" in (EXAMPLES / folder / "README.md").read_text(encoding="utf-8").lower()


def test_the_measured_film_is_the_one_the_readme_names() -> None:
    digest = hashlib.sha256(FILM.read_bytes()).hexdigest()
    assert digest[:16] in (FILM.parents[1] / "README.md").read_text(encoding="utf-8")


def test_examples_stay_small() -> None:
    for folder in ("gelatin_on_pcl", "polycarbonate_on_polystyrene"):
        assert 2e5 < sum(len(data) for data in spectrum_files(EXAMPLES / folder).values()) < 2.5e6


def test_reflectance_obeys_the_identity_at_45_degrees() -> None:
    # Rp = Rs^2 at 45 degrees for any bulk sample (exact; follows from Fresnel's formulas). For diamond and
    # n = 1.5, k = 0.2 both sides are 0.28470327 (own calculation with the plain bulk formulas).
    nu = np.array([1000.0])
    bulk = np.array([(1.5 + 0.2j) ** 2])
    expected = (0.28470327 + np.sqrt(0.28470327)) / 2
    assert gelatin.reflectance(nu, bulk, 0.0, bulk) == pytest.approx(expected, abs=1e-8)


def test_reflectance_of_a_stack_agrees_with_tmm() -> None:
    # Transfer-matrix package tmm (Byrnes, arXiv:1603.02720): crystal, film, substrate.
    tmm = pytest.importorskip("tmm")
    film, substrate = 1.5 + 0.27j, 1.47 + 0.02j
    wavelength_nm = 1e7 / 1650.0
    layers = ([2.4, film, substrate], [np.inf, 90.0, np.inf], np.pi / 4, wavelength_nm)
    expected = np.mean([tmm.coh_tmm(polarisation, *layers)["R"] for polarisation in "sp"])
    found = gelatin.reflectance(np.array([1650.0]), np.array([film**2]), 90.0, np.array([substrate**2]))
    assert found == pytest.approx(expected, rel=1e-10)


def test_oscillators_obey_kramers_kronig() -> None:
    # n(nu) - n_inf = 2/pi P int nu' k(nu') / (nu'^2 - nu^2) dnu', by Maclaurin's rule: every second point
    # (Ohta and Ishida, Appl. Spectrosc. 42, 952, 1988). The oscillators reach beyond the grid on both sides.
    nu = np.arange(1.0, 20001.0)
    index = np.sqrt(gelatin.permittivity(gelatin.GELATIN, nu))
    for at in (1240, 1650, 1700, 2500):
        others = slice(at % 2, None, 2)  # points of the other parity than nu[at - 1] == at
        integrand = nu[others] * index.imag[others] / (nu[others] ** 2 - float(at) ** 2)
        n = gelatin.GELATIN.n_inf + 2 / np.pi * 2.0 * integrand.sum()
        assert n == pytest.approx(index.real[at - 1], abs=2e-4)


@cache
def judged(study: str) -> Verification:
    return verify(load_study(EXAMPLES / study))


def samples(study: str) -> dict[str, SampleFinding]:
    """Findings of one shipped study, by sample."""
    return dict(judged(study).samples)


def gelatin_on(sample: str) -> CoatingFinding:
    return samples("gelatin_on_pcl/study.toml")[sample].coatings["gelatin"]


@pytest.mark.parametrize("sample", ["aqueous", "acid"])
def test_gelatin_is_found(sample: str) -> None:
    assert gelatin_on(sample).presence.verdict == PRESENT


def test_gelatin_sprayed_from_water_is_unchanged_although_its_bands_stand_elsewhere() -> None:
    finding = gelatin_on("aqueous")
    assert finding.chemistry.verdict == UNCHANGED
    amide_one = min(finding.bands, key=lambda band: abs(band.neat_position - 1640))
    assert amide_one.found_position is not None
    # The film's amide I by exact Fresnel, without substrate scatter: 1653; the neat gelatin's: 1640.
    assert amide_one.found_position - amide_one.neat_position > 9
    assert samples("gelatin_on_pcl/study.toml")["aqueous"].substrate.chemistry.verdict == UNCHANGED


def test_acid_is_named_where_it_was_left_and_nowhere_else() -> None:
    found = samples("gelatin_on_pcl/study.toml")
    assert {name: found[name].residues["acetic acid"].verdict for name in ("aqueous", "acid")} == {
        "aqueous": NOT_SHOWN,
        "acid": PRESENT,
    }
    assert PRESENT not in {found[name].residues["ethanol"].verdict for name in found}


def test_browned_gelatin_is_changed() -> None:
    # Whether it may still be called gelatin is a matter of the rule; that nothing is there would be wrong.
    assert gelatin_on("hot").presence.verdict != NOT_SHOWN
    assert gelatin_on("hot").chemistry.verdict == CHANGED


def test_real_film_holds_polycarbonate_and_unchanged_polystyrene() -> None:
    film = samples("polycarbonate_on_polystyrene/study.toml")["film"]
    assert film.coatings["polycarbonate"].presence.verdict == PRESENT
    assert film.substrate.chemistry.verdict == UNCHANGED


@pytest.mark.parametrize("polymer", ["pmma", "pet", "pdms"])
def test_real_film_does_not_hold_other_polymers(polymer: str) -> None:
    film = samples(f"polycarbonate_on_polystyrene/study_{polymer}.toml")["film"]
    assert film.coatings[polymer].presence.verdict != PRESENT


def test_washing_leaves_what_it_leaves_and_the_control_nothing() -> None:
    found = samples("gelatin_on_pcl/washing.toml")
    kept = found["washed"].coatings["gelatin"].kept
    assert kept is not None
    assert kept.pairs == 3
    assert kept.share_low < gelatin.KEPT < kept.share_high
    assert kept.verdict == "lost"
    assert found["control"].contaminated == ()
    assert found["control"].coatings["gelatin"].presence.verdict != PRESENT
    # Every second spot holds half.
    even = found["patchy"].coatings["gelatin"].evenness
    assert even is not None
    assert even.populations == 2
    assert even.parts.low / even.parts.high == pytest.approx(0.5, abs=0.1)
    uneven = found["aqueous"].coatings["gelatin"].evenness
    assert uneven is not None
    assert uneven.populations == 1


@cache
def three_samples() -> dict[str, bytes]:
    """Every file of the report on the three shipped recipes."""
    return compose(judged("gelatin_on_pcl/study.toml"), datetime.date(2026, 1, 31))


def pages(path: Path) -> int:
    return len(PdfReader(path).pages)


def test_three_samples_take_eight_printed_pages_at_most(tmp_path: Path) -> None:
    (tmp_path / "report.pdf").write_bytes(three_samples()["report.pdf"])
    assert 4 <= pages(tmp_path / "report.pdf") <= 8


def test_the_page_of_three_samples_is_light_and_names_no_folder_of_this_machine() -> None:
    assert len(three_samples()["report.html"]) <= 600_000
    for name in ("report.html", "result.json", "methods.txt"):
        assert str(EXAMPLES).encode() not in three_samples()[name], name


@pytest.mark.skipif(shutil.which("chromium") is None, reason="chromium is not installed")
def test_three_samples_take_eight_pages_at_most_printed_by_a_browser(tmp_path: Path) -> None:
    (tmp_path / "report.html").write_bytes(three_samples()["report.html"])
    root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    printed = tmp_path / "printed.pdf"
    command = ["chromium", "--headless", "--disable-gpu", "--no-pdf-header-footer", *root]
    command += [f"--print-to-pdf={printed}", f"--user-data-dir={tmp_path / 'profile'}"]
    subprocess.run(
        [*command, (tmp_path / "report.html").as_uri()], check=True, capture_output=True, timeout=120
    )
    assert 4 <= pages(printed) <= 8
