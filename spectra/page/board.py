"""The parts of the page as they were rendered last, so that a browser is sent only what changed."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from typing import Any


class Board:
    """Parts of the page by the name of their element, each with the count at which it last changed."""

    def __init__(self) -> None:
        self.tick = 0
        self.parts: dict[str, str] = {}
        self.changed: dict[str, int] = {}
        self.order: tuple[str, ...] = ()
        self.order_changed = 0
        self.version = ""
        self.news = asyncio.Condition()

    def post(self, parts: Mapping[str, str], order: Sequence[str], version: str) -> bool:
        """Put up the parts of a state; tell whether anything changed.

        Parameters
        ----------
        parts
            Every part, by the name of its element.
        order
            Names of the elements of the files, in the order they stand in.
        version
            Of the study file.
        """
        fresh = [name for name, html in parts.items() if self.parts.get(name) != html]
        moved = tuple(order) != self.order
        if not fresh and not moved and version == self.version:
            return False
        self.tick += 1
        self.parts, self.version = dict(parts), version
        self.changed.update(dict.fromkeys(fresh, self.tick))
        if moved:
            self.order, self.order_changed = tuple(order), self.tick
        return True

    async def tell(self) -> None:
        """Wake everybody who waits for news."""
        async with self.news:
            self.news.notify_all()

    async def wait(self, seen: int, seconds: float) -> bool:
        """Wait until something newer than ``seen`` is up, or so many seconds; tell whether there is."""
        async with self.news:
            if self.tick <= seen:
                try:
                    await asyncio.wait_for(self.news.wait(), seconds)
                except TimeoutError:
                    return False
        return self.tick > seen

    def since(self, seen: int) -> dict[str, Any]:
        """Return what changed after ``seen``, ready to be sent."""
        return {
            "tick": self.tick,
            "version": self.version,
            "order": list(self.order) if self.order_changed > seen else None,
            "parts": {name: html for name, html in self.parts.items() if self.changed.get(name, 0) > seen},
        }
