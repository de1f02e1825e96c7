"""The front door for Python: the chain's result, which also gives itself as plain data.

In: a Study. Out: a Verification that knows its record. It stands above the chain and the report, so that
neither has to import the other.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from spectra.report.record import as_dict
from spectra.study.records import Study
from spectra.verification import result
from spectra.verification import verify as chain
from spectra.verification.inputs import Progress


@dataclass(frozen=True, eq=False)
class Verification(result.Verification):
    """The whole result of :func:`verify`: the study, what was read, what was found, every stage."""

    def to_dict(self) -> dict[str, Any]:
        """Return the content of ``result.json``, format 1.

        Returns
        -------
        dict
            Of dicts, lists, text, finite numbers, booleans and None only; see
            :func:`spectra.report.record.as_dict`.
        """
        return as_dict(self)


def verify(study: Study, progress: Progress | None = None) -> Verification:
    """Read a study's spectra and judge every sample.

    Parameters
    ----------
    study : Study
        From :func:`spectra.load_study` or :func:`spectra.study_from_files`.
    progress : callable, optional
        Called with a phase, how many are done, and of how many.

    Returns
    -------
    Verification

    Raises
    ------
    CoatproofError
        If a file cannot be read, or the spectra cannot be brought together.
    """
    found = chain.verify(study, progress)
    return Verification(**{item.name: getattr(found, item.name) for item in fields(found)})
