"""The page without a browser: forms, versions, files, lines, and the report's bytes beside the command's."""

import datetime
import io
import json
import subprocess
import sys
import time
import zipfile

import pytest
from starlette.testclient import TestClient

from spectra.page.application import make_application
from spectra.page.desk import Desk
from spectra.page.guard import Guard, Keys
from spectra.page.settings import PageSettings
from spectra.page.watching import watch
from tests.studies import write_spectra, write_study

DAY = datetime.date(2026, 1, 2)
KEYS = Keys(8321, "token")
HOST = "127.0.0.1:8321"
JSON = {"accept": "application/json"}


def open_page(folder, end=lambda: None):
    """A client of the page of a folder, known to it, in a running application."""

    def make():
        # The desk belongs to the loop it works in: it is made inside.
        async def application(scope, receive, send):
            if "made" not in kept:
                desk = Desk(folder, PageSettings(still_s=0.05), lambda: DAY)
                kept["made"] = make_application(desk, lambda: watch(desk), end)
                kept["desk"] = desk
            await kept["made"](scope, receive, send)

        return Guard(application, KEYS)

    kept = {}
    client = TestClient(make(), base_url=f"http://{HOST}", follow_redirects=False)
    client.headers["origin"] = f"http://{HOST}"
    client.cookies.set(KEYS.cookie, KEYS.token)
    return client


@pytest.fixture
def client(tmp_path):
    write_spectra(tmp_path)
    with open_page(tmp_path) as page:
        wait_for(page, "0 still", lambda text: "still to be read" not in text and "bare_0" in text)
        yield page


