"""Why a verdict is what it is, in words: the sentences of ``report.view``.

``REASONS`` maps the code of a :class:`~spectra.findings.Reason` to the maker of its sentence, ``REMEDIES``
to what to do about it. Adding a code is one line in each. A code that is not known is shown bare with its
values, so that a report never fails over a word.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from spectra.findings import Reason
from spectra.report.numerals import (
    counted,
    listed,
    plain,
    span,
    wavenumber,
    wavenumbers,
    with_interval,
)

Values = Mapping[str, Any]


def sentence(reason: Reason) -> str:
    """Return the sentence of a reason.

    Examples
    --------
    >>> sentence(Reason("one_band", {"position": 1655.2}))
    'Only one coating band, at 1655 cm-1, is above its critical value.'
    >>> sentence(Reason("unheard_of", {"n": 3}))
    'unheard_of (n = 3)'
    """
    try:
        return REASONS[reason.code](reason.values)
    except (AttributeError, KeyError, TypeError, ValueError):
        return _bare(reason)


def remedy(reason: Reason) -> str:
    """Return what to do about a reason, or an empty text where nothing needs doing."""
    return REMEDIES.get(reason.code, "")


def _bare(reason: Reason) -> str:
    """Code and values as they are: for codes without a sentence, or values that do not fit it."""
    values = ", ".join(f"{name} = {value}" for name, value in reason.values.items())
    return f"{reason.code} ({values})" if values else reason.code


def _bands(value: Any) -> str:
    """Count of bands, with their places where they are given."""
    if not hasattr(value, "__iter__"):
        return counted(value, "band")
    places = list(value)
    return f"{counted(len(places), 'band')} ({wavenumbers(places)})" if places else "no band"


def _regions(regions: Sequence[tuple[float, float]]) -> str:
    return listed([span(low, high) for low, high in regions])


def _bands_detected(v: Values) -> str:
    share = f"{v['detected']} of {counted(v['unmasked'], 'unmasked band')}"
    return f"{share} above the critical value: {wavenumbers(v['positions'])}."


def _no_band(v: Values) -> str:
    return (
        f"None of {counted(v['unmasked'], 'unmasked band')} is above its critical value; the detectable amount is "
        f"{plain(v['detectable'])} (neat = 1)."
    )


def _moved(v: Values) -> str:
    return (
        f"The band expected at {wavenumber(v['position'])} is shifted by "
        f"{with_interval(v['shift'], v['low'], v['high'], 'cm-1')}, outside the margin of "
        f"+/- {plain(v['margin'])} cm-1."
    )


def _too_wide(v: Values) -> str:
    middle = (v["low"] + v["high"]) / 2
    return (
        f"The shift of the band at {wavenumber(v['position'])}, "
        f"{with_interval(middle, v['low'], v['high'], 'cm-1')}, is neither inside nor outside the margin of "
        f"+/- {plain(v['margin'])} cm-1."
    )


REASONS: dict[str, Callable[[Values], str]] = {
    "few_bare": lambda v: (
        f"{counted(v['found'], 'bare specimen')} given; at least {v['needed']} are needed to learn how much "
        "bare spots differ by themselves."
    ),
    "all_masked": lambda v: f"The substrate's own variation hides every coating band: {_bands(v['bands'])}.",
    "one_band": lambda v: (
        f"Only one coating band, at {wavenumber(v['position'])}, is above its critical value."
    ),
    "no_band_detected": _no_band,
    "bands_detected": _bands_detected,
    "not_reached": lambda v: (
        f"{counted(v['detected'], 'coating band')} above the critical value; {v['needed']} are needed."
    ),
    "negative_amount": lambda v: (
        f"The amount is clearly negative, {plain(v['amount'])} (neat = 1), which no coating can cause."
    ),
    "lack_of_fit": lambda v: (
        f"The sample differs from every bare spot at {_regions(v['regions'])} in a way the coating does not explain."
    ),
    "no_detected_band": lambda _: "No coating band was detected, so there is no position to judge.",
    "all_equivalent": lambda v: (
        f"The interval of every shift lies within +/- {plain(v['margin'])} cm-1: {_bands(v['bands'])}."
    ),
    "shifted": _moved,
    "interval_too_wide": _too_wide,
    "not_like_with_like": lambda v: (
        f"The reference was measured by {v['neat_technique']}, the sample by {v['sample_technique']}; "
        "positions are not comparable between them."
    ),
    "lost_band": lambda v: f"The band expected at {wavenumber(v['position'])} was not found.",
    "new_band": lambda v: f"A band at {wavenumber(v['position'])} is not in the reference.",
    "few_specimens": lambda v: (
        f"{counted(v['found'], 'coated specimen')}: the scatter between specimens cannot be judged."
    ),
}

_MORE_SPOTS = "Measure more bare and coated specimens, or spots with better signal to noise."

REMEDIES: dict[str, str] = {
    "few_bare": "Measure more bare specimens of the same lot in the same way; five are a good start.",
    "all_masked": "Measure more bare specimens, or choose a technique or substrate that leaves a coating band free.",
    "one_band": "Measure more specimens until a second band stands out, or support it by another method.",
    "not_reached": _MORE_SPOTS,
    "negative_amount": "Measure bare specimens of the same lot and history, and take a fresh background.",
    "lack_of_fit": "Measure bare specimens of the same lot and history; look at the named regions in the figures.",
    "no_detected_band": "Settle presence first; a thicker coating or more specimens may bring a band out.",
    "interval_too_wide": "Measure more specimens, or state a wider margin before measuring, with its reason.",
    "not_like_with_like": "Measure the reference by the sample's technique.",
    "few_specimens": "Measure at least three coated specimens.",
}
GENERAL_REMEDY = _MORE_SPOTS
