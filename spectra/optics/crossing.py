"""Constants with contact and n_inf moved together: what one does to k depends on the other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spectra.optics.contact import FIVE, Ladder, solve_contacts
from spectra.optics.fresnel import ComplexArray
from spectra.optics.inversion import problem_of
from spectra.optics.material import Crossed, Material
from spectra.optics.newton import Unknowns
from spectra.optics.settings import InversionSettings

# Where n_inf is solved together with contact, in half-widths of its prior: as far as a fit may go.
CROSSED_REACH = 2.0


def cross_unknowns(material: Material, settings: InversionSettings, low: float) -> Material:
    """Solve for contact and n_inf together, for a film that is to be fitted: it takes ten more solutions.

    Parameters
    ----------
    material : Material
        From :func:`spectra.optics.inversion.invert_atr`; any other is returned as it is.
    settings : InversionSettings
        Those it was inverted with.
    low : float
        Low end of contact that was asked for.

    Returns
    -------
    Material
        With ``crossed`` set where there is a solution on either side of the middle index.
    """
    if material.source != "ATR" or settings.n_inf_error <= 0.0:
        return material
    problem = problem_of(material.wavenumbers, material.absorbance, material.geometry, settings)
    columns = {0.0: _by_contact(material)}
    for place in (-CROSSED_REACH, CROSSED_REACH):
        n_inf = settings.n_inf + place * settings.n_inf_error
        ladder = solve_contacts(problem, Unknowns(material.contact[1], n_inf, settings.pull), low)
        if not isinstance(ladder, Ladder) or len(ladder.rungs) != len(columns[0.0]):
            return material
        columns[place] = [problem.index(k, unknowns) for unknowns, k in ladder.rungs]
    places = sorted(columns)
    rows = np.swapaxes(np.array([columns[place] for place in places]), 0, 1)
    contacts = FIVE if len(columns[0.0]) > 1 else (0.0,)
    crossed = Crossed(np.array(contacts), np.array(places), rows, material.contact[0] > low)
    return replace(material, crossed=crossed)


def _by_contact(material: Material) -> list[ComplexArray]:
    """Return the solutions at the middle index, by rising contact."""
    solved = [
        (move, variant)
        for moved, move, variant in zip(material.moved, material.moves, material.variants, strict=True)
        if moved == "contact"
    ]
    return [index for _, index in sorted([*solved, (0.0, material.index)], key=lambda pair: pair[0])]
