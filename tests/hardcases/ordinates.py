"""What the ordinate is, and what is none."""

from __future__ import annotations

import numpy as np

from tests.hardcases.making import HEAD, A, T, X, rows, text

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
