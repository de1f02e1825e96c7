"""Which column is what."""

from __future__ import annotations

import numpy as np

from tests.hardcases.making import A, B, T, X, german, rows, text

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
        for i, (x, a, b) in enumerate(zip(X, A, B, strict=False))
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
