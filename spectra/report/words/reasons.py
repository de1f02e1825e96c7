"""Why a verdict is what it is, in words, and what to do: the sentences of ``report.view``.

``REASONS`` maps the code of a :class:`~spectra.findings.Reason` to its :class:`~.values.Wording`: the maker
of its sentence, and its remedy. Adding a code is one entry in the module of its subject. A code that is not
known is shown bare with its values, so that a report never fails over a word.

A maker is given the reason's values as :class:`~.values.Values`, which also know what the bands near a
position are called, so that a sentence names its bands.
"""

from __future__ import annotations

from spectra.findings import Reason
from spectra.report.words.of_chemistry import CHEMISTRY
from spectra.report.words.of_presence import PRESENCE
from spectra.report.words.of_residues import RESIDUES
from spectra.report.words.of_samples import SAMPLES
from spectra.report.words.remedies import ACTIONS
from spectra.report.words.values import Names, Values, Wording, names_of

__all__ = ["REASONS", "Names", "Values", "named_remedy", "names_of", "remedy", "sentence"]

REASONS: dict[str, Wording] = {**PRESENCE, **CHEMISTRY, **RESIDUES, **SAMPLES}


def sentence(reason: Reason, names: Names | None = None) -> str:
    """Return the sentence of a reason.

    Parameters
    ----------
    reason
    names
        From :func:`names_of`; without them bands are told by their wavenumber alone.

    Examples
    --------
    >>> sentence(Reason("one-band", {"position": 1655.2}), {1655.0: "amide I"})
    'Only one band is significant: amide I (1655 cm-1).'
    >>> sentence(Reason("unheard_of", {"n": 3}))
    'unheard_of (n = 3)'
    """
    try:
        return _capital(REASONS[reason.code].sentence(Values(reason.values, names or {})))
    except (AttributeError, KeyError, TypeError, ValueError):
        return _bare(reason)


def remedy(reason: Reason) -> str:
    """Return what to do about a reason, or an empty text where nothing needs doing.

    Examples
    --------
    >>> remedy(Reason("not-like-with-like"))
    "Measure the reference by the sample's technique."
    """
    known = REASONS.get(reason.code)
    return known.remedy if known else ""


def named_remedy(reason: Reason) -> str:
    """Return the text of a remedy that the decision names itself; a code without text is shown bare."""
    return ACTIONS.get(reason.code) or remedy(reason) or _bare(reason)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _bare(reason: Reason) -> str:
    """Code and values as they are: for codes without a sentence, or values that do not fit it."""
    values = ", ".join(f"{name} = {value}" for name, value in reason.values.items())
    return f"{reason.code} ({values})" if values else reason.code
