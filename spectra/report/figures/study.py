"""The overlay of a study that is not judged: spectra prepared, bands of the neat coatings named."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from reference_bands import load
from spectra.assignment.assignment import assign
from spectra.peaks.reference import measure_reference
from spectra.report.figures.band_labels import BandLabel
from spectra.report.figures.key import NAMED, short_assignment
from spectra.report.figures.overlay import overlay_figure
from spectra.report.figures.settings import FigureSettings
from spectra.report.words.captions import DRAWN, correction_note
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.verification.display import correct
from spectra.verification.inputs import Progress
from spectra.verification.preparation import prepare

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw_study(
    study: Study,
    settings: FigureSettings | None = None,
    quantity: str | None = None,
    progress: Progress | None = None,
) -> Figure:
    """Read a study's spectra and draw their overlay.

    Parameters
    ----------
    study : Study
    settings : FigureSettings, optional
    quantity : str, optional
        ``"depth"`` or ``"k"``: a correction for display.
    progress : callable, optional
        Called with a phase, how many are done, and of how many.

    Raises
    ------
    CoatproofError
        If a file cannot be read, a correction cannot be made, or there is nothing to draw.
    """
    stages = prepare(study, progress).stages
    if quantity is None:
        return overlay_figure(stages.levelled, settings, neat_labels(study, stages.flat))
    shown = correct(stages.flat, study, quantity)
    note = correction_note(shown.undone, shown.left)
    return overlay_figure(shown.stacks, settings, {}, shown.quantity or DRAWN["absorbance"], note)


def neat_labels(study: Study, flat: Mapping[tuple[str, str], Stack]) -> dict[str, tuple[BandLabel, ...]]:
    """Return the highest bands of each neat coating that the tables name, the highest first."""
    table, found = load(*study.band_tables), {}
    for name, coating in study.coatings.items():
        reference = measure_reference(flat["neat", name], f"neat {name}", study.settings.peaks)
        peaks = sorted(reference.peaks, key=lambda peak: -peak.height)
        named = [(peak, assign(peak, coating.material or name, table).assignment) for peak in peaks]
        labels = [BandLabel(peak.position, short_assignment(text)) for peak, text in named if text]
        found[name] = tuple(labels[:NAMED])
    return found
