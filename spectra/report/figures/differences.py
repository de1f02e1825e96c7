"""Panel (b) of the key figure: coated minus bare in the region that decides, each row on its own scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.report.figures.axis import axis_title, spectral_panels, stretches
from spectra.report.figures.canvas import (
    COMPUTED,
    INK,
    MEASURED,
    SOFT,
    TINT,
    beside,
    draw_line,
    draw_tint,
    width_of,
    write,
)
from spectra.report.figures.labels import SMALL, fitting, shortened, spread, text_width
from spectra.report.figures.overlay import HEAD
from spectra.report.figures.traces import Stacks
from spectra.report.words.numerals import exact, fixed
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.verification.result import SampleFinding, Verification

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


AROUND = 90.0  # cm-1 of spectrum shown on either side of the bands that decide


WIDEST = 450.0  # cm-1 between the outermost bands of the deciding region; others are left to panel a


NAME_STRIP, LABEL_STRIP = 4.0, 3.4  # mm of a row kept for the sample's name and for the labels below it


def deciding_region(verification: Verification, samples: Sequence[str]) -> tuple[float, float]:
    """Return the stretch that holds the bands presence rests on, as many as fit, cm-1."""
    singles = [
        band
        for name in samples
        for coating in verification.samples[name].coatings.values()
        for band in coating.presence.band_evidence
        if not band.masked
    ]
    places = [band.position for band in singles] or [
        band.expected_position
        for name in samples
        for coating in verification.samples[name].coatings.values()
        for band in coating.bands
    ]
    if not places:
        grid = next(iter(verification.stages.levelled.values())).grid
        return float(grid[0]), float(grid[-1])
    weights = [max(abs(band.t), 1.0) for band in singles] or [1.0] * len(places)
    windows = [[i for i, place in enumerate(places) if 0.0 <= place - low <= WIDEST] for low in places]
    best = max(
        windows,
        key=lambda members: (len({round(places[i]) for i in members}), sum(weights[i] for i in members)),
    )
    return min(places[i] for i in best) - AROUND, max(places[i] for i in best) + AROUND


def draw_differences(
    figure: Figure,
    place: tuple[float, float, float, float],
    samples: Sequence[SampleFinding],
    stacks: Stacks,
    region: Sequence[float],
) -> None:
    """Draw panel (b): each sample's difference in a row of its own, with its own scale bar."""
    bare = next(stack for (role, _), stack in stacks.items() if role == "bare")
    neat = {name: stack for (role, name), stack in stacks.items() if role == "neat"}
    parts = stretches(bare.grid, bare.usable, region)
    drawn = spectral_panels(figure, place, parts, even=True)
    height = (place[3] - HEAD) / max(len(samples), 1)
    for axes in drawn:
        axes.set_ylim(0.0, place[3])  # mm
    for number, sample in enumerate(samples):
        _difference_row(drawn, sample, (bare, neat), (place[3] - HEAD - (number + 1) * height, height))
    axis_title(drawn)


def shares(sample: SampleFinding, neat: Mapping[str, Stack]) -> list[FloatArray]:
    """Return what each coating should contribute: the computed film, else neat times the amount."""
    found = {name: finding.presence for name, finding in sample.coatings.items()}
    return [
        sample.expected[name] if name in sample.expected else presence.amount * neat[name].mean
        for name, presence in found.items()
        if presence.amount is not None
    ]


def scatter_of(bare: Stack) -> FloatArray:
    """Return two standard deviations of the bare spots, shape (n,): about 95 % of them lie within."""
    rows = bare.absorbance - bare.mean
    return 2.0 * np.asarray(rows.std(axis=0, ddof=1) if len(rows) > 1 else np.zeros(rows.shape[1]))


