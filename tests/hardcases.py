"""Hard files, made anew for each test, with what they hold: ways in which laboratories write spectra.

The curves are films computed from published optical constants (CC0, ``data/optical_constants``), absorbance
``k`` times wavenumber, so that nothing here shares code with the package. Each case says what reading it must
come to: ``read`` right, ``read or refuse``, ``refuse``, or ``refuse or warn``; never wrong without a word.
"""

from __future__ import annotations

import gzip
import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.optical_constants import read_constants

Array = NDArray[np.float64]

Write = Callable[[Path], object]

X = np.arange(3998.0, 649.0, -2.0)


def film(page: str, top: float, x: Array = X) -> Array:
    """Absorbance of a film, its strongest band ``top``, with a base of 0.01 and noise of 2e-4."""
    wavenumbers, _, k = read_constants(page)
    shape = np.interp(x, wavenumbers, k * wavenumbers)
    noise = np.random.default_rng(len(page)).normal(0.0, 2e-4, x.size)
    return np.asarray(0.01 + top * shape / shape.max() + noise)


A = film("poly_methyl_methacrylate__Tsuda-BB", 0.6)
B = film("polycarbonate__Zhang", 0.4)
T = 10.0**-A


@dataclass(frozen=True, eq=False)
class Case:
    """What a file must come to, how it is written, and the absorbances it holds over ``x``."""

    kind: str
    write: Write
    truths: tuple[Array, ...] = ()
    x: Array = field(default_factory=lambda: X)


CASES: dict[str, Case] = {}


def case(name: str, kind: str, *truths: Array, x: Array = X) -> Callable[[Write], Write]:
    """Enter a writer under the name of its file."""

    def enter(write: Write) -> Write:
        CASES[name] = Case(kind, write, truths, x)
        return write

    return enter


def text(name: str, kind: str, content: str | bytes, *truths: Array, x: Array = X) -> None:
    """Enter a file of text."""
    data = content.encode() if isinstance(content, str) else content
    CASES[name] = Case(kind, lambda path: path.write_bytes(data), truths, x)


def rows(*columns: Sequence[float] | Array, form: str = "{:.1f};{:.5f}") -> str:
    """Lines of a table."""
    return "".join(form.format(*row) + "\n" for row in zip(*columns, strict=True))


def german(table: str) -> str:
    """Decimal commas in place of points."""
    return table.replace(".", ",")


def grouped(mark: str, decimal: str = ".") -> str:
    """Two columns with a thousands mark in the abscissa."""
    lines = (f"{x:,.1f};{a:.5f}" for x, a in zip(X, A, strict=True))
    return "".join(line.replace(",", "\0").replace(".", decimal).replace("\0", mark) + "\n" for line in lines)


HEAD = "wavenumber (cm-1);absorbance\n"
PLAIN = rows(X, A)

# -- decimal and thousands marks ---------------------------------------------------------------------

text(
    "tab_comma_point_in_head.txt",
    "read",
    "Wavenumber [cm-1]\tAbs. [a.u.]\n" + german(rows(X, A, form="{:.1f}\t{:.5f}")),
    A,
)
text("thousands_point.csv", "read", HEAD + grouped(".", ","), A)
text("thousands_comma.csv", "read", HEAD + grouped(","), A)
text(
    "thousands_quoted.csv",
    "read",
    "cm-1,absorbance\n" + "".join(f'"{x:,.1f}",{a:.5f}\n' for x, a in zip(X, A)),
    A,
)
text("thousands_apostrophe.csv", "read", HEAD + grouped("'"), A)
text("thousands_right_quote.csv", "read", HEAD + grouped("\u2019", ","), A)
text("thousands_thin_space.csv", "read", HEAD + grouped("\u2009", ","), A)
text("thousands_narrow_space.csv", "read", HEAD + grouped("\u202f", ","), A)
text("thousands_latin1_space.csv", "read", (HEAD + grouped("\u00a0", ",")).encode("latin-1"), A)
text("thousands_blank.csv", "read", HEAD + grouped(" ", ","), A)
text(
    "quoted_commas.csv",
    "read",
    "cm-1,absorbance\n" + "".join(f'"{x:.1f}","{a:.5f}"\n'.replace(".", ",") for x, a in zip(X, A)),
    A,
)
text(
    "quoted_points.csv",
    "read",
    '"cm-1","absorbance"\n' + "".join(f'"{x:.1f}","{a:.5f}"\n' for x, a in zip(X, A)),
    A,
)
text(
    "comma_comma.csv",
    "read or refuse",
    "cm-1,absorbance\n" + german(rows(X, A, form="{:.1f};{:.5f}")).replace(";", ","),
    A,
)
text(
    "comma_comma_whole_x.csv",
    "read or refuse",
    "".join(f"{x:.0f},{a:.5f}\n".replace(".", ",") for x, a in zip(X, A)),
    A,
)
text("decimal_comma_blank.txt", "read", german(rows(X, A, form="{:.1f} {:.5f}")), A)
text("sep_line.csv", "read", "sep=;\n" + HEAD + german(PLAIN), A)
text("sep_line_comma.csv", "read", "sep=,\ncm-1,absorbance\n" + rows(X, A, form="{:.1f},{:.5f}"), A)
text("fortran.txt", "read", rows(X, A, form=" {:.6E} {:.6E}").replace("E", "D"), A)
text("plus_signs.txt", "read", rows(X, A, form="{:+.4e}\t{:+.5e}"), A)

