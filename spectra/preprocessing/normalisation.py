"""Normalisation: making spectra of different contact or film thickness comparable.

The default scales every bare and coated spot so that the substrate's own bands keep the size they have on
the mean bare spot, looking only where the coating hardly absorbs. A coating that also absorbs there would
bias the scale by its share, so the points are chosen from bare and neat spectra alone and are the same for
every spot. Neat spectra are left as measured: an amount is then in units of the neat spectrum.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.preprocessing.settings import NormalisationSettings
from spectra.spectrum import Fault, Stack
from spectra.units import FloatArray, Mask

MINIMUM_POINTS = 8

# Share of the substrate's points that is used when no point is free of the coating.
CLEANEST_SHARE = 0.2


@dataclass(frozen=True, eq=False)
class Levelling:
    """Where and how spectra are scaled; made once, used for every spot.

    Attributes
    ----------
    method
        As in the settings.
    points : ndarray of bool, shape (n,)
        Points of the grid the scale is taken from.
    reference : ndarray, shape (n,)
        Mean bare spectrum after the baseline.
    faults
        What was doubtful about the choice.
    """

    method: str
    points: Mask
    reference: FloatArray
    faults: tuple[Fault, ...] = ()


def choose_levelling(bare: Stack, neats: Mapping[str, Stack], settings: NormalisationSettings) -> Levelling:
    """Choose the points for the scale from bare and neat spectra alone.

    Parameters
    ----------
    bare : Stack
        After the baseline.
    neats : mapping of coating name to Stack
        After the baseline.
    settings : NormalisationSettings

    Raises
    ------
    SpectraError
        If a region given by hand holds too few points, or the bare spectra have no band at all.
    """
    region = bare.usable & _region(bare.grid, settings)
    if np.count_nonzero(region) < MINIMUM_POINTS:
        raise SpectraError(
            f"the normalisation region {settings.low} to {settings.high} cm-1 holds "
            f"{np.count_nonzero(region)} usable points; expected at least {MINIMUM_POINTS}: widen it"
        )
    reference = bare.mean
    by_hand = settings.low is not None or settings.high is not None
    if settings.method != "substrate" or by_hand:
        return Levelling(settings.method, region, reference)
    top = float(reference[region].max())
    if not top > 0:
        raise SpectraError("the bare spectra have no band above their baseline; check their units and range")
    strong = region & (reference >= settings.strength * top)
    # Treated against untreated material: no coating lies anywhere.
    coating = np.max([_shares(neat) for neat in neats.values()] or [np.zeros(bare.grid.size)], axis=0)
    points = strong & (coating <= settings.overlap)
    if np.count_nonzero(points) >= MINIMUM_POINTS:
        return Levelling("substrate", points, reference)
    return _cleanest(bare, strong, coating, reference)


def _cleanest(bare: Stack, strong: Mask, coating: FloatArray, reference: FloatArray) -> Levelling:
    """Fall back on the substrate's points where the coating absorbs least, and say so."""
    limit = np.quantile(coating[strong], CLEANEST_SHARE)
    points = strong & (coating <= limit)
    fault = Fault(
        "normalisation-overlap",
        "warning",
        f"{bare.grid[points].min():.0f} to {bare.grid[points].max():.0f} cm-1",
        f"no substrate band is free of the coating: where the scale is taken, the coating has up to "
        f"{100 * float(limit):.0f} % of its highest absorbance",
        "name a region without coating bands in [settings.normalisation] low and high, or use method 'none'",
    )
    return Levelling("substrate", points, reference, (fault,))


def _region(grid: FloatArray, settings: NormalisationSettings) -> Mask:
    """Mark the region given by hand; everything if none is."""
    low = -np.inf if settings.low is None else settings.low
    high = np.inf if settings.high is None else settings.high
    return np.asarray((grid >= low) & (grid <= high))