def _difference_row(
    drawn: Sequence[Axes],
    sample: SampleFinding,
    references: tuple[Stack, Mapping[str, Stack]],
    at: tuple[float, float],
) -> None:
    """Draw one sample of panel (b) on a scale of its own; ``at`` is its foot and height in mm."""
    bare, neat = references
    grid = bare.grid
    limits = [sorted(axes.get_xlim()) for axes in drawn]
    seen = bare.usable & np.any([(grid >= low) & (grid <= high) for low, high in limits], axis=0)
    scatter, expected = scatter_of(bare), shares(sample, neat)
    curves = np.vstack([sample.difference, scatter, -scatter, *expected])[:, seen]
    low, high = float(np.nanmin(curves)), float(np.nanmax(curves))
    unit = max((high - low) / (at[1] - NAME_STRIP - LABEL_STRIP - 1.5), 1e-12)
    zero = at[0] + 1.5 - low / unit
    for axes in drawn:
        draw_tint(axes, grid, zero - scatter / unit, zero + scatter / unit, TINT)
        axes.axhline(zero, color=SOFT, lw=0.4, ls="-")
        draw_line(axes, grid, zero + sample.difference / unit, "coated")
        for share in expected:
            draw_line(axes, grid, zero + share / unit, "computed")
    ceiling = np.max(np.vstack([np.where(bare.usable, sample.difference, -np.inf), *expected]), axis=0)
    _name_peaks(drawn, sample, np.where(bare.usable, zero + ceiling / unit, zero), bare.grid)
    room = width_of(drawn[0])
    name = shortened(sample.name, room - 2.0)
    write(drawn[0], drawn[0].get_xlim()[0], at[0] + at[1] - 2.6, name, ha="left", color=MEASURED)
    _bar(drawn[-1], (high - low), (zero, unit))


def _bar(axes: Axes, reach: float, at: tuple[float, float]) -> None:
    """Draw the scale bar of one row at its right end."""
    zero, unit = at
    size = float(f"{reach / 2.5:.0e}")  # one digit
    bar: dict[str, Any] = {"color": INK, "lw": 1.2, "ls": "-", "clip_on": False, "solid_capstyle": "butt"}
    axes.plot([1.0, 1.0], [zero, zero + size / unit], transform=beside(axes, 1.6), **bar)
    place = {"transform": beside(axes, 2.4), "rotation": 90.0, "ha": "left", "va": "bottom"}
    write(axes, 1.0, zero, exact(size), fontsize=SMALL, **place)


def _name_peaks(
    drawn: Sequence[Axes],
    sample: SampleFinding,
    ceiling: FloatArray,
    grid: FloatArray,
) -> None:
    """Write where bands were found, above both curves (``ceiling``, mm); unexplained ones with a star."""
    marks = [
        (band.found_position, COMPUTED if band.verdict == "changed" else MEASURED, "")
        for coating in sample.coatings.values()
        for band in coating.bands
        if band.found_position is not None and not band.masked
    ]
    taken = [position for position, _, _ in marks]
    marks += [
        (band.position, SOFT, "*")
        for band in sample.unexplained
        if all(abs(band.position - other) > 6.0 for other in taken)
    ]
    for axes in drawn:
        low, high = sorted(axes.get_xlim())
        mine = [mark for mark in marks if low <= mark[0] <= high]
        width = width_of(axes)
        texts = {mark: f"{fixed(mark[0], 0)}{mark[2]}" for mark in mine}
        sizes = {mark: text_width(texts[mark], SMALL) for mark in mine}
        kept = sorted(mine[: fitting(list(sizes.values()), width)], key=lambda mark: -mark[0])
        across = [(high - mark[0]) / (high - low) * width for mark in kept]
        scale = (high - low) / width
        for mark, x in zip(kept, spread(across, [sizes[mark] for mark in kept], 0.0, width), strict=True):
            top = _above(ceiling, grid, high - x * scale, 0.5 * sizes[mark] * scale)
            write(axes, high - x * scale, top + 0.9, texts[mark], fontsize=SMALL, color=mark[1])


def _above(ceiling: FloatArray, grid: FloatArray, place: float, reach: float) -> float:
    """Return the highest point of the curves below a label, mm."""
    near = np.abs(grid - place) <= max(reach, 4.0)
    return float(np.max(ceiling[near])) if near.any() else float(np.max(ceiling))
