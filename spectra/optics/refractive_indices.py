"""Refractive index of materials above all their vibrations, where the inversion needs a start.

Measured entries were fitted to published n + ik of 380 to 4100 cm-1 (Kramers-Kronig of k taken off n; pages
and sources in ``tests/optics/test_refractive_indices.py``). The others are visible indices n_D as handbooks
give them, typed from memory, less 0.01 (common practice, no source), with a wider uncertainty. Names are
those of the band tables.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from spectra.optics.settings import InversionSettings

MEASURED_ERROR, REMEMBERED_ERROR = 0.02, 0.04


@dataclass(frozen=True)
class FarIndex:
    """Index above all vibrations.

    Attributes
    ----------
    n_inf, error
        Value, and half-width of its even prior.
    checked
        ``read`` (fitted to published data) or ``memory``.
    """

    n_inf: float
    error: float
    checked: str


def inversion_settings(material: str | None, settings: InversionSettings | None = None) -> InversionSettings:
    """Return inversion settings that know the index of a material, if it is in the table.

    Parameters
    ----------
    material
        Name in the band tables; None or an unlisted name keeps the settings as they are.
    settings
        To start from; the defaults if None.

    Examples
    --------
    >>> inversion_settings("polystyrene").n_inf, inversion_settings("polystyrene").n_inf_error
    (1.555, 0.02)
    >>> inversion_settings("unheard of").n_inf
    1.5
    """
    start = settings or InversionSettings()
    known = FAR_INDICES.get(material or "")
    return start if known is None else replace(start, n_inf=known.n_inf, n_inf_error=known.error)


def _measured(n_inf: float) -> FarIndex:
    """Make an entry fitted to published data."""
    return FarIndex(n_inf, MEASURED_ERROR, "read")


def _remembered(visible: float) -> FarIndex:
    """Make an entry from a remembered visible index."""
    return FarIndex(round(visible - 0.01, 3), REMEMBERED_ERROR, "memory")


FAR_INDICES = {
    "poly(methyl methacrylate)": _measured(1.472),
    "polystyrene": _measured(1.555),
    "polycarbonate": _measured(1.558),
    "poly(ethylene terephthalate)": _measured(1.543),
    "silicone": _measured(1.406),
    "polyetherimide": _measured(1.622),
    "polyethylene": _measured(1.50),
    "ethanol": _measured(1.35),
    "toluene": _measured(1.475),
    "oleic acid": _measured(1.459),
    "water (liquid)": _measured(1.32),
    "silica": _measured(1.45),
    "polypropylene": _remembered(1.49),
    "polytetrafluoroethylene": _remembered(1.35),
    "poly(vinylidene fluoride)": _remembered(1.42),
    "poly(vinyl alcohol)": _remembered(1.52),
    "poly(ethylene glycol)": _remembered(1.46),
    "polyamide": _remembered(1.53),
    "polyurethane": _remembered(1.52),
    "polylactide": _remembered(1.46),
    "polycaprolactone": _remembered(1.48),
    "cellulose I": _remembered(1.55),
    "cellulose II": _remembered(1.54),
    "bacterial cellulose": _remembered(1.55),
    "cotton": _remembered(1.55),
    "cellulose acetate": _remembered(1.475),
    "starch": _remembered(1.53),
    "chitosan": _remembered(1.53),
    "gelatin": _remembered(1.54),
    "collagen": _remembered(1.54),
    "keratin": _remembered(1.55),
    "silk fibroin (beta-sheet)": _remembered(1.54),
    "silk fibroin (random coil)": _remembered(1.54),
    "zein": _remembered(1.53),
    "beeswax": _remembered(1.44),
    "shellac": _remembered(1.52),
    "glycerol": _remembered(1.474),
}