THIN = film("polycarbonate__Zhang", 0.02) - 0.012

text("unicode_minus.csv", "read", HEAD + rows(X, THIN).replace("-", "\u2212"), THIN)
text("en_dash_minus.csv", "read or refuse", HEAD + rows(X, THIN).replace("-", "\u2013"), THIN)
text(
    "en_dash_minus_cp1252.csv",
    "read or refuse",
    (HEAD + rows(X, THIN).replace("-", "\u2013")).encode("cp1252"),
    THIN,
)
text(
    "percent_signs.csv",
    "read or refuse",
    "cm-1;transmittance\n" + rows(X, 100 * T, form="{:.1f};{:.3f} %"),
    A,
)
text("units_in_cells.csv", "read or refuse", rows(X, A, form="{:.1f} cm-1;{:.5f} A"), A)

# -- lines around the table --------------------------------------------------------------------------

text("notes_numbers_before.csv", "read", "4,32\n" + german(PLAIN).replace(";", "\t"), A)
text("notes_numbers_semicolon.csv", "read", "4;32\n16;1\n" + HEAD + PLAIN, A)
text("notes_numbers_after.csv", "read", HEAD + PLAIN + "4;32\n", A)
text("notes_words_after.csv", "read", HEAD + PLAIN + "\nscans;32\nresolution;4\nend of file\n", A)
text("peak_list_after.csv", "read or refuse", HEAD + PLAIN + "\nPeaks\n1732.1;0.61\n1148.2;0.48\n", A)
text("old_mac.txt", "read", (HEAD + PLAIN).replace("\n", "\r"), A)
text("blank_lines.csv", "read", (HEAD + PLAIN).replace("\n", "\n\n"), A)
text("three_headers.csv", "read", "x;y\nWellenzahl;Extinktion\ncm-1;-\n" + german(PLAIN), A)
text("names_over_units.csv", "read", "Wavenumber;Absorbance\n(cm-1);(a.u.)\n" + PLAIN, A)
text(
    "xy_key_lines.txt",
    "read",
    "x: wavenumber in cm-1\ny: absorbance\nscans: 64\n" + rows(X, A, form="{:.1f} {:.5f}"),
    A,
)
text("utf16_tab.txt", "read", ("cm-1\tExtinktion\n" + german(PLAIN).replace(";", "\t")).encode("utf-16"), A)
text("utf16_no_mark.txt", "read", ("cm-1\tabsorbance\n" + PLAIN.replace(";", "\t")).encode("utf-16-le"), A)
text("bar.txt", "read", PLAIN.replace(";", "|"), A)
text("trailing_delimiter.csv", "read", HEAD.replace("\n", ";\n") + PLAIN.replace("\n", ";\n"), A)
text("half_trailing.csv", "read", HEAD + PLAIN.replace("\n", ";\n"), A)
text("padded.csv", "read", HEAD + rows(X, A, form="  {:10.1f} ; {:9.5f}  "), A)
text(
    "tab_blank_head.txt", "read", "Wavenumber (cm-1) \t Absorbance\n" + rows(X, A, form="{:.1f} \t {:.5f}"), A
)
text(
    "tab_or_blank.txt",
    "read",
    "".join(f"{x:.1f}{' ' if i % 3 else chr(9)}{a:.5f}\n" for i, (x, a) in enumerate(zip(X, A))),
    A,
)
text(
    "first_y_missing.csv", "read or refuse", HEAD + "4000.0;\n" + PLAIN, np.r_[np.nan, A], x=np.r_[4000.0, X]
)

# -- missing values ----------------------------------------------------------------------------------


def gap(word: str) -> str:
    lines = PLAIN.splitlines()
    for i in range(300, 320):
        lines[i] = f"{lines[i].split(';')[0]};{word}"
    return HEAD + "\n".join(lines) + "\n"


GAP = A.copy()
GAP[300:320] = np.nan

for number, word in enumerate(
    ("n.d.", "#NV", "-9999", "NaN", "\u2014", "<0.001", "n/a", "1.#QNAN", "---", "9.9E+37")
):
    text(
        f"missing_{number}.csv", "read or refuse" if word in ("\u2014", "<0.001") else "read", gap(word), GAP
    )

# -- which column is what ----------------------------------------------------------------------------

