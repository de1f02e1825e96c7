"""What can be said while a measurement goes on: part of ``report.view``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from spectra.report.words.numerals import counted, limit, plain, wavenumbers

if TYPE_CHECKING:
    from spectra.detection.design import Design, Plan
    from spectra.verification.planning import Outlook


def measuring_lines(outlook: Outlook) -> tuple[str, ...]:
    """Say for each coating what could be found by now, and what further specimens would bring.

    Parameters
    ----------
    outlook
        From ``spectra.verification.planning.look_while_measuring``.
    """
    return tuple(line for name, plan in outlook.plans.items() for line in _lines(name, plan))


def _lines(name: str, plan: Plan) -> Iterator[str]:
    usable = [band.position for band in plan.bands if not band.masked]
    masked = [band.position for band in plan.bands if band.masked]
    if len(usable) < 2:
        yield (
            f"{name} cannot be shown on this substrate so far: {counted(len(usable), 'usable band')}, two "
            "are needed. More bare specimens may free one."
        )
    else:
        hidden = f"; masked by the substrate: {wavenumbers(masked)}" if masked else ""
        yield f"{name} can be seen at {wavenumbers(usable)}{hidden}."
    yield f"Detectable now, with {_design(plan.design)}: {_size(plan.design.detectable, plan)}."
    if plan.needed is not None:
        gain = 1.0 - plan.needed.detectable / plan.design.detectable
        further = plan.needed.specimens - plan.design.specimens
        verdict = "little is gained" if gain < 0.1 else f"{100 * gain:.0f} % less"
        yield (
            f"With {further} more coated specimens: {_size(plan.needed.detectable, plan)}, {verdict}"
            f"{'; you may stop here' if gain < 0.1 else ''}."
        )


def _design(design: Design) -> str:
    each = "" if design.spots == 1 else f", {design.spots} spots each"
    return f"{design.bare} bare and {counted(design.specimens, 'coated specimen')}{each}"


def _size(amount: float, plan: Plan) -> str:
    """Write an amount, and the thickness where it is known."""
    if plan.nm_per_amount is None:
        return limit(amount)
    return f"{plain(amount * plan.nm_per_amount, 2)} nm, {limit(amount)}"
