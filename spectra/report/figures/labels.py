"""Labels that do not collide: text measured before it is drawn, and moved apart where it would touch.

Plain geometry on numbers in millimetres or wavenumbers; nothing is drawn here.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from spectra.report.words.signs import visible

MM = 25.4 / 72.0  # of a point

TEXT = 8.0  # points: what journals ask at the printed width

SMALL = 7.0

FAMILY = "DejaVu Sans"  # comes with matplotlib: the same letters on every machine


@lru_cache(maxsize=4096)
def text_width(text: str, size: float = TEXT) -> float:
    """Return the width of one line of text in mm.

    Letters that the font lacks count as wide as an em, which is what a stand-in takes at most.

    Examples
    --------
    >>> text_width("1654") < text_width("amide I 1654")
    True
    """
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family=FAMILY)))
    known = "".join(letter for letter in text if font.get_char_index(ord(letter)))
    font.set_size(100.0, 72.0)
    font.set_text(known, 0.0)
    em = (len(text) - len(known)) * size
    return MM * (font.get_width_height()[0] / 64.0 * size / 100.0 + em)


def has_letter(letter: str) -> bool:
    """Tell whether our font has a letter.

    Examples
    --------
    >>> has_letter("µ"), has_letter("ゼ")
    (True, False)
    """
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return letter.isspace() or bool(
        get_font(findfont(FontProperties(family=FAMILY))).get_char_index(ord(letter))
    )


def shortened(text: str, width: float, size: float = TEXT) -> str:
    """Cut a label to a width in mm, without letters that a drawing cannot hold.

    Examples
    --------
    >>> shortened("a sample with quite a long name", 25.0)
    'a sample with…'
    """
    text = visible(text, "\N{REPLACEMENT CHARACTER}")
    if text_width(text, size) <= width:
        return text
    while text and text_width(f"{text}…", size) > width:
        text = text[:-1].rstrip()
    return f"{text}…"


def spread(
    wanted: Sequence[float], widths: Sequence[float], low: float, high: float, gap: float = 1.0
) -> list[float]:
    """Return centres for labels along a line so that none touches another, each as near as can be.

    Neighbours that would touch are joined into one block, which takes the place that moves its members
    least (least squares with order kept: pool adjacent violators).

    Parameters
    ----------
    wanted
        Where each label would stand, increasing.
    widths
        Width of each.
    low, high
        Ends of the line; the labels stay inside where they fit at all.
    gap
        Free space between neighbours.

    Examples
    --------
    >>> [round(x, 1) for x in spread([10, 11, 40], [8, 8, 8], 0, 60)]
    [6.0, 15.0, 40.0]
    """
    if not widths:
        return []
    steps = [0.0]
    for left, right in itertools.pairwise(widths):
        steps.append(steps[-1] + (left + right) / 2.0 + gap)
    blocks: list[tuple[float, int]] = []
    for place, step in zip(wanted, steps, strict=True):
        blocks.append((place - step, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (b, m), (a, n) = blocks.pop(), blocks.pop()
            blocks.append(((a * n + b * m) / (n + m), n + m))
    bases = [base for base, count in blocks for _ in range(count)]
    floor, ceiling = low + widths[0] / 2.0, high - widths[-1] / 2.0 - steps[-1]
    return [
        float(np.clip(base, floor, max(floor, ceiling))) + step
        for base, step in zip(bases, steps, strict=True)
    ]


def fitting(widths: Sequence[float], room: float, gap: float = 1.0) -> int:
    """Return how many labels, the first ones, fit side by side.

    Examples
    --------
    >>> fitting([8, 8, 30], 20.0), fitting([8, 8], 60.0)
    (2, 2)
    """
    taken = np.cumsum([width + gap for width in widths])
    return int(np.sum(taken <= room))
