"""The report in a real browser: no fault on the console, no request, nothing on top of anything, WCAG by axe.

Needs Debian's chromium and chromium-driver; skipped with the reason where they are not there.
"""

from __future__ import annotations

import datetime
import itertools
import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from spectra.report.figures.pictures import pictures
from spectra.report.page import as_html
from spectra.verification.result import Verification
from tests import fakes

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(
    not (CHROMIUM and DRIVER),
    reason="chromium and chromedriver are not installed: apt-get install chromium-driver",
)

DAY = datetime.date(2026, 1, 31)
LONG = "a sample with quite a long name, dried at forty degrees under nitrogen for two days and a half"
EVIL = "</title><script>document.title='taken'</script><img src=x onerror=\"document.title='taken'\">"


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM or ""
    for word in (
        "--headless=new",
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
    ):
        options.add_argument(word)
    if hasattr(os, "geteuid") and os.geteuid() == 0:  # a container's root may not use the sandbox
        options.add_argument("--no-sandbox")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()


class Pages(dict[str, Path]):
    """Reports of one, four and twelve samples, names long, in other letters, and hostile; made when asked "
    "for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __missing__(self, name: str) -> Path:
        result = RESULTS[name]()
        place = self.folder / f"{name}.html"
        place.write_text(as_html(result, DAY, pictures(result)), encoding="utf-8")
        self[name] = place
        return place


def _named(*names: str, title: str = "Invented") -> Verification:
    return fakes.verification(*(replace(fakes.good_sample(), name=name) for name in names), title=title)


RESULTS: dict[str, Callable[[], Verification]] = {
    "one": lambda: fakes.verification(fakes.good_sample()),
    "verdicts": fakes.verification,
    "undecided": lambda: fakes.verification(fakes.doubtful_sample()),
    "names": lambda: _named(LONG, "ゼラチン被膜・乾燥", "покрытие", EVIL, title=EVIL),
    "twelve": lambda: _named(*(f"recipe {number}" for number in range(12))),
}


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return Pages(tmp_path_factory.mktemp("pages"))


NAMES = ("one", "verdicts", "undecided", "names", "twelve")


@pytest.mark.parametrize("name", NAMES)
def test_the_console_is_silent_and_nothing_is_asked_for(
    name: str, pages: dict[str, Path], browser: Any
) -> None:
    browser.get_log("browser")
    browser.get_log("performance")
    browser.get(pages[name].as_uri())
    assert browser.get_log("browser") == []
    asked = [
        entry["message"]
        for entry in browser.get_log("performance")
        if 'requestWillBeSent"' in entry["message"]
    ]
    assert len(asked) <= 1  # the page itself
    assert browser.title != "taken"


OVERLAPS = """
const texts = [...document.querySelectorAll('svg')].map(svg => [...svg.querySelectorAll('text')]);
const found = [];
for (const group of texts) {
  const boxes = group.map(t => [t.textContent, t.getBoundingClientRect()]).filter(([t, b]) => b.width > 0);
  for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
    const [s, a] = boxes[i], [t, b] = boxes[j];
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (wide > 2 && high > 4) found.push(s + ' | ' + t);
  }
}
return found;
"""

WIDER = "return document.documentElement.scrollWidth - document.documentElement.clientWidth;"


@pytest.mark.parametrize("width", [400, 1280])
@pytest.mark.parametrize("name", NAMES)
def test_no_label_lies_on_another_and_the_page_is_not_wider_than_the_screen(
    name: str, width: int, pages: dict[str, Path], browser: Any
) -> None:
    browser.set_window_size(width, 900)
    browser.get(pages[name].as_uri())
    assert browser.execute_script(OVERLAPS) == []
    assert browser.execute_script(WIDER) <= 0


FALLING = """
return [...document.querySelectorAll('svg')].map(svg =>
  [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()])
    .filter(([t, b]) => /^[1-4][05]00$/.test(t)).map(([t, b]) => [Number(t), b.left, Math.round(b.top)]));
"""


def test_wavenumbers_fall_from_left_to_right(pages: dict[str, Path], browser: Any) -> None:
    browser.set_window_size(1280, 900)
    browser.get(pages["verdicts"].as_uri())
    first = browser.execute_script(FALLING)[0]
    foot = max(top for _, _, top in first)
    panel = sorted((left, number) for number, left, top in first if abs(top - foot) < 3)
    numbers = [number for _, number in panel]
    assert len(numbers) >= 3
    rises = sum(right > left for left, right in itertools.pairwise(numbers))
    assert rises <= 1  # where the next panel begins


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["verdicts", "names"])
def test_axe_finds_no_violation(name: str, scheme: str, pages: dict[str, Path], browser: Any) -> None:
    """WCAG 2.1 A and AA, contrast included, by axe-core (Deque's open rules; the wheel holds the script)."""
    from axe_core_python.selenium import Axe

    browser.set_window_size(1280, 900)
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    browser.get(pages[name].as_uri())
    found = Axe().run(browser, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"]})[
        "violations"
    ]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    assert [(item["id"], [node["html"][:120] for node in item["nodes"][:3]]) for item in found] == []


def test_axe_can_find_a_violation(browser: Any, tmp_path: Path) -> None:
    from axe_core_python.selenium import Axe

    (tmp_path / "bad.html").write_text("<html><body><img src=x><p style='color:#eee'>pale</p></body></html>")
    browser.get((tmp_path / "bad.html").as_uri())
    found = Axe().run(browser)["violations"]
    assert {"image-alt", "html-has-lang"} <= {item["id"] for item in found}


def test_every_part_is_reached_by_keyboard(pages: dict[str, Path], browser: Any) -> None:
    from selenium.webdriver.common.keys import Keys

    browser.set_window_size(1280, 900)
    browser.get(pages["verdicts"].as_uri())
    reached = set()
    body = browser.switch_to.active_element
    for _ in range(60):
        body.send_keys(Keys.TAB)
        body = browser.switch_to.active_element
        reached.add(body.tag_name)
    assert {"a", "div", "summary"} <= reached
