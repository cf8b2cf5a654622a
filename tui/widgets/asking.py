"""How a page asks the book, waits for the answer, and tells what went wrong.

Invariant: the screen never stands still for the book. A page that waits says so
in a word; keys typed meanwhile are kept and played afterwards, in order. An
error is told with what to do, and ends nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar, cast

from textual.screen import Screen

from schemas.errors import WitnessmarkError
from tui.safe import wrap
from tui.widgets.bench import Bench
from tui.widgets.clerk import LAST, LATER, SOON, Answered
from tui.widgets.echo import Typed
from tui.widgets.lines import Lines
from tui.widgets.paint import StyledRow
from tui.widgets.painted import Bar
from tui.widgets.prose import error_texts, paragraphs

if TYPE_CHECKING:
    from engine.book import Book

Answer = TypeVar("Answer")
PATIENCE = 0.4  # seconds after which waiting is told
__all__ = ["LAST", "LATER", "SOON", "AskingScreen"]


class AskingScreen(Screen[Any]):
    """A screen with a list and a status line that asks the book."""

    lines: Lines
    status: Bar

    def __init__(self) -> None:
        super().__init__()
        self._waiting: dict[int, str] = {}
        self._kept: list[Typed] = []
        self._held_for = 0  # the ticket whose answer keys have to wait for
        self._loading = False  # it is the page's own contents that they wait for
        self._told = ""
        self._unread = False  # whether the status line says something since the last key

    @property
    def bench(self) -> Bench:
        """The app, as pages know it."""
        return cast(Bench, self.app)

    @property
    def in_front(self) -> bool:
        """Whether this page is the one that is seen (Textual's own word includes the one below)."""
        return self.app.screen is self

    def take(self, typed: Typed) -> None:
        """Do what a key does."""
        raise NotImplementedError

    def ask(
        self,
        word: str,
        question: Callable[[Book], Answer],
        then: Callable[[Answer], None],
        *,
        failed: Callable[[WitnessmarkError], None] | None = None,
        urgency: int = SOON,
        hold: bool = False,
        checking: bool = False,
    ) -> None:
        """Put a question to the book; `word` is told if the answer takes long.

        With `hold`, keys typed meanwhile are kept until the answer is there. `checking`
        is for checks, which may take long: nothing else waits behind them.
        """
        failed = failed or (self.tell_error if urgency == SOON else self.tell_in_a_line)
        clerk = self.bench.checker if checking else self.bench.clerk
        ticket = clerk.ask(self, question, then, failed, urgency)
        self._waiting[ticket] = word
        if hold:
            self._held_for = ticket
        if word:
            self.set_timer(PATIENCE, lambda: self._still_waiting(ticket))

    def ask_to_show(
        self,
        word: str,
        question: Callable[[Book], Answer],
        then: Callable[[Answer], None],
        *,
        checking: bool = False,
    ) -> None:
        """Ask for what the page is about; where it cannot be had, the page says why.

        Keys typed ahead wait for it, but for Esc: nobody is kept on a slow page.
        """
        self.ask(word, question, then, failed=self.cannot_load, hold=True, checking=checking)
        self._loading = True

    def _still_waiting(self, ticket: int) -> None:
        if ticket in self._waiting and not self._unread:
            self._told = f"{self._waiting[ticket]} ..."
            self.status.say((self._told, "strong"))

    def on_answered(self, message: Answered) -> None:
        """The book answered."""
        self._waiting.pop(message.ticket, None)
        if self._told and self.status.text == self._told:
            self.status.say()
        self._told = ""
        try:
            message.then()
        except Exception as error:  # the answer's edge: keys kept behind it must still be played
            self.bench.unexpected(error)
        if self._held_for == message.ticket:
            self._held_for, self._loading = 0, False
            self._play_kept()

    @property
    def holding(self) -> bool:
        """Whether keys wait for an answer."""
        return bool(self._held_for)

    def held_back(self, typed: Typed) -> bool:
        """Keep a key that has to wait; False where it may be played now."""
        leaving = self._loading and typed.pressed == "escape" and not self._kept
        if not self._held_for or leaving:
            return False
        self._kept.append(typed)
        return True

    def _play_kept(self) -> None:
        while self._kept and not self._held_for:
            if self.in_front:
                self.take(self._kept.pop(0))
            else:
                self.bench.pass_on(self._kept.pop(0))

    def tell(self, text: str, style: str = "strong") -> None:
        """Say something in the status line; it stays there until the next key at least."""
        self._unread = bool(text)
        self.status.say((text, style)) if text else self.status.say()

    @property
    def may_tell(self) -> bool:
        """Whether nothing in the status line is still to be read."""
        return not self._unread

    def tell_aside(self, text: str, style: str = "strong") -> None:
        """Say something that nobody waits for, where nothing else is still to be read."""
        if not self._unread:
            self.status.say((text, style))

    def tell_error(self, error: WitnessmarkError) -> None:
        """What went wrong: in the status line where it fits, on a page of its own else."""
        text = f"{error}. {error.hint}" if error.hint else str(error)
        if len(text) < self.app.size.width:
            self.tell(text, "error")
            return
        self.tell(str(error), "error")
        self.bench.show_error(error)

    def tell_in_a_line(self, error: WitnessmarkError) -> None:
        """What went wrong with something that nobody waits for."""
        self.tell_aside(str(error), "error")

    def cannot_load(self, error: WitnessmarkError) -> None:
        """What the page is about cannot be had: the reason stands in its place."""
        self.lines.show(paragraphs(error_texts(error)))

    def under_rows(self, error: WitnessmarkError, indent: int = 4) -> list[StyledRow]:
        """A refusal in lines that stand under what was typed."""
        text = f"{error.what}. {error.hint}" if error.hint else error.what
        lines = wrap(text[:1].upper() + text[1:], max(self.app.size.width - indent - 1, 20))
        return [((" " * indent, ""), (line, "error")) for line in lines]
