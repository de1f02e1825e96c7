"""The words of a plan: part of ``report.view``."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING

from spectra.report.record import plain_data
from spectra.report.view import as_shown
from spectra.report.words.comparing import apart_line, evenness_lines
from spectra.report.words.numerals import counted, exact, limit, listed, plain, span, wavenumber
from spectra.report.words.signs import visible

if TYPE_CHECKING:
    from spectra.detection.design import Design, Plan, PlannedBand
    from spectra.verification.planning import Outlook

WIDTH = 100

CAUTION = (
    "A plan holds for bare spots like those it was made from. Measure the bare specimens of the study "
    "again beside the coated ones."
)


def as_plan_text(outlook: Outlook) -> str:
    """Return a plan for the terminal.

    Parameters
    ----------
    outlook
        From ``spectra.verification.planning.look_ahead``.
    """
    decision = outlook.study.settings.decision
    lines = [
        outlook.study.title,
        f"  {counted(outlook.bare_units, 'bare specimen')}; chance of calling a bare sample coated "
        f"{exact(decision.alpha)}, of finding the detectable amount {exact(decision.power)}",
    ]
    for name, plan in outlook.plans.items():
        lines += ["", name, *_plan(plan, outlook)]
        if name in outlook.evenness:
            lines += evenness_lines(outlook.evenness[name])
    for one, other, correlation in outlook.alike:
        lines += ["", f"{one} and {other} cannot be told apart here (correlation {plain(correlation)})"]
    for item in outlook.apart:
        lines += ["", *textwrap.wrap(apart_line(as_shown(item, outlook.study)), WIDTH)]
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "".join(f"{visible(line)}\n" for line in lines)


def as_plan_json(outlook: Outlook) -> str:
    """Return a plan as JSON, numbers in full; amounts in units of the neat spectrum, lengths in nm."""
    data = {
        "format": 1,
        "title": outlook.study.title,
        "bare_specimens": outlook.bare_units,
        "wanted_nm": outlook.wanted_nm,
        "decision": plain_data(outlook.study.settings.decision),
        "evenness": plain_data(outlook.evenness),
        "apart": plain_data(outlook.apart),
        "alike": plain_data(outlook.alike),
        "coatings": {name: plain_data(plan) for name, plan in outlook.plans.items()},
    }
    return json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _plan(plan: Plan, outlook: Outlook) -> Iterator[str]:
    """Say what one coating's measurement can find."""
    usable = sum(not band.masked for band in plan.bands)
    yield f"  {_can_be_seen(usable, plan)}"
    yield f"  with {_design(plan.design)}: detectable {_size(plan.design.detectable, plan)}"
    if plan.alternatives:
        others = [f"{crystal} {plain(nm, 2)} nm" for crystal, nm in plan.alternatives.items()]
        yield f"  the same on another crystal: {listed(others)}"
    if outlook.wanted_nm is not None:
        yield f"  for {exact(outlook.wanted_nm)} nm: {_needed(plan)}"
    margin = exact(outlook.study.settings.decision.margin)
    heads = ("band", "from - to, cm-1", "detectable alone", f"margin of +/- {margin} cm-1 decided from", "")
    rows = [heads, *(_band(band, plan) for band in plan.bands)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    for row in rows:
        yield "    " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _can_be_seen(usable: int, plan: Plan) -> str:
    """Answer the first question."""
    masked = len(plan.bands) - usable
    seen = f"{counted(usable, 'usable band')}, {masked} masked by the substrate"
    if usable >= 2:
        return f"can be seen on this substrate: {seen}"
    return f"cannot be shown on this substrate: {seen}; two usable bands are needed"


def _design(design: Design) -> str:
    """Describe a design."""
    each = "" if design.spots == 1 else f" with {design.spots} spots each"
    return f"{design.bare} bare and {counted(design.specimens, 'coated specimen')}{each}"


def _size(amount: float, plan: Plan) -> str:
    """Write an amount, and the thickness where it is known."""
    if plan.nm_per_amount is None:
        return limit(amount)
    return f"{plain(amount * plan.nm_per_amount, 2)} nm, {limit(amount)}"


def _needed(plan: Plan) -> str:
    """Say what a wanted thickness takes."""
    if plan.needed is None:
        return "out of reach of any number of specimens anybody would measure; thicker, or another crystal"
    return _design(plan.needed)


def _band(band: PlannedBand, plan: Plan) -> tuple[str, ...]:
    """Return one row of the table of bands."""
    return (
        wavenumber(band.position),
        span(band.low, band.high).removesuffix(" cm-1"),
        _size(band.detectable, plan),
        _size(band.margin_amount, plan),
        "masked" if band.masked else "",
    )
