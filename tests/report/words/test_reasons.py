"""Every reason the chain gives has a sentence, every sentence a use; what is unknown is shown bare."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import spectra
from spectra.findings import Reason
from spectra.report.words.reasons import REASONS, remedy, sentence
from spectra.report.words.remedies import ACTIONS

PACKAGE = Path(spectra.__file__).parent
JOINT: dict[str, object] = {
    "amount": 0.0213,
    "critical": 0.0046,
    "detectable": 0.0093,
    "t": 9.1,
    "p_value": 1e-6,
}
SINGLE: dict[str, object] = {"found": [1655.0], "looked_at": 3, "masked": 1, "needed": 2}
# Values of every reason the classical decision gives, as it gives them.
SAMPLES: dict[str, dict[str, object]] = {
    "new-bands": {"positions": (1713.0, 1295.0)},
    "missing-absorption": {"positions": (1165.0,)},
    "too-few-bare": {"found": 1, "needed": 2},
    "one-band": {"position": 1655.2},
    "negative-amount": {"amount": -0.034, "critical": 0.01},
    "no-detected-band": {},
    "all-equivalent": {"bands": 3, "margin": 4.0},
    "shifted": {"position": 1655.2, "shift": -13.8, "low": -16.1, "high": -11.5, "margin": 4.0},
    "interval-too-wide": {"position": 1655.2, "low": -6.0, "high": 5.0, "margin": 4.0},
    "layout-otherwise": {"stated": "film", "fits": "mixed"},
    "not-like-with-like": {"neat_technique": "transmission", "sample_technique": "ATR"},
    "lost-band": {"position": 1240.0, "ratio": 0.31, "low": 0.2, "high": 0.42},
    "grown-band": {"position": 1240.0, "ratio": 1.9, "low": 1.6, "high": 2.2},
    "few-specimens": {"found": 1},
    "residue-outside": {},
    "residue-hidden": {"material": "acetic acid", "hidden": [1290.0, 1710.0]},
    "residue-or-change": {"positions": (1713.0,)},
    "residue-or-optics": {"positions": (1713.0,)},
    "coating-not-shown": {},
    "presence-open": {},
    "optics-no-model": {},
    "optics-technique-not-stated": {"bound": 7.3},
    "optics-unknown-geometry": {"bound": 7.3},
    "optics-no-total-reflection": {"bound": float("nan")},
    "optics-too-strong": {"bound": None},
    "optics-not-converged": {"bound": 15.0},
    "not-judged": {"bands": 1, "positions": (3290.0,)},
    "residue-bands": {"positions": (1713.0, 1295.0)},
    "residue-not-seen": {"bands": (1713.0, 1295.0)},
    "material-bands-missing": {"missing": (1750.0, 1180.0), "strong": 3},
    "another-material-fits": {"material": "polystyrene", "bands": (1493.0, 698.0), "also": ("toluene",)},
    # of the joint fit
    "amount-above-critical": JOINT,
    "amount-below-critical": JOINT,
    "bands-found": SINGLE,
    "rests-on-one-band": SINGLE,
    "no-band-alone": SINGLE,
    "pattern-agrees": {"p_value": 0.41},
    "pattern-differs": {"p_value": 1e-7, "alpha": 0.01},
    "unmistakable": {"regions": [(1000.0, 1100.0)]},
    "bands-masked": {"masked": [3290.0], "unmasked": 1, "needed": 2},
    "no-bands": {"masked": [], "unmasked": 0, "needed": 2},
    "inseparable": {"other": "chitosan", "correlation": 0.987},
    "bare-set-differs": {"regions": [(1000.0, 1100.0)]},
    "few-bare": {"found": 3, "wanted": 5},
    "one-bare-specimen": {"spots": 5},
    # of the film fit
    "recognised": {"explained": 0.9987, "share": 1.04},
    "layer-shown": {"p_value": 1e-9, "alpha": 0.01},
    "layer-not-shown": {"p_value": 0.41, "alpha": 0.01},
    "layer-differs": {"explained": 0.31},
    "not-sensitive": JOINT,
    "strong-absorber": {"k": 2.3},
    "band-open": {"position": 1240.2, "shift": 3.1, "ratio": 0.71, "margin": 4.0, "ratio_margin": 0.35},
    "left-over-beside-band": {"positions": [1655.2, 1540.0]},
    "too-little-judged": {"share": 0.183, "positions": [1100.2]},
    "strongest-not-judged": {"share": 0.62, "position": 1100.2},
    "layer-over-substrate": {},
    # of samples beside each other
    "evenness-varies": {"low": 0.11, "high": 0.42},
    "evenness-not-shown": {"low": 0.0, "high": 0.042},
    "evenness-one-spot": {},
    "evenness-no-mean": {"amount": 0.0012},
    "evenness-one-specimen": {},
    "evenness-one-spot-each": {},
    "comparison-one-specimen": {"samples": ("aqueous", "acid")},
    "kept-within-margin": {"low": 0.93, "high": 1.05, "margin": 0.1},
    "kept-lost": {"low": 0.3, "high": 0.5, "margin": 0.1},
    "kept-gained": {"low": 1.3, "high": 1.5, "margin": 0.1},
    "kept-interval-too-wide": {"low": 0.8, "high": 1.2, "margin": 0.1},
    "kept-one-specimen": {},
    "kept-nothing-before": {"amount": -0.001},
    "kept-not-paired": {"shared": 1},
    "treatment-changed": {"positions": (1653.0, 1540.0)},
    "treatment-unchanged": {"positions": (1653.0, 1540.0), "open": (1240.0,), "share": 0.9, "heights": True},
    "treatment-open": {"positions": (1653.0,)},
    "treatment-too-few": {"found": 1, "needed": 2, "share": 0.3},
    "requirement-least-nm": {
        "kind": "least_nm",
        "wanted": 40.0,
        "value": 51.2,
        "low": 44.0,
        "high": 58.0,
        "verdict": "conforms",
        "chance": 0.98,
    },
    "requirement-most-variation": {
        "kind": "most_variation",
        "wanted": 0.25,
        "value": None,
        "low": None,
        "high": None,
        "verdict": "cannot tell",
    },
}


@pytest.mark.parametrize("code", SAMPLES)
def test_every_reason_is_a_sentence(code: str) -> None:
    text = sentence(Reason(code, SAMPLES[code]))
    assert re.fullmatch(r"[A-Z0-9].*[^.]\.", text), text
    assert not re.search(r"\bNone\b(?! of)|\bnan\b|\d\.\d{6}|_", text), text


def test_the_samples_cover_every_sentence() -> None:
    assert set(SAMPLES) == set(REASONS)


def codes_in(source: str) -> set[str]:
    """Every word with hyphens in a module that makes reasons: whichever way a code gets into a Reason."""
    tree = ast.parse(source)
    names = {name.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) for name in node.names}
    if "Reason" not in names:
        return set()
    texts = {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    return {text for text in texts if re.fullmatch(r"[a-z]+(-[a-z]+)+", text)}


def test_every_code_the_package_gives_has_a_sentence_or_remedy() -> None:
    files = [path for path in PACKAGE.rglob("*.py") if "report" not in path.relative_to(PACKAGE).parts]
    found = set().union(*(codes_in(path.read_text(encoding="utf-8")) for path in files))
    assert len(files) > 20
    assert len(found) >= 12  # the guard looked at something
    assert found <= set(REASONS) | set(ACTIONS), sorted(found - set(REASONS) - set(ACTIONS))


def test_every_note_of_optics_has_a_sentence() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in (PACKAGE / "optics").rglob("*.py"))
    notes = set(re.findall(r'Unsolved\(\s*"([a-z-]+)"', sources))
    assert len(notes) >= 4
    assert {f"optics-{note}" for note in notes} <= set(REASONS)


def test_no_sentence_is_without_a_use() -> None:
    files = [path for path in PACKAGE.rglob("*.py") if "report" not in path.relative_to(PACKAGE).parts]
    package = "".join(path.read_text(encoding="utf-8") for path in files)
    # Codes of optics and of a requirement are put together from a note, and from the clause asked for.
    known = {code.removeprefix("optics-") for code in (*REASONS, *ACTIONS)}
    known = {
        code.removeprefix("requirement-").replace("-", "_") if code.startswith("requirement-") else code
        for code in known
    }
    assert [code for code in sorted(known) if f'"{code}"' not in package] == []


def test_the_guard_sees_a_planted_code() -> None:
    planted = 'from spectra.findings import Reason\nx = "a-code" if y else "other-code"  # third-code'
    assert codes_in(planted) == {"a-code", "other-code"}
    assert codes_in('code = "of-a-fault"') == set()


def test_an_unknown_code_is_shown_bare() -> None:
    assert sentence(Reason("unheard_of", {"n": 3, "why": "<b>"})) == "unheard_of (n = 3, why = <b>)"
    assert remedy(Reason("unheard_of")) == ""


@pytest.mark.parametrize("code", sorted(SAMPLES))
def test_values_that_do_not_fit_are_shown_bare(code: str) -> None:
    said = sentence(Reason(code, {"surprise": 1}))
    assert said in (f"{code} (surprise = 1)", sentence(Reason(code, SAMPLES[code]))) or "unknown part" in said


def test_a_shift_that_could_not_be_measured_is_said() -> None:
    values = {"position": 1655.0, "low": None, "high": None, "margin": 4.0}
    assert "could not be measured" in sentence(Reason("interval-too-wide", values))


def test_a_share_is_never_rounded_up_to_all_and_never_more_than_all() -> None:
    text = sentence(Reason("recognised", SAMPLES["recognised"]))
    assert "explains 99 % of" in text
    assert "could be found, over 99 % was found" in text


def test_a_layer_that_only_the_coatings_own_test_sees_is_not_said_to_be_seen_by_the_other() -> None:
    seen, unseen = (sentence(Reason("layer-shown", {"p_value": p, "alpha": 0.01})) for p in (0.001, 0.3))
    assert seen == "Something is on the surface that bare specimens do not show (p = 0.0010)."
    assert "(p = 0.30)" in unseen
    assert "do not show" not in unseen


def test_bands_that_were_not_judged_come_with_the_share_of_those_that_were() -> None:
    values = {"bands": 2, "positions": [1235.0, 3290.0], "share": 0.823}
    assert sentence(Reason("not-judged", values)).endswith(
        "3290 and 1235 cm-1; the judged bands hold 82 % of the coating's band strength."
    )