text("x_last_named.csv", "read", "absorbance;wavenumber (cm-1)\n" + rows(A, X, form="{:.5f};{:.1f}"), A)
text("x_last_two.csv", "read", "film 1;film 2;cm-1\n" + rows(A, B, X, form="{:.5f};{:.5f};{:.1f}"), A, B)
text("x_last_bare.txt", "read", rows(A, X, form="{:.5f} {:.1f}"), A)
text(
    "counter_named.csv",
    "read",
    "#;cm-1;A\n" + rows(np.arange(1, X.size + 1), X, A, form="{:.0f};{:.1f};{:.5f}"),
    A,
)
text("counter_from_0.csv", "read", rows(np.arange(X.size), X, A, form="{:.0f};{:.1f};{:.5f}"), A)
text(
    "counter_frame.csv",
    "read",
    ",wavenumber,absorbance\n" + rows(np.arange(X.size), X, A, form="{:.0f},{:.1f},{:.5f}"),
    A,
)
text(
    "counter_last.csv",
    "read",
    "cm-1;absorbance;no.\n" + rows(X, A, np.arange(1, X.size + 1), form="{:.1f};{:.5f};{:.0f}"),
    A,
)
text(
    "counter_only.csv", "refuse", "no.;absorbance\n" + rows(np.arange(1, X.size + 1), A, form="{:.0f};{:.5f}")
)
text("counter_only_bare.csv", "refuse", rows(np.arange(X.size), A, form="{:.0f};{:.5f}"))
text(
    "time_stamps.csv",
    "read or refuse",
    "time;cm-1;absorbance\n" + rows(X, A, form="2026-05-01 12:00:00;{:.1f};{:.5f}"),
    A,
)
text(
    "mean_and_sd.csv",
    "read",
    "cm-1;mean;sd\n" + rows(X, A, np.full(X.size, 0.01) + 1e-3 * np.abs(B), form="{:.1f};{:.5f};{:.5f}"),
    A,
)
text(
    "mean_and_std_german.csv",
    "read",
    german("cm-1;Mittelwert;Std.-Abw.\n" + rows(X, A, 1e-2 * B, form="{:.1f};{:.5f};{:.5f}")),
    A,
)
text(
    "mean_plus_minus.csv",
    "read",
    "cm-1;absorbance;\u00b1\n" + rows(X, A, 1e-2 * B, form="{:.1f};{:.5f};{:.5f}"),
    A,
)
text(
    "replicates_and_sd.csv",
    "read",
    "cm-1;r1;r2;mean;SD\n" + rows(X, A, B, (A + B) / 2, 1e-2 * B, form="{:.1f};{:.5f};{:.5f};{:.5f};{:.5f}"),
    A,
    B,
    (A + B) / 2,
)
text(
    "A_and_T.csv",
    "read or refuse",
    "cm-1;absorbance;transmittance (%)\n" + rows(X, A, 100 * T, form="{:.1f};{:.5f};{:.4f}"),
    A,
    A,
)
text("same_name_twice.csv", "read", "cm-1;film;film\n" + rows(X, A, B, form="{:.1f};{:.5f};{:.5f}"), A, B)
text(
    "pairs_uneven.csv",
    "read",
    "x1;y1;x2;y2\n"
    + "".join(
        f"{x:.1f};{a:.5f};" + (f"{x:.1f};{b:.5f}\n" if i < 1500 else ";\n")
        for i, (x, a, b) in enumerate(zip(X, A, B))
    ),
    A,
    B[:1500],
)
text("empty_column_between.csv", "read", "cm-1;;absorbance\n" + rows(X, A, form="{:.1f};;{:.5f}"), A)
text("text_column.csv", "read", "cm-1;absorbance;remark\n" + rows(X, A, form="{:.1f};{:.5f};ok"), A)
text(
    "sample_first_column.csv",
    "read or refuse",
    "sample;cm-1;absorbance\n" + rows(X, A, form="film 1;{:.1f};{:.5f}"),
    A,
)

# -- shapes ------------------------------------------------------------------------------------------

