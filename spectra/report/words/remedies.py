"""What to do, where several reasons ask for the same or a decision names it; part of ``report.view``."""

from __future__ import annotations

MEASURE_RESIDUE = "Measure the residue itself and name it under [residues] measured, or dry to constancy."

STATED = "Check that no files were mixed up, and that the study names the right material."

MORE_SPOTS = "Measure more bare and coated specimens, or spots with better signal to noise."

MORE_BANDS = (
    "Measure more specimens, or choose a crystal, technique or substrate that leaves more bands free."
)

SPECIMENS = "Measure three specimens at least, with three spots each."

GENERAL_REMEDY = MORE_SPOTS

# Remedies that the joint fit names itself, by their own codes.
ACTIONS: dict[str, str] = {
    "measure-bare-spots": "Measure more bare spots, on several specimens of the same lot.",
    "measure-neat-again": "Measure the neat coating again, dry and thick enough for its bands to stand out.",
    "other-crystal-or-region": "Choose a crystal, technique or substrate that leaves more bands free.",
    "leave-one-coating-out": "Measure a sample that carries only one of the coatings.",
    "measure-bare-alike": "Measure bare specimens of the same lot and history, beside the coated ones.",
    "measure-more-spots": MORE_SPOTS,
    "look-at-residual": "See the difference figure for bands of another material; measure and name it.",
}
