"""Lines around the table, and words where a value is missing."""

from __future__ import annotations

import numpy as np

from tests.hardcases.making import HEAD, PLAIN, A, X, german, rows, text

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
    "".join(
        f"{x:.1f}{' ' if i % 3 else chr(9)}{a:.5f}\n" for i, (x, a) in enumerate(zip(X, A, strict=False))
    ),
    A,
)
text(
    "first_y_missing.csv", "read or refuse", HEAD + "4000.0;\n" + PLAIN, np.r_[np.nan, A], x=np.r_[4000.0, X]
)


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
