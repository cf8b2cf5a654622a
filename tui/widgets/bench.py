"""What pages expect of the app, and keys that were typed before a page was there.

Invariant: no key is lost between two pages, and each says behind which echo it was
typed (`echo`). Textual drops what comes while a new page is being put up; here it
waits and is handed over in order.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from rich.text import Text
from textual import events
from textual.app import App

from tui.error_log import log_file
from tui.safe import safe
from tui.widgets.clerk import Clerk
from tui.widgets.echo import EchoCame, Echoes, Typed
from tui.widgets.paint import Paint

if TYPE_CHECKING:
    from engine.views import Identity
    from schemas.errors import WitnessmarkError
    from tui.widgets.keys import PageKey

log = logging.getLogger("witnessmark")


class Bench(App[int]):
    """What pages expect of the app: the clerk, the paint, who is there, and the time."""

    clerk: Clerk
    checker: Clerk  # a second one, for checks alone
    paint: Paint
    me: Identity
    book_name: str
    clock: Callable[[], datetime]

    def __init__(self) -> None:
        super().__init__(ansi_color=True)
        self._ahead: list[Typed] = []  # typed before the page was there
        self.echoes = Echoes(self)

    def unexpected(self, error: Exception) -> None:
        """Tell of a fault in a line and keep it in the log."""
        raise NotImplementedError

    # Pages that any page may ask for. The app puts them up, so that no page imports one that
    # imports it.

    def open_document(self, name: str, address: str = "", key: str = "") -> None:
        """The editor of a document, at an address; by its identity where that is known."""
        raise NotImplementedError

    def show_error(self, error: WitnessmarkError) -> None:
        """An error in full, on a page of its own."""
        raise NotImplementedError

    def show_help(self, title: str, keys: Sequence[PageKey]) -> None:
        """The keys of a page."""
        raise NotImplementedError

    def terminal(self) -> Callable[[str], None] | None:
        """What writes to the terminal behind all that was painted; None without one."""
        return None if self.is_headless or self._driver is None else self._driver.write

    def _fatal_error(self) -> None:
        """Textual would print the traceback with all values in it, as they are; the log has it."""
        log.error("unexpected", exc_info=True)
        said = f"Something went wrong here that should not. Pencil is kept. {log_file()} has it."
        self._exit_renderables.append(Text(safe(said)))
        self._close_messages_no_wait()

    async def on_event(self, event: events.Event) -> None:
        """Keys are stamped as they come; Textual would drop those before a new page is ready."""
        if isinstance(event, events.Key):
            self.pass_on(self.echoes.stamp(event.key, event.character))
        elif isinstance(event, events.CursorPosition):
            self.echoes.answered(event.x, event.y)
        else:
            await super().on_event(event)

    def on_echo_came(self, message: EchoCame) -> None:
        """Without a terminal, an echo comes by the way that keys come."""
        self.echoes.came(message.number)

    def _awake(self) -> bool:
        return bool(getattr(self.screen, "awake", False)) if self._screen_stack else False

    def pass_on(self, typed: Typed) -> None:
        """Hand a key to the page in front, now or when it is ready."""
        if self._awake():
            self.screen.post_message(typed)
        else:
            self._ahead.append(typed)

    def hand_over_ahead(self) -> None:
        """The page in front is ready: it gets what was typed before."""
        waiting, self._ahead = self._ahead, []
        for typed in waiting:
            self.pass_on(typed)
