"""The one thing on the page that changes: what is known of the folder right now.

It lists the folder, reads what is new, reads the study file whenever its bytes changed, and hands work to
the working process. Whatever happens ends in a new :class:`~spectra.page.state.State`, which is rendered and
put up on the board. It remembers nothing that is not in the folder, but for what can be computed again.
"""

from __future__ import annotations

import asyncio
import datetime
import time
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any

from anyio.to_thread import run_sync

from spectra.errors import CoatproofError, StudyError
from spectra.page.board import Board
from spectra.page.folder import STUDY, Stamp, list_results, list_spectra, used_files
from spectra.page.places import BARE, LEFT_OUT, NEAT, Place, guess_places, read_places, read_units
from spectra.page.readings import Reading, read_files, set_faults
from spectra.page.results import Findings, Running
from spectra.page.settings import PageSettings
from spectra.page.sheet import parts_of
from spectra.page.state import Draft, State, Work, make_rows
from spectra.page.study_file import load_text, save
from spectra.page.work import Job
from spectra.page.worker import Worker
from spectra.study.survey import Seen
from spectra.units import UNSTATED, StatedUnits

TURN = 50  # files read before they are shown

Key = tuple[Any, ...]

Edit = Callable[[str], str]


class Desk:
    """What is known of a folder.

    Parameters
    ----------
    folder
        With the study file in it, or none yet.
    settings : PageSettings
    day
        Gives the day a report is made on.
    """

    def __init__(self, folder: Path, settings: PageSettings, day: Callable[[], datetime.date]) -> None:
        self.folder, self.settings, self.day = folder, settings, day
        self.study = folder / STUDY
        self.board = Board()
        self.stamps: dict[str, Stamp] = {}
        self.first_seen: dict[str, tuple[Stamp, float]] = {}
        self.readings: dict[str, Reading] = {}
        self.guesses: Mapping[str, Place] = {}
        self.asked: frozenset[Path] = frozenset()
        self.draft = Draft()
        self.units: Mapping[str, StatedUnits] = {}
        self.mistakes: tuple[str, ...] = ()
        self.doubts: tuple[tuple[str, str, str], ...] = ()
        self.checked: Key = ()
        self.running: tuple[Key, Running] | None = None
        self.findings: tuple[Key, Findings] | None = None
        self.work = Work()
        self.work_key: Key = ()
        self.tried: Key = ()
        self.notice = ""
        self.again = asyncio.Event()
        self.looking = asyncio.Lock()
        self.loop = asyncio.get_running_loop()
        self.worker = Worker(self._hear_from_thread)

    def _hear_from_thread(self, job: Job, word: str, value: Any) -> None:
        self.loop.call_soon_threadsafe(self.hear, job, word, value)

    # -- the state and the board ---------------------------------------------------------------------

    @property
    def key(self) -> Key:
        """What a result depends on: the study file and every file it names."""
        return (self.draft.version, used_files(self.stamps, iter(self.draft.places)))

    def state(self) -> State:
        """Return all that is known as one value."""
        key = self.key
        results = list_results(self.folder, self.study)
        return State(
            folder=self.folder.name or str(self.folder),
            rows=make_rows(self.stamps, self.readings, self.draft.places, self.guesses, self._remarks(key)),
            draft=self.draft,
            mistakes=self.mistakes,
            doubts=self.doubts,
            running=self.running[1] if self.running else None,
            running_old=self.running is not None and self.running[0] != key,
            findings=self.findings[1] if self.findings else None,
            findings_old=self.findings is not None and self.findings[0] != key,
            work=self.work,
            results=tuple((name, path.stat().st_size) for name, path in results.items()),
            notice=self.notice,
        )

    def _remarks(self, key: Key) -> Mapping[str, str]:
        """Return what the running answer says of single files, as long as it is about these files."""
        return self.running[1].remarks if self.running and self.running[0] == key else {}

    def show(self) -> State:
        """Render the state and put it up."""
        state = self.state()
        if self.board.post(*parts_of(state)):
            self.loop.create_task(self.board.tell())
        return state

    # -- the folder ----------------------------------------------------------------------------------

    async def look(self) -> bool:
        """List the folder and read what is new; tell whether some file is still being written."""
        async with self.looking:
            stamps = await run_sync(list_spectra, self.folder)
            self.stamps = stamps
            self.reload()
            self._drop()
            ready, unready = self._unread()
            await self._guess()
            self.show()
            await self._read(ready)
            await self._guess()
            await self._check()
            self.show()
            return bool(unready)

    def _drop(self) -> None:
        """Forget what was read of files that have gone or changed, or whose units are said otherwise now."""
        for name, reading in list(self.readings.items()):
            if self.stamps.get(name) != reading.stamp or self._units(name) != reading.units:
                del self.readings[name]

    def seen(self) -> tuple[Seen, ...]:
        """Return what every file is; one that was not read yet may hold a spectrum."""
        read = {name: reading.seen for name, reading in self.readings.items()}
        return tuple(read.get(name) or Seen(self.folder / name) for name in self.stamps)

    async def _guess(self) -> None:
        """Ask the names again where other files may hold spectra than before."""
        seen = self.seen()
        asked = frozenset(one.file for one in seen if not one.refused)
        if asked != self.asked:
            self.asked, self.guesses = asked, await run_sync(guess_places, self.folder, seen)

    def _units(self, name: str) -> StatedUnits:
        """Return what the study says of the units of a file."""
        return self.units.get(name, self.units.get("", UNSTATED))

    def _unread(self) -> tuple[list[str], list[str]]:
        """Return the files to be read now, and those that may still be growing."""
        now = time.monotonic()
        ready: list[str] = []
        unready: list[str] = []
        for name, stamp in self.stamps.items():
            if name in self.readings:
                continue
            seen = self.first_seen.get(name)
            if seen is None or seen[0] != stamp:
                seen = self.first_seen[name] = (stamp, now)
            old = time.time_ns() - stamp.changed_ns > self.settings.still_s * 1e9
            still = old or now - seen[1] >= self.settings.still_s
            (ready if still else unready).append(name)
        self.first_seen = {name: seen for name, seen in self.first_seen.items() if name in self.stamps}
        return ready, unready

    async def _read(self, names: Sequence[str]) -> None:
        """Read files beside the page, those of one folder and kind together: one unit is settled for them.

        A file of theirs that nobody could make sense of alone gets another chance beside the new ones.
        """
        kinds: dict[tuple[str, str], list[str]] = {}
        for name in names:
            kinds.setdefault(_kind(name), []).append(name)
        turns = [
            (kind, mine[i : i + TURN]) for kind, mine in kinds.items() for i in range(0, len(mine), TURN)
        ]
        for kind, mine in turns:
            alike = [name for name in self.readings if _kind(name) == kind]
            asked = [name for name in alike if self.readings[name].unit_asked]
            wanted = {name: (self.stamps[name], self._units(name)) for name in (*mine, *asked)}
            beside = [name for name in alike if name not in wanted][: self.settings.beside]
            self.readings.update(await run_sync(read_files, self.folder, wanted, beside))
            self.show()

    # -- the study -----------------------------------------------------------------------------------

    def reload(self) -> None:
        """Read the study file if its bytes changed, or if it names files that have come or gone."""
        try:
            text, version = load_text(self.study)
        except StudyError as error:
            self.draft = Draft(version="unreadable", problem=str(error))
            return
        if version == self.draft.version and self.draft.problem:
            return
        try:
            document = self.draft.document if version == self.draft.version else tomllib.loads(text)
            self.draft = Draft(text, version, document, read_places(document, self.folder))
            self.units = read_units(document, self.draft.places)
        except (tomllib.TOMLDecodeError, CoatproofError) as error:
            problem = f"{STUDY} cannot be read ({error}); correct it by hand, the page then goes on"
            self.draft = Draft(text, version, problem=problem)

    async def _check(self) -> None:
        """Ask the study's own check for mistakes, once for every state of study and files."""
        if self.key == self.checked:
            return
        self.checked = self.key
        self.mistakes, self.doubts = await run_sync(self._mistakes), await run_sync(self._doubts)
        self.look_ahead()

    def _mistakes(self) -> tuple[str, ...]:
        if self.draft.problem or not self.draft.places:
            return ()
        from spectra.study.loading import load_study  # the form's checks take longer to load than the page

        try:
            load_study(self.study, need_samples=False)
        except CoatproofError as error:
            return tuple(line.strip() for line in str(error).replace(str(self.study), STUDY).splitlines())
        return ()

    def _doubts(self) -> tuple[tuple[str, str, str], ...]:
        """Return what is doubtful about the files of the study together."""
        chosen = {
            name: self.readings[name]
            for name, place in self.draft.places.items()
            if place.role != LEFT_OUT and name in self.readings
        }
        return tuple((fault.where, fault.found, fault.remedy) for fault in set_faults(chosen))

    def edit(self, change: Edit, version: str) -> None:
        """Change the study file and read it anew.

        Parameters
        ----------
        change
            From the text of the file to its new text.
        version
            Of the file the change was made for.

        Raises
        ------
        CoatproofError
            If the study has changed meanwhile, or cannot be written; nothing is changed then.
        """
        text, current = load_text(self.study)
        if current != version:
            self.reload()
            raise StudyError(
                "the study was changed meanwhile, in another window or by hand. It is shown as it is now, "
                "and your change was not made: make it again if it is still wanted"
            )
        changed = change(text)
        if changed != text:
            save(self.study, changed, version)
        self.reload()
        self.again.set()

    # -- the work ------------------------------------------------------------------------------------

    def look_ahead(self) -> None:
        """Compute the running answer, if the study allows it and nothing else is being computed."""
        roles = [place.role for place in self.draft.places.values()]
        able = roles.count(BARE) >= 2 and NEAT in roles and not self.mistakes and not self.draft.problem
        known = self.running is not None and self.running[0] == self.key
        if able and not known and not self.work.kind and self.tried != self.key:
            self.tried = self.key
            self._start("look ahead")

    async def start(self) -> None:
        """Begin to judge; after what is being computed now."""
        if not self.stamps:  # asked before the first look: what is judged must be known to tell its age
            await self.look()
        if self.work.kind == "verify":
            return
        if self.work.kind:
            self.work = replace(self.work, queued=True)
        else:
            self._start("verify")

    def _start(self, kind: str) -> None:
        kept = self.work.failure if kind == "look ahead" else ""  # what was said of the verdicts stands
        self.work, self.work_key = Work(kind, "starting", failure=kept), self.key
        self.worker.start(kind, self.study, self.day())

    async def stop(self) -> None:
        """Stop what is being computed."""
        if self.work.kind:
            kind, self.work = self.work.kind, Work()
            await run_sync(self.worker.stop)
            self.work = Work(failure="stopped; nothing was written" if kind == "verify" else "")

    def hear(self, job: Job, word: str, value: Any) -> None:
        """Take in what the working process says."""
        if job.kind != self.work.kind:
            return
        if word == "progress":
            phase, done, total = value
            self.work = replace(self.work, phase=phase, done=done, total=total)
        else:
            queued = self.work.queued
            self.work = Work(failure=self.work.failure if job.kind == "look ahead" else "")
            self._take(job.kind, word, value)
            if queued:
                self._start("verify")
            self.again.set()
        self.show()

    def _take(self, kind: str, word: str, value: Any) -> None:
        if word == "failed":
            self.work = Work(failure=value) if kind == "verify" else self.work
            self.mistakes = (value,) if kind == "look ahead" else self.mistakes
        elif kind == "verify":
            self.findings = (self.work_key, value)
        else:
            self.running = (self.work_key, value)


def _kind(name: str) -> tuple[str, str]:
    """Return the folder and the suffix of a file: files that share both are taken to be written alike."""
    path = PurePosixPath(name)
    return str(path.parent), path.suffix.lower()
