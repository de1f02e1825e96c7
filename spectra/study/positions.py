"""Where on its piece each spot was measured: a table of the user's, read as strictly as the study file."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from spectra.groups import Group
from spectra.study.file_search import FileSearch
from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.toml_lines import KeyPath

HEADS = ("spot", "x", "y")


def read_positions(
    file: Path, groups: Sequence[Group], search: FileSearch
) -> dict[Path, tuple[float, float]]:
    """Return the position of every spot that a table names; what it does not say is left out.

    Parameters
    ----------
    file : Path
        Comma separated, with the heads spot, x and y; a spot is a file of the study, by its path or its stem.
    groups : sequence of Group
    search : FileSearch
    """
    place: KeyPath = ("positions", "file")
    spots = _spots(groups, search)
    with file.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    heads = [head.strip().casefold() for head in rows[0]] if rows else []
    if missing := [head for head in HEADS if head not in heads]:
        text = f"{search.shown(file)} line 1: found {shown(tuple(heads))}; expected the heads spot, x, y"
        search.mistakes.add(place, f"{text} (missing: {', '.join(missing)})")
        return {}
    found: dict[Path, tuple[float, float]] = {}
    for number, row in enumerate(rows[1:], 2):
        if any(cell.strip() for cell in row):
            where = f"{search.shown(file)} line {number}"
            cells = dict(zip(heads, (cell.strip() for cell in row), strict=False))
            _take_row(cells, where, spots, found, search.mistakes)
    return found


def _spots(groups: Sequence[Group], search: FileSearch) -> dict[str, Path | None]:
    """Return the files of coated spots by path and by stem; a stem that several share leads nowhere."""
    named: dict[str, Path | None] = {}
    files = [f for g in groups if g.role == "coated" for s in g.specimens for f in s.files]
    for file in files:
        named[file.stem] = None if file.stem in named else file
    return named | {search.shown(file): file for file in files}


def _take_row(
    cells: Mapping[str, str],
    where: str,
    spots: Mapping[str, Path | None],
    found: dict[Path, tuple[float, float]],
    mistakes: Mistakes,
) -> None:
    """Take one row of the table, or note why not."""
    name = cells.get("spot", "")
    place: KeyPath = ("positions", "file")
    file = spots.get(name)
    if file is None:
        why = "is the name of several spots; give its path" if name in spots else "is no coated spot"
        mistakes.add(place, f"{where}: {shown(name)} {why}{'' if name in spots else nearest(name, spots)}")
        return
    if file in found:
        mistakes.add(place, f"{where}: {shown(name)} has a position already; keep one")
        return
    try:
        x, y = float(cells["x"]), float(cells["y"])
    except (KeyError, ValueError):
        x = y = math.nan
    if not (math.isfinite(x) and math.isfinite(y)):
        mistakes.add(
            place, f"{where}: found x {cells.get('x')!r}, y {cells.get('y')!r}; expected two numbers"
        )
        return
    found[file] = (x, y)
