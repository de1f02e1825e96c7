"""Expected spectra and positions in the chain, against exact films of real optical constants."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tmm import coh_tmm

from spectra.groups import Group, Instrument, Specimen
from spectra.optics.prediction import Prediction, Recorded, at_thickness, geometry_of, predict
from spectra.optics.settings import InversionSettings, PredictionSettings
from spectra.peaks.reference import measure_reference
from spectra.peaks.settings import PeakSettings
from spectra.spectrum import Stack
from tests.places import DATA

CONSTANTS = DATA / "optical_constants"  # CC0; publications in SOURCES.md there
GRID = np.arange(800.0, 2000.0, 2.0)
DIAMOND = Instrument(crystal="diamond", angle_deg=45.0)


def constants(name: str) -> np.ndarray:
    nu, n, k = np.loadtxt(CONSTANTS / f"{name}.csv", delimiter=",", skiprows=1, unpack=True)
    order = np.argsort(nu)
    return np.interp(GRID, nu[order], n[order]) + 1j * np.interp(GRID, nu[order], k[order])


def atr(layers: list[np.ndarray], nm: list[float]) -> np.ndarray:
    """Reflection absorbance of a stack on diamond (n 2.38) at 45 degrees by the PyPI package tmm."""
    rows = []
    for i, nu in enumerate(GRID):
        stack = [2.38, *(layer[i] for layer in layers)]
        power = [coh_tmm(p, stack, [np.inf, *nm, np.inf], np.pi / 4, 1e7 / nu)["R"] for p in "sp"]
        rows.append(-np.log10(np.mean(power)))
    return np.array(rows)


def group(role: str, technique: str = "ATR", contact: float | None = 1.0) -> Group:
    return Group(role, role, technique, (Specimen("a", ()),), contact=contact)


def stack(values: np.ndarray) -> Stack:
    noisy = [values + 1e-5 * np.random.default_rng(i).normal(size=values.size) for i in range(3)]
    return Stack(GRID, noisy, ("a", "b", "c"), ("a", "b", "c"))


@pytest.fixture(scope="module")
def scene() -> dict[str, np.ndarray]:
    film, bed = constants("poly_methyl_methacrylate__Tsuda-BB"), constants("polystyrene__Myers")
    return {
        "neat": atr([film], []),
        "bare": atr([bed], []),
        "thin": atr([film, bed], [10.0]),
        "film": atr([film, bed], [150.0]),
        "clear film": atr([film.real + 0j, bed], [150.0]),
    }


def predicted(
    scene: dict[str, np.ndarray],
    instrument: Instrument,
    technique: str = "ATR",
    contact: float | None = 1.0,
) -> Prediction:
    neat = stack(scene["neat"])
    reference = measure_reference(neat, "neat", PeakSettings(prominence=0.1))
    return predict(
        Recorded(neat, group("neat", contact=contact), instrument),
        reference,
        Recorded(stack(scene["bare"]), group("bare", contact=contact), instrument),
        geometry_of(group("coated", technique), instrument),
        PredictionSettings(),
        InversionSettings(),
    )


def test_carbonyl_is_expected_where_the_exact_film_has_it(scene: dict[str, np.ndarray]) -> None:
    # PMMA C=O: the thin film lies about 14 cm-1 above the bulk (exact Fresnel, real constants).
    prediction = predicted(scene, Instrument(index=2.38, angle_deg=45.0))
    assert prediction.optics is not None
    at = int(np.argmin(np.abs(np.array([p.position for p in prediction.reference.peaks]) - 1727)))
    for name, nm in (("thin", 10.0), ("film", 150.0)):
        own = scene[name] - scene["bare"]
        near = (GRID > 1700) & (GRID < 1760)
        top = GRID[near][np.argmax(own[near])]
        expected = at_thickness(prediction, nm, nm, nm).expected[at]
        assert expected == pytest.approx(top, abs=2.5)  # the grid step is 2 cm-1
        assert expected - prediction.reference.peaks[at].position > 6.0


def test_change_of_the_spectrum_is_that_of_the_exact_stack(scene: dict[str, np.ndarray]) -> None:
    # PMMA has n_inf 1.445 here, half the prior's width from the middle: shape right, size within three of
    # the stated errors.
    prediction = predicted(scene, Instrument(index=2.38, angle_deg=45.0))
    assert prediction.shape.response is not None
    for name, nm in (("thin", 10.0), ("film", 150.0)):
        exact = scene[name] - scene["bare"]
        found = prediction.shape.response(nm)
        assert np.corrcoef(found, exact)[0, 1] > 0.995
        size = found @ exact / (exact @ exact)
        assert abs(size - 1.0) < 3.0 * prediction.shape.contact_error < 0.5


def test_unknown_geometry_gives_a_bound_instead(scene: dict[str, np.ndarray]) -> None:
    prediction = predicted(scene, Instrument())
    assert prediction.optics is None
    assert prediction.note is not None
    assert prediction.note.code == "optics-unknown-geometry"
    at = int(np.argmin(np.abs(np.array([p.position for p in prediction.reference.peaks]) - 1727)))
    assert prediction.optical_bounds[at] > 10.0  # the true shift, 14 cm-1 on diamond, must lie inside


def test_unstated_technique_is_bounded_like_atr(scene: dict[str, np.ndarray]) -> None:
    # Taking it for like with like called a good sample changed: 30 cm-1 at the amide A of a thin film.
    neat = stack(scene["neat"])
    reference = measure_reference(neat, "neat", PeakSettings(prominence=0.1))
    prediction = predict(
        Recorded(neat, group("neat", "other"), Instrument()),
        reference,
        Recorded(stack(scene["bare"]), group("bare", "other"), Instrument()),
        geometry_of(group("coated", "other"), Instrument()),
        PredictionSettings(),
        InversionSettings(),
    )
    assert prediction.note is not None
    assert prediction.note.code == "optics-technique-not-stated"
    assert max(prediction.optical_bounds) > 10.0


def test_techniques_without_a_model_are_not_comparable_across(scene: dict[str, np.ndarray]) -> None:
    assert not predicted(scene, DIAMOND, technique="diffuse reflectance").comparable


def test_unknown_contact_widens_the_strength(scene: dict[str, np.ndarray]) -> None:
    known = predicted(scene, Instrument(index=2.38, angle_deg=45.0)).shape.contact_error
    loose = predicted(scene, Instrument(index=2.38, angle_deg=45.0), contact=None).shape.contact_error
    assert loose > known + 0.05


def test_a_coating_mixed_into_the_material_has_no_film_and_no_length(scene: dict[str, np.ndarray]) -> None:
    neat = stack(scene["neat"])
    reference = measure_reference(neat, "neat", PeakSettings())
    mixed = replace(group("neat"), layout="mixed")
    polystyrene = replace(group("bare"), material="polystyrene")

    def blended(bare: Group, instrument: Instrument) -> Prediction:
        return predict(
            Recorded(neat, mixed, instrument),
            reference,
            Recorded(stack(scene["bare"]), bare, instrument),
            geometry_of(group("coated"), instrument),
            PredictionSettings(),
            InversionSettings(),
        )

    found = blended(polystyrene, DIAMOND)
    assert (found.nm_per_amount, found.optics, found.note) == (None, None, None)
    # Against tmm: what two per cent by volume add, the substrate's own loss apart.
    film, bed = constants("poly_methyl_methacrylate__Tsuda-BB"), constants("polystyrene__Myers")
    with_it = atr([np.sqrt(bed**2 + 0.02 * (film**2 - 1.48**2))], [])
    added = (with_it - scene["bare"]) / 0.02
    inner = (GRID > 850.0) & (GRID < 1950.0)
    assert np.corrcoef(found.shape.curve[inner], added[inner])[0, 1] > 0.995
    assert np.ptp(found.shape.curve[inner]) == pytest.approx(np.ptp(added[inner]), rel=0.1)
    # In the bulk of a weak absorber the ester band stands higher than in the neat spectrum.
    i = int(np.argmax([peak.height for peak in reference.peaks]))
    top = GRID[inner][np.argmax(added[inner])]
    assert abs(found.reference.expected[i] - top) < 2.0
    assert found.reference.expected[i] > reference.peaks[i].position + 1.0
    # Where optics are not known it is the neat spectrum itself.
    unknown = blended(group("bare"), Instrument())
    assert np.allclose(unknown.shape.curve, reference.shape)
    assert found.comparable
