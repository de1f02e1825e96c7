"""Tables stacked, in long form, in rows."""

from __future__ import annotations

from tests.hardcases.making import HEAD, PLAIN, A, B, X, rows, text

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
        f"{name};{x:.1f};{a:.5f}\n"
        for name, y in (("film 1", A), ("film 2", B))
        for x, a in zip(X, y, strict=False)
    ),
    A,
    B,
)
text(
    "long_form_last.csv",
    "read or refuse",
    "cm-1,absorbance,sample\n"
    + "".join(
        f"{x:.1f},{a:.5f},{name}\n"
        for name, y in (("film 1", A), ("film 2", B))
        for x, a in zip(X, y, strict=False)
    ),
    A,
    B,
)
text(
    "long_form_numbers.csv",
    "read or refuse",
    "spot,cm-1,absorbance\n"
    + "".join(
        f"{name},{x:.1f},{a:.5f}\n" for name, y in ((1, A), (2, B)) for x, a in zip(X, y, strict=False)
    ),
    A,
    B,
)
text(
    "long_form_by_point.csv",
    "read or refuse",
    "cm-1,sample,absorbance\n"
    + "".join(
        f"{x:.1f},{name},{a:.5f}\n"
        for x, a, b in zip(X, A, B, strict=False)
        for name, a in (("film 1", a), ("film 2", b))
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
