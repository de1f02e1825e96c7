"""The page's side of the working process: it hands out jobs, hears of their progress, and stops them."""

from __future__ import annotations

import datetime
import multiprocessing
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from spectra.page.folder import clear_drafts
from spectra.page.work import Job, serve

Hear = Callable[[Job, str, Any], None]

PATIENCE = 3.0  # seconds a process that was asked to end may take to clear up


class Worker:
    """One process at most, started when it is first needed.

    Parameters
    ----------
    hear
        Called from another thread with a job, a word (``progress``, ``done``, ``failed``) and its value.
    """

    def __init__(self, hear: Hear) -> None:
        self.hear = hear
        self.job: Job | None = None
        self.process: BaseProcess | None = None
        self.pipe: Connection | None = None
        self.count = 0

    def start(self, kind: str, study: Path, day: datetime.date) -> Job:
        """Begin a job; one that is running is stopped first."""
        if self.job is not None:
            self.stop()
        pipe = self._awake()
        self.count += 1
        self.job = Job(self.count, kind, study, day)
        pipe.send(self.job)
        return self.job

    def warm(self) -> None:
        """Start the process before it is needed, so that its imports are not waited for."""
        self._awake()

    def _awake(self) -> Connection:
        """Return the pipe to a living process."""
        if self.process is not None and self.process.is_alive() and self.pipe is not None:
            return self.pipe
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=serve, args=(theirs,), daemon=True)
        self.process.start()
        theirs.close()
        threading.Thread(target=self._listen, args=(self.pipe,), daemon=True).start()
        return self.pipe

    def _listen(self, pipe: Connection) -> None:
        """Hand on what one process says until it ends; a sudden end is told, too."""
        try:
            while True:
                number, word, value = pipe.recv()
                job = self.job
                if job is not None and job.number == number and pipe is self.pipe:
                    if word != "progress":
                        self.job = None
                    self.hear(job, word, value)
        except (EOFError, OSError):
            job = self.job
            if job is not None and pipe is self.pipe:
                self.job = None
                self.hear(job, "failed", "the computation ended of itself; was the memory too small?")
        finally:
            pipe.close()

    def stop(self) -> None:
        """End the process and whatever it is doing; what it had half-written goes."""
        process, self.process = self.process, None
        job, self.job = self.job, None
        self.pipe = None
        if process is None:
            return
        process.terminate()
        process.join(PATIENCE)
        if process.is_alive():
            process.kill()
            process.join()
        if job is not None and process.pid is not None:
            clear_drafts(job.study.parent, process.pid)
