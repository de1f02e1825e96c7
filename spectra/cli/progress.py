"""How far long work has come, said on the error stream, so that results can be piped.

Short work stays silent. On a terminal a moving bar is shown and wiped away again; elsewhere a plain line
is written now and then, so that a log stays readable.
"""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING, Any, TextIO

if TYPE_CHECKING:
    from rich.progress import Progress

PATIENCE = 1.0  # seconds without a word

PAUSE = 5.0  # seconds between two plain lines


class Meter:
    """Called with a phase, how many parts of it are done, and of how many; to be used in ``with``.

    Parameters
    ----------
    quiet
        True says nothing at all.
    stream
        Where to write; by default the error stream.

    Examples
    --------
    >>> with Meter() as meter:  # short work: nothing is written
    ...     meter("reading", 1, 2)
    """

    def __init__(self, quiet: bool = False, stream: TextIO | None = None) -> None:
        self.quiet, self.stream = quiet, stream or sys.stderr
        self.due = time.monotonic() + PATIENCE
        self.bar: Progress | None = None
        self.tasks: dict[str, Any] = {}

    def __enter__(self) -> Meter:
        return self

    def __exit__(self, *_: object) -> None:
        if self.bar is not None:
            self.bar.stop()

    def __call__(self, phase: str, done: int, total: int) -> None:
        """Say how far ``phase`` has come, if it is time to."""
        if self.quiet or (self.bar is None and time.monotonic() < self.due):
            return
        if self.stream.isatty():
            self._draw(phase, done, total)
        else:
            self.stream.write(f"{phase}: {done} of {total}\n")
            self.stream.flush()
            self.due = time.monotonic() + PAUSE

    def _draw(self, phase: str, done: int, total: int) -> None:
        """Show one bar a phase; rich is imported only when there is something to show."""
        if self.bar is None:
            from rich.console import Console
            from rich.progress import Progress

            self.bar = Progress(console=Console(file=self.stream), transient=True)
            self.bar.start()
        if phase not in self.tasks:
            for task in self.bar.tasks:  # a phase begins when the one before is done
                self.bar.update(task.id, completed=task.total)
            self.tasks[phase] = self.bar.add_task(phase, total=total)
        self.bar.update(self.tasks[phase], completed=done, total=total)