text(
    "stacked_titles.csv", "read or refuse", "film 1\n" + HEAD + PLAIN + "\nfilm 2\n" + HEAD + rows(X, B), A, B
)
text("stacked_bare.csv", "read or refuse", PLAIN + "\n" + rows(X, B), A, B)
text("stacked_no_gap.csv", "read or refuse", PLAIN + rows(X, B), A, B)
text(
    "stacked_three.txt",
    "read or refuse",
    PLAIN + "\n\n" + rows(X, B) + "\n\n" + rows(X, (A + B) / 2),
    A,
    B,
    (A + B) / 2,
)
text("stacked_there_and_back.csv", "read or refuse", PLAIN + rows(X[::-1], B[::-1]), A, B)
text(
    "long_form.csv",
    "read or refuse",
    "sample;cm-1;absorbance\n"
    + "".join(
        f"{name};{x:.1f};{a:.5f}\n" for name, y in (("film 1", A), ("film 2", B)) for x, a in zip(X, y)
    ),
    A,
    B,
)
text(
    "long_form_last.csv",
    "read or refuse",
    "cm-1,absorbance,sample\n"
    + "".join(
        f"{x:.1f},{a:.5f},{name}\n" for name, y in (("film 1", A), ("film 2", B)) for x, a in zip(X, y)
    ),
    A,
    B,
)
text(
    "long_form_numbers.csv",
    "read or refuse",
    "spot,cm-1,absorbance\n"
    + "".join(f"{name},{x:.1f},{a:.5f}\n" for name, y in ((1, A), (2, B)) for x, a in zip(X, y)),
    A,
    B,
)
text(
    "long_form_by_point.csv",
    "read or refuse",
    "cm-1,sample,absorbance\n"
    + "".join(
        f"{x:.1f},{name},{a:.5f}\n" for x, a, b in zip(X, A, B) for name, a in (("film 1", a), ("film 2", b))
    ),
    A,
    B,
)
text(
    "by_rows.csv",
    "read",
    "sample;"
    + ";".join(f"{x:.1f}" for x in X)
    + "\n"
    + "".join(
        f"{name};" + ";".join(f"{a:.5f}" for a in y) + "\n" for name, y in (("film 1", A), ("film 2", B))
    ),
    A,
    B,
)
text(
    "by_rows_units.csv",
    "read",
    "sample;"
    + ";".join(f"{x:.1f} cm-1" for x in X)
    + "\n"
    + "".join(
        f"{name};" + ";".join(f"{a:.5f}" for a in y) + "\n" for name, y in (("film 1", A), ("film 2", B))
    ),
    A,
    B,
)
text(
    "by_rows_with_thickness.csv",
    "read or refuse",
    "sample;thickness;"
    + ";".join(f"{x:.1f}" for x in X)
    + "\n"
    + "".join(
        f"{name};{d};" + ";".join(f"{a:.5f}" for a in y) + "\n"
        for name, d, y in (("film 1", 120, A), ("film 2", 150, B))
    ),
    A,
    B,
)
text(
    "by_rows_number_first.csv",
    "read or refuse",
    "thickness;"
    + ";".join(f"{x:.1f}" for x in X)
    + "\n"
    + "".join(f"{d};" + ";".join(f"{a:.5f}" for a in y) + "\n" for d, y in ((120, A), (150, B))),
    A,
    B,
)
text(
    "two_rows.csv",
    "read or refuse",
    "wavenumber (cm-1);"
    + ";".join(f"{x:.1f}" for x in X)
    + "\nabsorbance;"
    + ";".join(f"{a:.5f}" for a in A)
    + "\n",
    A,
)
text(
    "two_rows_bare.csv",
    "read or refuse",
    ";".join(f"{x:.1f}" for x in X) + "\n" + ";".join(f"{a:.5f}" for a in A) + "\n",
    A,
)
text(
    "python_lists.txt",
    "read or refuse",
    f"x = [{', '.join(f'{x:.1f}' for x in X)}]\ny = [{', '.join(f'{a:.5f}' for a in A)}]\n",
    A,
)

# -- the ordinate ------------------------------------------------------------------------------------

for number, (heading, y) in enumerate(
    {
        "absorbance (mAU)": 1000 * A,
        "mOD": 1000 * A,
        "Extinktion / mE": 1000 * A,
        "absorbance (base e)": A * np.log(10),
        "ln(I0/I)": A * np.log(10),
        "Napierian absorbance": A * np.log(10),
        "-log(T)": A,
        "log(1/T)": A,
        "log10(1/R)": A,
        "-lg T": A,
        "O.D.": A,
        "Abs [-]": A,
        "absorbance units": A,
        "%T": 100 * T,
        "T [%]": 100 * T,
        "Durchl\u00e4ssigkeit in %": 100 * T,
        "Transmittance": T,
        "transmittance": 100 * T,
        "% Transmission": 100 * T,
        "Transmission": 100 * T,
        "I/I0": T,
        "T": T,
        "Abs": A,
        "R (%)": 100 * T,
        "%R": 100 * T,
        "Reflexion [%]": 100 * T,
    }.items()
):
    kind = "read or refuse" if heading in ("mOD", "Extinktion / mE", "I/I0", "O.D.", "-lg T") else "read"
    text(
        f"ordinate_{number}.csv", kind, f"wavenumber (cm-1);{heading}\n" + rows(X, y, form="{:.1f};{:.6g}"), A
    )

for number, (heading, y) in enumerate(
    {
        "absorptance (%)": 100 * (1 - T),
        "1-T": 1 - T,
        "% absorption": 100 * (1 - T),
        "absorbed (%)": 100 * (1 - T),
        "absorbance": 100 * T,
        "Absorbance (%)": 100 * T,
        "Transmittance (%)": T,
        "absorbance (a.u.)": T,
        "intensity (counts)": 2e4 * T,
        "Single beam": 20 * T * np.exp(-(((X - 1800) / 900) ** 2)),
        "second derivative": np.gradient(np.gradient(A)),
        "d2A": np.gradient(np.gradient(A)),
        "emissivity": 1 - T,
        "absorption coefficient (1/cm)": 1000 * A,
        "molar absorptivity": 120 * A,
        "k": A / X * 1000,
        "refractive index": 1.5 + 0.1 * A,
        "transmittance": 30 * A + 2,
        "epsilon (L/mol/cm)": 100 * A,
        "phase": A - 0.2,
    }.items()
):
    text(
        f"no_ordinate_{number}.csv",
        "refuse or warn",
        f"wavenumber (cm-1);{heading}\n" + rows(X, y, form="{:.1f};{:.6g}"),
    )

