"""The commands that draw and lay out: overlay, key figure, a report anew. No number is computed here."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from spectra.cli.many_files import ManyFilesCommand
from spectra.cli.options import (
    FILE,
    axis_options,
    chosen_study,
    place_beside,
    place_options,
    quiet_option,
    study_options,
)
from spectra.cli.progress import Meter
from spectra.errors import UsageError
from spectra.writing.output import place_file, placed_folder, require_free

if TYPE_CHECKING:
    from spectra.report.figures.settings import FigureSettings
    from spectra.verification.result import Verification

Command = TypeVar("Command", bound=Callable[..., Any])

LOOKS = ("region", "width", "labels", "samples", "offset", "decimal")


def figure_options(command: Command) -> Command:
    """Add how a figure is to look."""
    for add in (
        click.option("--decimal", type=click.Choice([".", ","]), help="Decimal sign of the figure."),
        click.option(
            "--offset", type=float, help="Distance of the lines, in heights of the highest; 0: none."
        ),
        click.option("--samples", multiple=True, metavar="NAME...", help="Samples to draw, in this order."),
        click.option(
            "--labels",
            type=click.Choice(["both", "assignment", "position", "none"]),
            help="What stands at a band.",
        ),
        click.option(
            "--width", type=float, metavar="MM", help="Width on paper; 178 if not said, 85 for one column."
        ),
        click.option("--region", metavar="HIGH-LOW", help="Stretch to draw, cm-1, as 1800-1300."),
    ):
        command = add(command)
    return command


def chosen_look(given: dict[str, Any]) -> FigureSettings:
    """Take the figure's options out of ``given`` and return what they choose.

    Raises
    ------
    UsageError
        If a region is not two wavenumbers.
    SettingError
        If a number is out of range.
    """
    from spectra.report.figures.settings import FigureSettings

    looks = {name: given.pop(name) for name in LOOKS}
    chosen = {name: value for name, value in looks.items() if value not in (None, ())}
    if "region" in chosen:
        chosen["region"] = _region(chosen["region"])
    return FigureSettings(**chosen)


def _region(text: str) -> tuple[float, float]:
    """Return the two ends of a region, the lower first."""
    parts = text.replace("\N{EN DASH}", "-").split("-")
    try:
        low, high = sorted(float(part) for part in parts)
    except ValueError:
        raise UsageError(f"--region {text}: expected two wavenumbers in cm-1, as 1800-1300") from None
    return low, high


def _form(target: Path) -> str:
    """Return the form of a figure's file."""
    from spectra.report.figures.files import FORMATS

    form = target.suffix.lstrip(".").lower()
    if form not in FORMATS:
        raise UsageError(f"{target}: a figure is written as .{' or .'.join(FORMATS)}; end its name so")
    return form


@click.command(
    cls=ManyFilesCommand,
    short_help="Draw bare, neat and coated spectra.",
    epilog="Example: coatproof overlay gauze/study.toml --region 1800-1300 --width 85 --out figure_2.pdf",
)
@study_options
@axis_options
@click.option(
    "--as",
    "quantity",
    type=click.Choice(["depth", "k"]),
    help="Correct ATR spectra for display: scaled for depth, or as absorption index k.",
)
@figure_options
@place_options("Picture to write, .svg, .pdf or .png; by default an .svg beside the study.")
@quiet_option
def overlay(
    study: Path | None, out: Path | None, force: bool, quiet: bool, quantity: str | None, **given: Any
) -> None:
    """Draw bare, neat and coated spectra one above the other, as in the report.

    A correction for display is named in the figure with what it undoes and what it leaves; no verdict
    uses it.
    """
    look = chosen_look(given)
    wanted = chosen_study(study, given)
    target = out or place_beside(wanted, "overlay.svg")
    require_free(target, force)
    from spectra.report.figures.files import render
    from spectra.report.figures.study import draw_study

    form = _form(target)
    with Meter(quiet) as meter:
        drawn = draw_study(wanted, look, quantity, meter)
    place_file(target, render(drawn, form), force)
    click.echo(f"Figure: {target}")


@click.command(
    cls=ManyFilesCommand,
    short_help="Draw the key figure of a study or report.",
    epilog="Example: coatproof figure gauze/study_report --samples aqueous --width 85 --out figure_1.pdf",
)
@click.argument("source", type=FILE, metavar="STUDY.toml|REPORT")
@figure_options
@place_options("Picture to write, .svg, .pdf or .png; by default key.svg beside the study or report.")
@quiet_option
def figure(source: Path, out: Path | None, force: bool, quiet: bool, **given: Any) -> None:
    """Draw overlay, deciding region and amounts, one row a sample.

    From the folder of a report nothing is judged again; from a study file it is judged first. A region is
    that of the middle panel.
    """
    look = chosen_look(given)
    target = out or source.parent / f"{source.stem}_key.svg"
    require_free(target, force)
    from spectra.report.figures.files import render
    from spectra.report.figures.key import draw_key

    form = _form(target)
    drawn = draw_key(_result(source, quiet), look)
    place_file(target, render(drawn, form), force)
    click.echo(f"Figure: {target}")


def _result(source: Path, quiet: bool) -> Verification:
    """Return the result that a report's folder holds, or that of a study file."""
    from spectra.report import read_report
    from spectra.report.kept import rounded
    from spectra.study.loading import load_study
    from spectra.verification.verify import verify

    if source.is_dir():
        return read_report(source)
    with Meter(quiet) as meter:
        return rounded(verify(load_study(source), meter))


@click.command(
    short_help="Lay a report out anew, without judging again.",
    epilog="Example: coatproof report gauze/study_report",
)
@click.argument("folder", type=FILE)
@click.option("--out", type=FILE, help="Folder for it; by default the same, its files replaced.")
@click.option(
    "--date", type=click.DateTime(["%Y-%m-%d"]), help="Day printed on the report; by default today."
)
def report(folder: Path, out: Path | None, date: datetime.datetime | None) -> None:
    """Write page, tables, figures and texts of a report anew from its result.json and spectra.csv.

    Nothing is judged again: the verdicts and numbers are those that were kept.
    """
    from spectra.report import read_report, write_report

    found, target = read_report(folder), out or folder
    with placed_folder(target, force=out is None) as draft:
        write_report(found, draft, date.date() if date else datetime.date.today())
    click.echo(f"Report: {target / 'report.html'}")
