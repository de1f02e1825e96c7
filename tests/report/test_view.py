"""Words of the report: what they must say, what they must never say; the rules of wording are our own."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import spectra
from spectra.findings import CANNOT_TELL, Reason
from spectra.report.view import Judgement, View, view
from spectra.report.words import statement as phrases
from spectra.report.words.reasons import sentence
from spectra.report.words.remedies import REMEDIES
from spectra.verification.result import SampleFinding
from tests import fakes
from tests.report.words.test_reasons import SAMPLES

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
    others = [
        path
        for path in (PACKAGE / "report").rglob("*.py")
        if path.parent.name not in ("words", "tables") and path.name not in VIEW_MODULES
    ]
    assert len(others) >= 6
    assert {path.name: lines for path in others if (lines := formats_numbers(path.read_text()))} == {
        "overlay.py": formats_numbers(
            (PACKAGE / "report" / "figures" / "overlay.py").read_text()
        )  # a round scale bar
    }
    assert formats_numbers('x = f"{value:.3f} cm-1"') == [1]  # the guard can fail
