"""Decimal and thousands marks, signs and exponents."""

from __future__ import annotations

from tests.hardcases.making import HEAD, PLAIN, A, T, X, film, german, grouped, rows, text

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
    "cm-1,absorbance\n" + "".join(f'"{x:,.1f}",{a:.5f}\n' for x, a in zip(X, A, strict=False)),
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
    'cm-1,absorbance\n"' + german(PLAIN).replace(";", '","').replace("\n", '"\n"')[:-1],
    A,
)
text(
    "quoted_points.csv",
    "read",
    '"cm-1","absorbance"\n' + "".join(f'"{x:.1f}","{a:.5f}"\n' for x, a in zip(X, A, strict=False)),
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
    "".join(f"{x:.0f},{a:.5f}\n".replace(".", ",") for x, a in zip(X, A, strict=False)),
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
