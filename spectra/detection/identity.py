"""Is anything there, and is it the named coating: both asked before whether it changed.

The layer: an F test of everything the sample shows beyond bare substrate, contact and gases, without any
coating. The coating: its bands may have moved, weakened or widened and it is still the coating if together
they explain what is there, and if enough of the strength that could be found is found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from spectra.detection.rule import remedies_of
from spectra.detection.settings import IdentitySettings
from spectra.filmfit.account import Account, BandFate, Excess
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, SHOWN, Layer, Presence, Reason


@dataclass(frozen=True)
class Identity:
    """Whether a layer is the named coating.

    Attributes
    ----------
    named : bool
    explained : float
        Share of the excess energy that the coating explains.
    found : tuple of float, cm-1
        Expected places of the bands that were found.
    share : float
        Of the strength that could be found, what was found.
    """

    named: bool
    explained: float
    found: tuple[float, ...]
    share: float


def judge_layer(excess: Excess, presence: Mapping[str, Presence], settings: IdentitySettings) -> Layer:
    """Say whether anything is on the surface that bare specimens do not show.

    A coating that is present is a layer, however little of it there is: its own test sees less than the test
    of everything at once.

    Parameters
    ----------
    excess : Excess
    presence : mapping of coating to Presence
    settings : IdentitySettings
    """
    there = tuple(name for name, figures in presence.items() if figures.verdict == PRESENT)
    values = {"p_value": excess.p_value, "alpha": settings.layer_alpha}
    if there or excess.p_value < settings.layer_alpha:
        return Layer(SHOWN, (Reason("layer-shown", values),), excess.p_value, there)
    return Layer(NOT_SHOWN, (Reason("layer-not-shown", values),), excess.p_value)


def foreign(figures: Presence, account: Account, settings: IdentitySettings) -> Presence:
    """Take back a presence where a layer that shows is mostly not this coating, however its bands are moved.

    Parameters
    ----------
    figures : Presence
        By the unmoved shape.
    account : Account
        Not named.
    settings : IdentitySettings
    """
    if figures.verdict != PRESENT or account.explained >= settings.mostly:
        return figures
    cause = Reason("layer-differs", {"explained": account.explained})
    return replace(
        figures, verdict=CANNOT_TELL, reasons=(cause, *figures.reasons), remedies=remedies_of((cause,))
    )


def identify(account: Account, settings: IdentitySettings) -> Identity:
    """Say whether what is there is this coating, changed or not.

    Parameters
    ----------
    account : Account
    settings : IdentitySettings
    """
    narrow = [band for band in account.bands if band.narrow]
    found = [band for band in narrow if _is_found(band, settings)]
    could = sum(band.share for band in narrow if band.ratio_reach < settings.could)
    share = sum(band.share for band in found) / could if could > 0.0 else 0.0
    as_strong = sum(band.share for band in found if not band.resized)
    named = (
        _fits(account, as_strong >= settings.share * could, settings)
        and len(found) >= settings.needed
        and share >= settings.share
        and _keeps_its_pattern(found, could, settings)
    )
    return Identity(named, account.explained, tuple(band.expected for band in found), share)


def _fits(account: Account, as_strong: bool, settings: IdentitySettings) -> bool:
    """Tell whether the coating explains what is there.

    Either nearly all of it, a misfit of the optics allowed for; or so much that little more than noise is
    left, where most of the strength is as strong as it must be: on a substrate that scatters much, a thin
    film's energy is not far above that scatter.
    """
    if account.explained >= settings.surely:
        return True
    if account.explained >= settings.explained and account.chi_square < settings.misfit:
        return True
    little = account.chi_square < settings.little_left and account.explained >= settings.mostly
    return little and as_strong


def _keeps_its_pattern(found: Sequence[BandFate], could: float, settings: IdentitySettings) -> bool:
    """Tell whether enough of the coating's pattern is left to know it by.

    Bands that each went their own way, as far as needed, are those of another material. A coating that
    changed keeps some of its bands in place, or most of them moved alike.
    """
    still = sum(band.share for band in found if not band.moved)
    moved = [band for band in found if band.moved and settings.half <= band.ratio <= 1.0 / settings.half]
    together = 0.0
    if moved:
        shifts, shares = (np.array([getattr(band, name) for band in moved]) for name in ("shift", "share"))
        order = np.argsort(shifts)
        middle = shifts[order][np.searchsorted(np.cumsum(shares[order]), 0.5 * shares.sum())]
        together = float(shares[np.abs(shifts - middle) <= settings.alike].sum())
    return still >= settings.in_place * could or still + together >= settings.share * could


def _is_found(band: BandFate, settings: IdentitySettings) -> bool:
    """Tell whether a band is there as one of this coating's.

    One that stands elsewhere and has another strength too may be any material's band.
    """
    there = band.ratio > settings.least_ratio and band.ratio > settings.found * band.ratio_error
    anyones = band.moved and band.resized and not settings.half <= band.ratio <= 1.0 / settings.half
    return there and not anyones