text("derivative_bare.csv", "refuse", rows(X, np.gradient(np.gradient(A)), form="{:.1f};{:.4e}"))
text("first_derivative_bare.csv", "refuse", rows(X, np.gradient(A), form="{:.1f};{:.4e}"))
text(
    "single_beam_bare.csv",
    "refuse",
    rows(X, 20 * T * np.exp(-(((X - 1800) / 900) ** 2)), form="{:.1f};{:.5f}"),
)
text(
    "single_beam_small.csv",
    "refuse or warn",
    rows(X, 0.8 * T * np.exp(-(((X - 1900) / 800) ** 2)), form="{:.1f};{:.5f}"),
)
text("counts_bare.csv", "refuse", rows(X, 3e4 * T, form="{:.1f};{:.0f}"))
PATH = np.arange(-1024, 3072)
text(
    "interferogram.csv",
    "refuse",
    rows(PATH + 1025, np.exp(-((PATH / 30.0) ** 2)) * np.cos(PATH / 2.0), form="{:.0f};{:.6f}"),
)
text(
    "interferogram_volts.csv",
    "refuse",
    "optical path difference (cm);volts\n"
    + rows(PATH * 6.3e-5, np.exp(-((PATH / 30.0) ** 2)) * np.cos(PATH / 2.0), form="{:.6f};{:.6f}"),
)
text("raman.csv", "refuse", "Raman shift (cm-1);intensity (a.u.)\n" + rows(X, 2000 * A, form="{:.1f};{:.3f}"))
text("raman_counts.csv", "refuse", "cm-1;counts\n" + rows(X, 2000 * A, form="{:.1f};{:.3f}"))
KELVIN = np.linspace(25.0, 800.0, 1551)
text(
    "weight_loss.csv",
    "refuse",
    "temperature (\u00b0C);weight (%)\n"
    + rows(KELVIN, 100 - 80 / (1 + np.exp(-(KELVIN - 400) / 25)), form="{:.1f};{:.4f}"),
)
text(
    "weight_loss_bare.csv",
    "refuse",
    rows(KELVIN, 100 - 80 / (1 + np.exp(-(KELVIN - 400) / 25)), form="{:.1f};{:.4f}"),
)
text(
    "weight_loss_time.csv",
    "refuse",
    "t/min;TG/%\n" + rows(KELVIN / 10, 100 - 80 / (1 + np.exp(-(KELVIN - 400) / 25)), form="{:.3f};{:.4f}"),
)
text(
    "diffractogram.csv",
    "refuse",
    "2theta;counts\n"
    + rows(
        np.linspace(5, 80, 3000),
        100 + 900 * np.exp(-((np.linspace(5, 80, 3000) - 21) ** 2)),
        form="{:.3f};{:.0f}",
    ),
)
text(
    "stress_strain.csv",
    "refuse",
    "strain (%);stress (MPa)\n"
    + rows(np.linspace(0, 300, 900), 20 * (1 - np.exp(-np.linspace(0, 300, 900) / 20)), form="{:.3f};{:.4f}"),
)
text("all_zero.csv", "refuse or warn", HEAD + rows(X, np.zeros(X.size)))
text("saturated.csv", "refuse or warn", HEAD + rows(X, np.minimum(A * 12, 3.0)))
text("nine_points.csv", "refuse", HEAD + rows(X[:9], A[:9]))

# -- the abscissa ------------------------------------------------------------------------------------

