"""The command line: parse, one call, print, exit. No number is computed here.

``spectra.front`` turns every error into one message and an exit status. Everything heavy is imported
inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from spectra.errors import CoatproofError, UsageError
from spectra.front import Front, print_version, tell
from spectra.manyfiles import ManyFilesCommand
from spectra.placing import place_file, placed_folder, require_free
from spectra.progress import Meter

if TYPE_CHECKING:
    from spectra.study import Study

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = click.Path(path_type=Path)
VERIFY_EXAMPLES = """\b
Examples:
  coatproof verify gauze/study.toml
  coatproof verify --bare bare/*.csv --neat gelatin.dx --coated a1.csv a2.csv --technique ATR
"""


@click.group(
    cls=Front,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Example: coatproof new gauze, then coatproof verify gauze/study.toml",
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=print_version,
    help="Print the version.",
)
def main() -> None:
    """Show by infrared whether a thin coating reached a surface and whether its chemistry survived.

    It takes spectra of the bare substrate, of the neat coating, and of coated samples.
    """


def study_options(command: Command) -> Command:
    """Add what names the spectra: a study file, or the files themselves."""
    for add in (
        click.option("--angle-deg", type=float, metavar="DEG", help="Angle of incidence, with the files."),
        click.option("--crystal", help="ATR crystal of the measurement, with the files."),
        click.option("--technique", help="ATR, transmission, ...: how the files were measured."),
        click.option("--coated", multiple=True, metavar="FILE...", help="Spectra of the coated sample."),
        click.option("--neat", multiple=True, metavar="FILE...", help="Spectra of the neat coating."),
        click.option("--bare", multiple=True, metavar="FILE...", help="Spectra of the bare substrate."),
        click.argument("study", required=False, type=FILE, metavar="[STUDY.toml]"),
    ):
        command = add(command)
    return command


def place_options(what: str) -> Callable[[Command], Command]:
    """Add where the result goes."""

    def add(command: Command) -> Command:
        command = click.option("--force", is_flag=True, help="Replace what is there already.")(command)
        return click.option("--out", type=FILE, help=what)(command)

    return add


quiet_option = click.option("--quiet", is_flag=True, help="Do not show progress.")


@main.command(cls=ManyFilesCommand, short_help="Judge a study and write the report.", epilog=VERIFY_EXAMPLES)
@study_options
@place_options("Folder for the report; by default a new one beside the study, named after it.")
@click.option(
    "--date", type=click.DateTime(["%Y-%m-%d"]), help="Day printed on the report; by default today."
)
@quiet_option
def verify(
    study: Path | None,
    out: Path | None,
    force: bool,
    date: datetime.datetime | None,
    quiet: bool,
    **files: Any,
) -> int:
    """Judge whether the coating is there, whether its chemistry is unchanged, and what was left behind.

    Prints the verdicts and writes report.html, result.json, a band table and a figure. Exit status 0: every
    expected coating is present and unchanged; 1: any other verdict; 2: the input is at fault.
    """
    wanted = _study(study, files)
    target = out or _beside(wanted, "report")
    require_free(target, force)
    from spectra.report import write_report
    from spectra.report.text import as_text
    from spectra.verification import verify as verify_study

    with Meter(quiet) as meter:
        verification = verify_study(wanted, meter)
    with placed_folder(target, force) as draft:
        write_report(verification, draft, date.date() if date else datetime.date.today())
    click.echo(f"{as_text(verification)}\nReport: {target / 'report.html'}")
    return 0 if verification.all_shown else 1


@main.command(
    cls=ManyFilesCommand,
    short_help="Draw bare, neat and coated spectra.",
    epilog="Example: coatproof overlay gauze/study.toml --out figure_2.png",
)
@study_options
@place_options("Picture to write, .svg or .png; by default an .svg beside the study.")
@quiet_option
def overlay(study: Path | None, out: Path | None, force: bool, quiet: bool, **files: Any) -> None:
    """Draw bare, neat and coated spectra one above the other, as in the report."""
    wanted = _study(study, files)
    target = out or _beside(wanted, "overlay.svg")
    require_free(target, force)
    from spectra.report.canvas import render
    from spectra.report.figures import overlay_figure
    from spectra.verification import verify as verify_study

    with Meter(quiet) as meter:
        figure = overlay_figure(verify_study(wanted, meter).stages.levelled)
    place_file(target, render(figure, target.suffix.lstrip(".").lower()), force)
    click.echo(f"Figure: {target}")


@main.command(
    short_help="Say what was read from files.", epilog="Example: coatproof look bare/*.csv neat/gelatin.dx"
)
@click.argument("files", nargs=-1, required=True, type=FILE, metavar="FILE...")
def look(files: tuple[Path, ...]) -> int:
    """Say what was read from each file, in which units, and what is doubtful about it."""
    from spectra.checks import check_spectrum
    from spectra.reading import read
    from spectra.report.text import look_text

    status = 0
    for file in files:
        try:
            spectra = [spectrum.with_faults(check_spectrum(spectrum)) for spectrum in read(file)]
        except CoatproofError as error:
            status = tell(str(error), 2)
        else:
            click.echo(look_text(spectra), nl=False)
    return status


@main.command(
    short_help="Write a study file for the spectra in a folder.", epilog="Example: coatproof new gauze"
)
@click.argument("folder", type=FILE)
@place_options("Study file to write; by default FOLDER/study.toml.")
def new(folder: Path, out: Path | None, force: bool) -> None:
    """Write a commented study file for the spectra found in a folder."""
    from spectra.starter import starter_study

    target = out or folder / "study.toml"
    text = starter_study(folder, target.parent)
    place_file(target, text.encode(), force)
    click.echo(f"Study file: {target}\nRead it through, then: coatproof verify {target}")


def _study(file: Path | None, given: dict[str, Any]) -> Study:
    """Return the study of a study file, or of files given one by one."""
    from spectra.studyfile import load_study, study_from_files

    used = [f"--{name}".replace("_", "-") for name, value in given.items() if value]
    if file is not None and used:
        raise UsageError(f"{file} and {used[0]} are both given; name a study file or the files, not both")
    if file is not None:
        return load_study(file)
    missing = [f"--{role}" for role in ("bare", "neat", "coated") if not given[role]]
    if missing:
        text = "nothing to judge; name a study file" if not used else f"{' and '.join(missing)} missing"
        raise UsageError(f"{text}, or all of --bare F... --neat F... --coated F...")
    return study_from_files(**given)


def _beside(study: Study, what: str) -> Path:
    """Return a place beside the study file, named after it; without one, in the working folder."""
    if study.file is None:
        return Path(f"coatproof_{what}")
    return study.file.with_name(f"{study.file.stem}_{what}")
