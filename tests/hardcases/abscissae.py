"""What the abscissa is, and how it was rounded."""

from __future__ import annotations

import numpy as np

from tests.hardcases.making import HEAD, PLAIN, A, X, film, german, rows, text

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
PEAKS = "\n".join(
    f"{x};{h}" for x, h in zip(range(3000, 700, -150), np.linspace(0.6, 0.05, 16).round(3), strict=False)
)
text("peak_list_long.csv", "read or refuse", HEAD + PLAIN + "\nPeaks\n" + PEAKS, A)
text("peak_list_long_before.csv", "read or refuse", "Peaks\n" + PEAKS + "\n" + HEAD + PLAIN, A)
text("peak_list_alone.csv", "refuse or warn", "Peaks\n" + HEAD + PEAKS)
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
