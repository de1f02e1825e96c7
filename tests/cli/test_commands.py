"""The command as its user meets it: what it prints, what it writes, how it ends."""

import json
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from spectra.cli.commands import main
from spectra.study.loading import load_study
from spectra.verification.verify import verify
from tests.places import ROOT
from tests.studies import everything_in, spectrum_text, write_spectra, write_study

ROLES = ("bare", "neat", "coated")
COMMANDS = ("bands", "figure", "look", "new", "overlay", "page", "plan", "report", "verify")


@pytest.fixture
def study(tmp_path):
    return write_study(tmp_path / "gauze")


@pytest.fixture
def gauze(tmp_path, monkeypatch):
    """A working folder with spectra and no study file."""
    monkeypatch.chdir(write_spectra(tmp_path))
    return tmp_path


@pytest.fixture(scope="module")
def real(tmp_path_factory):
    """One real run of the main job: the study and what the command gave."""
    study = write_study(tmp_path_factory.mktemp("real") / "gauze")
    return study, coatproof("verify", study, "--date", "2026-01-31")


@pytest.fixture(scope="module")
def judged(real):
    """The verification behind that run."""
    return verify(load_study(real[0]))


@pytest.fixture
def known(judged, monkeypatch):
    """The chain's result without running the chain again: for tests of what is done with it."""
    monkeypatch.setattr("spectra.verification.verify.verify", lambda *_: judged)


def coatproof(*words):
    return CliRunner().invoke(main, [str(word) for word in words], prog_name="coatproof")


def fault(result):
    """The one message of a call that was refused."""
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert result.stderr.startswith("coatproof: ")
    assert "Traceback" not in result.stderr
    return result.stderr.removeprefix("coatproof: ").strip()


# -- verify ------------------------------------------------------------------------------------------


def test_verify_prints_the_verdicts_and_writes_the_report_beside_the_study(real):
    study, result = real
    assert result.exit_code in {0, 1}, result.output
    assert "PRESENT" in result.stdout, "the small study is worth testing with"
    folder = study.with_name("study_report")
    assert result.stdout.endswith(f"Report: {folder / 'report.html'}\n")
    assert {"report.html", "result.json"} <= everything_in(folder)
    assert not [name for name in everything_in(study.parent) if ".part" in name]


def verdicts_in(record):
    return {
        (coating["presence"]["verdict"], coating["chemistry"]["verdict"])
        for sample in record["samples"].values()
        for coating in sample["coatings"].values()
    }


def test_the_exit_status_says_what_the_record_says(real):
    """0 only if every expected coating is present and unchanged, read from result.json itself."""
    study, result = real
    record = json.loads((study.with_name("study_report") / "result.json").read_text(encoding="utf-8"))
    assert len(verdicts_in(record)) == 1
    assert result.exit_code == (0 if verdicts_in(record) == {("present", "unchanged")} else 1)


@pytest.mark.parametrize(("all_shown", "status"), [(True, 0), (False, 1)])
def test_both_statuses_can_be_reached(study, judged, monkeypatch, all_shown, status):
    monkeypatch.setattr("spectra.verification.verify.verify", lambda *_: judged)
    monkeypatch.setattr(type(judged), "all_shown", property(lambda _: all_shown))
    assert coatproof("verify", study).exit_code == status


def test_uncoated_samples_end_with_one(study):
    for spot in range(20, 23):
        (study.parent / "coated" / f"coated_{spot}.csv").write_text(spectrum_text(0.0, 1.0, spot), "utf-8")
    result = coatproof("verify", study)
    assert result.exit_code == 1, result.output
    assert "NOT SHOWN" in result.stdout or "CANNOT TELL" in result.stdout


