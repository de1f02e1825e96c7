"""The command line: parse, one call, print, exit. No number is computed here.

``spectra.cli.exit_status`` turns every error into one message and an exit status. Everything heavy is
imported inside the commands, so that ``--help`` answers at once.
"""

from __future__ import annotations

import datetime
import shlex
from pathlib import Path
from typing import Any

import click

from spectra.cli.exit_status import Front, print_version, tell
from spectra.cli.figure_commands import figure, overlay, report
from spectra.cli.many_files import ManyFilesCommand
from spectra.cli.options import (
    FILE,
    Day,
    chosen_study,
    place_beside,
    place_options,
    quiet_option,
    stated_units,
    study_options,
    unit_options,
)
from spectra.cli.progress import Meter
from spectra.errors import CoatproofError
from spectra.writing.output import place_file, placed_folder, require_free

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


@main.command(cls=ManyFilesCommand, short_help="Judge a study and write the report.", epilog=VERIFY_EXAMPLES)
@study_options
@unit_options
@place_options("Folder for the report; by default a new one beside the study, named after it.")
@click.option("--date", type=Day(), metavar="YYYY-MM-DD", help="Day printed on the report; by default today.")
@quiet_option
def verify(
    study: Path | None,
    out: Path | None,
    force: bool,
    date: datetime.date | None,
    quiet: bool,
    **files: Any,
) -> int:
    """Judge whether the coating is there, whether its chemistry is unchanged, and what was left behind.

    Prints the verdicts and writes a folder: report.html (and report.pdf), result.json, tables, figures and
    the text for a methods section. Exit status 0: every expected coating is present and unchanged; 1: any
    other verdict; 2: the input is at fault.
    """
    wanted = chosen_study(study, files)
    target = out or place_beside(wanted, "report")
    require_free(target, force)
    from spectra.report import write_report
    from spectra.report.text import as_text
    from spectra.verification.verify import verify as verify_study

    with Meter(quiet) as meter:
        verification = verify_study(wanted, meter)
    with placed_folder(target, force) as draft:
        write_report(verification, draft, date or datetime.date.today())
    click.echo(f"{as_text(verification)}\nReport: {target / 'report.html'}")
    return 0 if verification.all_shown else 1


@main.command(
    short_help="Say what could be seen, before measuring.",
    epilog="Example: coatproof plan gauze/study.toml --thickness 5 --specimens 4 --spots 2",
)
@click.argument("study", type=FILE)
@click.option("--thickness", type=float, metavar="NM", help="Film thickness that is to be found.")
@click.option("--specimens", type=int, help="Coated specimens to be measured; 3 if not said.")
@click.option("--spots", type=int, help="Spots on each; 1 if not said.")
@click.option(
    "--evenness",
    type=float,
    metavar="SHARE",
    help="Variation from spot to spot that is to be decided, as 0.2; with --thickness.",
)
@click.option("--json", "form", flag_value="json", help="Print JSON.")
@quiet_option
def plan(
    study: Path,
    form: str | None,
    quiet: bool,
    thickness: float | None,
    evenness: float | None,
    **design: int | None,
) -> None:
    """Say from bare and neat spectra alone what a measurement can show.

    Usable and masked bands, the detectable thickness on this crystal and on others, and the specimens that
    a wanted thickness or a wanted evenness takes. The study needs no samples yet.
    """
    from dataclasses import replace

    from spectra.report.plan import as_plan_json, as_plan_text
    from spectra.study.loading import load_study
    from spectra.verification.planning import look_ahead

    wanted = load_study(study, need_samples=False)
    given = {name: number for name, number in design.items() if number is not None}
    settings = replace(wanted.settings, plan=replace(wanted.settings.plan, **given))
    with Meter(quiet) as meter:
        outlook = look_ahead(replace(wanted, settings=settings), thickness, meter, evenness)
    click.echo((as_plan_json if form == "json" else as_plan_text)(outlook), nl=False)


@main.command(
    short_help="Say what was read from files.", epilog="Example: coatproof look bare/*.csv neat/gelatin.dx"
)
@click.argument("files", nargs=-1, required=True, type=FILE, metavar="FILE...")
@unit_options
def look(files: tuple[Path, ...], **units: str | None) -> int:
    """Say what was read from each file, in which units, and what is doubtful about it.

    Files of one folder that were written alike are understood together. The spectra of a file are numbered,
    and named as a study names them.
    """
    from spectra.quality.checks import check_spectrum
    from spectra.reading import read_alike
    from spectra.report.text import look_text

    status, told = 0, set[str]()
    for found in read_alike(files, [stated_units(units)] * len(files)):
        try:
            if isinstance(found, CoatproofError):
                raise found
            spectra = [spectrum.with_faults(check_spectrum(spectrum)) for spectrum in found.spectra]
        except CoatproofError as error:
            status = 2
            if str(error) not in told:
                tell(str(error), 2)
            told.add(str(error))
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
    from spectra.study.starter import starter_study

    target = out or folder / "study.toml"
    text = starter_study(folder, target.parent)
    place_file(target, text.encode(), force)
    command = shlex.join(["coatproof", "verify", str(target)])
    click.echo(f"Study file: {target}\nRead it through, then: {command}")


@main.command(
    short_help="Search the reference bands, with sources.",
    epilog="""\b
Examples:
  coatproof bands gelatin
  coatproof bands 1715
  coatproof bands --coating gelatin --substrate polycaprolactone
""",
)
@click.argument("query", nargs=-1, metavar="[TEXT or CM-1]")
@click.option("--coating", help="With --substrate: which of its bands stand clear.")
@click.option("--substrate", help="With --coating: whose bands may hide them.")
@click.option(
    "--tolerance", type=float, default=4.0, show_default=True, help="Distance that still fits, cm-1."
)
@click.option("--table", "tables", multiple=True, type=FILE, help="Add a band table of your own.")
@click.option("--json", "form", flag_value="json", help="Print JSON.")
@click.option("--csv", "form", flag_value="csv", help="Print CSV.")
def bands(query: tuple[str, ...], form: str | None, **choice: Any) -> None:
    """Search the tables of reference bands by words, by wavenumber or for a pair of materials.

    Every row shows its source and whether that was read or recalled. Without words, all materials are listed.
    """
    from spectra.cli.band_listing import band_listing

    click.echo(band_listing(" ".join(query) or None, form=form or "text", **choice), nl=False)


@main.command(short_help="Do all of it on a page in the browser.", epilog="Example: coatproof page gauze")
@click.argument("folder", type=FILE, default=".")
@click.option("--port", type=int, default=0, help="Port on this machine; a free one if not said.")
@click.option("--no-browser", "quiet", is_flag=True, help="Do not open the browser; only print the address.")
def page(folder: Path, port: int, quiet: bool) -> int:
    """Open a page in the browser that does the whole job on one folder.

    The page is served by this machine to this machine alone, and keeps everything in the folder's study.toml.
    Close it with its last button, or with Ctrl and C here.
    """
    from spectra.errors import UsageError

    try:
        from spectra.page.server import serve
    except ImportError as error:
        raise UsageError(f"the page needs {error.name}: pip install 'coatproof[page]'") from None

    def tell_address(address: str) -> None:
        click.echo(address)
        if not quiet:
            click.launch(address)

    try:
        serve(folder, port, tell_address, datetime.date.today)
    except KeyboardInterrupt:
        click.echo("Closed.", err=True)
    return 0


for command in (overlay, figure, report):
    main.add_command(command)
