"""The one file that opens a socket: the page on this machine, until it is closed.

Only the loopback address is bound. One page works on one folder: a lock in the folder says so to a second
one, and is released by the system however the first one ends.
"""

from __future__ import annotations

import datetime
import os
import socket
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from spectra.errors import UsageError
from spectra.page.folder import LOCK, clear_drafts
from spectra.page.guard import Guard, Keys
from spectra.page.settings import PageSettings

HOST = "127.0.0.1"


def serve(folder: Path, port: int, tell: Callable[[str], None], day: Callable[[], datetime.date]) -> None:
    """Serve the page of one folder until it is closed.

    Parameters
    ----------
    folder
    port
        0 for a free one.
    tell
        Called with the address as soon as it answers.
    day
        Gives the day a report is made on.

    Raises
    ------
    UsageError
        If the folder is missing, open in another page, or the port is taken.
    """
    import uvicorn

    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder; name the folder with the spectra")
    folder = folder.resolve()
    with _locked(folder), _listening(port) as listening:
        clear_drafts(folder)
        # Not chance that a result could depend on, but a secret, so it comes from the system.
        keys = Keys(listening.getsockname()[1], os.urandom(24).hex())
        server = uvicorn.Server(
            uvicorn.Config(
                _application(folder, keys, day, lambda: setattr(server, "should_exit", True)),
                factory=True,
                log_level="warning",
                access_log=False,
                lifespan="on",
                timeout_graceful_shutdown=1,
                timeout_keep_alive=30,
                server_header=False,
                date_header=False,
            )
        )
        tell(keys.address)
        server.run(sockets=[listening])


def _application(
    folder: Path, keys: Keys, day: Callable[[], datetime.date], end: Callable[[], None]
) -> Callable[[], Guard]:
    """Return what makes the application inside the running loop."""

    def make() -> Guard:
        from spectra.page.application import make_application
        from spectra.page.desk import Desk
        from spectra.page.watching import watch

        desk = Desk(folder, PageSettings(), day)
        return Guard(make_application(desk, lambda: watch(desk), end), keys)

    return make


def _locked(folder: Path) -> AbstractContextManager[object]:
    """Take the folder's lock.

    Raises
    ------
    UsageError
        If another page has it, or the folder cannot be written to.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(folder / LOCK)
    try:
        return lock.acquire(timeout=0)
    except Timeout:
        raise UsageError(
            f"{folder}: a page is open on this folder already; use its window, or close it first"
        ) from None
    except OSError as error:
        raise UsageError(
            f"{folder}: cannot be written to ({error.strerror}); copy it to a place where you may write"
        ) from None


def _listening(port: int) -> socket.socket:
    """Return a socket on the loopback address alone.

    Raises
    ------
    UsageError
        If the port is taken or out of range.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name == "posix":
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
    except (OSError, OverflowError) as error:
        listening.close()
        raise UsageError(f"port {port} cannot be used ({error}); leave --port out for a free one") from None
    listening.listen(128)
    return listening