@pytest.mark.usefixtures("known")
def test_a_second_run_needs_a_new_place_or_force(study, tmp_path):
    assert coatproof("verify", study).exit_code in {0, 1}
    folder = study.with_name("study_report")
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    (folder / "report.html").write_text("old", encoding="utf-8")
    told = fault(coatproof("verify", study))
    assert "study_report: this folder is there and not empty; choose another place with --out" in told
    assert (folder / "report.html").read_text(encoding="utf-8") == "old"
    assert coatproof("verify", study, "--out", tmp_path / "new").exit_code in {0, 1}
    assert (tmp_path / "new" / "report.html").is_file()
    assert coatproof("verify", study, "--force").exit_code in {0, 1}
    assert (folder / "report.html").read_text(encoding="utf-8") != "old"
    assert (folder / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_the_same_inputs_and_date_give_the_same_bytes(real, tmp_path):
    study, _ = real
    one, two = study.with_name("study_report"), tmp_path / "two"
    assert coatproof("verify", study, "--out", two, "--date", "2026-01-31").exit_code in {0, 1}
    assert everything_in(one) == everything_in(two)
    assert len(everything_in(one)) >= 3
    for name in (each for each in everything_in(one) if (one / each).is_file()):
        assert (one / name).read_bytes() == (two / name).read_bytes(), name
    assert "2026" in (one / "report.html").read_text(encoding="utf-8")


def test_without_a_study_file_the_verdicts_are_the_same(real, gauze):
    files = [word for role in ROLES for word in (f"--{role}", *sorted(Path(role).iterdir()))]
    where = ("--technique", "ATR", "--crystal", "diamond", "--angle-deg", 45, "--coating", "gelatin")
    result = coatproof("verify", *files, *where, "--quiet")
    assert (result.exit_code, result.stderr) == (real[1].exit_code, "")
    one = json.loads((real[0].with_name("study_report") / "result.json").read_text(encoding="utf-8"))
    two = json.loads((gauze / "coatproof_report" / "result.json").read_text(encoding="utf-8"))
    assert verdicts_in(one) == verdicts_in(two)
    assert [item["sha256"] for item in one["inputs"]] == [item["sha256"] for item in two["inputs"]]
    presence = one["samples"]["aqueous"]["coatings"]["gelatin"]["presence"]
    assert presence["amount"] == two["samples"]["coated"]["coatings"]["gelatin"]["presence"]["amount"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["verify"], "nothing to judge; name a study file, or all of --bare F... --neat F... --coated F..."),
        (["verify", "--bare", "a.csv"], "--neat and --coated missing, or all of --bare"),
        (
            ["verify", "s.toml", "--bare", "a.csv"],
            "s.toml and --bare are both given; name a study file or the files",
        ),
        (["verify", "s.toml", "--technique", "ATR"], "s.toml and --technique are both given"),
        (
            ["verify", "--bare", "--neat", "a"],
            "--bare needs at least one file, as in --bare a.csv b.csv; see coatproof verify",
        ),
        (
            ["verify", "s.toml", "t.toml"],
            "Got unexpected extra argument (t.toml); see coatproof verify --help",
        ),
        (["verify", "s.toml", "--date", "31.1.2026"], "Invalid value for '--date'"),
        (["verify", "--angle-deg", "steep"], "Invalid value for '--angle-deg'"),
        (
            ["verify", "s.toml", "--ouut", "x"],
            "No such option '--ouut'",
        ),
        (["verifi", "s.toml"], "No such command 'verifi'"),
        (["look"], "Missing argument 'FILE...'"),
        (["new"], "Missing argument 'FOLDER'"),
        (["overlay"], "nothing to judge; name a study file"),
    ],
)
def test_a_call_that_cannot_work_is_told_in_one_line(words, expected):
    told = fault(coatproof(*words))
    assert expected in told
    assert "\n" not in told


def test_bad_option_values_are_told_together(gauze):
    told = fault(
        coatproof(
            *(
                "verify",
                "--bare",
                "bare/bare_1.csv",
                "--neat",
                "neat/neat_10.csv",
                "--coated",
                "coated/coated_20.csv",
            ),
            *("--technique", "atrr", "--crystal", "Gee", "--angle-deg", "95"),
        )
    )
    assert "--technique: unknown technique 'atrr'; did you mean 'ATR'?" in told
    assert "--crystal: unknown crystal 'Gee'" in told
    assert "--angle-deg: found 95.0 degrees; expected 20" in told
    assert not (gauze / "coatproof_report").exists()


def test_the_place_is_checked_before_the_work_is_done(study, monkeypatch):
    monkeypatch.setattr(
        "spectra.verification.verify.verify", lambda *_: pytest.fail("the work must not begin")
    )
    inside = study / "a" / "b"
    assert "is a file, not a folder" in fault(coatproof("verify", study, "--out", inside))


# -- how a run ends ----------------------------------------------------------------------------------


