"""What is doubtful about one spectrum, or about several together, each with its remedy.

Reading has already recorded what the file itself shows (missing values, ratios at or below zero, a rounded
axis). Here the numbers are looked at. A spectrum that cannot be used at all raises
:class:`~spectra.errors.SpectraError`; everything else is a :class:`~spectra.spectrum.Fault`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.errors import SpectraError
from spectra.quality.group_faults import check_groups as check_groups
from spectra.quality.measures import measure_quality
from spectra.quality.set_faults import SET_CHECKS
from spectra.quality.settings import CheckSettings
from spectra.quality.spectrum_faults import MID_INFRARED, SPECTRUM_CHECKS
from spectra.spectrum import Fault, Spectrum


def check_spectrum(spectrum: Spectrum, settings: CheckSettings | None = None) -> tuple[Fault, ...]:
    """Find what is doubtful about one spectrum.

    Parameters
    ----------
    spectrum : Spectrum
    settings : CheckSettings, optional

    Returns
    -------
    tuple of Fault
        Only those that reading has not recorded in ``spectrum.origin.faults``.

    Raises
    ------
    SpectraError
        If there are too few points, or none in the mid infrared.

    Examples
    --------
    >>> from spectra.spectrum import Origin
    >>> x = np.arange(400.0, 4000.0, 2.0)
    >>> spectrum = Spectrum(x, np.where(x < 430, 0.0, x / 1e3), Origin("a.csv"))
    >>> [fault.code for fault in check_spectrum(spectrum)]
    ['absorbance-saturated', 'constant-end']
    """
    settings = settings or CheckSettings()
    require_usable(spectrum, settings)
    quality = measure_quality(spectrum)
    found = [fault for check in SPECTRUM_CHECKS for fault in check(spectrum, quality, settings)]
    known = {fault.code for fault in spectrum.origin.faults}
    return tuple(fault for fault in found if fault.code not in known)


def require_usable(spectrum: Spectrum, settings: CheckSettings) -> None:
    """Refuse a spectrum in which nothing can be judged.

    Raises
    ------
    SpectraError
        Naming what is missing.
    """
    x = spectrum.wavenumbers
    inside = (x >= MID_INFRARED[0]) & (x <= MID_INFRARED[1]) & np.isfinite(spectrum.absorbance)
    if len(spectrum) < settings.fewest_points:
        raise SpectraError(
            f"{spectrum.origin.name}: found {len(spectrum)} points; expected at least "
            f"{settings.fewest_points}, "
            "export the whole spectrum"
        )
    if np.count_nonzero(inside) < settings.fewest_points:
        raise SpectraError(
            f"{spectrum.origin.name}: {x[0]:.0f} to {x[-1]:.0f} cm-1 holds "
            f"{np.count_nonzero(inside)} points with a "
            f"value in the mid infrared; expected at least {settings.fewest_points} from 400 to 4000 cm-1"
        )


def check_set(spectra: Sequence[Spectrum]) -> tuple[Fault, ...]:
    """Find what is doubtful about several spectra together.

    Parameters
    ----------
    spectra : sequence of Spectrum
        Everything that will be compared.

    Returns
    -------
    tuple of Fault
        ``where`` names the files.

    Examples
    --------
    >>> from spectra.spectrum import Origin
    >>> x = np.arange(400.0, 4000.0, 2.0)
    >>> [fault.code for fault in check_set([Spectrum(x, 1 / x, Origin(name)) for name in ("a.csv", "b.csv")])]
    ['identical-spectra']
    """
    return tuple(fault for check in SET_CHECKS for fault in check(spectra))
