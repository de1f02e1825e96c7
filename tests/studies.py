"""Small studies on disk for tests: invented spectra of one substrate and one coating, and study texts."""

from functools import cache
from math import exp

SMALL = """\
title = "Invented mist coat"
technique = "ATR"
[instrument]
crystal = "diamond"
angle_deg = 45
[substrate]
spectra = ["bare/*.csv"]
[coatings.gelatin]
spectra = ["neat/*.csv"]
[samples.aqueous]
spectra = ["coated/*.csv"]
"""

SUBSTRATE = ((1240.0, 0.30), (1365.0, 0.12), (1470.0, 0.10), (1725.0, 0.40), (2865.0, 0.10), (2945.0, 0.14))
COATING = ((1080.0, 0.08), (1540.0, 0.25), (1650.0, 0.35), (3290.0, 0.15))


def ordinates(bands, axis, width=12.0):
    """Sum of Gaussian bands, absorbance."""
    return [sum(height * exp(-(((x - at) / width) ** 2) / 2) for at, height in bands) for x in axis]


@cache
def spectrum_text(coating=0.0, substrate=1.0, spot=0, title="invented"):
    """Two columns, cm-1 and absorbance, with a fixed ripple of 2e-4 that differs from spot to spot."""
    axis = [700.0 + 4.0 * i for i in range(800)]
    base, layer = ordinates(SUBSTRATE, axis), ordinates(COATING, axis)
    contact = 1.0 + 0.01 * ((spot * 7) % 5 - 2)
    rows = []
    for i, (x, b, c) in enumerate(zip(axis, base, layer, strict=True)):
        ripple = 2e-4 * (((i * (spot + 3) * 2654435761) % 1000) / 500 - 1)
        rows.append(f"{x:.1f},{contact * substrate * b + coating * c + ripple:.6f}")
    return f"# {title}\nwavenumber (cm-1),absorbance\n" + "\n".join(rows) + "\n"


def write_spectra(folder):
    """Write five bare, two neat and three coated spots into their folders."""
    for role, spots, coating, substrate in (
        ("bare", range(5), 0.0, 1.0),
        ("neat", range(10, 12), 1.0, 0.0),
        ("coated", range(20, 23), 0.2, 0.9),
    ):
        (folder / role).mkdir(parents=True, exist_ok=True)
        for spot in spots:
            text = spectrum_text(coating, substrate, spot, f"invented {role} {spot}")
            (folder / role / f"{role}_{spot}.csv").write_text(text, encoding="utf-8")
    return folder


def write_study(folder, text=SMALL, name="study.toml"):
    """Write the spectra and a study file beside them; return the study file."""
    write_spectra(folder)
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def everything_in(folder):
    """Names of all files and folders inside, relative to ``folder``."""
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*")}
