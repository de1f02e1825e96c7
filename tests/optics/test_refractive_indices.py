import numpy as np
import pytest

from reference_bands import load, materials
from spectra.optics.refractive_indices import FAR_INDICES, inversion_settings
from spectra.optics.settings import InversionSettings
from tests.optical_constants import PAGES
from tests.published_index import broadened, far_index, page

LIKE_TABLE = {name: page_material for name, (page_material, state, _) in PAGES.items() if not state}


@pytest.mark.parametrize("name", [name for name, material in LIKE_TABLE.items() if material in FAR_INDICES])
def test_measured_indices_are_those_of_the_pages(name):
    # Sources of the pages: tests/data/optical_constants/SOURCES.md.
    nu, _, _ = page(name)
    grid = np.arange(max(650.0, nu[0] + 14.0), min(nu[-1] - 14.0, 3980.0), 1.86)
    n_inf, _ = far_index(grid, broadened(name, grid))
    entry = FAR_INDICES[LIKE_TABLE[name]]
    assert entry.checked == "read"
    assert abs(n_inf - entry.n_inf) < entry.error


def test_every_name_is_one_of_the_band_tables():
    assert set(FAR_INDICES) <= set(materials(load()))


def test_a_known_material_narrows_the_prior_only():
    start = InversionSettings(pull=0.02)
    found = inversion_settings("gelatin", start)
    assert (found.n_inf, found.n_inf_error, found.pull) == (1.53, 0.04, 0.02)
    assert inversion_settings(None, start) == start
