"""A person's way through the page in a real browser: by mouse, by keyboard, and where things go wrong."""

import json
import os
import shutil
import subprocess
import sys
import tomllib

import pytest
from axe_core_python.selenium import Axe
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from tests.page.browser import (
    EXAMPLE,
    ROOT,
    every,
    find,
    flat_example,
    opened,
    served,
    text_of,
    wait_until,
    why_no_browser,
)
from tests.studies import write_spectra, write_study

pytestmark = pytest.mark.skipif(bool(why_no_browser()), reason=why_no_browser() or "a browser is there")


@pytest.fixture(scope="module")
def browser():
    with opened() as driver:
        yield driver


@pytest.fixture
def quiet(browser):
    """The browser, which must have nothing to complain of at the end."""
    browser.get_log("browser")
    yield browser
    said = [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"]
    assert [entry["message"] for entry in said if entry["source"] != "network"] == []


def open_sheet(driver, address):
    driver.get(address)
    wait_until(
        lambda: "js-plotly-plot" in find(driver, "#plot").get_attribute("class") or not every(driver, ".file")
    )


def read(driver, count):
    """Wait until so many files are read."""
    wait_until(
        lambda: len(every(driver, ".file .read")) >= count and "being read" not in text_of(driver, "#files")
    )


def box(driver, name):
    return find(driver, f'.file input[value="{name}"]')


def question(driver, label):
    """The control of a question by the text of its label."""
    holder = wait_until(
        lambda: next((e for e in every(driver, "#measured .question") if e.text.startswith(label)), None),
        what=label,
    )
    return holder.find_element(By.CSS_SELECTOR, "select, input:not([type=hidden]):not([type=checkbox])")


def study_of(folder):
    file = folder / "study.toml"
    return tomllib.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


def said_in(folder, word):
    """Tell whether a word or number stands somewhere in the study."""
    return f'"{word}"' in json.dumps(study_of(folder)) or f": {word}" in json.dumps(study_of(folder))


def choose_run(driver, first, last):
    """Mark a run of files: click the first, shift and click the last."""
    box(driver, first).click()
    keys = ActionChains(driver)
    keys.key_down(Keys.SHIFT).click(box(driver, last)).key_up(Keys.SHIFT).perform()


def say(driver, role, group=""):
    Select(find(driver, "#role")).select_by_value(role)
    if group:
        find(driver, "#group").clear()
        find(driver, "#group").send_keys(group)
    find(driver, "#say-so").click()


def unmark(driver):
    every(driver, ".file input")[0].send_keys(Keys.ESCAPE)


def test_the_whole_way_by_mouse(quiet, tmp_path):
    """From an empty folder with the shipped example's files to the report."""
    files = flat_example(tmp_path / "exports")
    folder = tmp_path / "study"
    folder.mkdir()
    with served(folder) as (address, _):
        open_sheet(quiet, address)
        assert "no spectra yet" in text_of(quiet, "#summary")
        find(quiet, "#upload").send_keys("\n".join(map(str, files)))
        wait_until(lambda: len(every(quiet, ".file")) == len(files), what="all files")
        read(quiet, len(files))
        groups = {"bare": ("bare", ""), "neat": ("neat", "gelatin")}
        groups.update({name: ("coated", name) for name in ("acid", "aqueous", "hot")})
        for start, (role, group) in groups.items():
            mine = sorted(file.name for file in files if file.name.startswith(f"{start}_"))
            choose_run(quiet, mine[0], mine[-1])
            marked = f"{len(mine)} of {len(files)} files marked"
            wait_until(lambda m=marked: m in text_of(quiet, "#marked"), what=marked)
            say(quiet, role, group)
            wait_until(lambda m=mine, r=role: study_place(folder, m[-1]) == r, what=f"{start} in the study")
            row = f'.file:has(input[value="{mine[-1]}"]) .who'
            wait_until(lambda at=row: "guessed" not in text_of(quiet, at), what="the row to say so")
            unmark(quiet)
        for label, word in (("technique", "ATR"), ("crystal", "diamond")):
            Select(question(quiet, label)).select_by_visible_text(word)
            wait_until(lambda w=word: w in json.dumps(study_of(folder)))
        for label, word in (
            ("angle", "45"),
            ("bare substrate", "PCL"),
            ("coating gelatin", "gelatin"),
            ("residues", "acetic acid"),
        ):
            question(quiet, label).send_keys(word, Keys.ENTER)
            wait_until(lambda w=word: said_in(folder, w), what=word)
        wait_until(lambda: "Detectable now" in text_of(quiet, "#ahead"), what="the running answer")
        wait_until(lambda: find(quiet, "#start button").is_enabled())
        find(quiet, "#start button").click()
        wait_until(lambda: every(quiet, "#findings .verdict"), what="the verdicts")
        check_findings(quiet, folder)


def check_findings(driver, folder):
    """The verdicts on the page are those of the report, and lead to the spectra."""
    result = json.loads((folder / "study_report" / "result.json").read_text(encoding="utf-8"))
    assert set(result["samples"]) == {"acid", "aqueous", "hot"}
    for sample, found in result["samples"].items():
        words = [found["coatings"]["gelatin"][part]["verdict"] for part in ("presence", "chemistry")]
        table = find(driver, "#findings table")  # the first: of all samples
        rows = [row.text for row in every(table, "tbody tr") if row.text.startswith(sample)]
        assert len(rows) == 1
        assert all(word in rows[0] for word in words)
    assert result["study"]["title"] == study_of(folder).get("title", "study")
    show = find(driver, "#findings .show")
    low, high = float(show.get_attribute("data-low")), float(show.get_attribute("data-high"))
    show.click()
    wait_until(lambda: abs(float(find(driver, "#low").get_attribute("value")) - low) < 2, what="the stretch")
    assert abs(float(find(driver, "#high").get_attribute("value")) - high) < 2
    find(driver, "#marks .mark").click()
    wait_until(lambda: "source" in text_of(driver, "#band"), what="the band's row")
    assert "expected" in text_of(driver, "#band")


def press(driver, *keys):
    ActionChains(driver).send_keys(*keys).perform()


def walk_to(driver, name, most=200):
    """Press the tab key until the element of a name has the focus."""
    for _ in range(most):
        if driver.execute_script("return document.activeElement.id") == name:
            return
        press(driver, Keys.TAB)
    raise AssertionError(f"the tab key never comes to {name}")


def walk_until(driver, condition, most=300):
    """Press the tab key until the focused element satisfies a condition of JavaScript."""
    for _ in range(most):
        if driver.execute_script(f"const here = document.activeElement; return {condition}"):
            return
        press(driver, Keys.TAB)
    raise AssertionError(f"the tab key never comes to where {condition}")


def type_over(driver, words):
    """Replace what the focused field holds."""
    ActionChains(driver).key_down(Keys.CONTROL).send_keys("a").key_up(Keys.CONTROL).send_keys(words).perform()


GROUPS = (("coat", "acid"), ("coat", "aqueous"), ("bare", ""), ("coat", "hot"), ("neat", "gelatin"))

# The label of a question, the keys that answer it, and what then stands in the study.
ANSWERS = (
    ("technique", "A", "ATR"),
    ("crystal", "d", "diamond"),
    ("angle", "45", "45"),
    ("bare substrate", "PCL", "PCL"),
    ("coating gelatin", "gelatin", "gelatin"),
)


def mark_by_keys(driver, first, count):
    """Mark a run of files in the list with arrows, space and shift."""
    walk_until(driver, "here.matches('.file > input')")
    press(driver, Keys.ESCAPE)
    wait_until(lambda: not every(driver, ".file > input:checked"), what="no file to be marked")
    order = [item.get_attribute("value") for item in every(driver, ".file > input")]
    steps = order.index(first) - order.index(driver.execute_script("return document.activeElement.value"))
    press(driver, *([Keys.ARROW_DOWN if steps > 0 else Keys.ARROW_UP] * abs(steps)), Keys.SPACE)
    keys = ActionChains(driver).key_down(Keys.SHIFT)
    keys.send_keys(*([Keys.ARROW_DOWN] * (count - 1))).key_up(Keys.SHIFT).perform()
    marked = f"{count} of {len(order)} files marked"
    wait_until(lambda: marked in text_of(driver, "#marked"), what=marked)


def say_by_keys(driver, word, group):
    """Go from the list to the answers with enter, and give them."""
    press(driver, Keys.ENTER)
    wait_until(
        lambda: driver.execute_script("return document.activeElement.id") == "role", what="the answers"
    )
    press(driver, word)
    wait_until(lambda: find(driver, "#role").get_attribute("value").startswith(word), what=word)
    if group:
        walk_to(driver, "group", 3)
        type_over(driver, group)
        wait_until(lambda: find(driver, "#group").get_attribute("value") == group, what=group)
        press(driver, Keys.ENTER)
    else:
        walk_to(driver, "say-so", 6)
        press(driver, Keys.ENTER)


def test_the_whole_way_by_keyboard_alone(quiet, tmp_path):
    """No pointer: tab, arrows, space, enter and letters; the files come by the watched folder."""
    folder = tmp_path / "study"
    folder.mkdir()
    with served(folder) as (address, _):
        open_sheet(quiet, address)
        files = flat_example(folder)
        wait_until(lambda: len(every(quiet, ".file")) == len(files), what="all files")
        read(quiet, len(files))
        for word, group in GROUPS:
            start = group if word == "coat" else word
            mine = sorted(file.name for file in files if file.name.startswith(f"{start}_"))
            mark_by_keys(quiet, mine[0], len(mine))
            say_by_keys(quiet, word, group)
            wait_until(
                lambda m=mine, w=word: study_place(folder, m[-1]).startswith(w), what=f"{start} in the study"
            )
            row = f'.file:has(input[value="{mine[-1]}"]) .who'
            wait_until(lambda at=row: "guessed" not in text_of(quiet, at), what="the row to say so")
        for label, word, said in ANSWERS:
            walk_to(quiet, question(quiet, label).get_attribute("id"))
            press(quiet, word, Keys.TAB)
            wait_until(lambda w=said: said_in(folder, w), what=said)
        wait_until(
            lambda: study_of(folder).get("coatings", {}).get("gelatin", {}).get("material") == "gelatin",
            what="the material",
        )
        assert study_of(folder)["instrument"] == {"crystal": "diamond", "angle_deg": 45}
        look_by_keys(quiet)
        wait_until(lambda: find(quiet, "#start button").is_enabled())
        walk_until(quiet, "here.closest('#start') !== null")
        press(quiet, Keys.ENTER)
        wait_until(lambda: every(quiet, "#findings .verdict"), what="the verdicts")
        assert (folder / "study_report" / "report.html").is_file()


def look_by_keys(driver):
    """Choose a stretch by its numbers, and read values with the arrow keys."""
    walk_to(driver, "high")
    type_over(driver, "1800")
    press(driver, Keys.TAB)
    type_over(driver, "1500")
    press(driver, Keys.ENTER)
    wait_until(lambda: "1800 to 1500" in text_of(driver, "#drawn"), what="the stretch")
    walk_to(driver, "at")
    press(driver, "1725")
    wait_until(lambda: "1725 cm-1. Absorbance" in text_of(driver, "#read"))
    press(driver, Keys.ARROW_UP)
    wait_until(lambda: "1726 cm-1" in text_of(driver, "#read"))
    wait_until(lambda: "Within reach by the tables" in text_of(driver, "#within"))


def study_place(folder, name):
    """Role of a file in the study file."""
    from spectra.page.places import Place, read_places

    return read_places(study_of(folder), folder).get(name, Place()).role


def test_dragging_and_double_click(quiet, tmp_path):
    write_study(tmp_path)
    with served(tmp_path) as (address, _):
        open_sheet(quiet, address)
        read(quiet, 10)
        before = text_of(quiet, "#drawn")
        layer = find(quiet, "#plot .nsewdrag")
        quiet.execute_script("arguments[0].scrollIntoView({block: 'center'})", layer)
        ActionChains(quiet).move_to_element_with_offset(layer, -200, 0).click_and_hold().move_by_offset(
            150, 0
        ).release().perform()
        wait_until(lambda: text_of(quiet, "#drawn") != before, what="the stretch")
        high, low = (float(find(quiet, f"#{name}").get_attribute("value")) for name in ("high", "low"))
        assert 300 < high - low < 1200
        ActionChains(quiet).double_click(layer).perform()
        wait_until(lambda: text_of(quiet, "#drawn") == before, what="the whole range")


WIDTHS = (1280, 768, 400)


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_wider_than_the_window_and_axe_finds_nothing(quiet, tmp_path, width):
    """axe-core (Deque Systems): no violation of its rules, WCAG 2 A and AA among them."""
    folder = tmp_path / ("a_folder_with_a_very_long_name_" * 4)
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("*.py", "README.md", "vapour*"))
    (folder / "broken.csv").write_bytes(b"\x00\x01\x02" * 100)
    quiet.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False},
    )
    try:
        with served(folder) as (address, _):
            open_sheet(quiet, address)
            read(quiet, 30)
            check_access(quiet)
            if width == 1280:
                wait_until(lambda: find(quiet, "#start button").is_enabled())
                find(quiet, "#start button").click()
                wait_until(lambda: every(quiet, "#findings .verdict"), what="the verdicts")
                find(quiet, "#marks .mark").click()
                wait_until(lambda: "source" in text_of(quiet, "#band"))
                check_access(quiet)
    finally:
        quiet.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def check_access(driver):
    assert driver.execute_script("return document.documentElement.scrollWidth <= window.innerWidth")
    result = Axe().run(driver)
    found = [
        (item["id"], item["help"], [node["html"] for node in item["nodes"]]) for item in result["violations"]
    ]
    assert found == []
    assert len(result["passes"]) > 20


