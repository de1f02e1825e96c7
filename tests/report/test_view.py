"""Words of the report: what they must say, what they must never say; the rules of wording are our own."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import spectra
from spectra.findings import CANNOT_TELL, Reason, Residue
from spectra.report.judgements import Judgement
from spectra.report.view import View, view
from spectra.report.words.cautions import CAUTIONS
from spectra.report.words.reasons import REASONS, sentence
from spectra.report.words.remedies import ACTIONS
from spectra.spectrum import Fault
from spectra.verification.result import SampleFinding
from tests import fakes
from tests.report.words.test_reasons import SAMPLES

PACKAGE = Path(spectra.__file__).parent
VIEW_MODULES = {"view.py", "judgements.py"}

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
    assert [cure for _, cure in first.reasons if cure] == [ACTIONS["measure-bare-spots"]]


def test_nothing_claims_more_than_the_data() -> None:
    texts = [
        *all_texts(view(fakes.verification())),
        *(sentence(Reason(code, values)) for code, values in SAMPLES.items()),
        *(wording.remedy for wording in REASONS.values()),
        *ACTIONS.values(),
    ]
    assert len(texts) > 60
    assert [text for text in texts if FORBIDDEN.search(text)] == []
    assert FORBIDDEN.search("This confirms a uniform coating.")  # the guard can fail


def statement_of(sample: SampleFinding) -> str:
    return view(fakes.verification(sample)).samples[0].answers[0].statement


def test_the_statement_of_a_present_coating_names_bands_interval_and_scope() -> None:
    text = statement_of(fakes.good_sample())
    for needed in (
        "Sample aqueous (6 spots on 2 coated specimens).",
        "2.10 % (1.52 to 2.68 %) of the neat spectra as measured (95 % confidence interval, n = 2 specimens)",
        "above the decision limit of 0.46 % (one-sided, alpha = 0.01)",
        "Of 3 bands that can be tested alone, amide I 1655 and amide II 1549 cm-1 were significant",
        "An even film holding the same amount would be 31.4 nm (22.0 to 41.0 nm) thick",
        "amide I 1655.40 +/- 0.31 and amide II 1549.40 +/- 0.31 cm-1 (standard errors) lay within +/- 4 cm-1",
        "Fresnel and Kramers-Kronig",
        "coverage between them, adhesion, dose and efficacy are not shown",
    ):
        assert needed in text, needed


def test_the_methods_say_what_was_measured_and_what_was_done_to_which_spectra() -> None:
    text = view(fakes.verification()).procedure
    for needed in (
        (
            "ATR infrared spectra (single reflection; diamond; 45 degrees; 700 to 3550 cm-1, a point each "
            "2.00 cm-1"
        ),
        "4 coated samples, aqueous (6 spots on 2 specimens), ",
        "bare polycaprolactone (5 spots on 5 specimens) and neat gelatin (2 spots on 1 specimen)",
        "by coatproof 0.1.0",
        "decided on the spectra as measured",
        "For the substrate's own bands and the figures the spectra were levelled: baselines by arPLS (Baek",
        "features longer than 1000 cm-1 taken off",
    ):
        assert needed in text, needed
    assert "the same for all spectra" not in text


def test_what_the_study_says_of_the_instrument_stands_in_methods_and_conditions() -> None:
    result = fakes.verification()
    stated = replace(
        result.study.instrument, scans=64, resolution=4.0, background="clean crystal, every hour",
        scale_check="polystyrene film, 2026-01-30, all bands within 0.5 cm-1",
    )  # fmt: skip
    study = replace(result.study, instrument=stated, notes={"operator": "nobody", "lot": "7"})
    page = view(replace(result, study=study))
    for needed in (
        "64 scans; resolution 4 cm-1",
        "background: clean crystal",
        "wavenumber scale: polystyrene",
    ):
        assert needed in page.procedure, needed
    rows = dict(page.conditions.rows)
    assert rows["check of the wavenumber scale"].startswith("polystyrene film")
    assert (rows["operator"], rows["lot"], rows["resolution"]) == ("nobody", "7", "4 cm-1")
    assert rows["not in the study, to be added by hand"] == (
        "apodisation, detector, pressure on the crystal and humidity or drying"
    )
    unsaid = dict(view(result).conditions.rows)["check of the wavenumber scale"]
    assert unsaid.startswith("not checked")


def test_places_of_a_residue_that_are_from_memory_are_said_wherever_it_is() -> None:
    sample = fakes.good_sample()
    residue = replace(sample.residues["acetic acid"], recalled=(1295.0, 1710.0))
    page = view(fakes.verification(replace(sample, residues={"acetic acid": residue})))
    said = "Places from memory, no source read: 1710 and 1295 cm-1."
    assert said in page.samples[0].answers[0].statement
    assert any(said in text for text, _ in page.samples[0].residues[0].reasons)


def test_faults_that_differ_in_their_numbers_only_are_one_row() -> None:
    result = fakes.verification()
    first, second, *rest = result.inputs
    where, cure = "1400 to 1900 cm-1", "Purge longer."
    vapour = [
        Fault("water-vapour", "warning", where, f"water vapour with {size} A at its strongest line", cure)
        for size in ("-0.0026", "+0.0031")
    ]
    inputs = (replace(first, faults=(vapour[0],)), replace(second, faults=(vapour[1],)), *rest)
    table = view(replace(result, inputs=inputs)).faults
    (row,) = [row for row in table.rows if "water vapour" in row[3]]
    assert row[3] == "water vapour with -0.0026 to +0.0031 A at its strongest line"
    assert first.path.rsplit("/", 1)[-1] in row[1]
    assert second.path.rsplit("/", 1)[-1] in row[1]


def test_no_verdict_is_left_out_of_the_statement() -> None:
    """Chemistry is said whatever became of presence."""
    for sample in (
        fakes.good_sample(),
        fakes.changed_sample(),
        fakes.silent_sample(),
        fakes.doubtful_sample(),
    ):
        coating, text = sample.coatings["gelatin"], statement_of(sample)
        words = {"unchanged": "gelatin unchanged", "changed": "The bands of gelatin are changed"}
        assert (
            words.get(coating.chemistry.verdict, "bands of gelatin are unchanged could not be decided")
            in text
        )
        for name in sample.residues:
            assert name in text.casefold()
    open_one = replace(fakes.changed_sample().coatings["gelatin"].presence, verdict="cannot tell")
    assert "are changed" in statement_of(fakes.with_presence(fakes.changed_sample(), open_one))


def test_the_statement_of_a_changed_coating_names_the_change() -> None:
    text = statement_of(fakes.changed_sample())
    assert "Amide I (1655 cm-1) is not where the unchanged material must show it" in text
    assert "-13.8 cm-1 (-16.1 to -11.5 cm-1)" in text
    assert "Amide II (1549 cm-1) was not found" in text


def test_the_statement_keeps_no_reserve_back() -> None:
    text = statement_of(fakes.changed_sample())
    assert "The model leaves more unexplained at 1700 to 1728 cm-1" in text
    assert "Bands at 1713 and 1165 cm-1 were not assigned." in text
    assert (
        "Acetic acid: cannot tell (no detection limit was determined for it). Only one band is "
        "significant: the band at 1713" in text
    )
    assert "Acetic acid: not shown" in statement_of(fakes.good_sample())
    assert "not a toxicological statement" in text
    many = replace(fakes.changed_sample(), unexplained_more=7)
    assert "1713 and 1165 cm-1 and 7 more were not assigned." in statement_of(many)


def test_signs_of_a_residue_are_never_called_present() -> None:
    found = Residue("acetic acid", "present", (Reason("residue-bands", {"positions": (1713.0, 1295.0)}),))
    sample = replace(fakes.good_sample(), residues={"acetic acid": found})
    page = view(fakes.verification(sample))
    assert page.samples[0].residues[0].word == "signs of it"
    assert "acetic acid: signs of it" in page.overview.rows[0]
    assert "Acetic acid: signs of it" in page.samples[0].answers[0].statement
    assert "other causes are not excluded" in page.samples[0].answers[0].statement


def test_the_statement_of_an_absent_coating_gives_the_limit_and_no_amount() -> None:
    text = statement_of(fakes.silent_sample())
    assert (
        "was not shown. An amount of 0.93 % of the neat spectra (detection limit) would have been found"
        in text
    )
    assert "consistent with" not in text
    assert "even film" not in text


def test_the_statement_of_an_undecided_coating_decides_nothing() -> None:
    text = statement_of(fakes.doubtful_sample())
    assert "could not be decided" in text
    assert "1000 to 1100 cm-1" in text
    assert "consistent with" not in text


def test_a_reason_that_every_verdict_rests_on_is_said_once() -> None:
    reason = Reason("too-few-bare", {"needed": 2})
    sample = fakes.doubtful_sample()
    coating = sample.coatings["gelatin"]
    open_one = replace(
        coating,
        presence=replace(coating.presence, reasons=(reason,)),
        chemistry=replace(coating.chemistry, reasons=(reason,)),
    )
    residues = {"acetic acid": Residue("acetic acid", CANNOT_TELL, (reason,))}
    text = statement_of(replace(sample, coatings={"gelatin": open_one}, residues=residues))
    assert text.count(sentence(reason)) == 1
    assert "Whether the bands of gelatin are unchanged could not be decided." in text
    assert "Acetic acid: cannot tell" in text


def test_no_length_is_negative() -> None:
    """A mean thickness that is not told from zero is a bound."""
    odd = fakes.presence("not shown", thickness_nm=-0.048, thickness_low_nm=-0.136, thickness_high_nm=0.039)
    numbers = dict(
        view(fakes.verification(fakes.with_presence(fakes.silent_sample(), odd)))
        .samples[0]
        .answers[0]
        .numbers
    )
    assert numbers["mean thickness of an even film (95 % confidence interval)"] == "below 0.039 nm"
    bound = fakes.presence("not shown", thickness_high_nm=0.1)
    page = view(fakes.verification(fakes.with_presence(fakes.silent_sample(), bound)))
    assert "below 0.10 nm" in page.overview.rows[0]


def test_conditions_say_what_the_study_does_not() -> None:
    rows = dict(view(fakes.verification()).conditions.rows)
    assert (rows["technique"], rows["crystal"], rows["angle of incidence"]) == (
        "ATR",
        "diamond",
        "45 degrees",
    )
    assert rows["coated aqueous"] == "specimens: 2, spots: 6"
    assert "resolution" in rows["not in the study, to be added by hand"]


def test_other_inputs_make_another_document() -> None:
    first, other = fakes.verification(), fakes.verification()
    changed = replace(other, inputs=(replace(other.inputs[0], sha256="0" * 64), *other.inputs[1:]))
    assert view(first).document == view(other).document != view(changed).document


def test_cautions_name_their_standards() -> None:
    text = " ".join(part for pair in CAUTIONS for part in pair)
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


def test_sources_are_numbered_and_those_not_read_or_not_known_marked() -> None:
    sample = fakes.good_sample()
    coating = sample.coatings["gelatin"]
    lost = replace(
        coating.bands[0], checked="unidentified", source="[a passage] (read; source not identified)"
    )
    sample = replace(sample, coatings={"gelatin": replace(coating, bands=(lost, *coating.bands[1:]))})
    page = view(fakes.verification(sample))
    table = page.samples[0].answers[0].bands
    assert [row[-1] for row in table.rows] == ["\u2021", "[1]", "[1]\u2020", "-"]
    assert "do not cite it" in table.note
    assert page.sources.rows == (("[1]", "invented2026"),)  # what is not known is no source


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
    found = {path.name: len(lines) for path in others if (lines := formats_numbers(path.read_text()))}
    assert found == {"overlay.py": 1, "differences.py": 1}  # scale bars of round height
    assert formats_numbers('x = f"{value:.3f} cm-1"') == [1]  # the guard can fail
