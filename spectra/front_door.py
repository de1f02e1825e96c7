"""The front door for Python: the chain's result, which also gives itself as plain data.

In: a Study. Out: a Verification that knows its record. It stands above the chain and the report, so that
neither has to import the other.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from spectra.report.figures.key import draw_key
from spectra.report.figures.settings import FigureSettings
from spectra.report.figures.study import draw_study
from spectra.report.notebook import result_html
from spectra.report.record import as_dict
from spectra.study.records import Study
from spectra.verification import result
from spectra.verification import verify as chain
from spectra.verification.inputs import Progress

if TYPE_CHECKING:
    from matplotlib.figure import Figure


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

    def _repr_html_(self) -> str:
        """Show the table of all samples in a notebook."""
        return result_html(self)


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


def overlay(study: Study, **choices: Any) -> Figure:
    """Draw the spectra of a study one above the other, nothing judged.

    Parameters
    ----------
    study : Study
    **choices
        Fields of :class:`spectra.report.figures.settings.FigureSettings`: ``width`` (mm), ``region``
        (cm-1), ``labels``, ``samples``, ``offset``, ``decimal``.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    CoatproofError
        If a file cannot be read, or a choice is out of range.
    """
    return draw_study(study, FigureSettings(**choices))


def key_figure(verification: result.Verification, **choices: Any) -> Figure:
    """Draw the key figure of a result: overlay, deciding region and amounts, one row a sample.

    Parameters
    ----------
    verification : Verification
    **choices
        As for :func:`overlay`; ``region`` is that of the middle panel.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    CoatproofError
        If a sample is not there, or a choice is out of range.
    """
    return draw_key(verification, FigureSettings(**choices))