def test_wrong_files_stand_beside_the_others(quiet, tmp_path):
    write_study(tmp_path)
    wrong = {
        "picture.csv": b"\x89PNG\r\n\x1a\n" + b"\x00" * 200,
        "empty.csv": b"",
        "words.txt": b"nothing of use\n" * 50,
        "<img src=x onerror=alert(1)>.csv": b"1,2\n",
    }
    for name, content in wrong.items():
        (tmp_path / name).write_bytes(content)
    with served(tmp_path) as (address, _):
        open_sheet(quiet, address)
        wait_until(lambda: "being read" not in text_of(quiet, "#files") and len(every(quiet, ".file")) == 13)
        assert "picture.csv" not in text_of(quiet, "#files")  # a picture by its first bytes: no candidate
        assert text_of(quiet, "#files").count("Not read.") == 3
        assert every(quiet, "#files img") == []
        assert find(quiet, "#start button").is_enabled()  # the study does not name them


def test_a_file_that_vanishes_while_it_is_looked_at(quiet, tmp_path):
    write_study(tmp_path)
    with served(tmp_path) as (address, _):
        open_sheet(quiet, address)
        read(quiet, 10)
        (tmp_path / "bare" / "bare_0.csv").unlink()
        wait_until(lambda: len(every(quiet, ".file")) == 9, what="the row to go")
        write_spectra(tmp_path)
        wait_until(lambda: len(every(quiet, ".file")) == 10, what="the row to come back")


