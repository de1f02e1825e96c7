"""Figures of the trial of every band's fate, from its records: counts with exact 95 % intervals, and goals.

``python -m tests.fatefigures FILE [--by pair|nm|cell] [--against FILE]`` counts a record again; with
``--against`` it lists the samples whose verdicts differ between two versions of the code.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from spectra.findings import CHANGED, PRESENT, UNCHANGED
from spectra.statistics import binomial_interval

Record = dict[str, Any]
Test = Callable[[Record], bool]
HALF = 0.5  # of the strength must be visible before "unchanged" is asked for


@dataclass(frozen=True)
class Figure:
    """One figure: of the samples of ``cells`` that are ``asked``, how many ``hold``; goal in per cent."""

    title: str
    cells: tuple[str, ...]
    holds: Test
    least: float = 0.0
    most: float = 100.0
    asked: Test = lambda _: True
    designs: tuple[str, ...] = ("flat", "nested")

    @staticmethod
    def _cell(name: str) -> str:
        """Return the cell, a named stranger being one of the others."""
        return "other" if name.startswith("as ") else name

    def chosen(self, records: Iterable[Record]) -> list[Record]:
        """Return the samples it counts."""
        return [
            r
            for r in records
            if self._cell(r["cell"]) in self.cells and r["design"] in self.designs and self.asked(r)
        ]


def called(word: str) -> Test:
    """Whether the chemistry was called so."""
    return lambda r: bool(r["chemistry"] == word)


def present(r: Record) -> bool:
    """Whether the coating was called present."""
    return bool(r["presence"] == PRESENT)


def changed_first(r: Record) -> bool:
    """Changed, and the band that changed named first."""
    return bool(r["chemistry"] == CHANGED and r["first_is_target"])


def present_and_changed(r: Record) -> bool:
    """Present, and changed."""
    return present(r) and bool(r["chemistry"] == CHANGED)


def holds(low: float | None, truth: float, high: float | None) -> bool:
    """Whether an interval holds the truth."""
    return low is not None and high is not None and low <= truth <= high


def one_band(cell: str, unchanged: float, changed: float, title: str) -> list[Figure]:
    """Figures of one changed band."""
    return [
        Figure(f"{title}: called unchanged", (cell,), called(UNCHANGED), most=unchanged, designs=FLAT),
        Figure(f"{title}: called changed", (cell,), called(CHANGED), least=changed, designs=FLAT),
        Figure(f"{title}: changed and named first", (cell,), changed_first, least=changed, designs=FLAT),
        Figure(f"{title}: present", (cell,), present, least=90.0, designs=FLAT),
    ]


FILM_CELLS = tuple(f"unchanged-{nm}" for nm in (10, 20, 30, 60, 100, 200))
THICK_CELLS = tuple(f"unchanged-{nm}" for nm in (30, 60, 100, 200))
DAYS = ("humid", "contact", "drift")
OTHERS = ("other", "other-30", "other-60", "other-200")
ALL_MOVED = ("all-moved", *(f"all{by}-{nm}" for by in ("+12", "-22") for nm in (30, 60, 200)))


CHANGED_CELLS = ("browned", "conformer", "moved-3", *ALL_MOVED)
# Its bound holds only for who knows how the scene cuts its substrate's constants; nobody else gets near it.
OUT_OF_REACH = "PDMS on PET"
FLAT, NESTED = ("flat",), ("nested",)


def left_over(r: Record) -> bool:
    """Whether any band is called unexplained."""
    return bool(r["unexplained"])


def acid_found(r: Record) -> bool:
    """Whether acid is called present."""
    return bool(r["residue"] == PRESENT)


def substrate_changed(r: Record) -> bool:
    """Whether the substrate is called changed."""
    return bool(r["substrate"] == CHANGED)


def decidable(r: Record) -> bool:
    """Whether half of the coating's strength is visible."""
    return bool(r["visible_share"] >= HALF)


