"""The key figure: one row a sample, from the whole spectrum to the bands that decide to the amounts.

(a) bare, coated and neat spectra; (b) the region that decides: coated minus bare, with the film that was
computed for the amount found and the scatter of the bare spots, each row on its own scale so that a film of
2 nm is seen; (c) the amount on every specimen. On a narrow page the three stand below one another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from spectra.report.figures.canvas import (
    BARE,
    COMPUTED,
    INK,
    MEASURED,
    SOFT,
    TINT,
    add_panel,
    axis_title,
    beside,
    draw_line,
    draw_tint,
    letter,
    localised,
    new_figure,
    shifted,
    spectral_panels,
    stretches,
    width_of,
    write,
)
from spectra.report.figures.labels import SMALL, fitting, shortened, spread, text_width
from spectra.report.figures.overlay import (
    FOOT,
    HEAD,
    MARGIN,
    BandLabel,
    Stacks,
    draw_overlay,
    overlay_height,
    scale_bar,
    traces,
)
from spectra.report.figures.settings import FigureSettings
from spectra.report.words.captions import DRAWN
from spectra.report.words.numerals import exact, fixed
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.verification.result import CoatingFinding, SampleFinding, Verification

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAMED = 6  # bands at the neat line

AROUND = 90.0  # cm-1 of spectrum shown on either side of the bands that decide

WIDEST = 450.0  # cm-1 between the outermost bands of the deciding region; others are left to panel a

NAMES = 20.0  # mm for the names of samples beside panel c where it stands alone

ROW = 18.0  # mm for one sample in panels b and c

NAME_STRIP, LABEL_STRIP = 4.0, 3.4  # mm of a row kept for the sample's name and for the labels below it


@dataclass(frozen=True)
class Room:
    """Where the panels stand: left, bottom, width, height in mm, and the size of the page."""

    overlay: tuple[float, float, float, float]
    difference: tuple[float, float, float, float]
    amounts: tuple[float, float, float, float]
    width: float
    height: float


def named_bands(verification: Verification) -> dict[str, tuple[BandLabel, ...]]:
    """Return the bands to name at each neat line: those with an assignment, the highest first."""
    found: dict[str, CoatingFinding] = {}
    for sample in verification.samples.values():
        for name, coating in sample.coatings.items():
            found.setdefault(name, coating)
    return {name: _labels(coating) for name, coating in found.items()}


def _labels(coating: CoatingFinding) -> tuple[BandLabel, ...]:
    strong = sorted((b for b in coating.bands if b.assignment), key=lambda band: -band.neat_height)
    return tuple(BandLabel(band.neat_position, short_assignment(band.assignment)) for band in strong[:NAMED])


def short_assignment(assignment: str) -> str:
    """Return the first part of an assignment, without the state it holds for, as a figure has room for.

    Examples
    --------
    >>> short_assignment("amide A + O-H stretch (wet)"), short_assignment("CH2 wag")
    ('amide A', 'CH₂ wag')
    """
    from spectra.report.words.numerals import chemical

    return chemical(assignment.split(" (")[0].split(" + ")[0].split(" or ")[0])


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


def draw_key(verification: Verification, settings: FigureSettings | None = None) -> Figure:
    """Draw the key figure of a result: overlay, deciding region and amounts, one row a sample.

    Parameters
    ----------
    verification : Verification
    settings : FigureSettings, optional
        ``region`` is that of panel (b); ``samples`` chooses and orders the rows.

    Returns
    -------
    matplotlib.figure.Figure

    Raises
    ------
    UsageError
        If a sample is not there, or the region holds no point in use.
    """
    settings = settings or FigureSettings()
    stacks = verification.stages.levelled
    lines = traces(stacks, settings.samples)
    names = [line.name for line in lines if line.role == "coated"]
    bands = named_bands(verification)
    whole = FigureSettings(settings.width, (), settings.labels, settings.samples, settings.offset)
    room = _room(overlay_height(lines, whole, bands), len(names), settings)
    figure = new_figure(room.width, room.height)
    drawn = draw_overlay(figure, room.overlay, lines, whole, bands)
    scale_bar(drawn[0], max(line.reach for line in lines), DRAWN["absorbance"])
    axis_title(drawn)
    region = settings.region or deciding_region(verification, names)
    chosen = [verification.samples[name] for name in names]
    _draw_differences(figure, room.difference, chosen, stacks, region)
    _draw_amounts(figure, room.amounts, chosen, NAMES if settings.narrow else None)
    for name, place in zip("abc", (room.overlay, room.difference, room.amounts), strict=True):
        letter(figure, place[0] - MARGIN + 1.0, room.height - place[1] - place[3] + 0.2, name)
    return localised(figure, settings.decimal)


def _room(overlay: float, samples: int, settings: FigureSettings) -> Room:
    """Lay the three panels out: beside one another on a wide page, below one another on a narrow one."""
    width = settings.width
    if settings.narrow:
        inner, rows = width - 2 * MARGIN, ROW * samples + HEAD
        amounts, third = (
            (MARGIN + NAMES, FOOT, inner - NAMES, 7.0 * samples + HEAD),
            7.0 * samples + HEAD + FOOT,
        )
        difference = (MARGIN, third + FOOT, inner, rows)
        top = third + FOOT + rows + FOOT
        return Room((MARGIN, top, inner, overlay), difference, amounts, width, top + overlay)
    height = max(overlay, ROW * samples + HEAD, 42.0)
    first, second = 0.47 * width - MARGIN, 0.29 * width
    left = MARGIN + first + MARGIN + 2.0
    third = left + second + MARGIN + 4.0
    return Room(
        (MARGIN, FOOT, first, height),
        (left, FOOT, second, height),
        (third, FOOT, width - third - 3.0, height),
        width,
        height + FOOT,
    )


def _draw_differences(
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


def _draw_amounts(
    figure: Figure,
    place: tuple[float, float, float, float],
    samples: Sequence[SampleFinding],
    room: float | None,
) -> None:
    """Draw panel (c): the amount on every specimen with its interval, per cent of neat, and the limits.

    ``room`` is that for names left of the panel in mm; None where the rows beside it bear them.
    """
    axes = add_panel(figure, *place)
    axes.set_ylim(0.0, place[3])
    height = (place[3] - HEAD) / max(len(samples), 1)
    ends = [0.0]
    for number, sample in enumerate(samples):
        foot = place[3] - HEAD - (number + 1) * height
        ends += _amount_row(axes, sample, (foot, height))
        if room is not None:
            name = shortened(sample.name, room)
            at = {"transform": beside(axes, -2.0), "ha": "right", "va": "center"}
            write(axes, 0.0, foot + height / 2, name, color=MEASURED, **at)
    low, high = min(ends), max(ends) or 1.0
    pad = 0.06 * (high - low)
    axes.set_xlim(low - pad if low < 0 else -0.5 * pad, high + 4.0 * pad)
    _amount_axis(axes, place[2])


def _amount_row(axes: Axes, sample: SampleFinding, at: tuple[float, float]) -> list[float]:
    """Draw one sample of panel (c); return the amounts drawn, per cent."""
    foot, height = at
    rows = [(name, piece) for name, pieces in sample.evenness.items() for piece in pieces]
    ends: list[float] = []
    limits = [coating.presence.detectable_amount for coating in sample.coatings.values()]
    known = [100.0 * limit for limit in limits if limit is not None]
    for limit in known:
        axes.plot([limit, limit], [foot + 1.0, foot + height - 1.0], color=BARE, lw=0.8, ls=(0, (1, 1.2)))
    for number, (_, piece) in enumerate(rows):
        y = foot + height * (1.0 - (number + 1.0) / (len(rows) + 1.0))
        span = [100.0 * end for end in (piece.amount_low, piece.amount_high) if end is not None]
        if len(span) == 2:
            axes.plot(span, [y, y], color=MEASURED, lw=0.9, ls="-", solid_capstyle="butt")
        spots = [100.0 * spot for spot in piece.spots] if len(piece.spots) > 1 else []
        axes.plot(spots, [y] * len(spots), marker="|", ms=4.5, color=SOFT, ls="none", mew=0.7)
        axes.plot([100.0 * piece.amount], [y], marker="o", ms=3.2, color=MEASURED, ls="none", mew=0)
        mine = [100.0 * piece.amount, *spots, *span]
        ends += mine
        end = max(mine)
        place = {"transform": shifted(axes, 1.3), "ha": "left", "va": "center"}  # clear of the mark
        write(axes, end, y, piece.specimen[:8], fontsize=6.0, color=SOFT, **place)
    if not rows:
        write(
            axes,
            0.0,
            foot + height / 2,
            DRAWN["no amount"],
            ha="left",
            va="center",
            fontsize=SMALL,
            color=SOFT,
        )
    return [*ends, *known]


def _amount_axis(axes: Axes, width: float) -> None:
    """Draw the foot of panel (c): a few round numbers, per cent of neat."""
    from matplotlib.ticker import MaxNLocator

    low, high = axes.get_xlim()
    ticks = [
        t
        for t in MaxNLocator(max(2, int(width / 10.0)), steps=[1, 2, 5, 10]).tick_values(low, high)
        if low <= t <= high
    ]
    axes.plot([0.0, 1.0], [0.0, 0.0], color=INK, lw=0.6, ls="-", transform=axes.transAxes, clip_on=False)
    axes.axvline(0.0, color=SOFT, lw=0.4, ls="-")
    axes.set_xticks(ticks, labels=[exact(round(float(t), 9)) for t in ticks])
    axes.tick_params(
        axis="x", which="major", length=2.6, pad=2.0, labelbottom=True, labelsize=8.0, labelcolor=INK,
        labelfontfamily="DejaVu Sans", labelrotation=0.0, color=INK, width=0.6, direction="out", bottom=True,
    )  # fmt: skip
    axis_title([axes], DRAWN["amount"])