def test_two_windows_see_each_other(quiet, tmp_path):
    write_study(tmp_path)
    with served(tmp_path) as (address, _):
        open_sheet(quiet, address)
        first = quiet.current_window_handle
        quiet.switch_to.new_window("tab")
        open_sheet(quiet, address)
        Select(question(quiet, "crystal")).select_by_visible_text("germanium")
        wait_until(lambda: study_of(tmp_path)["instrument"].get("crystal") == "germanium")
        quiet.close()
        quiet.switch_to.window(first)
        wait_until(
            lambda: question(quiet, "crystal").get_attribute("value") == "germanium", what="the other's edit"
        )
        question(quiet, "angle").send_keys(Keys.CONTROL + "a" + Keys.NULL, "60", Keys.ENTER)
        wait_until(lambda: study_of(tmp_path)["instrument"] == {"crystal": "germanium", "angle_deg": 60})


def test_no_request_leaves_the_machine(quiet, tmp_path):
    write_study(tmp_path)
    with served(tmp_path) as (address, _):
        open_sheet(quiet, address)
        read(quiet, 10)
        asked = quiet.execute_script("return performance.getEntriesByType('resource').map(e => e.name)")
        base = address.partition("/?")[0]
        assert len(asked) > 5
        assert [name for name in asked if not name.startswith(base)] == []
        # ... and the page could not, if it wanted to.
        blocked = quiet.execute_async_script(
            "const done = arguments[0];"
            "fetch('http://127.0.0.1:9/').then(() => done('sent'), error => done(String(error)))"
        )
        assert "TypeError" in blocked
        said = " ".join(entry["message"] for entry in quiet.get_log("browser"))
        assert "Content Security Policy" in said


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="mounting a small disk needs root")
def test_a_full_disk_is_told_and_nothing_is_lost(quiet, tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(disk)]
    if subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        write_study(disk)
        before = (disk / "study.toml").read_bytes()
        with served(disk) as (address, _):
            open_sheet(quiet, address)
            read(quiet, 10)
            with (disk / "filler").open("wb") as stream:
                fill(stream)
            Select(question(quiet, "crystal")).select_by_visible_text("germanium")
            wait_until(lambda: "No space left" in text_of(quiet, "#notice"), what="that the disk is full")
            assert (disk / "study.toml").read_bytes() == before
            assert [path.name for path in disk.iterdir() if path.name.endswith(".part")] == []
            (disk / "filler").unlink()
            Select(question(quiet, "crystal")).select_by_visible_text("silicon")
            wait_until(lambda: study_of(disk)["instrument"]["crystal"] == "silicon")
            assert text_of(quiet, "#notice") == ""
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def fill(stream):
    """Write until nothing more goes on the disk."""
    try:
        while True:
            os.write(stream.fileno(), b"x" * 4096)
    except OSError:
        pass


def test_a_second_page_on_one_folder_is_told_kindly(tmp_path):
    write_study(tmp_path)
    with served(tmp_path):
        second = subprocess.run(
            [sys.executable, "-m", "spectra", "page", str(tmp_path), "--no-browser"],
            cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
        )  # fmt: skip
    assert second.returncode == 2
    assert "open on this folder already" in second.stderr
    assert "Traceback" not in second.stderr