def _shares(neat: Stack) -> FloatArray:
    """Return the mean neat spectrum as a share of its highest usable point."""
    mean = neat.mean
    return np.asarray(mean / max(float(mean[neat.usable].max()), 1e-12))


def scales(stack: Stack, levelling: Levelling) -> FloatArray:
    """Return the factor each spot is multiplied with, shape (m,).

    Raises
    ------
    SpectraError
        If a spot shows nothing to scale on.
    """
    size = _sizes(stack, levelling)
    if not np.all(size > 0):
        name = stack.names[int(np.argmax(~(size > 0)))]
        raise SpectraError(
            f"{name}: shows no {levelling.method} to normalise on; check that it is an absorbance "
            "spectrum of the substrate, or set [settings.normalisation] method = 'none'"
        )
    return np.asarray(1.0 / size)


def _sizes(stack: Stack, levelling: Levelling) -> FloatArray:
    """Return how much there is of what each spot is scaled on, shape (m,)."""
    return SIZES[levelling.method](stack.absorbance[:, levelling.points], levelling)


def normalise_coated(stack: Stack, levelling: Levelling, bare: FloatArray) -> tuple[Stack, tuple[Fault, ...]]:
    """Scale every spot of a coated stack; where a coating leaves nothing to scale on, as bare spots are.

    Only what is shown of the spectra rests on it: amounts and verdicts come from the spectra as measured.

    Parameters
    ----------
    stack : Stack
    levelling : Levelling
    bare : ndarray, shape (b,)
        Factors of the bare spots.

    Returns
    -------
    Stack
    tuple of Fault
        Which spots show nothing to scale on.
    """
    size = _sizes(stack, levelling)
    there = size > 0
    factors = np.where(there, 1.0 / np.where(there, size, 1.0), float(np.median(bare)))
    faults = tuple(
        Fault(
            "normalisation-covered",
            "warning",
            name,
            f"shows no {levelling.method} to normalise on; drawn at the usual scale of the bare spots",
            "check that it is an absorbance spectrum of this substrate; a thick coating may hide it",
        )
        for name, found in zip(stack.names, there, strict=True)
        if not found
    )
    return stack.with_absorbance(stack.absorbance * factors[:, None]), faults


def normalise(stack: Stack, levelling: Levelling) -> Stack:
    """Scale every spot of a bare stack.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(900.0, 1900.0, 2.0)
    >>> band = np.exp(-(((x - 1730) / 9) ** 2))
    >>> bare = Stack(x, [band, 0.8 * band], ("a", "b"), ("a.csv", "b.csv"))
    >>> neat = bare.with_absorbance([np.exp(-(((x - 1100) / 9) ** 2))] * 2)
    >>> level = choose_levelling(bare, {"elsewhere": neat}, NormalisationSettings())
    >>> normalise(bare, level).absorbance.max(axis=1).round(6)
    array([0.9, 0.9])
    """
    return stack.with_absorbance(stack.absorbance * scales(stack, levelling)[:, None])


def _on_substrate(rows: FloatArray, levelling: Levelling) -> FloatArray:
    """Return the size of the substrate in each row by least squares on the reference, with an offset."""
    reference = levelling.reference[levelling.points]
    centred = reference - reference.mean()
    spread = float(centred @ centred)
    if spread < 1e-3 * float(reference @ reference):  # a flat stretch: only its level tells the size
        return np.asarray(rows @ reference / (reference @ reference))
    return np.asarray(rows @ centred / spread)


SIZES: dict[str, Callable[[FloatArray, Levelling], FloatArray]] = {
    "substrate": _on_substrate,
    "area": lambda rows, _: np.asarray(rows.mean(axis=1)),
    "maximum": lambda rows, _: np.asarray(rows.max(axis=1)),
    "vector": lambda rows, _: np.asarray(np.sqrt((rows**2).mean(axis=1))),
    "none": lambda rows, _: np.ones(rows.shape[0]),
}
