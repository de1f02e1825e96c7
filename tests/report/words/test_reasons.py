"""Every reason the chain gives has a sentence, every sentence a use; what is unknown is shown bare."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import spectra
from spectra.findings import Reason
from spectra.report.words.reasons import REASONS, remedy, sentence
from spectra.report.words.remedies import REMEDIES

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
    "too-few-bare": {"found": 1, "needed": 2},
    "all-masked": {"bands": (1650.0, 1540.0)},
    "one-band": {"position": 1655.2},
    "no-band-detected": {"unmasked": 3, "detectable": 0.0123},
    "bands-detected": {"detected": 2, "unmasked": 3, "positions": (1655.2, 1540.0)},
    "negative-amount": {"amount": -0.034, "critical": 0.01},
    "no-detected-band": {},
    "all-equivalent": {"bands": 3, "margin": 4.0},
    "shifted": {"position": 1655.2, "shift": -13.8, "low": -16.1, "high": -11.5, "margin": 4.0},
    "interval-too-wide": {"position": 1655.2, "low": -6.0, "high": 5.0, "margin": 4.0},
    "not-like-with-like": {"neat_technique": "transmission", "sample_technique": "ATR"},
    "lost-band": {"position": 1240.0, "ratio": 0.31, "low": 0.2, "high": 0.42},
    "grown-band": {"position": 1240.0, "ratio": 1.9, "low": 1.6, "high": 2.2},
    "few-specimens": {"found": 1},
    "pattern-disagrees": {"positions": (1655.0,), "missing": (1540.0,)},
    "residue-outside": {},
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
    "attenuation-disagrees": {"thickness_nm": 31.0, "attenuation_nm": 90.0, "low": 70.0, "high": 110.0},
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
    files = [path for path in PACKAGE.rglob("*.py") if path.parent.name != "report"]
    found = set().union(*(codes_in(path.read_text(encoding="utf-8")) for path in files))
    assert len(files) > 20
    assert len(found) >= 12  # the guard looked at something
    assert found <= set(REASONS) | set(REMEDIES), sorted(found - set(REASONS) - set(REMEDIES))


def test_every_note_of_optics_has_a_sentence() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in (PACKAGE / "optics").rglob("*.py"))
    notes = set(re.findall(r'Unsolved\(\s*"([a-z-]+)"', sources))
    assert len(notes) >= 4
    assert {f"optics-{note}" for note in notes} <= set(REASONS)


def test_no_sentence_is_without_a_use() -> None:
    files = [path for path in PACKAGE.rglob("*.py") if path.parent.name != "report"]
    package = "".join(path.read_text(encoding="utf-8") for path in files)
    known = {code.removeprefix("optics-") for code in (*REASONS, *REMEDIES)}  # put together from its note
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