FIGURES: list[Figure] = [
    *one_band("moved-1.5", 2.0, 75.0, "one band moved by 1.5 margins"),
    *one_band("moved-2", 2.0, 90.0, "by 2 margins"),
    *one_band("moved-3", 1.0, 95.0, "by 3 margins"),
    *one_band("lost", 2.0, 90.0, "one band lost"),
    *one_band("halved", 2.0, 85.0, "one band halved"),
    *one_band("strongest-1.5", 2.0, 0.0, "strongest by 1.5 margins at 60 nm, hidden or not"),
    *one_band("broad-3", 100.0, 0.0, "one broad band by 3 margins"),
    Figure("all moved: present", ALL_MOVED, present, least=90.0),
    *(
        Figure(f"{what}: present and changed", cells, present_and_changed, least=90.0)
        for what, cells in (
            ("conformer", ("conformer",)),
            ("browned", ("browned",)),
            ("all moved", ALL_MOVED),
        )
    ),
    *(
        Figure(f"{what}: called unchanged", cells, called(UNCHANGED))
        for what, cells in (
            ("conformer", ("conformer",)),
            ("browned", ("browned",)),
            ("all moved", ALL_MOVED),
        )
    ),
    Figure("unchanged films: called changed", FILM_CELLS, called(CHANGED), most=1.0, designs=FLAT),
    Figure("unchanged, nested: called changed", FILM_CELLS, called(CHANGED), most=1.0, designs=NESTED),
    *(
        Figure(f"unchanged {nm} nm, half visible: called unchanged", (f"unchanged-{nm}",),
               called(UNCHANGED), least=least, asked=decidable, designs=FLAT)
        for nm, least in ((10, 85.0), (20, 0.0), (30, 95.0), (60, 0.0), (100, 98.0), (200, 98.0))
    ),
    *(
        Figure(f"unchanged {nm} nm, nested: called unchanged", (f"unchanged-{nm}",),
               called(UNCHANGED), asked=decidable, designs=NESTED)
        for nm in (30, 100)
    ),
    Figure("unchanged films: present", FILM_CELLS, present),
    Figure("clean coated samples: any unexplained band", FILM_CELLS, left_over, most=1.0),
    Figure("bare samples: any unexplained band", ("bare",), left_over, most=1.0),
    Figure("acid, 15 % of the film: found", ("acid",), acid_found, least=90.0,
           asked=lambda r: bool(r["acid_visible"])),
    Figure("acid, 15 % of the film: the coating present", ("acid",), present),
    Figure("acid called present on clean samples", (*FILM_CELLS, "bare"), acid_found, most=1.0),
    Figure("acid called present on changed films without", CHANGED_CELLS, acid_found),
    Figure("another material called this coating", OTHERS, present, most=1.0),
    Figure("another material called unchanged", OTHERS, called(UNCHANGED), most=0.0),
    Figure("films of 1 nm found, all pairs but one", ("unchanged-1",), present, least=95.0,
           asked=lambda r: bool(r["bound_allows"]) and r["pair"] != OUT_OF_REACH),
    Figure("films of 1 nm found, PDMS on PET", ("unchanged-1",), present,
           asked=lambda r: r["pair"] == OUT_OF_REACH),
    Figure("bare called present", ("bare",), present, most=1.0, designs=FLAT),
    Figure("bare called present, nested", ("bare",), present, most=1.0, designs=NESTED),
    Figure("bare: layer shown", ("bare",), lambda r: r["layer"] == "shown", most=1.0,
           asked=lambda r: r["layer"] is not None),
    *(Figure(f"{day} alone: called present", (f"{day}-bare",), present, most=0.0) for day in DAYS),
    *(Figure(f"{day} alone, bare or film: called changed", (f"{day}-bare", f"{day}-film"),
             called(CHANGED), most=0.0) for day in DAYS),
    *(Figure(f"{day} alone: substrate called changed", (f"{day}-bare", f"{day}-film"),
             substrate_changed, most=0.0) for day in DAYS),
    Figure("substrate called changed, no such change", (*FILM_CELLS, "bare", "moved-3", *ALL_MOVED),
           substrate_changed, most=1.0),
]  # fmt: skip

BAND_CELLS = (*FILM_CELLS, "moved-1.5", "moved-2", "moved-3", "all-moved")


def report(records: Sequence[Record], by: str | None = None) -> Iterator[str]:
    """Give the table as lines; ``by`` splits every figure by pair, nm or cell."""
    refused = [r for r in records if "refused" in r]
    records = [r for r in records if "refused" not in r]
    yield f"{len(records)} samples, {sum(r['seconds'] for r in records):.0f} s of deciding"
    yield from (f"study refused: {r['pair']}, {r['design']}, {r['repeat']}: {r['refused']}" for r in refused)
    for figure in FIGURES:
        chosen = figure.chosen(records)
        yield from _split(figure.title, chosen, figure.holds, (figure.least, figure.most), by)
    for moved in (False, True):
        rows = [b for r in records if r["cell"] in BAND_CELLS for b in r["bands"] if b["low"] is not None]
        rows = [b for b in rows if bool(b["true_shift"]) == moved]
        title = "interval of a shift holds the truth, " + ("moved bands" if moved else "unmoved bands")
        yield from _line(title, [holds(b["low"], b["true_shift"], b["high"]) for b in rows], (93.0, 97.0))
    for design in ("flat", "known", "nested"):
        yield from _thickness(design, [r for r in records if r["design"] == design], by)


