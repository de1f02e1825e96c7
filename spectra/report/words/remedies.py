"""What to do about a reason, in one sentence each; part of ``report.view``."""

from __future__ import annotations

from spectra.report.words.comparing import COMPARING_REMEDIES

_MEASURE_RESIDUE = "Measure the residue itself and name it under [residues] measured, or dry to constancy."

_STATED = "Check that no files were mixed up, and that the study names the right material."

_MORE_SPOTS = "Measure more bare and coated specimens, or spots with better signal to noise."

_MORE_BANDS = (
    "Measure more specimens, or choose a crystal, technique or substrate that leaves more bands free."
)

REMEDIES: dict[str, str] = {
    **COMPARING_REMEDIES,
    "too-few-bare": "Measure more bare specimens of the same lot in the same way; five are a good start.",
    "one-band": "Measure more specimens until a second band stands out, or support it by another method.",
    "negative-amount": "Measure bare specimens of the same lot and history, and take a fresh background.",
    "no-detected-band": "Measure more specimens, or a thicker coating, until a band stands out.",
    "interval-too-wide": "Measure more specimens, or state a wider margin before measuring, with its reason.",
    "not-like-with-like": "Measure the reference by the sample's technique.",
    "residue-or-change": _MEASURE_RESIDUE,
    "residue-or-optics": "State crystal and angle_deg under [instrument].",
    "residue-outside": _MEASURE_RESIDUE,
    "residue-hidden": _MEASURE_RESIDUE,
    "coating-not-shown": "Show the coating first: a thicker one, or more specimens.",
    "presence-open": "Do first what stands beside the verdict on the coating itself.",
    "optics-no-model": "Measure the reference and the sample by ATR or in transmission.",
    "optics-technique-not-stated": "State technique, and for ATR crystal and angle_deg.",
    "optics-unknown-geometry": "State crystal and angle_deg under [instrument].",
    "optics-no-total-reflection": "Check crystal and angle_deg under [instrument].",
    "optics-too-strong": "Check [instrument], and that no neat spectrum was normalised.",
    "optics-not-converged": "Check [instrument], and that no neat spectrum was normalised or smoothed.",
    "few-specimens": "Measure at least three specimens each, bare and coated.",
    "material-bands-missing": _STATED,
    "another-material-fits": _STATED,
    "band-open": _MORE_SPOTS,
    "left-over-beside-band": "See the difference figure there; more coated specimens may bring the part out.",
    "too-little-judged": _MORE_BANDS,
    "strongest-not-judged": _MORE_BANDS,
    "layer-over-substrate": "Find out what the layer is: measure it neat and name it among the coatings.",
    # named by the joint fit itself
    "measure-bare-spots": "Measure more bare spots, on several specimens of the same lot.",
    "measure-neat-again": "Measure the neat coating again, dry and thick enough for its bands to stand out.",
    "other-crystal-or-region": "Choose a crystal, technique or substrate that leaves more bands free.",
    "leave-one-coating-out": "Measure a sample that carries only one of the coatings.",
    "measure-bare-alike": "Measure bare specimens of the same lot and history, beside the coated ones.",
    "measure-more-spots": _MORE_SPOTS,
    "look-at-residual": "See the difference figure for bands of another material; measure and name it.",
}

GENERAL_REMEDY = _MORE_SPOTS
