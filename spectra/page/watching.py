"""The watch on the folder: whenever something in it changes, the desk looks at it again.

Changes are told by the system (``watchfiles``); where it tells nothing, as on some network drives, the
folder is listed anew every second anyway.
"""

from __future__ import annotations

import asyncio
import contextlib
import traceback

from watchfiles import awatch

from spectra.page.desk import Desk


async def watch(desk: Desk) -> None:
    """Keep a desk up to its folder until cancelled."""
    listening = asyncio.create_task(_listen(desk))
    try:
        while True:
            growing = await _look(desk)
            pause = desk.settings.still_s / 2 if growing else desk.settings.look_again_s
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(desk.again.wait(), max(pause, 0.05))
            desk.again.clear()
    finally:
        listening.cancel()


async def _look(desk: Desk) -> bool:
    """Look at the folder; whatever goes wrong is told, and the watch goes on."""
    try:
        return await desk.look()
    except Exception as error:
        traceback.print_exc()
        desk.notice = f"a fault of coatproof ({error}); the window it was started from says more"
        desk.show()
        return False


async def _listen(desk: Desk) -> None:
    """Wake the desk on every change the system tells of."""
    with contextlib.suppress(
        OSError, RuntimeError
    ):  # too many watches, or the folder is gone: listing remains
        async for _ in awatch(desk.folder, step=50, debounce=200, ignore_permission_denied=True):
            desk.again.set()
