"""The screen on a book: opens it behind the first picture, and keeps watch.

Invariant: whatever ends this program, nothing is lost, since every accepted
edit was in the journal before it was painted. A dropped line or a kill ends it
at once; an idle screen writes nothing.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import os
import signal
import sys
import termios
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from schemas.errors import WitnessmarkError
from tui.error_log import start_log
from tui.screens.opening import Opening
from tui.widgets.bench import Bench
from tui.widgets.clerk import LAST, Answered, Clerk, unexpected
from tui.widgets.page import Page
from tui.widgets.paint import Paint

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Identity
    from tui.widgets.keys import PageKey

log = logging.getLogger("witnessmark")
WATCH = 5.0  # seconds between two looks at what others did
_TERMINAL_BACK = b"\x1b[?1049l\x1b[?25h\x1b[?2004l\x1b[?1004l\x1b[<u\x1b[0m"


def local_now() -> datetime:
    """The present moment, with its offset."""
    return datetime.now().astimezone()


class WitnessmarkApp(Bench, inherit_bindings=False):
    """The app: opens the book, asks who is there, shows the list."""

    CSS_PATH = "witnessmark.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = []  # noqa: RUF012  keys are the pages' own; nothing is taken from a shell's habits

    def __init__(
        self,
        open_book: Callable[[str], Book],
        record: str = "",
        as_person: str = "",
        clock: Callable[[], datetime] = local_now,
        paint: Paint | None = None,
    ) -> None:
        self.no_colours = "NO_COLOR" in os.environ
        super().__init__()
        self.animation_level = "none"
        self.paint = paint or Paint(not self.no_colours, sys.stderr.encoding or "ascii")
        self.clock = clock
        self.before = _terminal_attributes()
        self.clerk, self.checker = Clerk(), Clerk()
        self.book_name = ""
        self._open_book = open_book
        self._record = record
        self._as_person = as_person
        self._opening = Opening()

    def on_mount(self) -> None:
        """The first picture; the book is opened once it is there."""
        self.theme = "ansi-dark"
        self._catch_signals()
        self.push_screen(self._opening)
        self.call_after_refresh(self.echoes.ask)  # does this terminal answer?
        self.call_after_refresh(self._open)

    # Opening

    def _open(self) -> None:
        self.clerk.open(
            self,
            lambda: self._open_book(self._as_person),
            lambda book: self.ask_clerk(_introduction, self._introduced),
            self._opening.fail,
        )

    def ask_clerk(self, question: Callable[[Book], Any], then: Callable[[Any], None]) -> None:
        """Ask the book something for the app itself."""
        self.clerk.ask(self, question, then, self._opening.fail)

    def on_answered(self, message: Answered) -> None:
        """The book answered the app."""
        message.then()

    def _introduced(self, answer: tuple[str, Identity, Any]) -> None:
        from tui.screens.people import WhoIsThere

        self.book_name, self.me, persons = answer
        if self.me.key or not persons:
            self._begin()
        else:
            self.push_screen(WhoIsThere(persons), self._chosen)

    def _chosen(self, key: str | None) -> None:
        if not key:
            self._begin()
            return

        def then(identity: Identity) -> None:
            self.me = identity
            self._begin()

        self.ask_clerk(lambda book: book.choose(key), then)

    def _begin(self) -> None:
        from tui.screens.listing import Listing

        self._open_checker()
        self.switch_screen(Listing())
        if self._record:
            self.open_document(self._record)
        self.set_interval(WATCH, self._watch)

    def _open_checker(self) -> None:
        """The book once more, for checks: what they take long for keeps no key waiting."""
        person = self.me.key or self._as_person
        self.checker.open(self, lambda: self._open_book(person), _nothing, _ignore)

    # Pages that any page may ask for

    def open_document(self, name: str, address: str = "", key: str = "") -> None:
        """The editor of a document, at an address; by its identity where that is known."""
        from tui.screens.editor import Editor

        self.push_screen(Editor(name, address, key))

    def show_error(self, error: WitnessmarkError) -> None:
        """An error in full, on a page of its own."""
        from tui.screens.notice import Notice

        self.push_screen(Notice.of_error(error))

    def show_help(self, title: str, keys: Sequence[PageKey]) -> None:
        """The keys of a page."""
        from tui.screens.help import Help

        self.push_screen(Help(title, keys))

    # Keeping watch

    def _watch(self) -> None:
        self.clerk.ask(
            self, lambda book: (book.refresh(), book.notices()), self._looked, _ignore, LAST
        )

    def _looked(self, answer: tuple[bool, list[str]]) -> None:
        moved, notices = answer
        if moved and isinstance(self.screen, Page):
            self.screen.book_moved()
        if notices and isinstance(self.screen, Page):
            self.screen.tell_error(WitnessmarkError(" ".join(notices)))

    def unexpected(self, error: Exception) -> None:
        """Tell of a fault in a line; the log has the rest."""
        log.error("unexpected", exc_info=error)
        if isinstance(self.screen, Page):
            self.screen.tell_error(unexpected(error))

    # Leaving

    def _catch_signals(self) -> None:
        loop = asyncio.get_running_loop()
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):
            loop.add_signal_handler(signal.SIGHUP, leave_at_once, signal.SIGHUP, None)
            for number in (signal.SIGTERM, signal.SIGINT):  # Ctrl-C itself is a key here
                loop.add_signal_handler(number, leave_at_once, number, self.before)

    def on_unmount(self) -> None:
        """Let a save that is under way finish."""
        self.clerk.close()
        self.checker.close(wait=False)


def _introduction(book: Book) -> tuple[str, Identity, Any]:
    return book.name, book.identity, dict(book.persons())


def _nothing(_: Book) -> None:
    """The checker's book is there; nobody waits for it."""


def _ignore(error: WitnessmarkError) -> None:
    """A look that failed is taken again; what a person does tells the error."""
    log.warning("watching: %s", error)


def _terminal_attributes() -> Any:
    """How the terminal is set before the screen takes it over; None without a terminal."""
    if sys.__stdin__ is not None:
        with contextlib.suppress(termios.error, OSError, ValueError):
            return termios.tcgetattr(sys.__stdin__.fileno())
    return None


def leave_at_once(number: int, attributes: Any) -> None:
    """End now. A terminal that is still there gets its lines back; nothing else is owed."""
    logging.shutdown()
    if attributes is not None and sys.__stdin__ is not None and sys.__stderr__ is not None:
        with contextlib.suppress(termios.error, OSError, ValueError):
            os.set_blocking(sys.__stderr__.fileno(), False)
            os.write(sys.__stderr__.fileno(), _TERMINAL_BACK)
            termios.tcsetattr(sys.__stdin__.fileno(), termios.TCSANOW, attributes)
    os._exit(128 + number)


def run(open_book: Callable[[str], Book], record: str = "", as_person: str = "") -> int:
    """Show the screen until it is left; the exit code."""
    start_log()
    os.environ.setdefault("TEXTUAL_ANIMATIONS", "none")
    app = WitnessmarkApp(open_book, record, as_person)
    code = app.run(mouse=False)
    return code if isinstance(code, int) else app.return_code or 0
