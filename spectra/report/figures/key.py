"""The key figure: one row a sample, from the whole spectrum to the bands that decide to the amounts.

(a) bare, coated and neat spectra; (b) the region that decides: coated minus bare, with the film that was
computed for the amount found and the scatter of the bare spots, each row on its own scale so that a film of
2 nm is seen; (c) the amount on every specimen. On a narrow page the three stand below one another.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from spectra.report.figures.amounts import draw_amounts
from spectra.report.figures.axis import axis_title
from spectra.report.figures.band_labels import BandLabel
from spectra.report.figures.canvas import (
    letter,
    localised,
    new_figure,
)
from spectra.report.figures.differences import deciding_region, draw_differences
from spectra.report.figures.overlay import FOOT, HEAD, MARGIN, draw_overlay, overlay_height, scale_bar
from spectra.report.figures.settings import FigureSettings
from spectra.report.figures.traces import traces
from spectra.report.words.captions import DRAWN
from spectra.verification.result import CoatingFinding, Verification

if TYPE_CHECKING:
    from matplotlib.figure import Figure

NAMED = 6  # bands at the neat line


NAMES = 20.0  # mm for the names of samples beside panel c where it stands alone

ROW = 18.0  # mm for one sample in panels b and c


@dataclass(frozen=True)
class Room:
    """Where the panels stand: left, bottom, width, height in mm, and the size of the page."""

    overlay: tuple[float, float, float, float]
    difference: tuple[float, float, float, float]
    amounts: tuple[float, float, float, float]
    width: float
    height: float


def named_bands(verification: Verification) -> dict[str, tuple[BandLabel, ...]]:
    """Return the bands to name at each neat line: those with an assignment, the highest first."""
    found: dict[str, CoatingFinding] = {}
    for sample in verification.samples.values():
        for name, coating in sample.coatings.items():
            found.setdefault(name, coating)
    return {name: _labels(coating) for name, coating in found.items()}


def _labels(coating: CoatingFinding) -> tuple[BandLabel, ...]:
    strong = sorted((b for b in coating.bands if b.assignment), key=lambda band: -band.neat_height)
    return tuple(BandLabel(band.neat_position, short_assignment(band.assignment)) for band in strong[:NAMED])


def short_assignment(assignment: str) -> str:
    """Return the first part of an assignment, without the state it holds for, as a figure has room for.

    Examples
    --------
    >>> short_assignment("amide A + O-H stretch (wet)"), short_assignment("CH2 wag")
    ('amide A', 'CH₂ wag')
    """
    from spectra.report.words.signs import chemical

    return chemical(assignment.split(" (")[0].split(" + ")[0].split(" or ")[0])


def draw_key(verification: Verification, settings: FigureSettings | None = None) -> Figure:
    """Draw the key figure of a result: overlay, deciding region and amounts, one row a sample.

    Parameters
    ----------
    verification : Verification
    settings : FigureSettings, optional
        ``region`` is that of panel (b); ``samples`` chooses and orders the rows.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    UsageError
        If a sample is not there, or the region holds no point in use.
    """
    settings = settings or FigureSettings()
    stacks = verification.stages.levelled
    lines = traces(stacks, settings.samples)
    names = [line.name for line in lines if line.role == "coated"]
    bands = named_bands(verification)
    whole = FigureSettings(settings.width, (), settings.labels, settings.samples, settings.offset)
    room = _room(overlay_height(lines, whole, bands), len(names), settings)
    figure = new_figure(room.width, room.height)
    drawn = draw_overlay(figure, room.overlay, lines, whole, bands)
    scale_bar(drawn[0], max(line.reach for line in lines), DRAWN["absorbance"])
    axis_title(drawn)
    region = settings.region or deciding_region(verification, names)
    chosen = [verification.samples[name] for name in names]
    draw_differences(figure, room.difference, chosen, stacks, region)
    draw_amounts(figure, room.amounts, chosen, NAMES if settings.narrow else None)
    for name, place in zip("abc", (room.overlay, room.difference, room.amounts), strict=True):
        letter(figure, place[0] - MARGIN + 1.0, room.height - place[1] - place[3] + 0.2, name)
    return localised(figure, settings.decimal)


def _room(overlay: float, samples: int, settings: FigureSettings) -> Room:
    """Lay the three panels out: beside one another on a wide page, below one another on a narrow one."""
    width = settings.width
    if settings.narrow:
        inner, rows = width - 2 * MARGIN, ROW * samples + HEAD
        amounts, third = (
            (MARGIN + NAMES, FOOT, inner - NAMES, 7.0 * samples + HEAD),
            7.0 * samples + HEAD + FOOT,
        )
        difference = (MARGIN, third + FOOT, inner, rows)
        top = third + FOOT + rows + FOOT
        return Room((MARGIN, top, inner, overlay), difference, amounts, width, top + overlay)
    height = max(overlay, ROW * samples + HEAD, 42.0)
    first, second = 0.47 * width - MARGIN, 0.29 * width
    left = MARGIN + first + MARGIN + 2.0
    third = left + second + MARGIN + 4.0
    return Room(
        (MARGIN, FOOT, first, height),
        (left, FOOT, second, height),
        (third, FOOT, width - third - 3.0, height),
        width,
        height + FOOT,
    )
