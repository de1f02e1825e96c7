"""Lines for the screen: what can be seen of many spectra at the size of the drawing, and no more.

Of a group with many spectra the range of all is drawn as a band and only those as lines that were marked or
that stand out: those that are the highest or lowest of their group over most of the stretch. A line keeps
the points without which it would be off by more than half a pixel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spectra.page.places import BARE, COATED, LEFT_OUT, NEAT
from spectra.page.results import Float32Array, Sheaf
from spectra.page.state import Row

ORDER = (BARE, COATED, "", "residue", NEAT)  # from foot to top

LONGEST = 512  # points between two that are always kept

STEPS = 400  # of the range drawn as a band


@dataclass(frozen=True)
class Window:
    """What is to be drawn, and how large.

    Attributes
    ----------
    low, high
        cm-1; None for all there is.
    width, height
        Pixels.
    apart
        Groups one above the other, each at a scale of its own, or all on one axis.
    lines
        Spectra of a group drawn as lines of their own.
    """

    low: float | None = None
    high: float | None = None
    width: int = 1000
    height: int = 420
    apart: bool = True
    lines: int = 24


def raw_sheaves(rows: Iterable[Row]) -> tuple[Sheaf, ...]:
    """Return the spectra as read, by role and group; in one sheaf those that share their wavenumbers."""
    found: dict[tuple[str, str, bytes], list[tuple[str, Any]]] = {}
    for row in rows:
        if row.reading is None or row.place.role == LEFT_OUT:
            continue
        for line in row.reading.lines:
            key = (row.place.role, row.place.group, line.wavenumbers.tobytes())
            name = f"{row.name} [{line.name}]" if line.name else row.name
            found.setdefault(key, []).append((name, line))
    return tuple(
        Sheaf(
            role,
            group,
            tuple(name for name, _ in items),
            items[0][1].wavenumbers,
            np.array([line.absorbance for _, line in items]),
        )
        for (role, group, _), items in found.items()
    )


def drawing(sheaves: Sequence[Sheaf], window: Window, marked: frozenset[str]) -> dict[str, Any]:
    """Return all that is drawn, ready for the script of the page.

    Parameters
    ----------
    sheaves
    window : Window
    marked
        Names of files whose spectra are drawn as lines whatever they look like.

    Returns
    -------
    dict
        ``low``, ``high``, and ``groups`` from foot to top, each with ``role``, ``group``, ``count``,
        ``scale``, ``offset``, ``lines`` (name, x, y) and ``range`` (x, top, foot; None where every spectrum
        is a line).
    """
    drawn = [sheaf for sheaf in sheaves if len(sheaf.grid) > 1 and len(sheaf.names)]
    if not drawn:
        return {"low": 400.0, "high": 4000.0, "groups": []}
    low = min(float(sheaf.grid[0]) for sheaf in drawn) if window.low is None else window.low
    high = max(float(sheaf.grid[-1]) for sheaf in drawn) if window.high is None else window.high
    cut = [part for sheaf in drawn for part in _cut(sheaf, low, high)]
    groups = list(_groups(sorted(cut, key=_rank)))
    if not groups:
        return {"low": low, "high": high, "groups": []}
    reaches = [_extent(parts) for parts in groups]
    scales, offsets = _layout([parts[0].role for parts in groups], reaches, window.apart)
    total = _total(reaches, scales, offsets)
    return {
        "low": low,
        "high": high,
        "groups": [
            _group(parts, scale, offset, _Grain(window, total / scale, marked))
            for parts, scale, offset in zip(groups, scales, offsets, strict=True)
        ],
    }


def _rank(sheaf: Sheaf) -> int:
    return ORDER.index(sheaf.role) if sheaf.role in ORDER else len(ORDER)


def _cut(sheaf: Sheaf, low: float, high: float) -> Iterator[Sheaf]:
    """Yield the part of a sheaf in the stretch, with one point more at either end."""
    first = max(int(np.searchsorted(sheaf.grid, low)) - 1, 0)
    last = min(int(np.searchsorted(sheaf.grid, high, "right")) + 1, len(sheaf.grid))
    if last - first > 1:
        part = slice(first, last)
        yield Sheaf(sheaf.role, sheaf.group, sheaf.names, sheaf.grid[part], sheaf.values[:, part])


def _groups(sheaves: Sequence[Sheaf]) -> Iterator[list[Sheaf]]:
    found: dict[tuple[str, str], list[Sheaf]] = {}
    for sheaf in sheaves:
        found.setdefault((sheaf.role, sheaf.group), []).append(sheaf)
    yield from found.values()


def _extent(sheaves: Sequence[Sheaf]) -> tuple[float, float]:
    """Return the least and the greatest value of a group; nothing where no value is finite."""
    finite = [part.values[np.isfinite(part.values)] for part in sheaves]
    known = [(float(values.min()), float(values.max())) for values in finite if values.size]
    return (min(a for a, _ in known), max(b for _, b in known)) if known else (0.0, 1.0)


def _layout(
    roles: Sequence[str], reaches: Sequence[tuple[float, float]], apart: bool
) -> tuple[list[float], list[float]]:
    """Return scale and offset of every group; neat spectra are brought to the height of the others."""
    if not apart:
        return [1.0] * len(roles), [0.0] * len(roles)
    heights = [high - low or 1.0 for low, high in reaches]
    others = [height for height, role in zip(heights, roles, strict=True) if role != NEAT]
    common = max(others or heights)
    scales = [common / height if role == NEAT else 1.0 for height, role in zip(heights, roles, strict=True)]
    offsets = [
        1.08 * common * row - low * scale
        for row, ((low, _), scale) in enumerate(zip(reaches, scales, strict=True))
    ]
    return scales, offsets


def _total(
    reaches: Sequence[tuple[float, float]], scales: Sequence[float], offsets: Sequence[float]
) -> float:
    """Return the height of the whole drawing in its own units."""
    tops = [high * s + o for (_, high), s, o in zip(reaches, scales, offsets, strict=True)]
    feet = [low * s + o for (low, _), s, o in zip(reaches, scales, offsets, strict=True)]
    return max(tops) - min(feet) or 1.0


@dataclass(frozen=True)
class _Grain:
    """How finely a group is drawn: half a pixel upwards, in its own units; and which lines must be there."""

    window: Window
    total: float
    marked: frozenset[str]

    @property
    def tolerance(self) -> float:
        return 0.5 * self.total / self.window.height


def _group(sheaves: Sequence[Sheaf], scale: float, offset: float, grain: _Grain) -> dict[str, Any]:
    """Return one group as it is drawn."""
    count = sum(len(sheaf.names) for sheaf in sheaves)
    every = count <= grain.window.lines
    lines: list[dict[str, Any]] = []
    for sheaf in sheaves:
        rows = list(range(len(sheaf.names))) if every else _standing_out(sheaf, grain, count)
        lines += _lines(sheaf, rows, scale, offset, grain.tolerance)
    first = sheaves[0]
    return {
        "role": first.role,
        "group": first.group,
        "count": count,
        "scale": scale,
        "offset": offset,
        "lines": lines,
        "ranges": [] if every else [_range(sheaf, scale, offset) for sheaf in sheaves],
    }


def _standing_out(sheaf: Sheaf, grain: _Grain, count: int) -> list[int]:
    """Return the rows to be drawn as lines: the marked ones, and those most often at an edge of the range."""
    marked = [row for row, name in enumerate(sheaf.names) if name.partition(" [")[0] in grain.marked]
    share = max(round(grain.window.lines * len(sheaf.names) / count), 1)
    values = np.where(np.isfinite(sheaf.values), sheaf.values, 0.0)
    edges = np.concatenate([values.argmax(axis=0), values.argmin(axis=0)])
    often = np.argsort(-np.bincount(edges, minlength=len(sheaf.names)), kind="stable")
    chosen = [*marked[: 4 * grain.window.lines], *(int(row) for row in often[:share])]
    return list(dict.fromkeys(chosen))


def _lines(
    sheaf: Sheaf, rows: Sequence[int], scale: float, offset: float, tolerance: float
) -> Iterator[dict[str, Any]]:
    values = sheaf.values[list(rows)]
    keep = kept_points(sheaf.grid, values, tolerance)
    for row, own, kept in zip(rows, values, keep, strict=True):
        x, y = sheaf.grid[kept][::-1], (own[kept] * scale + offset)[::-1]
        yield {"name": sheaf.names[row], "x": _plain(x), "y": _plain(y)}


def _plain(values: NDArray[Any]) -> list[float | None]:
    """Return numbers as JSON can hold them, in single precision; a gap is null."""
    listed: list[float] = values.astype(np.float64).round(6).tolist()
    return [v if math.isfinite(v) else None for v in listed]


def _range(sheaf: Sheaf, scale: float, offset: float) -> dict[str, Any]:
    """Return the range of all spectra of a sheaf, in as many steps as can be told apart."""
    edges = np.unique(np.linspace(0, len(sheaf.grid) - 1, min(STEPS, len(sheaf.grid))).astype(int))
    values = np.where(np.isfinite(sheaf.values), sheaf.values, np.nanmean(sheaf.values))
    top, foot = values.max(axis=0), values.min(axis=0)
    return {
        "x": _plain(sheaf.grid[edges][::-1]),
        "top": _plain((np.maximum.reduceat(top, edges) * scale + offset)[::-1]),
        "foot": _plain((np.minimum.reduceat(foot, edges) * scale + offset)[::-1]),
    }


def kept_points(grid: Float32Array, values: Float32Array, tolerance: float) -> NDArray[np.bool_]:
    """Choose the points of some lines without which they would be off by more than a tolerance.

    Parameters
    ----------
    grid : ndarray, shape (n,)
    values : ndarray, shape (m, n)
    tolerance
        In units of the values.

    Returns
    -------
    ndarray of bool, shape (m, n)
        Stretches are halved wherever their chord misses a point between their ends.

    Examples
    --------
    >>> x = np.arange(9.0, dtype=np.float32)
    >>> kept_points(x, np.float32([[0, 0, 0, 0, 1, 0, 0, 0, 0]]), 0.1).astype(int)
    array([[1, 0, 1, 1, 1, 1, 1, 0, 1]])
    """
    n = len(grid)
    stride = min(LONGEST, 1 << max((n - 2).bit_length(), 0))
    padded = -(-(n - 1) // stride) * stride + 1
    x = np.concatenate([grid, grid[-1] + np.arange(1, padded - n + 1, dtype=np.float32)])
    y = np.concatenate([values, np.repeat(values[:, -1:], padded - n, axis=1)], axis=1)
    y = np.where(np.isfinite(y), y, 0.0)
    keep = np.zeros(y.shape, bool)
    keep[:, ::stride] = True
    open_ = np.ones((len(y), (padded - 1) // stride), bool)
    while stride > 1:
        open_ &= _missed(x, y, stride) > tolerance
        keep[:, stride // 2 :: stride] = open_
        stride //= 2
        open_ = np.repeat(open_, 2, axis=1)
    keep[:, n - 1] = True
    return keep[:, :n] | ~np.isfinite(values)


def _missed(x: Float32Array, y: Float32Array, stride: int) -> Float32Array:
    """Return by how much the chord of every stretch misses the points on it at most."""
    inner_x, inner_y = x[:-1].reshape(-1, stride), y[:, :-1].reshape(len(y), -1, stride)
    x0, x1 = x[:-1:stride], x[stride::stride]
    y0, y1 = y[:, :-1:stride], y[:, stride::stride]
    share = (inner_x - x0[:, None]) / (x1 - x0)[:, None]
    chord = y0[:, :, None] + share[None] * (y1 - y0)[:, :, None]
    return np.asarray(np.abs(inner_y - chord).max(axis=2))
