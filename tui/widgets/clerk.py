"""A thread that talks to a book: one for people, and one for checks.

Invariant: every call into the engine runs in a clerk, one after another, what a
person waits for before what only keeps the picture fresh. Each clerk has a book of
its own, so that the checks of a large one never keep a key waiting. A clerk never
touches a widget: the answer is a message to the page that asked. Errors of the
engine are answers too; unexpected ones keep their traceback in the log.
"""

from __future__ import annotations

import itertools
import logging
import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from textual.message import Message
from textual.message_pump import MessagePump

from schemas.errors import WitnessmarkError
from tui.error_log import log_file

if TYPE_CHECKING:
    from engine.book import Book

log = logging.getLogger("witnessmark")

SOON, LATER, LAST = 0, 1, 2
_TICKETS = itertools.count(1)  # of all clerks, so that a page can tell their answers apart


class Answered(Message, bubble=False):
    """An answer of the book: `then` is called with it on the page's own side."""

    def __init__(self, ticket: int, then: Callable[[], None]) -> None:
        super().__init__()
        self.ticket = ticket
        self.then = then


@dataclass(order=True, slots=True)
class _Job:
    urgency: int
    ticket: int
    run: Callable[[], None] | None = field(compare=False)


class Clerk:
    """Takes questions to the book and brings the answers back."""

    def __init__(self) -> None:
        self._book: Book | None = None
        self._jobs: queue.PriorityQueue[_Job] = queue.PriorityQueue()
        self._thread = threading.Thread(target=self._work, name="clerk", daemon=True)
        self._thread.start()

    def open(
        self,
        asker: MessagePump,
        open_book: Callable[[], Book],
        then: Callable[[Book], None],
        failed: Callable[[WitnessmarkError], None],
    ) -> int:
        """Open the book; `then` gets it, and all later questions go to it."""

        def opening() -> Book:
            self._book = open_book()
            return self._book

        return self._put(asker, opening, then, failed, SOON)

    def ask(
        self,
        asker: MessagePump,
        question: Callable[[Book], Any],
        then: Callable[[Any], None],
        failed: Callable[[WitnessmarkError], None],
        urgency: int = SOON,
    ) -> int:
        """Put a question; returns the ticket that its answer will carry."""

        def asking() -> Any:
            assert self._book is not None
            return question(self._book)

        return self._put(asker, asking, then, failed, urgency)

    def settle(self) -> None:
        """Wait until every question was answered; for tests and pictures."""
        self._jobs.join()

    @property
    def busy(self) -> bool:
        """Whether questions are waiting or being answered; for tests and pictures."""
        return self._jobs.unfinished_tasks > 0

    def close(self, *, wait: bool = True) -> None:
        """Let the question at hand finish, so that no save is cut short; what only looks may be."""
        self._jobs.put(_Job(-1, 0, None))
        if wait:
            self._thread.join(timeout=10)

    def _put(
        self,
        asker: MessagePump,
        run: Callable[[], Any],
        then: Callable[[Any], None],
        failed: Callable[[WitnessmarkError], None],
        urgency: int,
    ) -> int:
        ticket = next(_TICKETS)

        def job() -> None:
            try:
                answer = run()
            except WitnessmarkError as error:
                found = error
                asker.post_message(Answered(ticket, lambda: failed(found)))
            except Exception as error:  # the thread's edge: it must live on, and answer
                log.exception("unexpected")
                strange = unexpected(error)
                asker.post_message(Answered(ticket, lambda: failed(strange)))
            else:
                asker.post_message(Answered(ticket, lambda: then(answer)))

        self._jobs.put(_Job(urgency, ticket, job))
        return ticket

    def _work(self) -> None:
        while (job := self._jobs.get().run) is not None:
            job()
            self._jobs.task_done()


def unexpected(error: Exception) -> WitnessmarkError:
    """A fault of this program, told in a line; the log has the rest."""
    return WitnessmarkError(
        f"something went wrong here that should not: {type(error).__name__}: {error}",
        hint=f"What is in pencil is kept. Details: {log_file()}",
    )