text(
    "um_falling.csv",
    "read",
    "Wavelength (\u00b5m);absorbance\n" + rows(1e4 / X[::-1], A[::-1], form="{:.6f};{:.5f}"),
    A,
)
text("um_micron_word.csv", "read", "microns,A\n" + rows(1e4 / X, A, form="{:.6f},{:.5f}"), A)
text(
    "nm_named.csv",
    "read",
    "Wellenl\u00e4nge / nm;Extinktion\n" + german(rows(1e7 / X, A, form="{:.3f};{:.5f}")),
    A,
)
text("nm_bare.csv", "read or refuse", rows(1e7 / X, A, form="{:.3f};{:.5f}"), A)
text("per_metre.csv", "refuse", "wavenumber (m-1);absorbance\n" + rows(100 * X, A))
text("per_metre_word.csv", "refuse", "wavenumber (1/m);absorbance\n" + rows(100 * X, A))
text("per_mm.csv", "refuse", "wavenumber (mm-1);absorbance\n" + rows(X / 10, A, form="{:.2f};{:.5f}"))
text(
    "electron_volts.csv",
    "refuse",
    "energy (eV);absorbance\n" + rows(X * 1.239842e-4, A, form="{:.7f};{:.5f}"),
)
text("angstrom.csv", "refuse", "wavelength (\u00c5);absorbance\n" + rows(1e8 / X, A, form="{:.2f};{:.5f}"))
NIR = np.arange(1000.0, 2500.1, 2.0)
NEAR = 0.3 + 0.2 * np.exp(-(((NIR - 1450) / 40) ** 2)) + 0.4 * np.exp(-(((NIR - 1940) / 45) ** 2))
text(
    "near_infrared_nm.csv",
    "read or refuse",
    "wavelength (nm),log(1/R)\n" + rows(NIR, NEAR, form="{:.0f},{:.5f}"),
    NEAR,
    x=1e7 / NIR,
)
PEAKS = "\n".join(f"{x};{h}" for x, h in zip(range(3000, 700, -150), np.linspace(0.6, 0.05, 16).round(3)))
text("peak_list_long.csv", "read or refuse", HEAD + PLAIN + "\nPeaks\n" + PEAKS + "\n", A)
text("peak_list_long_before.csv", "read or refuse", "Peaks\n" + PEAKS + "\n\n" + HEAD + PLAIN, A)
text("peak_list_alone.csv", "refuse or warn", "Peaks\n" + HEAD + PEAKS + "\n")
text("near_infrared_bare.csv", "refuse", rows(NIR, NEAR, form="{:.0f},{:.5f}"))
FINE = 3999.64 - 1.9285 * np.arange(1738)
FILM = film("poly_methyl_methacrylate__Tsuda-BB", 0.6, FINE)
text("x_whole.csv", "read", rows(FINE, FILM, form="{:.0f};{:.5f}"), FILM, x=FINE)
text("x_three_digits.csv", "read or refuse", rows(FINE, FILM, form="{:.2e};{:.5f}"), FILM, x=FINE)
text("x_four_digits.csv", "read", rows(FINE, FILM, form="{:.4g};{:.5f}"), FILM, x=FINE)
HALF = 4000.0 - 0.4821 * np.arange(6900)
HALF_FILM = film("poly_methyl_methacrylate__Tsuda-BB", 0.6, HALF)
text(
    "x_rounded_below_step.csv",
    "read or refuse",
    rows(HALF, HALF_FILM, form="{:.0f};{:.5f}"),
    HALF_FILM,
    x=HALF,
)
text("x_point_repeated.csv", "refuse", HEAD + PLAIN.replace("2000.0;", "2002.0;"))
text("x_out_of_order.csv", "refuse", HEAD + PLAIN.replace("2000.0;", "2200.0;"))
text(
    "two_regions.csv",
    "read",
    HEAD + rows(np.r_[X[:500], X[900:]], np.r_[A[:500], A[900:]]),
    np.r_[A[:500], A[900:]],
    x=np.r_[X[:500], X[900:]],
)
text(
    "shuffled.csv",
    "refuse",
    HEAD + "".join(np.random.default_rng(1).permutation(PLAIN.splitlines(keepends=True))),
)
text(
    "title_line_numbers.txt", "read or refuse", "PET 120 nm\n4000 650\n" + rows(X, A, form="{:.1f} {:.5f}"), A
)

# -- archives, workbooks, arrays ---------------------------------------------------------------------


def zipped(members: dict[str, bytes]) -> bytes:
    """Return a ZIP archive of some files."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


TEXT = (HEAD + PLAIN).encode()
text("film.csv.gz", "read or refuse", gzip.compress(TEXT, mtime=0), A)
text("film.zip", "read or refuse", zipped({"film.csv": TEXT}), A)
text("film_clutter.zip", "read or refuse", zipped({"film.csv": TEXT, "__MACOSX/._film.csv": b"\x00\x05"}), A)
text("two_films.zip", "refuse", zipped({"film.csv": TEXT, "other.csv": TEXT}))
text("gz_in_zip.zip", "read or refuse", zipped({"film.csv.gz": gzip.compress(TEXT, mtime=0)}), A)


def sheet(path: Path, *sheets: tuple[str, list[list[object]], bool]) -> None:
    """Write a workbook of sheets: title, rows, whether it is hidden."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, lines, hidden in sheets:
        one = book.create_sheet(title)
        for line in lines:
            one.append(line)
        one.sheet_state = "hidden" if hidden else "visible"
    book.save(path)


def table(*heads: str, columns: Sequence[Array]) -> list[list[object]]:
    """Rows of a sheet."""
    return [list(heads), *(list(map(float, row)) for row in zip(*columns, strict=True))]


@case("sheet_of_notes_first.xlsx", "read", A)
def _(path: Path) -> None:
    sheet(
        path,
        ("notes", [["operator", "x"], ["scans", 32]], False),
        ("data", table("cm-1", "absorbance", columns=[X, A]), False),
    )


@case("sheet_hidden.xlsx", "refuse or warn")
def _(path: Path) -> None:
    sheet(
        path,
        ("data", table("cm-1", "absorbance", columns=[X, A]), False),
        ("old", table("cm-1", "absorbance", columns=[X, B]), True),
    )


@case("sheet_text_commas.xlsx", "read", A)
def _(path: Path) -> None:
    sheet(
        path,
        (
            "data",
            [
                ["cm-1", "absorbance"],
                *([f"{x:.1f}".replace(".", ","), f"{a:.5f}".replace(".", ",")] for x, a in zip(X, A)),
            ],
            False,
        ),
    )


@case("sheet_title_rows.xlsx", "read", A, B)
def _(path: Path) -> None:
    head: list[list[object]] = [
        ["Films of today"],
        [],
        ["", "film 1", "film 2"],
        ["Wavenumber", "Absorbance", "Absorbance"],
        ["(cm-1)", "(a.u.)", "(a.u.)"],
    ]
    sheet(path, ("data", head + [list(map(float, row)) for row in zip(X, A, B)], False))