@pytest.mark.usefixtures("known")
@pytest.mark.parametrize("where", ["spectra.verification.verify.verify", "spectra.report.write_report"])
def test_a_run_stopped_by_the_user_ends_with_130_and_leaves_nothing(study, monkeypatch, where):
    def stop(*_, **__):
        raise KeyboardInterrupt

    before = everything_in(study.parent)
    monkeypatch.setattr(where, stop)
    result = coatproof("verify", study)
    assert (result.exit_code, result.stderr.strip()) == (130, "coatproof: stopped; nothing was written")
    assert everything_in(study.parent) == before


@pytest.mark.usefixtures("known")
def test_a_fault_of_the_program_is_not_mistaken_for_a_verdict(study, monkeypatch):
    def break_down(*_, **__):
        raise ZeroDivisionError("inside")

    monkeypatch.setattr("spectra.report.write_report", break_down)
    result = coatproof("verify", study)
    assert result.exit_code == 3
    assert "ZeroDivisionError: inside" in result.stderr
    assert "a fault of coatproof, not of your files" in result.stderr.splitlines()[-1]
    assert not study.with_name("study_report").exists()


@pytest.mark.usefixtures("gauze")
def test_a_file_the_system_refuses_is_told_by_name(study):
    long = study.with_name("x" * 300)
    assert f"{long}: " in fault(coatproof("verify", study, "--out", long))
    assert f"{long}: " in fault(coatproof("verify", long))


def test_the_signal_to_end_means_again_what_it_meant_before():
    before = signal.getsignal(signal.SIGTERM)
    coatproof("look", "bare/bare_0.csv")
    assert signal.getsignal(signal.SIGTERM) is before


@pytest.mark.usefixtures("gauze")
def test_a_command_runs_in_a_thread_too():
    with ThreadPoolExecutor() as pool:
        assert pool.submit(coatproof, "look", "bare/bare_0.csv").result().exit_code == 0


@pytest.mark.usefixtures("known")
def test_a_full_disk_is_told_and_leaves_nothing(study, monkeypatch):
    def refuse(*_, **__):
        raise OSError(28, "No space left on device")

    before = everything_in(study.parent)
    monkeypatch.setattr("pathlib.Path.write_bytes", refuse)
    told = fault(coatproof("verify", study))
    assert "No space left on device" in told
    assert str(study.with_name("study_report")) in told, "the place asked for, not the draft"
    assert everything_in(study.parent) == before


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_a_process_that_is_stopped_leaves_nothing(study, how):
    """A real process, stopped while it writes: the report writer waits in the draft folder."""
    code = (
        "import time, spectra.report, spectra.verification.verify\n"
        "spectra.verification.verify.verify = lambda *_: None\n"
        "def slow(verification, folder, date):\n"
        "    (folder / 'report.html').write_text('half')\n"
        "    print('writing', flush=True)\n"
        "    time.sleep(60)\n"
        "spectra.report.write_report = slow\n"
        f"from spectra.cli.commands import main\nmain(['verify', {str(study)!r}], prog_name='coatproof')\n"
    )
    before = everything_in(study.parent)
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout.readline() == "writing\n"
    assert len(everything_in(study.parent)) > len(before), "the draft is there"
    time.sleep(0.2)
    process.send_signal(how)
    _, told = process.communicate(timeout=30)
    assert process.returncode == 130
    assert told.strip().endswith("coatproof: stopped; nothing was written")
    assert everything_in(study.parent) == before


# -- the other commands ------------------------------------------------------------------------------


def test_look_says_what_was_read_and_goes_on_after_a_bad_file(gauze):
    (gauze / "empty.csv").write_text("", encoding="utf-8")
    result = coatproof("look", "bare/bare_0.csv", "empty.csv", "neat/neat_10.csv")
    assert result.exit_code == 2
    assert result.stdout.index("bare_0.csv") < result.stdout.index("neat_10.csv")
    assert "cm-1" in result.stdout
    assert "absorbance" in result.stdout
    assert result.stderr.count("coatproof: ") == 1
    assert "empty.csv" in result.stderr
    assert coatproof("look", "bare/bare_0.csv").exit_code == 0


