"""Titles, names and headings that mislead, and tables as programs of all kinds write them."""

from __future__ import annotations

import gzip

import numpy as np

from tests.hardcases.labelled import labelled
from tests.hardcases.making import HEAD, PLAIN, A, B, T, X, german, rows, text

LAMP = np.exp(-(((X - 1800) / 900) ** 2))
TAB, THREE, FOUR = "{:.1f}\t{:.5f}", "{:.1f};{:.5f};{:.5f}", "{:.1f};{:.5f};{:.5f};{:.5f}"
FIVE = FOUR + ";{:.5f}"
COUNT = np.arange(1.0, X.size + 1)

# -- what stands above and in names is no unit -------------------------------------------------------

text("title_nm.csv", "read", "film of 120 nm thickness\nx;y\n" + PLAIN, A)
text("title_absorbance.csv", "read", "Absorbance spectrum of film 3\ncm-1;film 3\n" + rows(X, T), A)
text("title_mode.csv", "read", "Transmission mode, ATR off\ncm-1\tsample\n" + rows(X, A, form=TAB), A)
text("letter_T.csv", "read or refuse", "cm-1;T\n" + PLAIN, A)
text("letters_ABS.csv", "read or refuse", "cm-1;ABS\n" + rows(X, 100 * T), A)
text("names_are_numbers.csv", "read", "cm-1;0;5;10\n" + rows(X, A, B, A, form=FOUR), A, B, A)
text("settings_above.csv", "read", "date;2026-05-01\nrange;4000;650\nscans;32\n" + HEAD + PLAIN, A)
text(
    "settings_comma.csv",
    "read",
    "resolution,4\nscans,32\ngain,1\ncm-1,absorbance\n" + PLAIN.replace(";", ","),
    A,
)
text("numbers_above.csv", "read", "4\n32\n1\n" + PLAIN.replace(";", ","), A)
text("count_above.txt", "read", "1675\n" + PLAIN.replace(";", " "), A)
text(
    "spanish_latin1.csv",
    "read",
    "N\u00famero de onda (cm-1);Absorbancia\n".encode("latin-1") + german(PLAIN).encode(),
    A,
)
text("greek_superscript.csv", "read", "\u03bd\u0303 / cm\u207b\u00b9;A\n" + PLAIN, A)
text("hash_names.txt", "read", "#cm-1 A\n" + PLAIN.replace(";", " "), A)
text("percent_names.txt", "read", "% cm-1, absorbance\n" + PLAIN.replace(";", ", "), A)
text("strokes_names.txt", "read", "// film\n// cm-1\tA\n" + PLAIN.replace(";", "\t"), A)
text("empty_names.csv", "read", ",,\nfilm,,\ncm-1,absorbance,\n" + rows(X, A, form="{:.1f},{:.5f},"), A)
text("average_below.csv", "read", HEAD + PLAIN + "Average;0.12\n", A)
text("comment_inside.csv", "read", HEAD + PLAIN[:6000] + PLAIN[6000:].replace("\n", "\n# comment\n", 1), A)

# -- marks row by row --------------------------------------------------------------------------------

MIXED = "".join(f"{x:.1f};" + f"{a:.5f}\n".replace(".", ",") for x, a in zip(X, A, strict=True))
text("point_and_comma.csv", "read", MIXED, A)
text("comma_exponents.csv", "read", german(rows(X, A, form="{:.4E};{:.5E}")), A)
text("two_points.csv", "refuse", HEAD + PLAIN.replace("2000.0;0.0", "2000.0;0.0.0"))
text("last_y_lost.csv", "refuse or warn", HEAD + PLAIN + "648.0\n")
text("last_line_cut.csv", "refuse or warn", HEAD + PLAIN + "64;0.0")
text("whole_lines_quoted.csv", "read or refuse", PLAIN.replace("\n", '"\n"').join('""').removesuffix('"'), A)