@case("sheet_percent_cells.xlsx", "refuse")
def _(path: Path) -> None:
    sheet(path, ("data", table("cm-1", "transmittance (%)", columns=[X, T]), False))


@case("sheet_results_below.xlsx", "read or refuse", A)
def _(path: Path) -> None:
    sheet(
        path,
        (
            "data",
            [
                *table("cm-1", "absorbance", columns=[X, A]),
                [],
                ["mean", float(A.mean())],
                ["max", float(A.max())],
            ],
            False,
        ),
    )


@case("sheet_two_side.xlsx", "read", A, B)
def _(path: Path) -> None:
    lines: list[list[object]] = [["cm-1", "absorbance", None, "cm-1", "absorbance"]]
    lines += [[float(x), float(a), None, float(x), float(b)] for x, a, b in zip(X, A, B)]
    sheet(path, ("data", lines, False))


@case("sheet_dates.xlsx", "refuse")
def _(path: Path) -> None:
    import datetime

    lines = table("cm-1", "absorbance", columns=[X, A])
    for i in range(40, 60):
        lines[i][1] = datetime.datetime(2026, 1, i % 28 + 1)
    sheet(path, ("data", lines, False))


@case("arrays_numbered.npz", "read or refuse", A)
def _(path: Path) -> None:
    np.savez(path, X, A)


@case("arrays_um.npz", "read", A)
def _(path: Path) -> None:
    np.savez(path, wavelength_um=1e4 / X, absorbance=A)


@case("arrays_square_image.npz", "read", A)
def _(path: Path) -> None:
    np.savez(path, wavenumber=X, absorbance=A, image=np.zeros((64, 64)), std=0.01 * B)


@case("arrays_cube.npz", "read or refuse", A, B, A, B)
def _(path: Path) -> None:
    np.savez(path, wavenumber=X, absorbance=np.array([[A, B], [A, B]]))


@case("arrays_transmittance.npz", "read", A, B)
def _(path: Path) -> None:
    np.savez(path, wn=X, transmittance=np.stack([T, 10.0**-B]))


@case("structured.npy", "read or refuse", A)
def _(path: Path) -> None:
    np.save(path, np.array(list(zip(X, A)), dtype=[("wavenumber", "f8"), ("absorbance", "f8")]))


@case("two_rows.npy", "read or refuse", A)
def _(path: Path) -> None:
    np.save(path, np.stack([X, A]))


@case("only_y.npy", "refuse")
def _(path: Path) -> None:
    np.save(path, A)


@case("struct.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"film": {"wavenumber": X, "absorbance": A, "note": "x", "scans": 32.0}})


@case("struct_array.mat", "read", A, B)
def _(path: Path) -> None:
    import scipy.io

    films = np.array(
        [({"wavenumber": X, "absorbance": A},), ({"wavenumber": X, "absorbance": B},)], dtype=[("s", object)]
    )
    scipy.io.savemat(path, {"films": films})


@case("nested_struct.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"run": {"sample": {"x": X, "data": {"absorbance": A}}}})


@case("single_precision.mat", "read", A)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"wn": X.astype(np.float32), "A": A.astype(np.float32)})


@case("matrix_beside_axis.mat", "read", A, B)
def _(path: Path) -> None:
    import scipy.io

    scipy.io.savemat(path, {"wn": X, "spectra": np.stack([A, B], axis=1)})


