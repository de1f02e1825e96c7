"""Why a residue shows or not, and whether a material is what it is said to be: part of ``report.view``."""

from __future__ import annotations

from spectra.report.words.numerals import counted, listed, wavenumbers
from spectra.report.words.remedies import MEASURE_RESIDUE, STATED
from spectra.report.words.values import Values, Wording, falling


def _not_seen(v: Values) -> str:
    seen = f"No unexplained band at its places in the tables: {wavenumbers(falling(v['bands']))}."
    return (
        f"{seen} Hidden by substrate or coating: {wavenumbers(falling(v['hidden']))}."
        if v.get("hidden")
        else seen
    )


RESIDUES: dict[str, Wording] = {
    "one-band": Wording(
        lambda v: f"Only one band is significant: {v.band(v['position'])}.",
        "Measure more specimens until a second band stands out, or support it by another method.",
    ),
    "residue-bands": Wording(
        lambda v: (
            f"Unexplained bands at {wavenumbers(falling(v['positions']))} agree with its places in the "
            "tables; other causes are not excluded."
        )
    ),
    "residue-or-change": Wording(
        lambda v: (
            f"Unexplained bands at {wavenumbers(falling(v['positions']))} lie where it absorbs, but the "
            "coating itself is changed and may cause them."
        ),
        MEASURE_RESIDUE,
    ),
    "residue-or-optics": Wording(
        lambda v: (
            f"Unexplained bands at {wavenumbers(falling(v['positions']))} lie where it absorbs, but the "
            "film's own spectrum could not be computed and may cause them."
        ),
        "State crystal and angle_deg under [instrument].",
    ),
    "residue-outside": Wording(
        lambda _: "None of its bands in the tables lies where these spectra can show one.", MEASURE_RESIDUE
    ),
    "residue-hidden": Wording(
        lambda v: f"Substrate or coating hide its strong bands: {wavenumbers(falling(v['hidden']))}.",
        MEASURE_RESIDUE,
    ),
    "residue-not-seen": Wording(_not_seen),
    "material-bands-missing": Wording(
        lambda v: (
            f"Of {counted(v['strong'], 'strong band')} that the tables give for this material and that could "
            f"be seen, {len(v['missing'])} {'is' if len(v['missing']) == 1 else 'are'} not there: "
            f"{v.bands(v['missing'])}."
        ),
        STATED,
    ),
    "another-material-fits": Wording(
        lambda v: (
            f"The bands fit {v['material']} better, with strong bands at {wavenumbers(falling(v['bands']))}"
            + (f"; {listed(v['also'])} would fit better too." if v.get("also") else ".")
        ),
        STATED,
    ),
}
