"""What the screens show now, passed from the session's thread to the server's.

The session publishes; every screen gets the newest and nothing in between: a slow screen skips
pages, it never holds the session up.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from sidecue.board.ear import Ear
from sidecue.board.page import Page

#: Nothing to show yet, or no more.
WAITING: Page = {"kind": "waiting", "scene": ""}
#: A second press on a page that has not answered the first is taken for a double tap.
ANSWER_WITHIN = 1.0


@dataclass(frozen=True, slots=True)
class News:
    """What the screens show: each part with the number of its last change."""

    page: Page
    ear: Ear
    page_number: int = 0
    ear_number: int = 0
    over: bool = False  # the board is being closed


class Feed:
    """The newest news. Any thread may publish; the server's loop listens."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._lock = threading.Lock()
        self._news = News(WAITING, Ear())
        self._loop: asyncio.AbstractEventLoop | None = None
        self._bells: set[asyncio.Event] = set()
        self._spent: tuple[int, float] = (-1, 0.0)
        self._clock = clock

    @property
    def news(self) -> News:
        """The newest."""
        return self._news

    def publish(self, page: Page) -> None:
        """Show `page` from now on; nothing happens when it is shown already."""
        with self._lock:
            if page != self._news.page:
                number = self._news.page_number + 1
                self._news = replace(self._news, page=page, page_number=number)
                self._ring()

    def hear(self, ear: Ear) -> None:
        """Show the microphone's state."""
        with self._lock:
            if ear != self._news.ear:
                self._news = replace(self._news, ear=ear, ear_number=self._news.ear_number + 1)
                self._ring()

    def close(self) -> None:
        """Tell every screen that the board closes."""
        with self._lock:
            self._news = replace(self._news, over=True)
            self._ring()

    def spend(self, scene: str) -> bool:
        """Take one press made on `scene`. False when the page has changed since, or has not yet
        answered the last press."""
        with self._lock:
            now, number = self._clock(), self._news.page_number
            fresh = self._spent[0] != number or now - self._spent[1] > ANSWER_WITHIN
            if self._news.page.get("scene") != scene or not fresh:
                return False
            self._spent = (number, now)
            return True

    def cue_on_page(self, cue: str) -> dict[str, Any] | None:
        """Return the phrase row of `cue`, None when the page offers no such cue."""
        rows = self._news.page.get("phrases", ())
        every = (each for row in rows for each in (row, *row.get("choices", ())))
        return next((row for row in every if row["cue"] == cue), None)

    async def follow(self, every: float) -> AsyncIterator[News]:
        """Yield the news at once, after each change, and at least `every` seconds. Only in the
        server's loop."""
        self._loop = asyncio.get_running_loop()
        bell = asyncio.Event()
        bell.set()
        self._bells.add(bell)
        try:
            while True:
                with suppress(TimeoutError):
                    await asyncio.wait_for(bell.wait(), every)
                bell.clear()
                yield self._news
                if self._news.over:
                    return
        finally:
            self._bells.discard(bell)

    def _ring(self) -> None:
        loop = self._loop
        if loop is not None and not loop.is_closed():
            loop.call_soon_threadsafe(self._ring_here)

    def _ring_here(self) -> None:
        for bell in self._bells:
            bell.set()