@case("groups.h5", "read", A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        for name, y in (("run1", A), ("run2", B)):
            group = file.create_group(f"entry/{name}")
            group["x"] = X
            group["x"].attrs["units"] = "1/cm"
            group["y"] = y
            group["y"].attrs["units"] = "absorbance"


@case("axis_above.h5", "read", A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["wavenumber"] = X
        file["data/film1/absorbance"] = A
        file["data/film2/absorbance"] = B


@case("compound.h5", "read or refuse", A)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["film"] = np.array(list(zip(X, A)), dtype=[("wavenumber", "f8"), ("absorbance", "f8")])


@case("map.h5", "read or refuse", A, B, A, B)
def _(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        file["wavenumber"] = X
        file["absorbance"] = np.array([[A, B], [A, B]])


# -- open formats with labels ------------------------------------------------------------------------


def labelled(y: Array, *, x: Array = X, **labels: str) -> str:
    """Return a block of the JCAMP-DX format, in pairs of lines, as its definition shows them."""
    known = {
        "TITLE": "film",
        "JCAMP-DX": "4.24",
        "DATA TYPE": "INFRARED SPECTRUM",
        "ORIGIN": "test",
        "OWNER": "test",
        "XUNITS": "1/CM",
        "YUNITS": "ABSORBANCE",
        "XFACTOR": "1",
        "YFACTOR": "1E-6",
        "FIRSTX": f"{x[0]:.4f}",
        "LASTX": f"{x[-1]:.4f}",
        "NPOINTS": str(x.size),
    }
    known |= {name.replace("_", " "): value for name, value in labels.items()}
    scale = float(known["YFACTOR"])
    lines = [
        f"{x[i] / float(known['XFACTOR']):.4f} " + " ".join(f"{v / scale:.0f}" for v in y[i : i + 6])
        for i in range(0, x.size, 6)
    ]
    head = "".join(f"##{name}= {value}\n" for name, value in known.items() if value)
    return head + "##XYDATA= (X++(Y..Y))\n" + "\n".join(lines) + "\n##END=\n"


def linked(*blocks: str, count: int | None = None) -> str:
    """Return a LINK block around others."""
    return (
        f"##TITLE= all\n##JCAMP-DX= 4.24\n##DATA TYPE= LINK\n##BLOCKS= {count or len(blocks)}\n"
        + "".join(blocks)
        + "##END=\n"
    )


text("plain.jdx", "read", labelled(A), A)
text(
    "comments.jdx",
    "read",
    labelled(A).replace("##XUNITS", "$$ made by hand\n##XUNITS").replace("##END", "$$ the end\n##END"),
    A,
)
text(
    "spaced_labels.jdx",
    "read",
    labelled(A)
    .replace("##XYDATA", "##XY DATA")
    .replace("##FIRSTX", "##FIRST X")
    .replace("##NPOINTS", "##N POINTS"),
    A,
)
text("no_link.jdx", "read", labelled(A) + labelled(B), A, B)
text("linked.jdx", "read", linked(labelled(A), labelled(B)), A, B)
text("linked_nested.jdx", "read", linked(labelled(A), linked(labelled(B), labelled(A)), count=2), A, B, A)
text("linked_raman.jdx", "read", linked(labelled(A), labelled(B, DATA_TYPE="RAMAN SPECTRUM")), A)
text("raman.jdx", "refuse", labelled(A, DATA_TYPE="RAMAN SPECTRUM"))
text("percent.jdx", "read or refuse", labelled(100 * T, YUNITS="TRANSMITTANCE"), A)
text("percent_units.jdx", "read", labelled(100 * T, YUNITS="% TRANSMITTANCE"), A)
text("percent_as_absorbance.jdx", "refuse or warn", labelled(100 * T))
text("transmittance_as_absorbance.jdx", "refuse or warn", labelled(T))
text("absorbance_as_transmittance.jdx", "refuse or warn", labelled(A, YUNITS="TRANSMITTANCE"))
text("rising.jdx", "read", labelled(A[::-1], x=X[::-1]), A)
text(
    "one_line_lost.jdx",
    "refuse",
    "\n".join(line for i, line in enumerate(labelled(A).splitlines()) if i != 100),
)
text("cut_off.jdx", "refuse", labelled(A)[:9000])
text(
    "factor_wrong.jdx",
    "refuse or warn",
    labelled(A, MAXY=f"{A.max():.6f}").replace("YFACTOR= 1E-6", "YFACTOR= 1E-5"),
)
text("latin1_title.jdx", "read", labelled(A, TITLE="Gelatine auf Tr\u00e4ger").encode("latin-1"), A)
text("mac_breaks.jdx", "read", labelled(A).replace("\n", "\r"), A)
text("arbitrary.jdx", "refuse or warn", labelled(A, YUNITS="ARBITRARY UNITS"))
text("no_units.jdx", "read or refuse", labelled(A, YUNITS="", XUNITS=""), A)


def series(kind: str, y: Array, *, pieces: int = 1, swapped: bool = False, label: str = "cm-1") -> str:
    """Return an AnIML document with values listed one by one, in pieces that state where they begin."""
    edges = np.linspace(0, y.size, pieces + 1).astype(int)
    blocks = []
    for start, stop in zip(edges[:-1], edges[1:]):
        inside = "".join(f"<D>{v:.6f}</D>" for v in y[start:stop])
        blocks.append(
            f'<IndividualValueSet startIndex="{start}" endIndex="{stop - 1}">{inside}</IndividualValueSet>'
        )
    if swapped:
        blocks.reverse()
    counted = f"<AutoIncrementedValueSet><StartValue><D>{X[0]}</D></StartValue><Increment><D>-2</D></Increment></AutoIncrementedValueSet>"
    return (
        '<?xml version="1.0"?><AnIML xmlns="urn:org:astm:animl:schema:core:draft:0.90"><ExperimentStepSet><ExperimentStep name="film">'
        f'<Result><SeriesSet name="s" length="{y.size}"><Series name="x" dependency="independent" seriesType="Float64">{counted}<Unit label="{label}"/></Series>'
        f'<Series name="y" dependency="dependent" seriesType="Float64">{"".join(blocks)}<Unit label="{kind}"/></Series></SeriesSet></Result></ExperimentStep></ExperimentStepSet></AnIML>'
    )


text("plain.animl", "read", series("absorbance", A), A)
text("pieces.animl", "read", series("absorbance", A, pieces=5), A)
text("pieces_swapped.animl", "read or refuse", series("absorbance", A, pieces=5, swapped=True), A)
text("percent.animl", "read", series("% transmittance", 100 * T), A)
text("volts.animl", "refuse", series("V", A))
text("seconds.animl", "refuse", series("absorbance", A, label="s"))