def test_new_writes_a_study_that_verify_takes(gauze):
    result = coatproof("new", gauze)
    assert result.exit_code == 0
    assert f"Study file: {gauze / 'study.toml'}" in result.stdout
    assert len(load_study(gauze / "study.toml").substrate.specimens) == 5
    assert "this file is there already" in fault(coatproof("new", gauze))
    assert coatproof("new", gauze, "--force").exit_code == 0


def test_new_refuses_a_folder_that_is_not_there(tmp_path):
    assert "nowhere: no such folder" in fault(coatproof("new", tmp_path / "nowhere"))


@pytest.mark.usefixtures("known")
@pytest.mark.parametrize(("name", "first"), [("a.svg", b"<?xml"), ("a.png", b"\x89PNG")])
def test_overlay_writes_one_figure_in_the_format_its_name_says(study, name, first):
    target = study.with_name(name)
    result = coatproof("overlay", study, "--out", target)
    assert result.exit_code == 0, result.output
    assert target.read_bytes().startswith(first)
    assert "this file is there already" in fault(coatproof("overlay", study, "--out", target))


@pytest.mark.usefixtures("known")
def test_overlay_stands_beside_the_study_and_refuses_other_formats(study):
    assert coatproof("overlay", study).exit_code == 0
    assert study.with_name("study_overlay.svg").is_file()
    assert "a figure is written as .svg or .pdf or .png" in fault(
        coatproof("overlay", study, "--out", study.with_name("a.docx"))
    )


def test_overlay_can_be_corrected_for_display(study):
    for quantity, words in (("k", b"absorption index k"), ("depth", b"depth-scaled absorbance")):
        target = study.with_name(f"{quantity}.svg")
        result = coatproof("overlay", study, "--as", quantity, "--out", target)
        assert result.exit_code == 0, result.output
        drawn = target.read_bytes()
        assert words in drawn
        assert b"left as measured: " in drawn


def test_plan_needs_no_samples(study):
    text = study.read_text(encoding="utf-8")
    study.write_text(text[: text.index("[samples")], encoding="utf-8")
    told = coatproof("plan", study, "--specimens", 4)
    assert told.exit_code == 0, told.output
    assert "4 coated specimens: detectable" in told.stdout
    assert json.loads(coatproof("plan", study, "--json").stdout)["coatings"]
    assert "expected 1 to 1000" in fault(coatproof("plan", study, "--spots", 0))


def test_bands_searches_the_tables(tmp_path):
    """Amide I of proteins near 1650 cm-1 is in every textbook of the field; from memory."""
    assert "amide I" in coatproof("bands", "1650").stdout
    assert "amide I" in coatproof("bands", "gelatin").stdout
    assert "amide I" in coatproof("bands", "amide", "I").stdout
    rows = json.loads(coatproof("bands", "gelatin", "--json").stdout)["rows"]
    assert len(coatproof("bands", "gelatin", "--csv").stdout.splitlines()) == len(rows) + 1
    pair = coatproof("bands", "--coating", "gelatin", "--substrate", "polycaprolactone")
    assert (pair.exit_code, "gelatin" in pair.stdout) == (0, True)
    assert coatproof("bands").stdout.count("\n") > 50
    assert "gelatin" in fault(coatproof("bands", "gelatyn"))
    assert "a pair needs both" in fault(coatproof("bands", "--coating", "gelatin"))
    assert "own.csv" in fault(coatproof("bands", "1650", "--table", tmp_path / "own.csv"))


# -- help --------------------------------------------------------------------------------------------


def test_every_command_has_help_with_an_example():
    assert tuple(sorted(main.commands)) == COMMANDS
    for name, command in main.commands.items():
        told = coatproof(name, "--help").stdout
        assert f"coatproof {name} " in told.split("Example", 1)[1], name
        assert command.get_short_help_str(200).endswith("."), name
        options = [item for item in command.params if isinstance(item, click.Option)]
        assert all(option.help for option in options), name


def test_the_bare_name_shows_the_help():
    result = coatproof()
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Usage: coatproof")


def test_the_version_is_that_of_the_distribution():
    result = coatproof("--version")
    assert result.exit_code == 0
    assert result.stdout.startswith("coatproof ")


def test_the_module_is_the_command(study, real):
    done = subprocess.run(
        [sys.executable, "-m", "spectra", "verify", study, "--quiet"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env=os.environ | {"OMP_NUM_THREADS": "1"},
        check=False,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (real[1].exit_code, "")
    assert "Report: " in done.stdout