def _split(
    title: str, chosen: Sequence[Record], test: Test, goal: tuple[float, float], by: str | None
) -> Iterator[str]:
    """One figure, and its parts."""
    yield from _line(title, [test(r) for r in chosen], goal)
    for part in sorted({r[by] for r in chosen}) if by else ():
        yield from _line(f"    {part}", [test(r) for r in chosen if r[by] == part], goal)


def _line(title: str, happened: Sequence[bool], goal: tuple[float, float]) -> Iterator[str]:
    """Count, share, exact interval, goal and whether it is met; nothing where nothing was asked."""
    if not happened:
        return
    count, of = sum(happened), len(happened)
    low, high = (100.0 * end for end in binomial_interval(count, of))
    share, (least, most) = 100.0 * count / of, goal
    wanted = "" if goal == (0.0, 100.0) else f"goal {least:g} to {most:g}" if least and most < 100.0 else ""
    wanted = wanted or (f"goal >= {least:g}" if least else f"goal <= {most:g}" if most < 100.0 else "")
    verdict = "" if not wanted else "met" if least <= share <= most else "MISSED"
    yield f"{title:60s} {count:5d} / {of:5d} {share:6.1f} % [{low:5.1f}, {high:5.1f}]  {wanted:15s} {verdict}"


def _thickness(design: str, records: Sequence[Record], by: str | None) -> Iterator[str]:
    """Thickness of unchanged films from 30 nm: interval, half-width, error."""
    films = [r for r in records if r["cell"] in THICK_CELLS]
    found = [r for r in films if None not in r["found_nm"]]
    if not films:
        return
    title = {"flat": "contact unknown", "known": "contact known", "nested": "nested, contact unknown"}[design]
    yield from _line(f"thickness given, {title}", [None not in r["found_nm"] for r in films], (0.0, 100.0))
    yield from _split(
        f"thickness interval holds the truth, {title}",
        found,
        lambda r: holds(r["found_nm"][1], r["nm"], r["found_nm"][2]),
        (93.0, 97.0),
        by,
    )
    for part in (None, *(sorted({r[by] for r in found}) if by else ())):
        rows = [(r["nm"], *r["found_nm"]) for r in found if part is None or r[by] == part]
        if rows:
            yield _sizes(np.array(rows, dtype=float), "    " + str(part) if part is not None else title)


def _sizes(rows: np.ndarray, title: str) -> str:
    """Median half-width, error and bias of (truth, found, low, high), per cent."""
    truth, value, low, high = rows.T
    half = 100.0 * np.median((high - low) / 2.0 / value)
    error, bias = 100.0 * np.abs(value / truth - 1.0), 100.0 * np.median(value / truth - 1.0)
    return (
        f"thickness, median half-width {half:5.1f} % (goal 20), error {np.median(error):5.1f} % (goal 8), "
        f"mean error {error.mean():5.1f} %, bias {bias:+5.1f} %, n {len(rows)}: {title}"
    )


KEY = ("pair", "design", "cell", "repeat", "seed")
COMPARED = ("layer", "presence", "chemistry", "first_is_target", "residue", "substrate", "unexplained")


def differences(old: Iterable[Record], new: Iterable[Record]) -> Iterator[str]:
    """Samples decided otherwise by two versions of the code, on the same spectra."""
    before = {tuple(r[k] for k in KEY): r for r in old}
    for record in new:
        key = tuple(record[k] for k in KEY)
        if key not in before or "refused" in record or "refused" in before[key]:
            continue
        then = before[key]
        told = [f"{k}: {then[k]} -> {record[k]}" for k in COMPARED if then[k] != record[k]]
        if told:
            yield f"{' | '.join(str(k) for k in key)} | {record['nm']:g} nm | " + "; ".join(told)


def read(file: Path) -> list[Record]:
    """Read a record."""
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]


def main() -> None:
    """Print the figures of a record, or what differs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("file", type=Path, nargs="+", help="records; several are counted together")
    parser.add_argument("--by", choices=("pair", "nm", "cell"))
    parser.add_argument("--against", type=Path, help="an earlier record of the same samples")
    asked = parser.parse_args()
    records = [record for file in asked.file for record in read(file)]
    lines = differences(read(asked.against), records) if asked.against else report(records, asked.by)
    print("\n".join(lines))


if __name__ == "__main__":
    main()
