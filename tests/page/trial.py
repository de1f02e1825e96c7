"""Figures of the page, measured before a real browser: ``python -m tests.page.trial [PART ...]``.

Parts: ``first actions arrivals verdicts memory kills refusals``; all of them without a word. Every time is
that of this machine; ratios are to something measured beside it.
"""

import argparse
import datetime
import http.client
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from spectra.errors import CoatproofError
from spectra.study.loading import load_study
from tests.page.browser import EXAMPLE, PATIENCE, ROOT, every, find, opened, served, text_of, wait_until
from tests.studies import spectrum_text, write_study

BARE_PAGE = """
import sys, uvicorn, socket
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route
async def page(_): return HTMLResponse("<!DOCTYPE html><title>bare</title><p id=here>here")
s = socket.socket(); s.bind(("127.0.0.1", 0)); s.listen()
print(f"http://127.0.0.1:{s.getsockname()[1]}/", flush=True)
uvicorn.Server(uvicorn.Config(Starlette(routes=[Route("/", page)]), log_level="error")).run(sockets=[s])
"""

READ_ALL = """
import sys
from pathlib import Path
from spectra.reading import read
from spectra.quality.checks import check_spectrum
for file in sorted(Path(sys.argv[1]).glob("*.csv")):
    for spectrum in read(file): check_spectrum(spectrum)
"""

ROLES = (("bare", 0.0, 1.0), ("neat_gelatin", 1.0, 0.0), ("mist", 0.2, 0.9))


PIECES = "ABCDEFGHIJ"


