"""Options that several commands share, and what they mean."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from spectra.errors import UsageError

if TYPE_CHECKING:
    from spectra.study.records import Study
    from spectra.units import StatedUnits

Command = TypeVar("Command", bound=Callable[..., Any])


if TYPE_CHECKING:
    Parameter = click.ParamType[Any]
else:  # generic for the type checker only, in some versions
    Parameter = click.ParamType


class Day(Parameter):
    """A day, as 2026-03-31."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime.date:
        """Return the day, or say which form is wanted."""
        try:
            return datetime.date.fromisoformat(value)
        except ValueError:
            self.fail(f"{value!r} is no day; write year, month and day, as in 2026-03-31", param, ctx)


FILE = click.Path(path_type=Path)


# The words of ``spectra.units``, which is not imported here: it needs numpy, and help must answer at once.
ORDINATES = "absorbance, transmittance, percent transmittance, reflectance or percent reflectance"


def unit_options(command: Command) -> Command:
    """Add what files do not say about their numbers."""
    return axis_options(
        click.option("--decimal", type=click.Choice([",", "."]), help="Decimal mark of the files.")(command)
    )


def axis_options(command: Command) -> Command:
    """Add the units of the axes alone: where a figure is drawn, --decimal is the figure's own sign."""
    for add in (
        click.option("--abscissa", metavar="UNIT", help="Unit of the abscissa: cm-1, um or nm."),
        click.option("--ordinate", metavar="UNIT", help=f"Unit of the ordinate: {ORDINATES}."),
    ):
        command = add(command)
    return command


def stated_units(given: dict[str, Any]) -> StatedUnits:
    """Take what is said about files out of the options.

    Raises
    ------
    UsageError
        For a unit that is not known.
    """
    from spectra.errors import SettingError
    from spectra.units import StatedUnits

    said = {name: given.pop(name, None) for name in ("ordinate", "abscissa", "decimal")}
    try:
        return StatedUnits(**said)
    except SettingError as error:
        raise UsageError(f"--{error}") from None


def study_options(command: Command) -> Command:
    """Add what names the spectra: a study file, or the files themselves."""
    for add in (
        click.option("--substrate", help="Material of the substrate, with the files."),
        click.option("--coating", help="Name of the coating, with the files."),
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


def chosen_study(file: Path | None, given: dict[str, Any]) -> Study:
    """Return the study of a study file, or of files given one by one."""
    from spectra.study.loading import load_study, study_from_files

    used = [f"--{name}".replace("_", "-") for name, value in given.items() if value]
    if file is not None and used:
        raise UsageError(f"{file} and {used[0]} are both given; name a study file or the files, not both")
    if file is not None:
        return load_study(file)
    missing = [f"--{role}" for role in ("bare", "neat", "coated") if not given[role]]
    if missing:
        text = "nothing to judge; name a study file" if not used else f"{' and '.join(missing)} missing"
        raise UsageError(f"{text}, or all of --bare F... --neat F... --coated F...")
    units = stated_units(given)
    return study_from_files(**given, units=units)


def place_beside(study: Study, what: str) -> Path:
    """Return a place beside the study file, named after it; without one, in the working folder."""
    if study.file is None:
        return Path(f"coatproof_{what}")
    return study.file.with_name(f"{study.file.stem}_{what}")
