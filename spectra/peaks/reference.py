"""References: the spectra whose bands are looked for, and where those bands must appear.

A reference is measured on the mean of its spectra; each of its spectra, fitted with that mean, tells how
well a position repeats, and the larger of that and the fit's own error is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.errors import SpectraError
from spectra.peaks.finding import Peak, find_peaks
from spectra.peaks.settings import PeakSettings
from spectra.peaks.window_fit import Others, fit_rows, window_around
from spectra.preprocessing.baseline import bridge
from spectra.replicates import Units, units_of
from spectra.spectrum import Stack
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Reference:
    """The spectrum whose bands are looked for.

    Attributes
    ----------
    shape : ndarray, shape (n,)
        Expected contribution per unit amount, baseline removed.
    peaks : tuple of Peak
        Its bands, as measured on the reference itself.
    expected : tuple of float, cm-1
        Where each band must appear in the sample's geometry.
    expected_errors : tuple of float, cm-1
        What optics leave open of that.
    """

    shape: FloatArray
    peaks: tuple[Peak, ...]
    expected: tuple[float, ...]
    expected_errors: tuple[float, ...]


def measure_reference(stack: Stack, what: str, settings: PeakSettings) -> Reference:
    """Measure the bands of neat or bare spectra.

    Parameters
    ----------
    stack : Stack
        After the baseline.
    what : str
        For the message: which group this is.
    settings : PeakSettings

    Raises
    ------
    SpectraError
        If no band rises above the noise.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(900.0, 1900.0, 2.0)
    >>> pair = Stack(x, [np.exp(-(((x - c) / 9) ** 2)) for c in (1729.6, 1730.4)], ("a", "b"), ("a", "b"))
    >>> reference = measure_reference(pair, "neat", PeakSettings())
    >>> round(reference.expected[0]), round(reference.peaks[0].position_error, 1)
    (1730, 0.4)
    """
    # Bridged, not cut: the edge of a stretch that is left out must not look like a band.
    mean = bridge(stack).mean(axis=0)
    peaks = [
        peak
        for peak in find_peaks(stack.grid, mean, settings)
        if stack.usable[int(np.argmin(np.abs(stack.grid - peak.position)))]
    ]
    if not peaks:
        raise SpectraError(
            f"{what}: no band rises above the noise between {stack.grid[0]:.0f} and {stack.grid[-1]:.0f} "
            "cm-1; check that these are spectra of the right material, or lower [settings.peaks] prominence"
        )
    units = units_of(stack)
    measured = tuple(_with_scatter(peak, units, stack, stack.mean) for peak in peaks)
    return Reference(stack.mean, measured, tuple(p.position for p in measured), tuple(0.0 for _ in measured))


def nothing_else(grid: FloatArray) -> Others:
    """Return no other components."""
    return Others(np.zeros((grid.size, 0)), np.zeros(0))


def _with_scatter(peak: Peak, units: Units, stack: Stack, mean: FloatArray) -> Peak:
    """Widen a position's error to what the reference's own spectra say."""
    window = window_around(stack.grid, stack.usable, peak.position, peak.width)
    if len(units) < 2 or window is None:
        return peak
    found = fit_rows(units.rows, stack.grid, mean, nothing_else(stack.grid), window)
    if not np.all(found[:, 1] > 0):
        return peak
    scatter = float(np.std(found[:, 2] / found[:, 1], ddof=1) / np.sqrt(len(units)))
    return replace(peak, position_error=max(peak.position_error, scatter))