def many_files(folder, count):
    """Write so many invented spectra of 1,800 points, of three roles, spots on ten pieces each."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(11)
    axis = 400.0 + 2.0 * np.arange(1800)
    centres = {"bare": (1725, 1240, 2945), "neat_gelatin": (1650, 1540, 3290), "mist": (1725, 1650, 1240)}
    for number in range(count):
        role = ROLES[number % 3][0]
        curve = sum(np.exp(-(((axis - at) / 14) ** 2) / 2) * rng.uniform(0.2, 0.4) for at in centres[role])
        curve = curve + rng.normal(0, 3e-4, axis.size)
        text = "\n".join(f"{x:.1f},{y:.6f}" for x, y in zip(axis, curve, strict=True))
        head = "wavenumber (cm-1),absorbance"
        piece = PIECES[number // 3 % len(PIECES)]
        (folder / f"{role}_{piece}_{number:04d}.csv").write_text(f"{head}\n{text}\n", encoding="utf-8")
    return folder


def all_read(driver, count):
    return driver.execute_script(
        "return document.querySelectorAll('.file .read').length >= arguments[0]"
        " && !document.querySelector('#files').textContent.includes('being read')",
        count,
    )


def first_page(folder, count=100):
    """From the command to the first page with every file read, beside a bare page and the reading alone."""
    many_files(folder, count)
    with opened() as driver:
        ours, bare, reading = [], [], []
        for _ in range(3):
            start = time.perf_counter()
            with served(folder) as (address, _):
                driver.get(address)
                wait_until(lambda: all_read(driver, count), 60)
                ours.append(time.perf_counter() - start)
            bare.append(_bare_page(driver))
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", READ_ALL, str(folder)], cwd=ROOT, check=True)
            reading.append(time.perf_counter() - start)
    allowed = 2 * min(bare) + min(reading)
    print(
        f"first page, {count} files: {min(ours):.2f} s; bare page {min(bare):.2f} s, "
        f"reading {min(reading):.2f} s; "
        f"ratio to twice the bare page plus the reading {min(ours) / allowed:.2f}"
    )


def _bare_page(driver):
    start = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-c", BARE_PAGE], stdout=subprocess.PIPE, text=True)
    try:
        driver.get(process.stdout.readline().strip())
        find(driver, "#here")
        return time.perf_counter() - start
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


# From an act of the person to the frame in which its answer is on the screen.
ACTION = """
const [kind, number, done] = arguments;
const frame = () => new Promise((ready) => requestAnimationFrame(() => setTimeout(ready, 0)));
const change = (id, value) => {
  const field = document.getElementById(id);
  field.value = value;
  field.dispatchEvent(new Event("change", { bubbles: true }));
};
(async () => {
  const rows = [...document.querySelectorAll(".file")];
  const row = rows[(number * 37) % rows.length];
  const start = performance.now();
  let ready;
  if (kind === "zoom") {
    const low = 800 + (number * 13) % 900;
    const drawn = document.getElementById("drawn").textContent;
    document.getElementById("low").value = low;
    change("high", low + 400 + (number * 7) % 1500);
    ready = () => document.getElementById("drawn").textContent !== drawn;
  } else {
    for (const box of document.querySelectorAll(".file > input:checked")) box.checked = false;
    row.querySelector("input").checked = true;
    const words = `recipe ${number}`;
    const other = row.dataset.role === "bare" ? "coated" : "bare";
    document.getElementById("role").value = kind === "role" ? other : "coated";
    document.getElementById("group").value = words;
    document.getElementById("pieces").value = "own";
    const role = document.getElementById("role").value;
    document.getElementById("say-so").click();
    ready = () => row.dataset.role === role && (role === "bare" || row.textContent.includes(words));
  }
  while (!ready() && performance.now() - start < 5000) await new Promise((next) => setTimeout(next, 2));
  await frame();
  done(performance.now() - start);
})();
"""


def actions(folder, count=500, times=200):
    """Changes of a role, of a name, and of the stretch, with 500 spectra of 1,800 points."""
    many_files(folder, count)
    with opened() as driver, served(folder) as (address, process):
        driver.get(address)
        wait_until(lambda: all_read(driver, count))
        find(driver, "#guesses button").click()
        wait_until(lambda: not every(driver, "#guesses"))
        wait_until(lambda: text_of(driver, "#drawn").startswith(f"{count} spectra"))
        driver.set_script_timeout(60)
        spent = processor_time(process.pid)
        taken = {"role": [], "name": [], "zoom": []}
        for number in range(times):
            kind = ("role", "name", "zoom")[number % 3]
            taken[kind].append(driver.execute_async_script(ACTION, kind, number))
            time.sleep(0.3)  # a person pauses, too
        spent = (processor_time(process.pid) - spent) / times
    every_one = np.concatenate(list(taken.values()))
    parts = ", ".join(
        f"{kind} {np.median(values):.0f} ms (95 % {np.percentile(values, 95):.0f})"
        for kind, values in taken.items()
    )
    print(
        f"{len(every_one)} actions with {count} spectra: {np.mean(every_one <= 100):.1%} within 100 ms; "
        f"95 % within {np.percentile(every_one, 95):.0f} ms; median {parts}; processor time of the server "
        f"{1000 * spent:.0f} ms an action, all that follows from it included; load {os.getloadavg()[0]:.1f}"
    )


def processor_time(pid):
    """Processor time that a process has used so far, its finished children not counted, s."""
    words = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def arrivals(folder, times=100):
    """New files in the folder: written at once, slowly, or renamed into place."""
    write_study(folder)
    waits = []
    with opened() as driver, served(folder) as (address, _):
        driver.get(address)
        wait_until(lambda: all_read(driver, 10))
        for number in range(times):
            name = f"new_{number:03d}.csv"
            _arrive(folder, name, spectrum_text(0.0, 1.0, 100 + number).encode(), number % 3)
            start = time.perf_counter()
            wait_until(lambda n=name: driver.execute_script(
                "const box = document.querySelector(`.file > input[value='${arguments[0]}']`);"
                "return box && box.parentElement.textContent.includes('points: 800')", n), 20)  # fmt: skip
            waits.append(time.perf_counter() - start)
    within = sum(wait <= 2 for wait in waits)
    print(
        f"new files: {within} of {times} on the page within 2 s; "
        f"median {np.median(waits):.2f} s, longest {max(waits):.2f} s"
    )


def _arrive(folder, name, content, way):
    if way == 0:
        (folder / name).write_bytes(content)
    elif way == 1:
        with (folder / name).open("wb") as stream:
            for start in range(0, len(content), len(content) // 6 + 1):
                stream.write(content[start : start + len(content) // 6 + 1])
                stream.flush()
                time.sleep(0.1)
    else:
        (folder / f"{name}.writing").write_bytes(content)
        (folder / f"{name}.writing").rename(folder / name)


def verdicts(folder, times=3):
    """From the button to the verdicts, beside the command; the bytes of ``result.json``."""
    shutil.copytree(EXAMPLE, folder, ignore=shutil.ignore_patterns("*.py", "README.md", "vapour*"))
    page, command = [], []
    with opened() as driver:
        for turn in range(times):
            out = folder.parent / f"command_{turn}"
            start = time.perf_counter()
            words = [
                sys.executable,
                "-m",
                "spectra",
                "verify",
                str(folder / "study.toml"),
                "--out",
                str(out),
                "--quiet",
            ]
            subprocess.run(words, cwd=ROOT, check=False, capture_output=True)
            command.append(time.perf_counter() - start)
            with served(folder) as (address, _):
                driver.get(address)
                wait_until(lambda: "Detectable now" in text_of(driver, "#ahead"))
                wait_until(lambda: find(driver, "#start button").is_enabled())
                start = time.perf_counter()
                find(driver, "#start button").click()
                wait_until(lambda: every(driver, "#findings .verdict"), 600)
                page.append(time.perf_counter() - start)
            same = (folder / "study_report" / "result.json").read_bytes() == (
                out / "result.json"
            ).read_bytes()
            assert same, "the bytes differ"
    print(
        f"verdicts: page {min(page):.2f} s, command {min(command):.2f} s, "
        f"ratio {min(page) / min(command):.2f}; same bytes: yes"
    )


def memory(folder, count=1000):
    """Peak memory of the serving process with 1,000 spectra."""
    many_files(folder, count)
    with opened() as driver, served(folder) as (address, process):
        driver.get(address)
        wait_until(lambda: all_read(driver, count), 600)
        wait_until(lambda: text_of(driver, "#drawn").startswith(f"{count} spectra"))
        find(driver, "#guesses button").click()
        wait_until(lambda: not every(driver, "#guesses"))
        time.sleep(3)
        lines = Path(f"/proc/{process.pid}/status").read_text(encoding="utf-8").splitlines()
        peak = next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))
    print(f"memory of the serving process with {count} spectra: at most {peak / 1024:.0f} MiB")


class Caller:
    """A person's browser without one: one connection that knows the cookie."""

    def __init__(self, address):
        self.host = address.split("/")[2]
        self.token = address.partition("token=")[2]
        self.connection = http.client.HTTPConnection(self.host, timeout=20)

    def call(self, method, path, body=None, **headers):
        """Ask once; return status and text."""
        known = {
            "cookie": f"coatproof_{self.host.partition(':')[2]}={self.token}",
            "origin": f"http://{self.host}",
            "accept": "application/json",
            "content-type": "application/x-www-form-urlencoded",
        }
        self.connection.request(method, path, body, {**known, **headers})
        answer = self.connection.getresponse()
        return answer.status, answer.read()