# -- columns -----------------------------------------------------------------------------------------

text(
    "row_names_quoted.txt",
    "read",
    "wavenumber absorbance\n" + rows(COUNT, X, A, form='"{:.0f}" {:.1f} {:.5f}'),
    A,
)
text(
    "row_names_tab.txt",
    "read",
    "wavenumber\tabsorbance\n" + rows(COUNT, X, A, form="{:.0f}\t{:.1f}\t{:.5f}"),
    A,
)
text("two_axes.csv", "read", "cm-1;um;absorbance\n" + rows(X, 1e4 / X, A, form=THREE), A)
text(
    "two_axes_turned.csv",
    "read",
    "um;cm-1;absorbance\n" + rows(1e4 / X, X, A, form="{:.5f};{:.1f};{:.5f}"),
    A,
)
BEAMS = "cm-1;single beam sample;single beam background;absorbance\n"
text("beams_beside.csv", "read", BEAMS + rows(X, 9 * T * LAMP, 9 * LAMP, A, form=FOUR), A)
text(
    "beams_alone.csv",
    "refuse or warn",
    "cm-1;sample;background\n" + rows(X, 9 * T * LAMP, 9 * LAMP, form=THREE),
)
text("counter_falling.csv", "read", "no;x;y\n" + rows(COUNT[::-1], X, A, form="{:.0f};{:.1f};{:.5f}"), A)
text(
    "scan_number.csv",
    "read",
    "scan;cm-1;absorbance\n" + rows(0 * X + 1, X, A, form="{:.0f};{:.1f};{:.5f}"),
    A,
)
text(
    "temperature_beside.csv",
    "read",
    "cm-1;absorbance;temperature (\u00b0C)\n" + rows(X, A, 23 + 0.1 * B, form=THREE),
    A,
)
ERRORS = "cm-1;film A;film A error;film B;film B error\n"
text("errors_beside.csv", "read or refuse", ERRORS + rows(X, A, 0.01 * B, B, 0.01 * A, form=FIVE), A, B)
NAMES = "film A;;film B;\ncm-1;A;cm-1;A\n"
text(
    "names_over_pairs.csv",
    "read or refuse",
    NAMES + rows(X, A, X, B, form="{:.1f};{:.5f};{:.1f};{:.5f}"),
    A,
    B,
)

# -- the abscissa and ordinate that a heading gets wrong ---------------------------------------------

text("wavelength_of_wavenumbers.csv", "refuse", "wavelength;absorbance\n" + PLAIN)
text("nm_of_wavenumbers.csv", "refuse", "wavelength (nm);absorbance\n" + PLAIN)
text("visible_bare.csv", "refuse or warn", rows(np.linspace(200, 800, X.size), A))
text("below_zero_x.csv", "refuse", rows(-X, A))
text("decibel.csv", "refuse", "cm-1;attenuation (dB)\n" + rows(X, 10 * A))
text("optical_depth.csv", "refuse", "cm-1;optical depth\n" + rows(X, A * np.log(10)))
text("log_T.csv", "refuse", "cm-1;log T\n" + rows(X, -A))
text("upside_down.csv", "refuse or warn", HEAD + rows(X, -A))
text("difference_bare.csv", "refuse or warn", rows(X, A - 1.3 * B))
text("noise_bare.csv", "refuse or warn", rows(X, np.random.default_rng(1).normal(0, 1e-3, X.size)))
text("full_light_bare.csv", "refuse or warn", rows(X, 100 + np.random.default_rng(1).normal(0, 0.05, X.size)))
text("dark_half.csv", "refuse or warn", HEAD + rows(X, np.where(X < 2400, 0, A)))
text("labelled.dx.gz", "read or refuse", gzip.compress(labelled(A).encode(), mtime=0), A)
text(
    "table.html", "read or refuse", f"<html><table><tr><td>{X[0]}</td><td>{A[0]}</td></tr></table></html>", A
)
