"""A whole study from its files: control, washing, sides, recipes, a swapped file, a requirement."""

from dataclasses import replace

import numpy as np
import pytest

from spectra.report.record import as_dict
from spectra.report.text import as_text
from spectra.report.view import view
from spectra.study.loading import load_study
from spectra.verification.verify import verify
from tests.scenes import GRID, Scene, film_of, reflection_absorbance, spots

SCENE = Scene("protein", ("polylactide",), noise=1e-4, scatter=0.02, contact=0.02)

STUDY = """\
title = "Invented washing study"
technique = "ATR"
{extra}
[study]
operator = "Nobody (invented)"
[instrument]
index = 2.4
angle_deg = 45
resolution = 4
[substrate]
spectra = ["bare/*.csv"]
contact = 0.8
[coatings.protein]
spectra = ["neat/*.csv"]
contact = 1
[samples.thin]
spectra = ["thin/*.csv"]
[samples.thick]
specimens = {{ a = ["thick/a_*.csv"], b = ["thick/b_*.csv"], c = ["thick/c_*.csv"] }}
side = "front"
[samples.washed]
specimens = {{ a = ["washed/a_*.csv"], b = ["washed/b_*.csv"], c = ["washed/c_*.csv"] }}
after = "thick"
treatment = "three washes in water"
[samples.back]
specimens = {{ a = ["back/a_*.csv"], b = ["back/b_*.csv"], c = ["back/c_*.csv"] }}
side = "back"
[samples.control]
spectra = ["control/*.csv"]
expect = "absent"
[accept]
least_nm = 20
[positions]
file = "positions.csv"
[settings.spikes]
splits = 0
"""


