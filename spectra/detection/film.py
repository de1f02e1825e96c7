"""Presence of a coating whose film was recognised: the rule's figures, the fit's thickness and bands.

One state a band: what the report says of a band's visibility comes from what became of it at this amount.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.capability import Sample, Yardstick, amount_weights
from spectra.detection.identity import Identity
from spectra.detection.rule import remedies_of
from spectra.detection.settings import PresenceSettings
from spectra.filmfit.account import Account
from spectra.findings import CANNOT_TELL, PRESENT, BandSupport, Presence, Reason
from spectra.optics.shape import Shape
from spectra.statistics import critical_factor, detectable_factor, exceedance, holm, variance_ratio_exceedance
from spectra.units import FloatArray
from spectra.variation.model import Variation


def fitted_shape(shape: Shape, account: Account, variation: Variation, grid: FloatArray) -> Shape:
    """Return the shape of the film as fitted, per unit amount, on the common grid.

    Parameters
    ----------
    shape : Shape
        Of the unchanged thin film: it says what a unit of amount is.
    account : Account
    variation : Variation
    grid : ndarray, shape (n,), cm-1
    """
    unit = account.mode / (shape.nm_per_amount or 1.0)
    curve = np.interp(grid, variation.reduction.points, account.curve / unit)
    return replace(shape, curve=curve)


def specimen_scatter(
    i: int, sample: Sample, variation: Variation, yardstick: Yardstick, uneven: float
) -> tuple[float, float]:
    """Variance of the mean log amount from specimens' own scatter, and its degrees of freedom.

    Zero where the specimens scatter no more than bare ones do.
    """
    count = len(sample.reduced)
    if count < 2:
        return 0.0, 1.0
    amounts = sample.reduced @ amount_weights(variation, yardstick)[i]
    mean, scatter = float(amounts.mean()), float(np.var(amounts, ddof=1)) / count
    widening = yardstick.widenings[i]
    own = (yardstick.errors[i] * widening.factor) ** 2 * sample.own
    excess = scatter - own
    ratio = float(variance_ratio_exceedance(scatter / own, count - 1, widening.degrees))
    if mean <= 0.0 or excess <= 0.0 or ratio >= uneven:
        return 0.0, 1.0
    return excess / mean**2, float(count - 1)


def recognised(
    figures: Presence,
    account: Account,
    identity: Identity,
    shape: Shape,
    decision: DecisionSettings,
    settings: PresenceSettings,
) -> Presence:
    """Give the presence of a coating that the film fit recognised.

    Parameters
    ----------
    figures : Presence
        Formed with the fitted shape.
    account : Account
    identity : Identity
        Named.
    shape : Shape
    decision : DecisionSettings
    settings : PresenceSettings
    """
    bands = _bands(account, figures, decision, settings)
    open_ = [
        reason for reason in figures.reasons if reason.code in ("bands-masked", "no-bands", "inseparable")
    ]
    notes = [
        reason
        for reason in figures.reasons
        if reason.code in ("few-bare", "one-bare-specimen", "few-specimens")
    ]
    grounds = [
        *(reason for reason in figures.reasons if reason.code == "amount-above-critical"),
        _amount(figures),
        Reason("recognised", {"explained": identity.explained, "share": identity.share}),
        Reason("bands-found", {
            "found": [band.position for band in bands if band.supports],
            "looked_at": sum(not band.masked for band in bands),
            "masked": sum(band.masked for band in bands),
            "needed": settings.identity.needed,
        }),
    ]  # fmt: skip
    known = {reason.code: reason for reason in reversed(grounds)}
    verdict = CANNOT_TELL if any(reason.code == "inseparable" for reason in open_) else PRESENT
    causes = tuple(reason for reason in open_ if verdict == CANNOT_TELL)
    figures = replace(
        figures,
        verdict=verdict,
        reasons=(*causes, *(known[code] for code in dict.fromkeys(r.code for r in grounds)), *notes),
        remedies=remedies_of(causes),
        band_evidence=bands,
        pattern_p=None,
        misfits=(),
        chi_square=account.chi_square,
    )
    if shape.nm_per_amount is None:
        return figures
    scale = shape.nm_per_amount
    return replace(
        figures,
        thickness_nm=account.amount,
        thickness_low_nm=account.low,
        thickness_high_nm=account.high,
        critical_nm=(figures.critical_amount or 0.0) * scale,
        detectable_nm=(figures.detectable_amount or 0.0) * scale,
    )


def _amount(figures: Presence) -> Reason:
    """Say how the amount stands to its critical value."""
    values: Mapping[str, float | None] = {
        "amount": figures.amount,
        "critical": figures.critical_amount,
        "detectable": figures.detectable_amount,
        "t": figures.evidence,
        "p_value": figures.p_value,
    }
    return Reason("amount-above-critical", values)


def _bands(
    account: Account, figures: Presence, decision: DecisionSettings, settings: PresenceSettings
) -> tuple[BandSupport, ...]:
    """Return what each band says by itself, as the film fit has it, by falling wavenumber."""
    amount, degrees = figures.amount or 0.0, account.degrees
    bands = account.listed
    seen = np.array([band.ratio_reach < settings.identity.seen for band in bands], dtype=bool)
    p_values = np.array([float(exceedance(np.array(b.ratio / b.ratio_error), degrees)) for b in bands])
    adjusted = np.ones(len(bands))
    adjusted[seen] = holm(p_values[seen])
    alpha = settings.bands.alpha
    found = [
        BandSupport(
            band.expected, band.expected - band.width, band.expected + band.width,
            amount * band.ratio, amount * band.ratio_error,
            amount * band.ratio_error * critical_factor(alpha, degrees),
            amount * band.ratio_error * detectable_factor(alpha, decision.power, degrees),
            band.ratio / band.ratio_error, float(p), float(q), not s, bool(s and q < alpha),
        )
        for band, p, q, s in zip(bands, p_values, adjusted, seen, strict=True)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda band: -band.position))
