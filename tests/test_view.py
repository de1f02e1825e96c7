"""Words and rounding of the report.

Rounding is checked against JCGM 100:2008 (the GUM), 7.2.2 and 7.2.6, whose examples were written from
memory; the rules of wording are our own.
"""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import spectra
from spectra.findings import CANNOT_TELL, Reason, SampleFinding
from spectra.report import numerals, phrases
from spectra.report.reasons import REASONS, remedy, sentence
from spectra.report.remedies import REMEDIES
from spectra.report.view import Judgement, View, view
from tests import fakes

PACKAGE = Path(spectra.__file__).parent
VIEW_MODULES = {
    "view.py",
    "numerals.py",
    "reasons.py",
    "remedies.py",
    "phrases.py",
    "tables.py",
    "captions.py",
    "bandlist.py",
    "inputtables.py",
}

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
# Words that claim more than infrared can show, or that turn a finding into a mark.
FORBIDDEN = re.compile(
    r"\b(confirm\w*|prove[snd]?|uniform\w*|100 ?%|pass(es|ed)?|fail(s|ed|ure)?|score|guarantee\w*)\b",
    re.IGNORECASE,
)


def all_texts(page: View) -> Iterator[str]:
    """Every sentence of a report."""
    yield from (text for pair in page.cautions for text in pair)
    yield from page.rule
    for sample in page.samples:
        for answer in sample.answers:
            yield answer.statement
            yield from (text for _, text in answer.numbers)
        for judgement in judgements(page):
            yield from (text for pair in judgement.reasons for text in pair)


def judgements(page: View) -> Iterator[Judgement]:
    for sample in page.samples:
        for answer in sample.answers:
            yield from answer.judgements
        yield sample.substrate
        yield from sample.residues


# Mass standard of JCGM 100:2008, 7.2.2: y = 100.02147 g, u = 0.35 mg; U = 0.79 mg.
@pytest.mark.parametrize(
    ("uncertainty", "places"), [(0.00035, 5), (0.00079, 5), (10.47, 0), (0.0996, 2), (1.0, 1), (123.0, -1)]
)
def test_two_significant_digits_of_the_uncertainty(uncertainty: float, places: int) -> None:
    assert numerals.places(uncertainty) == places


@pytest.mark.parametrize(
    ("value", "low", "high", "written"),
    [
        # y = 10.05762 ohm with u = 27 milliohm is 10.058 ohm (JCGM 100:2008, 7.2.6)
        (10.05762, 10.05762 - 0.027, 10.05762 + 0.027, "10.058 ohm (10.031 to 10.085 ohm)"),
        (100.02147, 100.02147 - 0.00079, 100.02147 + 0.00079, "100.02147 ohm (100.02068 to 100.02226 ohm)"),
        (1234.0, 1000.0, 1468.0, "1230 ohm (1000 to 1470 ohm)"),
        (0.0, -0.01, 0.01, "0.000 ohm (-0.010 to 0.010 ohm)"),
    ],
)
def test_an_interval_rounds_its_value(value: float, low: float, high: float, written: str) -> None:
    assert numerals.with_interval(value, low, high, "ohm") == written


def test_a_number_without_an_interval_says_so() -> None:
    assert "interval not determined" in numerals.with_interval(0.4, None, 1.0, "cm-1")
    assert "interval not determined" in numerals.with_interval(0.4, 1.0, 1.0, "cm-1")
    for nothing in (None, math.nan, math.inf):
        assert numerals.with_interval(nothing, 0.0, 1.0) == numerals.MISSING
        assert numerals.position(nothing, 1.0) == numerals.MISSING
        assert numerals.limit(nothing) == numerals.MISSING


@given(st.floats(-1e5, 1e5), st.floats(1e-6, 1e4))
def test_rounding_moves_a_value_by_less_than_a_tenth_of_its_uncertainty(value: float, half: float) -> None:
    written = numerals.with_interval(value, value - half, value + half).split(" ")[0]
    assert abs(float(written) - value) <= 0.0501 * half + 1e-9 * abs(value)


@given(st.floats(1e-12, 1.0))
def test_a_probability_is_never_written_as_zero(value: float) -> None:
    written = numerals.probability(value)
    assert written == "below 0.0001" if value < 1e-4 else float(written) > 0


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


def test_every_cannot_tell_carries_a_remedy() -> None:
    found = [item for item in judgements(view(fakes.verification())) if item.word == CANNOT_TELL]
    assert len(found) >= 6
    assert all(any(cure for _, cure in item.reasons) for item in found)


def test_a_cannot_tell_without_a_known_reason_still_carries_a_remedy() -> None:
    sample = fakes.doubtful_sample()
    odd = fakes.presence("cannot tell", Reason("unheard_of"), amount=None)
    changed = fakes.with_presence(sample, odd)
    first = next(judgements(view(fakes.verification(changed))))
    assert first.word == CANNOT_TELL
    assert [cure for _, cure in first.reasons if cure]


def test_a_remedy_the_decision_names_stands_alone() -> None:
    odd = fakes.presence(
        "cannot tell", Reason("too-few-bare", {"needed": 2}), remedies=(Reason("measure-bare-spots"),)
    )
    first = next(judgements(view(fakes.verification(fakes.with_presence(fakes.silent_sample(), odd)))))
    assert [cure for _, cure in first.reasons if cure] == [REMEDIES["measure-bare-spots"]]