def wait_for(page, what, condition, seconds=150.0):
    """Ask for the page until it satisfies a condition."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        text = page.get("/").text
        if condition(text):
            return text
        time.sleep(0.05)
    raise AssertionError(f"never came: {what}")


def version(page):
    return page.get("/parts", params={"since": 0}).json()["version"]


def post(page, where, words, status=200):
    answer = page.post(where, data={"version": version(page), **words}, headers=JSON)
    assert answer.status_code == status, answer.text[:500]
    return answer.json()


def test_the_first_page_shows_files_guesses_and_what_is_missing(client):
    text = client.get("/").text
    assert text.count("<li id=") == 10
    assert text.count("guessed from its name") == 10
    assert "placed by name alone" in text


def test_every_file_shows_what_was_read(client):
    assert client.get("/").text.count("points: 800") == 10


def test_kept_guesses_are_the_study_that_the_command_would_write(client, tmp_path):
    from spectra.study.starter import starter_study

    expected = starter_study(tmp_path, tmp_path)
    post(client, "/guesses", {})
    assert (tmp_path / "study.toml").read_text(encoding="utf-8") == expected


def test_without_javascript_a_form_leads_back_to_the_page(client):
    answer = client.post("/guesses", data={"version": version(client)})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"


def test_without_javascript_a_refusal_is_the_page_with_a_notice(client):
    answer = client.post("/places", data={"version": version(client), "role": "bare"})
    assert answer.status_code == 422
    assert "no file is marked" in answer.text
    assert "<h2" in answer.text


def test_many_files_are_changed_at_once(client, tmp_path):
    files = [f"bare/bare_{i}.csv" for i in range(4)]
    words = {"file": files, "role": "coated", "group": "mist", "pieces": "own"}
    news = post(client, "/places", words)
    assert sum("coated sample <b>mist</b>" in html for html in news["parts"].values()) == 4
    assert 'spectra = ["bare/bare_0.csv", ' in (tmp_path / "study.toml").read_text(encoding="utf-8")


def test_only_listed_files_are_written_into_the_study(client, tmp_path):
    words = {"file": ["../secret.csv", "/etc/passwd", "bare/bare_0.csv"], "role": "bare", "pieces": "own"}
    post(client, "/places", words)
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    assert "secret" not in text
    assert "passwd" not in text


def test_two_windows_do_not_lose_an_edit(client, tmp_path):
    old = version(client)
    post(client, "/measured", {'["technique"]': "ATR"})
    late = client.post("/measured", data={"version": old, '["title"]': "late"}, headers=JSON)
    assert late.status_code == 409
    assert "changed meanwhile" in late.json()["notice"]
    text = (tmp_path / "study.toml").read_text(encoding="utf-8")
    assert 'technique = "ATR"' in text
    assert "late" not in text
    assert late.json()["version"] == version(client)  # the window now knows the study as it is


def test_an_edit_by_hand_is_not_lost_either(client, tmp_path):
    old = version(client)
    (tmp_path / "study.toml").write_text('title = "by hand"\n', encoding="utf-8")
    late = client.post("/measured", data={"version": old, '["title"]': "late"}, headers=JSON)
    assert late.status_code == 409
    assert (tmp_path / "study.toml").read_text(encoding="utf-8") == 'title = "by hand"\n'


def test_questions_that_are_not_asked_are_not_answered(client, tmp_path):
    post(client, "/measured", {'["settings","alpha"]': "0.5", '["technique"]': "ATR"})
    assert "alpha" not in (tmp_path / "study.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("word", ["many", "1e999", "nan", "--4"])
def test_a_word_where_a_number_belongs_is_told(client, word):
    news = post(client, "/measured", {'["instrument", "angle_deg"]': word}, status=422)
    assert "expected a number" in news["notice"]


def test_mistakes_of_the_study_are_told_in_its_own_words(client):
    post(client, "/guesses", {})
    post(client, "/measured", {'["instrument", "angle_deg"]': "120"})
    text = wait_for(client, "the mistake", lambda text: "study.toml line" in text)
    assert "found 120.0 degrees; expected 20.0 to 85.0 degrees" in text


def test_names_are_escaped(tmp_path):
    write_spectra(tmp_path)
    evil = "<script>alert(1)</script>"
    (tmp_path / f"bare/{evil.replace('/', '∕')}.csv").write_bytes((tmp_path / "bare/bare_0.csv").read_bytes())
    (tmp_path / "study.toml").write_text(
        f"title = '{evil}'\n[samples.'{evil}']\nspectra = []\n", encoding="utf-8"
    )
    with open_page(tmp_path) as page:
        text = wait_for(page, "the file", lambda text: "alert(1)" in text)
        assert "<script>alert" not in text


def test_a_broken_study_is_told_and_not_touched(tmp_path):
    write_spectra(tmp_path)
    (tmp_path / "study.toml").write_text("title = \n", encoding="utf-8")
    with open_page(tmp_path) as page:
        text = wait_for(page, "the problem", lambda text: "cannot be read" in text)
        assert "correct it by hand" in text
        post(page, "/measured", {'["technique"]': "ATR"}, status=409)
    assert (tmp_path / "study.toml").read_text(encoding="utf-8") == "title = \n"


def test_files_are_added_and_refused_each_by_itself(client, tmp_path):
    files = [
        ("file", ("bare_9.csv", b"cm-1,absorbance\n400,0\n", "text/csv")),
        ("file", ("bare_9.csv", b"other", "text/csv")),
        ("file", ("../up.csv", b"x", "text/csv")),
        ("file", ("program.exe", b"x", "text/csv")),
    ]
    answer = client.post("/files", files=files, headers=JSON)
    assert answer.status_code == 422
    assert "in the folder already" in answer.json()["notice"]
    assert "not the name of a file with spectra" in answer.json()["notice"]
    assert (tmp_path / "bare_9.csv").read_bytes().startswith(b"cm-1")
    assert not (tmp_path.parent / "up.csv").exists()
    wait_for(client, "the new file", lambda text: "bare_9.csv" in text)


def test_a_body_that_is_too_long_is_not_taken_in(client):
    answer = client.post("/places", content=b"x", headers={**JSON, "content-length": "999999999"})
    assert answer.status_code == 422
    assert "MB at once" in answer.json()["notice"]


PATHS = [
    "/result/../study.toml", "/result/..%2fstudy.toml", "/result/%2e%2e/%2e%2e/etc/passwd",
    "/result//etc/passwd", "/static/../page/guard.py", "/static/..%2fguard.py", "/static/guard.py",
    "/library/../../x", "/study.toml", "/result/CON", "/result/a%00b", "/.coatproof-page.lock",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_no_path_leads_anywhere(client, path):
    assert client.get(path).status_code in (404, 400)


def test_lines_are_decimated_to_what_can_be_seen(client):
    drawing = client.get("/curves", params={"width": 800, "height": 400}).json()
    assert [group["role"] for group in drawing["groups"]] == ["bare", "coated", "neat"]
    assert sum(group["count"] for group in drawing["groups"]) == 10
    line = drawing["groups"][0]["lines"][0]
    assert len(line["x"]) < 800
    assert line["x"] == sorted(line["x"], reverse=True)
    part = client.get("/curves", params={"low": 1000, "high": 1100}).json()
    assert (part["low"], part["high"]) == (1000.0, 1100.0)
    assert len(part["groups"][0]["lines"][0]["x"]) <= 28  # 25 points in the stretch, one more at either end


@pytest.mark.parametrize("query", ["low=nan&high=inf", "low=5&high=1", "stage=none", "width=-3&height=1e99"])
def test_senseless_stretches_are_answered(client, query):
    assert client.get(f"/curves?{query}").status_code == 200


def test_what_is_near_a_place_has_its_source(client):
    text = client.get("/near", params={"at": "1650"}).text
    assert "amide I" in text
    assert "source" in text
    assert "amide I (" in client.get("/assignments", params={"at": "1650"}).text


def test_verdicts_are_those_of_the_command_to_the_byte(tmp_path, monkeypatch):
    """The same study judged by ``verify`` from the command line and by the page: one ``result.json``."""
    file = write_study(tmp_path)
    command = [sys.executable, "-m", "spectra", "verify", str(file)]
    # In a process of its own, as the page's worker is; the command sets one thread a sum for both.
    for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        monkeypatch.setenv(variable, "1")
    subprocess.run([*command, "--out", str(tmp_path / "by_command"), "--quiet"], check=False, timeout=6000)
    with open_page(tmp_path) as page:
        wait_for(page, "the files", lambda text: "being read" not in text)
        post(page, "/start", {})
        text = wait_for(page, "the verdicts", lambda text: 'class="verdict' in text, 600)
        by_page, by_command = (
            (tmp_path / name / "result.json").read_bytes() for name in ("study_report", "by_command")
        )
        assert by_page == by_command
        found = json.loads(by_command)["samples"]["aqueous"]["coatings"]["gelatin"]["presence"]["verdict"]
        assert f'<strong class="word">{found}</strong>' in text
        with zipfile.ZipFile(io.BytesIO(page.get("/everything.zip").content)) as archive:
            names = set(archive.namelist())
        assert {"study.toml", "study_report/result.json", "bare/bare_0.csv"} <= names
        assert page.get("/result/report.html").headers["content-security-policy"].endswith("sandbox")
        drawing = page.get("/curves", params={"stage": "difference"}).json()
        assert [group["group"] for group in drawing["groups"]] == ["aqueous"]
        (tmp_path / "other.csv").write_text("x", encoding="utf-8")  # not in the study: the verdicts stand
        assert "have changed since" not in wait_for(page, "the file", lambda text: "other.csv" in text)
        (tmp_path / "bare/bare_0.csv").unlink()
        wait_for(page, "that they are old", lambda text: "have changed since" in text)


def test_the_running_answer_comes_by_itself(client):
    post(client, "/guesses", {})
    text = wait_for(client, "the running answer", lambda text: "Detectable now" in text, 300)
    assert "more coated specimens" in text
    flat = client.get("/curves", params={"stage": "flat"}).json()
    assert sum(group["count"] for group in flat["groups"]) == 10


def test_a_stop_stops_and_it_can_be_begun_again(client, tmp_path):
    post(client, "/guesses", {})
    post(client, "/start", {})
    wait_for(client, "the work", lambda text: 'action="/stop"' in text)
    post(client, "/stop", {})
    text = client.get("/").text
    assert 'action="/start"' in text
    assert not (tmp_path / "study_report").exists()
    assert not [path for path in tmp_path.iterdir() if path.name.endswith(".part")]
    post(client, "/start", {})
    wait_for(client, "the verdicts", lambda text: 'class="verdict' in text, 600)


def test_a_file_that_vanishes_is_told(client, tmp_path):
    post(client, "/guesses", {})
    (tmp_path / "neat/neat_10.csv").rename(tmp_path / "gone")
    text = wait_for(
        client, "that it is gone", lambda text: "it is not in the folder" in text or "neat_10" not in text
    )
    assert "Spectra" in text


def test_it_closes(tmp_path):
    closed = []
    write_spectra(tmp_path)
    with open_page(tmp_path, lambda: closed.append(True)) as page:
        assert page.post("/close").status_code == 200
    assert closed == [True]
