"""Kramers-Kronig: the refractive index that belongs to an absorption index.

    n(nu) = n_inf + (1/pi) P-integral of k(x) [1/(x - nu) + 1/(x + nu)] dx,   x from 0 to infinity

On an even grid k is taken as band-limited, as an interferogram makes it: the point j steps away contributes
2/j if j is odd and nothing if it is even. That keeps narrow bands sharp where straight lines between points
would blunt them by several per cent. The term in x + nu is smooth and taken with straight lines: with
f(u) = u ln|u|, a triangle of height 1 and half-width h about x_j contributes
[f(u + h) - 2 f(u) + f(u - h)] / h, u = x_j + nu. Both kernels depend on j - i or j + i only, so one fast
Fourier transform does all points at once.

The ends. Beyond the measured range k is unknown. It is continued linearly to zero: over the whole way to
nu = 0 below, over ``taper`` cm-1 above. Bands outside the range are not in it: those above move n_inf
(which is therefore the index well above all vibrations: visible index less about 0.01), those below add
about -c / nu^2 near the low end.

Kronig, J. Opt. Soc. Am. 12, 547 (1926); Lucarini, Saarinen, Peiponen, Vartiainen, Kramers-Kronig Relations in
Optical Materials Research (2005).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SpectraError
from spectra.optics.fresnel import ComplexArray
from spectra.spectrum import Frozen
from spectra.units import FloatArray

TAPER = 100.0


@dataclass(frozen=True, eq=False)
class Dispersion(Frozen):
    """The linear map k -> n - n_inf on an even grid; make one with :func:`dispersion`.

    Attributes
    ----------
    rising, falling : ndarray
        Continuation of k below and above the range, as shares of its end values.
    near, far : ndarray, complex
        Transforms of the kernels of 1/(x - nu) and 1/(x + nu).
    length
        Of the transform.
    """

    rising: FloatArray
    falling: FloatArray
    near: ComplexArray
    far: ComplexArray
    length: int

    def __call__(self, absorption: ArrayLike) -> FloatArray:
        """Return n - n_inf for k of shape (..., n)."""
        from scipy import fft

        k = np.asarray(absorption, dtype=np.float64)
        padded = np.concatenate([k[..., :1] * self.rising, k, k[..., -1:] * self.falling], axis=-1)
        wave = fft.rfft(padded, self.length)
        start = self.rising.size
        both = fft.irfft(wave * self.near + np.conj(wave) * self.far, self.length)
        return np.asarray(both[..., start : start + k.shape[-1]])


def dispersion(wavenumbers: ArrayLike, taper: float = TAPER) -> Dispersion:
    """Prepare the Kramers-Kronig map of an even grid, to be used many times.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
        Even and increasing.
    taper
        Width above the range over which k falls to zero, cm-1.

    Raises
    ------
    SpectraError
        If the grid is not even, or does not start above zero.

    Examples
    --------
    >>> grid = np.arange(400.0, 4000.0, 2.0)
    >>> band = 0.1 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> rise = dispersion(grid)(band)
    >>> float(grid[np.argmax(rise)]), float(rise.max().round(3))  # on the red side, half the height of k
    (1690.0, 0.05)
    """
    from scipy import fft

    grid = np.asarray(wavenumbers, dtype=np.float64)
    if grid.size < 3 or grid[0] <= 0 or not is_even(grid):
        raise SpectraError(
            "found an uneven grid; an even one of 3 points or more above 0 cm-1 is needed: resample"
        )
    step = float(grid[-1] - grid[0]) / (grid.size - 1)
    below, above = int(np.ceil(grid[0] / step)) - 1, max(round(taper / step) - 1, 0)
    size = below + grid.size + above
    length = fft.next_fast_len(2 * size, real=True)
    steps = np.arange(size)
    near = np.where(steps % 2 == 1, 2.0 / np.maximum(steps, 1), 0.0)
    kernel, hankel = np.zeros(length), np.zeros(length)
    kernel[:size], kernel[length - size + 1 :] = -near, near[:0:-1]
    hankel[: 2 * size - 1] = _triangle(np.arange(2 * size - 1) + 2.0 * (grid[0] / step - below))
    rising = np.arange(1, below + 1) / (below + 1.0)
    falling = np.arange(above, 0, -1) / (above + 1.0)
    return Dispersion(rising, falling, fft.rfft(kernel) / np.pi, fft.rfft(hankel) / np.pi, length)


def is_even(grid: FloatArray) -> bool:
    """Tell whether the points are equally far apart, to a thousandth of the step."""
    steps = np.diff(grid)
    return bool(np.all(steps > 0) and np.ptp(steps) <= 1e-3 * steps.mean())


def _ulogu(u: FloatArray) -> FloatArray:
    """f(u) = u ln|u|, zero at u = 0."""
    size = np.abs(u)
    return np.asarray(u * np.log(np.where(size > 0.0, size, 1.0)))


def _triangle(u: FloatArray) -> FloatArray:
    """Integral of a triangle of half-width one over 1/x, its centre at u."""
    return np.asarray(_ulogu(u + 1.0) - 2.0 * _ulogu(u) + _ulogu(u - 1.0))