def test_nothing_claims_more_than_the_data() -> None:
    texts = [
        *all_texts(view(fakes.verification())),
        *(sentence(Reason(code, values)) for code, values in SAMPLES.items()),
        *REMEDIES.values(),
    ]
    assert len(texts) > 60
    assert [text for text in texts if FORBIDDEN.search(text)] == []
    assert FORBIDDEN.search("This confirms a uniform coating.")  # the guard can fail


def statement_of(sample: SampleFinding) -> str:
    return view(fakes.verification(sample)).samples[0].answers[0].statement


def test_the_statement_of_a_present_coating_names_bands_interval_and_scope() -> None:
    text = statement_of(fakes.good_sample())
    assert "6 spots on 2 coated specimens" in text
    assert "bare substrate (5 spots on 5 specimens)" in text
    assert "Of 3 unmasked bands, those at 1655 and 1549 cm-1 were found each by itself (Holm)" in text
    assert "above its critical value of 0.0046 (neat = 1), one-sided, alpha = 0.01" in text
    assert "consistent with gelatin and exceed what bare spots show" in text
    assert (
        "0.0210 (0.0152 to 0.0268) of the neat spectrum (95 % interval), as a film 31.4 nm (22.0 to 41.0 nm)"
        in text
    )
    assert "above zero in 1 of 2 specimens" in text
    assert "coverage between them, adhesion, dose and efficacy are not shown" in text


def test_the_statement_of_a_changed_coating_names_the_change() -> None:
    text = statement_of(fakes.changed_sample())
    assert "shifted by -13.8 cm-1 (-16.1 to -11.5 cm-1)" in text
    assert "1549 cm-1 was not found" in text


def test_the_statement_keeps_no_reserve_back() -> None:
    text = statement_of(fakes.changed_sample())
    assert "No bare spot shows what the sample does at 1700 to 1728 cm-1" in text
    assert "Not explained: bands at 1713 and 1165 cm-1." in text
    assert "Residue acetic acid: cannot tell. Only one band, at 1713 cm-1" in text
    assert "Residue acetic acid: not shown." in statement_of(fakes.good_sample())
    many = replace(fakes.changed_sample(), unexplained_more=7)
    assert "1713 and 1165 cm-1 and 7 more." in statement_of(many)


def test_the_statement_of_an_absent_coating_gives_the_limit_and_no_amount() -> None:
    text = statement_of(fakes.silent_sample())
    assert "not shown. The detectable amount, found with a probability of 95 %, is 0.0093" in text
    assert "consistent with" not in text
    assert "The amount was" not in text


def test_the_statement_of_an_undecided_coating_decides_nothing() -> None:
    text = statement_of(fakes.doubtful_sample())
    assert "could not be decided" in text
    assert "1000 to 1100 cm-1" in text
    assert "consistent with" not in text


def test_cautions_name_their_standards() -> None:
    text = " ".join(part for pair in phrases.CAUTIONS for part in pair)
    for needed in (
        "ISO 10993-1",
        "(EU) No 10/2011",
        "coverage of every point",
        "adhesion",
        "sterility",
        "dose",
    ):
        assert needed in text
    assert "biocompatibility" in text
    assert "safety data sheet and licensed practice" in text


def test_sources_are_numbered_and_recalled_rows_marked() -> None:
    page = view(fakes.verification(fakes.good_sample()))
    cells = [row[-1] for row in page.samples[0].answers[0].tables[0].rows]
    assert cells == ["[1]", "[1]", "[1], recalled, source not read", "-"]
    assert page.sources.rows == (("[1]", "invented2026"),)


def test_faults_are_listed_once_with_every_spectrum_they_touch() -> None:
    page = view(fakes.verification())
    assert page.warnings == 1
    assert page.faults.rows[0][:2] == ("warning", "bare/bare_1.csv")
    assumed = page.inputs[0].rows[0]
    assert assumed[2].startswith("all 5 of bare, all 6 of coated aqueous")


def test_every_setting_is_shown_with_reason_and_origin() -> None:
    page = view(fakes.verification())
    rows = {row[0]: row for table in page.settings for row in table.rows}
    assert rows["margin"][1] == "4 cm-1"
    assert re.match(r"\d+ to \d+(, \d+ to \d+)* cm-1$", rows["leave_out"][1])
    assert all(row[2] == "default" for row in rows.values())
    assert [row for row in rows.values() if not row[3]] == []


def formats_numbers(source: str) -> list[int]:
    """Lines with a format of decimals in them, where only the view may round."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.FormattedValue)
        and node.format_spec is not None
        and re.search(r"[.\d]*[efg%]", ast.unparse(node.format_spec).split("'")[1])
    ]


def test_only_the_view_rounds() -> None:
    others = [path for path in (PACKAGE / "report").glob("*.py") if path.name not in VIEW_MODULES]
    assert len(others) >= 6
    assert {path.name: lines for path in others if (lines := formats_numbers(path.read_text()))} == {
        "figures.py": formats_numbers((PACKAGE / "report" / "figures.py").read_text())  # a round scale bar
    }
    assert formats_numbers('x = f"{value:.3f} cm-1"') == [1]  # the guard can fail
