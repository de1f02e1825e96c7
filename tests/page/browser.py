"""A page in a process of its own, and a real browser before it, for tests and trials.

Chromium and its driver come from the system (Debian: ``chromium`` and ``chromium-driver``).
"""

import os
import shutil
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By

ROOT = Path(__file__).parents[2]

EXAMPLE = ROOT / "examples" / "gelatin_on_pcl"


def why_no_browser():
    """Say what is missing for a browser; nothing if all is there."""
    missing = [name for name in ("chromium", "chromedriver") if shutil.which(name) is None]
    return f"{' and '.join(missing)} not found: apt-get install chromium chromium-driver" if missing else ""


@contextmanager
def served(folder, *options):
    """Serve the page of a folder; give its first address and its process."""
    command = [sys.executable, "-m", "spectra", "page", str(folder), "--no-browser", *options]
    process = subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=dict(os.environ)
    )
    try:
        address = process.stdout.readline().strip()
        assert address.startswith("http://127.0.0.1:"), process.stderr.read()
        yield address, process
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()
        process.stderr.close()


@contextmanager
def opened(width=1280, height=900):
    """Open a browser without a window."""
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    for word in (
        "--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--disable-background-networking",
        f"--window-size={width},{height}",
    ):  # fmt: skip
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
    try:
        yield driver
    finally:
        driver.quit()


def find(driver, selector):
    """Return the one element of a selector."""
    return driver.find_element(By.CSS_SELECTOR, selector)


def every(driver, selector):
    """Return all elements of a selector."""
    return driver.find_elements(By.CSS_SELECTOR, selector)


def text_of(driver, selector):
    """Return the text of an element, in whatever state it is."""
    words = driver.execute_script(
        "return [...document.querySelectorAll(arguments[0])].map(e => e.textContent).join(' ')", selector
    )
    return " ".join(words.split())


PATIENCE = 150.0  # seconds until a state that must come counts as never coming, on a machine at its limits


def wait_until(condition, seconds=PATIENCE, what=""):
    """Wait until a condition holds; an element that was just replaced counts as not yet."""
    end = time.monotonic() + seconds
    while True:
        try:
            found = condition()
        except StaleElementReferenceException:
            found = None
        if found:
            return found
        if time.monotonic() > end:
            raise AssertionError(f"never came: {what or condition}")
        time.sleep(0.05)


def flat_example(folder, only=""):
    """Copy the shipped example's spectra into one folder, the groups in the names; return the files."""
    folder.mkdir(exist_ok=True)
    files = []
    for file in sorted(EXAMPLE.glob(f"{only or '*'}/*")):
        files.append(folder / f"{file.parent.name}_{file.name}")
        shutil.copyfile(file, files[-1])
    return files
