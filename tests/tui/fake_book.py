"""The app on a stage: it opens the real book, a test presses keys and reads what stands there.

Only the clock and, where a test says so, the findings are made up.
"""

from __future__ import annotations

import asyncio
import contextlib
import unicodedata
from collections.abc import AsyncIterator, Callable, Sequence
from pathlib import Path
from typing import Any

from textual import events
from textual.keys import REPLACED_KEYS, _character_to_key, _get_unicode_name_from_key
from textual.pilot import Pilot

from engine.book import Book
from engine.views import Finding
from tests.demo_book import RECORD, SETTER
from tests.shop_floor import Clock
from tui.app import WitnessmarkApp
from tui.widgets.paint import Paint


class FakeBook(Book):
    """The real book, with findings that a test makes up."""

    made_up: Sequence[Finding] = ()

    def check(self, names: Sequence[str] = ()) -> list[Finding]:
        """What the test says."""
        return [f for f in self.made_up if not names or f.record in names]

    def check_alone(self, names: Sequence[str]) -> list[Finding]:
        """The same."""
        return self.check(names)


FINDINGS = (
    Finding(
        "agreement",
        "error",
        RECORD,
        "positions.seat.lift",
        "collect - seat is 1.010 mm less than heights and bites ask for",
        "Teach seat and collect again, or correct the bite.",
        f"records/{RECORD}.toml",
        140,
    ),
    Finding(
        "photo-missing",
        "warning",
        "gland-nut-op10",
        "photos.jaws.file",
        "photos/jaw_x09.jpg is not there",
        "Put the picture there, or correct the path.",
        "records/gland-nut-op10.toml",
    ),
)


def opener(
    folder: Path, clock: Clock, login: str = SETTER, findings: Sequence[Finding] = ()
) -> Callable[[str], Book]:
    """What the app is given to open the book."""

    def open_book(person: str) -> Book:
        book = FakeBook.open(folder, as_person=person, login=login, clock=clock)
        assert isinstance(book, FakeBook)
        book.made_up = findings
        return book

    return open_book


def share_the_box(folder: Path, clock: Clock) -> None:
    """Let two people use one login, shopfloor."""
    lead = Book.open(folder, login="itob", clock=clock)
    logins = {"people.ifeoma.logins": "itob, shopfloor", "people.mirela.logins": "mosk, shopfloor"}
    lead.document("people").pencil.set_all(logins)
    lead.document("people").ink()
    lead.close()


def _pressed(key: str) -> events.Key:
    """A key as a terminal sends it; Pilot waits 40 ms and more after each."""
    if len(key) == 1 and not key.isalnum():
        key = _character_to_key(key)
    name = _get_unicode_name_from_key(REPLACED_KEYS.get(key, key))
    try:
        sign: str | None = unicodedata.lookup(name)
    except KeyError:
        sign = key if len(key) == 1 else None
    return events.Key(key, sign)


class Stage:
    """An app under test: press keys, read what stands there."""

    def __init__(self, app: WitnessmarkApp, pilot: Pilot[int]) -> None:
        self.app = app
        self.pilot = pilot

    @property
    def page(self) -> Any:
        """The page in front."""
        return self.app.screen

    async def settle(self) -> None:
        """Wait until the book has answered everything and it is painted."""
        quiet = 0
        while quiet < 3:
            quiet = 0 if self._busy() else quiet + 1
            await asyncio.to_thread(self.app.clerk.settle)
            await asyncio.to_thread(self.app.checker.settle)
            await self.pilot.pause(0)

    def _busy(self) -> bool:
        """Whether the book is at work, or a page is still opening or waits for it."""
        page = self.page
        waits = getattr(page, "holding", False) or not getattr(page, "awake", True)
        return (
            self.app.clerk.busy
            or self.app.checker.busy
            or bool(self.app._ahead)
            or bool(page._callbacks)
            or (waits and self.app.is_running)
        )

    async def look_at_others(self) -> None:
        """Do at once what the app does every few seconds: look at what others did, and wait."""
        self.app._watch()
        await self.settle()

    async def press(self, *keys: str) -> None:
        """Press keys by name, as somebody does who looks at the screen after each."""
        for key in keys:
            await self.burst(key)

    async def burst(self, *keys: str) -> None:
        """Keys that come at once, as a paste does or what is typed ahead, and wait."""
        for key in keys:
            self.app.post_message(_pressed(key))
        await self.settle()

    async def type(self, text: str) -> None:
        """Type text, without a look."""
        await self.burst(*("space" if sign == " " else sign for sign in text))

    async def open(self, record: str = RECORD, address: str = "") -> None:
        """Open a record from the list, and stand on an address."""
        await self.press("slash", "ctrl+u")
        await self.type(record)
        await self.press("enter", "enter")
        if address:
            self.page.document.goto(address)
            await self.settle()

    def text(self) -> str:
        """Everything on the page."""
        page = self.page
        bars = (page.title_bar, page.about, page.head, page.detail, page.status, page.keys_bar)
        return "\n".join(
            [*(bar.text for bar in bars[:3]), page.lines.text(), *(b.text for b in bars[3:])]
        )

    def line(self, word: str) -> str:
        """The first line in view that has a word."""
        return next((line for line in self.page.lines.text().split("\n") if word in line), "")


@contextlib.asynccontextmanager
async def on_stage(
    folder: Path,
    clock: Clock,
    login: str = SETTER,
    findings: Sequence[Finding] = (),
    size: tuple[int, int] = (80, 24),
    record: str = "",
    paint: Paint | None = None,
) -> AsyncIterator[Stage]:
    """The app on a book, without a terminal."""
    opening = opener(folder, clock, login, findings)
    app = WitnessmarkApp(opening, record, clock=clock, paint=paint or Paint())
    async with app.run_test(size=size) as pilot:
        stage = Stage(app, pilot)
        await stage.settle()
        yield stage
