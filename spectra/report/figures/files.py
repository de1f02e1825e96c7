"""A figure as the bytes of a file, or as an element of a page: same figure, same bytes.

Only here does matplotlib ask its process-wide settings, under a lock, with the settings put back.
"""

from __future__ import annotations

import hashlib
import io
import re
import threading
import warnings
from html import escape
from typing import TYPE_CHECKING, Any

from spectra.errors import UsageError
from spectra.report.figures.labels import FAMILY

if TYPE_CHECKING:
    from matplotlib.figure import Figure
from spectra.report.figures.canvas import BARE, COMPUTED, INK, MEASURED, PAPER, SOFT, TINT

FORMATS = ("svg", "pdf", "png")


DOTS_PER_INCH = 600  # of PNG, what journals ask of line art


# What matplotlib asks while it writes a file.
WRITING: dict[Any, Any] = {
    "svg.hashsalt": "coatproof",
    "pdf.fonttype": 42,
    "pdf.compression": 6,
    "path.simplify": True,
    "path.simplify_threshold": 0.25,
    "savefig.bbox": None,
    "savefig.pad_inches": 0.0,
    "savefig.transparent": False,
    "text.usetex": False,
    "text.hinting": "force_autohint",
    "text.antialiased": True,
    "agg.path.chunksize": 0,
    "axes.unicode_minus": True,
}


_writing = threading.Lock()


def render(figure: Figure, form: str = "svg", outlines: bool = True) -> bytes:
    """Return a figure as the bytes of an SVG, PDF or PNG file; the same figure gives the same bytes.

    Parameters
    ----------
    figure
        To be written.
    form
        Member of ``FORMATS``. PDF embeds its fonts (TrueType); PNG has 600 dots an inch.
    outlines
        For SVG: letters as outlines, so that they need no font; False keeps them as text.

    Raises
    ------
    UsageError
        For another format.
    """
    import matplotlib as mpl
    from matplotlib.lines import Line2D

    if form not in FORMATS:
        raise UsageError(f"a figure can be written as {' or '.join(FORMATS)}, not as {form!r}")
    target = io.BytesIO()
    still: dict[str, Any] = {
        "svg": {"Date": None, "Creator": None},
        "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
        "png": {"Software": None},
    }[form]
    with (
        _writing,
        mpl.rc_context(WRITING | {"svg.fonttype": "path" if outlines else "none"}),
        warnings.catch_warnings(),
    ):
        # A name in letters that the font lacks is drawn with stand-ins; the text itself is in the data.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from")
        for line in figure.findobj(Line2D):  # a line remembers what was set when it was first looked at
            line.recache(always=True)
        figure.savefig(target, format=form, metadata=still, dpi=DOTS_PER_INCH, facecolor=PAPER)
    return _coarse(target.getvalue()) if form == "svg" else target.getvalue()


def _coarse(svg: bytes) -> bytes:
    """Cut the coordinates of paths to a hundredth of a point, which no eye or press resolves."""
    return re.sub(rb' d="[^"]*"', lambda path: _short(path[0], rb"\1\2"), svg)


def _short(path: bytes, decimals: bytes) -> bytes:
    """Shorten the text of one path: fewer decimals, no blanks that say nothing."""
    cut = re.sub(rb"(\.\d)(\d)\d*", decimals, path)
    return re.sub(rb"\s*([MLQCz])\s*", rb"\1", cut)


# How a page calls our colours, so that its dark sheet can turn them.
PAGE_COLOURS = {
    INK: "--ink", SOFT: "--soft", TINT: "--tint", PAPER: "--paper",
    MEASURED: "--measured", COMPUTED: "--computed", BARE: "--bare",
}  # fmt: skip


PAGE_FONT = "Arial, Helvetica, &quot;DejaVu Sans&quot;, sans-serif"


def inline(figure: Figure, label: str) -> str:
    """Return a figure as an ``<svg>`` element for a page: no prolog, no style or identifiers that leak.

    Text stays text and colours become those of the page. Identifiers that are kept carry a hash of what
    they name.

    Parameters
    ----------
    figure
        To be drawn.
    label
        Read out in place of the picture.
    """
    text = render(figure, outlines=False).decode()
    text = re.sub(r' d="[^"]*"', lambda path: _short(path[0].encode(), rb"\1").decode(), text)
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'<style type="text/css">.*?</style>\s*', "", text, flags=re.DOTALL)
    text = re.sub(r' id="(?![pm][0-9a-f]{10}")[^"]*"', "", text)  # markers and clips are referred to
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    # Equal marks of two figures must not share a name.
    own = f"f{hashlib.sha256(label.encode()).hexdigest()[:8]}"
    text = re.sub(r'(id="|href="#|url\(#)(?=[pm][0-9a-f]{10})', rf"\g<1>{own}", text)
    for colour, name in PAGE_COLOURS.items():
        text = re.sub(rf"(fill|stroke): {colour}", rf"\1: var({name})", text)
    text = re.sub(rf"'{FAMILY}'", PAGE_FONT, text)
    named = f'<svg role="img" aria-label="{escape(label)}" stroke-linejoin="round"'
    return text.replace("<svg", named, 1)
