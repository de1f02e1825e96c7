"""``report.html``: one self-contained page that asks nothing of the network and runs no script.

Text from files and study is untrusted: the template escapes everything, the page forbids itself any
request by its content policy, and only the drawings, escaped by their own writer, go in as they are.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spectra.report.figures.canvas import inline
from spectra.report.figures.detection_curve import detection_figure
from spectra.report.figures.overlay import difference_figure, overlay_figure
from spectra.report.figures.positions import position_figure
from spectra.report.view import typeset, view
from spectra.report.words.captions import CAPTIONS

if TYPE_CHECKING:
    from markupsafe import Markup

    from spectra.verification.result import SampleFinding, Verification

TEMPLATES = Path(__file__).parent / "templates"


@dataclass(frozen=True)
class Drawing:
    """An SVG element with the caption below it."""

    svg: Markup
    caption: str


def as_html(verification: Verification, date: datetime.date) -> str:
    """Return the report as one HTML document.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["typeset"] = typeset
    drawings = [_sample_drawings(verification, sample) for sample in verification.samples.values()]
    return environment.get_template("report.html").render(
        page=view(verification, date),
        overlay=_overlay(verification),
        drawings=drawings,
        curves=_curves(verification),
    )


def _overlay(verification: Verification) -> Drawing:
    figure = overlay_figure(verification.stages.levelled)
    return _drawing(figure, CAPTIONS["overlay"])


def _curves(verification: Verification) -> tuple[Drawing, ...]:
    """One detection curve a coating."""
    return tuple(
        _drawing(detection_figure(recovery), CAPTIONS["detection"])
        for recovery in verification.spikes.values()
    )


def _sample_drawings(verification: Verification, sample: SampleFinding) -> tuple[Drawing, ...]:
    """Difference first, then the bands of each coating."""
    stacks = verification.stages.levelled
    bare = stacks["bare", verification.study.substrate.name]
    neat = {name: stack for (role, name), stack in stacks.items() if role == "neat"}
    drawn = [_drawing(difference_figure(sample, bare, neat), CAPTIONS["difference"])]
    for coating in sample.coatings.values():
        figure = position_figure(sample, coating, bare, neat[coating.name])
        if figure is not None:
            drawn.append(_drawing(figure, CAPTIONS["positions"]))
    return tuple(drawn)


def _drawing(figure: Any, caption: str) -> Drawing:
    from markupsafe import Markup

    return Drawing(Markup(inline(figure, caption.split(".")[0])), caption)