def write(folder, name, row):
    folder.mkdir(exist_ok=True)
    lines = "".join(f"{x:.1f},{y:.7f}\n" for x, y in zip(GRID, row, strict=True))
    (folder / f"{name}.csv").write_text("wavenumber (cm-1),absorbance\n" + lines, encoding="utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Films of known thickness, nm; every file invented."""
    place, rng = tmp_path_factory.mktemp("washing"), np.random.default_rng(8)
    for i, row in enumerate(spots(SCENE, rng, 6)):
        write(place / "bare", f"b{i}", row)
    neat = reflection_absorbance(film_of("protein"), contact=1.0)
    for i in range(3):
        write(place / "neat", f"n{i}", (1 + 0.002 * i) * neat + 1e-5 * rng.normal(size=GRID.size))
    for i, nm in enumerate((9.0, 10.0, 11.0)):
        write(place / "thin", f"t{i}", spots(SCENE, rng, 1, nm)[0])
    table = ["spot,x,y"]
    for piece, nm in zip("abc", (36.0, 40.0, 44.0), strict=True):
        for k in range(3):
            # Twice as much to the right: a trend over position.
            write(place / "thick", f"{piece}_{k}", spots(SCENE, rng, 1, nm * (0.8, 1.0, 1.2)[k])[0])
            table.append(f"thick/{piece}_{k}.csv,{k},0")
            write(place / "washed", f"{piece}_{k}", spots(SCENE, rng, 1, nm * (0.4, 0.5, 0.6)[k])[0])
            write(place / "back", f"{piece}_{k}", spots(SCENE, rng, 1, 5.0)[0])
    for i, row in enumerate(spots(SCENE, rng, 3)):
        write(place / "control", f"k{i}", row)
    (place / "positions.csv").write_text("\n".join(table) + "\n", encoding="utf-8")
    (place / "study.toml").write_text(STUDY.format(extra=""), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return verify(load_study(folder / "study.toml"))


def test_a_clean_control_is_as_expected_and_not_counted_as_missing(found):
    control = found.samples["control"]
    assert control.coatings["protein"].presence.verdict != "present"
    assert (control.expect, control.contaminated, control.requirement) == ("absent", (), None)
    assert "of 4 expected coatings" in view(found).headline


def test_a_contaminated_control_is_in_the_headline_and_the_exit_status(found):
    shown = replace(found.samples["thin"], name="control", expect="absent")
    spoilt = replace(found, samples={**found.samples, "control": shown})
    headline = view(spoilt).headline
    assert "the control control shows" in headline
    assert "contamination, or a step of the process that mimics it" in headline
    assert not replace(spoilt, samples={"control": shown}).all_shown
    assert replace(found, samples={"control": found.samples["control"]}).all_shown


def test_every_specimen_has_its_verdict_and_the_samples_amount_is_their_mean(found):
    for sample in found.samples.values():
        coating = sample.coatings["protein"]
        values = [item.amount for item in coating.specimens.values()]
        assert len(values) == coating.presence.specimens
        assert np.mean(values) == pytest.approx(coating.presence.amount, rel=1e-6)
        listed = {item.specimen: item.amount for item in sample.evenness["protein"]}
        assert listed == {name: item.amount for name, item in coating.specimens.items()}
    assert {item.verdict for item in found.samples["thick"].coatings["protein"].specimens.values()} == {
        "present"
    }


def test_half_is_kept_by_washing(found):
    kept = found.samples["washed"].coatings["protein"].kept
    assert (kept.verdict, kept.pairs) == ("lost", 3)
    # One draw of a 95 % interval may miss by a little; coverage is counted by ``tests.studytrial``.
    assert kept.share_low - 0.02 < 0.5 < kept.share_high + 0.02
    assert kept.share == pytest.approx(0.5, abs=0.06)
    assert found.samples["thick"].coatings["protein"].kept is None


def test_recipes_and_sides_are_compared_and_conditions_and_controls_are_not_recipes(found):
    pairs = {item.found.samples: item.found for item in found.comparisons}
    assert set(pairs) == {("thin", "thick"), ("thick", "back")}
    assert pairs["thin", "thick"].high < 0.0
    assert (pairs["thick", "back"].method, pairs["thin", "thick"].method) == ("paired", "t3")


def test_a_requirement_is_judged_for_every_sample_but_the_control(found):
    verdicts = {n: s.requirement.verdict for n, s in found.samples.items() if s.requirement}
    assert verdicts["thin"] == "does not conform"
    assert verdicts["thick"] in ("conforms", "cannot tell")
    assert "control" not in verdicts


def test_a_trend_over_position_is_found_where_it_is(found):
    (linear,) = [t for t in found.samples["thick"].coatings["protein"].trends if t.kind == "linear"]
    assert linear.p_adjusted < 1e-3
    assert linear.change_low < 0.4 < linear.change_high
    assert found.samples["thin"].coatings["protein"].trends == ()


def test_the_record_holds_what_was_promised(found):
    record = as_dict(found)
    coating = record["samples"]["washed"]["coatings"]["protein"]
    assert set(coating["kept"]) >= {"share", "share_low", "share_high", "verdict"}
    assert set(coating["specimens"]["a"]) >= {
        "verdict", "amount", "amount_low", "amount_high", "thickness_nm", "spots",
    }  # fmt: skip
    assert set(coating["evenness"]) >= {
        "variation", "variation_low", "variation_high", "between_specimens", "within_specimens",
        "populations", "verdict",
    }  # fmt: skip
    assert record["samples"]["control"]["expected"] == "absent"
    assert record["samples"]["thin"]["requirement"]["verdict"] == "does not conform"
    assert set(record["comparisons"][0]) >= {"coating", "samples", "difference", "low", "high"}
    assert record["apart"] == []
    assert record["study"]["notes"] == {"operator": "Nobody (invented)"}
    assert record["study"]["positions"]["thick/a_1.csv"] == [1.0, 0.0]


def test_a_swapped_file_is_named_with_its_cost_and_left_out_only_by_the_user(folder):
    coated = (folder / "thick" / "a_0.csv").read_text(encoding="utf-8")
    (folder / "bare" / "swapped.csv").write_text(
        coated.replace("absorbance", "absorbance "), encoding="utf-8"
    )
    try:
        spoilt = verify(load_study(folder / "study.toml"))
        (item,) = spoilt.apart
        assert (item.role, item.outsider.name, item.outsider.like.kind) == ("bare", "swapped", "coating")
        assert item.detectable_with["protein"] > 20.0 * item.detectable_without["protein"]
        told = {verdict.sample: verdict for verdict in item.verdicts}
        assert told["thin"].differs
        assert told["thin"].presence == spoilt.samples["thin"].coatings["protein"].presence.verdict
        assert "Without it thin protein is present and" in view(spoilt).apart[0]
        text = as_text(spoilt)
        assert "swapped does not belong: holds" in text
        entry = 'leave_out = [{ file = "bare/swapped.csv", reason = "held a coated piece" }]'
        assert 'leave_out = [{ file = "bare/swapped.csv", reason = "..." }]' in " ".join(text.split())
        mended = folder / "mended.toml"
        mended.write_text(STUDY.format(extra=entry), encoding="utf-8")
        result = verify(load_study(mended))
        assert result.apart == ()
        # The second verdict is the one that leaving the file out really gives.
        for name, sample in result.samples.items():
            coating, second = sample.coatings["protein"], told[name]
            assert second.presence_without == coating.presence.verdict
            assert second.chemistry_without == coating.chemistry.verdict
            assert second.amount_without == pytest.approx(coating.presence.amount, rel=1e-6)
        assert view(result).left_out == (
            "Left out by the study: bare/swapped.csv (bare substrate): held a coated piece",
        )
        assert as_dict(result)["study"]["left_out"][0]["path"] == "bare/swapped.csv"
    finally:
        (folder / "bare" / "swapped.csv").unlink()


def test_a_bare_file_among_the_coated_is_named_with_the_verdict_without_it(folder):
    kept = (folder / "thick" / "c_2.csv").read_text(encoding="utf-8")
    bare = (folder / "bare" / "b0.csv").read_text(encoding="utf-8")
    (folder / "thick" / "c_2.csv").write_text(bare.replace("absorbance", "absorbance "), encoding="utf-8")
    try:
        spoilt = verify(load_study(folder / "study.toml"))
    finally:
        (folder / "thick" / "c_2.csv").write_text(kept, encoding="utf-8")
    (item,) = spoilt.apart
    assert (item.role, item.group, item.outsider.name) == ("coated", "thick", "thick/c_2.csv")
    assert (item.outsider.like.kind, item.outsider.like.name) == ("bare", "protein")
    (second,) = item.verdicts
    assert (second.sample, second.presence_without) == ("thick", "present")
    # Eight spots hold what nine are said to hold a ninth part less of, specimen by specimen.
    assert second.amount_without > 1.05 * second.amount
    (line,) = view(spoilt).apart
    assert "In sample thick, thick/c_2.csv does not belong: holds none of the protein that the others" in line
    assert "A piece that the process left bare is a result, not a mistake." in line
    assert as_dict(spoilt)["apart"][0]["verdicts"][0]["presence"] == second.presence


def test_a_film_that_only_became_thinner_has_not_changed(found):
    treatment = found.samples["washed"].treatment
    assert found.samples["thick"].treatment is None
    assert treatment.before == "thick"
    coating = treatment.coatings["protein"]
    assert coating.verdict != "changed"
    judged = [band for band in coating.bands if band.verdict == "unchanged"]
    assert len(judged) >= 2
    for band in judged:
        assert band.shift_low <= band.shift <= band.shift_high
        assert abs(band.ratio - 1.0) < 0.35
    # Half the film: its bands stand elsewhere, and are compared each with its own place.
    assert any(band.expected_before != band.expected_after for band in coating.bands)
    assert treatment.substrate.verdict == "unchanged"
    record = as_dict(found)["samples"]
    assert record["washed"]["treatment"]["coatings"]["protein"]["verdict"] == coating.verdict
    assert record["thick"]["treatment"] is None
    (table,) = [t for t in view(found).beside if t.title == "What the treatments changed"]
    assert [row[1:4] for row in table.rows] == [
        ("thick", "protein", coating.verdict),
        ("thick", "substrate", "unchanged"),
    ]


def test_the_report_shows_all_samples_in_one_table(found):
    table = view(found).beside[0]
    rows = {row[0]: row for row in table.rows}
    assert len(rows) == 5
    washed = rows["washed (three washes in water)"]
    assert any(cell.startswith("lost: ") for cell in washed)
    assert rows["control"][1] == "absent"