def kills(folder, times=200, seed=5):
    """Kill the page at any moment while it writes; the study must load each time."""
    write_study(folder)
    rng = random.Random(seed)
    edits = loaded = 0
    for _ in range(times):
        with served(folder) as (address, process), ThreadPoolExecutor(1) as pool:
            begun = threading.Event()
            writing = pool.submit(_edit_until_killed, Caller(address), begun)
            assert begun.wait(PATIENCE), "no edit was answered"
            time.sleep(rng.uniform(0.0, 0.4))
            process.kill()
            process.wait()
            edits += writing.result()
        try:
            load_study(folder / "study.toml")
            loaded += 1
        except CoatproofError as error:
            print("a study that does not load:", error)
    with served(folder):
        pass
    left = [path.name for path in folder.iterdir() if path.name.endswith(".part")]
    print(
        f"killed {times} times during {edits} edits: {loaded} studies load; "
        f"drafts left after the next start: {len(left)}"
    )


def _edit_until_killed(caller, begun):
    """Change the title and a file's place as fast as it goes; return how many edits were answered.

    ``begun`` is set with the first.
    """
    done = 0
    try:
        version = json.loads(caller.call("GET", "/parts?since=0")[1])["version"]
        while True:
            body = (
                f"version={version}&%5B%22title%22%5D=title+{done}+{'x' * (done % 50)}"
                if done % 2
                else f"version={version}&file=bare%2Fbare_{done % 5}.csv&role=bare&pieces=one&"
                f"specimen=p{done}"
            )
            status, answer = caller.call("POST", "/measured" if done % 2 else "/places", body)
            version = json.loads(answer)["version"]
            done += status == 200
            begun.set()
    except (OSError, http.client.HTTPException):
        return done


BAD = (
    ("GET", "/", {"host": "rebound.example"}),
    ("POST", "/places", {"origin": "http://evil.example"}),
    ("GET", "/", {"cookie": "coatproof=1"}),
    ("POST", "/start", {"cookie": ""}),
    ("DELETE", "/study", {}),
)


def refusals(folder, times=100_000):
    """Requests of others: all refused, and the page answers its own person meanwhile."""
    write_study(folder)
    with served(folder) as (address, _):
        caller = Caller(address)
        alone = _latency(caller)
        start = time.perf_counter()
        with ThreadPoolExecutor(4) as pool:
            floods = [pool.submit(_flood, address, times // 4) for _ in range(4)]
            meanwhile = _latency(caller)
            refused = sum(flood.result() for flood in floods)
        taken = time.perf_counter() - start
        after = _latency(caller)
    print(
        f"{refused} of {times} bad requests refused in {taken:.0f} s ({1e6 * taken / times:.0f} us each); "
        f"own request "
        f"{1000 * alone:.1f} ms before, {1000 * meanwhile:.1f} ms meanwhile, {1000 * after:.1f} ms after"
    )


def _flood(address, times):
    caller = Caller(address)
    refused = 0
    for number in range(times):
        method, path, headers = BAD[number % len(BAD)]
        refused += caller.call(method, path, "" if method == "POST" else None, **headers)[0] in (400, 403)
    return refused


def _latency(caller):
    times = []
    for _ in range(20):
        start = time.perf_counter()
        assert caller.call("GET", "/parts?since=999999")[0] == 200
        times.append(time.perf_counter() - start)
        time.sleep(0.02)
    return float(np.median(times))


PARTS = {
    "first": first_page,
    "actions": actions,
    "arrivals": arrivals,
    "verdicts": verdicts,
    "memory": memory,
    "kills": kills,
    "refusals": refusals,
}


@contextmanager
def somewhere():
    """Give a folder that goes again."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder) / "study"


def main():
    """Run the parts that were asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], help="parts to run")
    chosen = parser.parse_args().parts or list(PARTS)
    print(f"# {datetime.datetime.now():%Y-%m-%d %H:%M}")
    for name in chosen:
        with somewhere() as folder:
            PARTS[name](folder)
        sys.stdout.flush()


if __name__ == "__main__":
    main()
