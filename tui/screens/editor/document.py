"""The document that is edited: what was loaded of it, and where one stands in it.

Invariant: what is painted is what the engine said last; nothing is shown as
pencilled before the journal has it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from schemas.errors import Conflict, Gone, WitnessmarkError, once_in_pencil
from tui.screens.editor.columns import Typed, items_of
from tui.screens.editor.contents import Contents, Field, contents_of, news_of, with_extra
from tui.screens.subject import Subject
from tui.widgets.finder import Finding
from tui.widgets.page import Page

if TYPE_CHECKING:
    from engine.book import Book, DocumentHandle
    from engine.views import Draft, OnDisk

    Acting = Callable[[Book], tuple[object, Sequence[Draft]]]


class EditedDocument:
    """What modes and acts work on. They ask and tell through its page."""

    def __init__(
        self,
        page: Page,
        subject: Subject,
        address: str,
        finder: Finding,
        changed: Callable[[], None],
    ) -> None:
        self.page = page
        self.subject = subject
        self.gone: WitnessmarkError | None = None  # why it cannot be had any more
        self.news = ""  # what became of the whole, while it is still to be said
        self.reason = ""  # typed for an ink that did not come about
        self.contents: Contents | None = None
        self.fields: list[Field] = []
        self.typed: Typed | None = None  # the value that is being typed
        self.extra: Field | None = None  # a value that is being added
        self.trail: list[str] = []  # addresses of the last changes still to visit
        self.finder = finder
        self._wished = address  # where to stand once the lines are there
        self._changed = changed  # told when there is other pencil

    @property
    def name(self) -> str:
        """What it is called, as far as it is known."""
        return self.subject.name

    def show(self, contents: Contents) -> None:
        """Show what was loaded; say what became of the whole meanwhile."""
        self._take_in(contents)
        self.say_news()

    def _take_in(self, contents: Contents) -> None:
        before, self.contents, self.gone = self.contents, contents, None
        if before is not None:
            self.news = f"{self.news} {news_of(before, contents)}".strip()
        self.redraw()
        self.page.show_frame()
        if self._wished:
            self.goto(self._wished)
            self._wished = ""
        self.page.chosen()

    def say_news(self) -> None:
        """What became of the whole meanwhile is said once, as soon as the line is free for it.

        Until then it stands among what the page says of the whole.
        """
        if self.news and self.page.in_front and self.page.may_tell:
            self.page.tell(self.news, "warning")
            self.news = ""
            self.page.show_frame()

    def look_again(self, then: Callable[[], None]) -> None:
        """Load all of it anew, the file on disk included, before something is done to it."""

        def show(contents: Contents) -> None:
            self._take_in(contents)
            then()
            self.say_news()  # unless another page is in front now

        self.page.ask("looking", self.asked, show, failed=self.failed, hold=True)

    def asked(self, book: Book) -> Contents:
        """The question for all of it."""
        return contents_of(book, self.subject, self.contents.name if self.contents else "")

    def acting(self, act: Callable[[DocumentHandle], object]) -> Acting:
        """The question that does something to the pencil: its answer, and all pencil after it."""

        def question(book: Book) -> tuple[object, Sequence[Draft]]:
            asked = self.subject.of(book)
            answer = act(asked)
            with once_in_pencil():
                return answer, asked.drafts()

        return question

    def failed(self, error: WitnessmarkError) -> None:
        """An act failed: it is told, and what may have changed meanwhile is loaded."""
        if isinstance(error, Gone):
            self.lose(error)
            return
        self.page.tell_error(error)
        if isinstance(error, Conflict) and self.page.in_front:
            self.page.load()

    def lose(self, error: WitnessmarkError) -> None:
        """It cannot be had any more: what was loaded stays in sight, and nothing is lost."""
        if self.gone is None or str(self.gone) != str(error):
            self.gone = error
            self.page.show_frame()
            self.page.tell_error(error)

    def show_drafts(self, drafts: Sequence[Draft]) -> None:
        """Show pencil that changed; inked values stay."""
        assert self.contents is not None
        known = {row.address for row in self.contents.rows}
        self.contents = replace(self.contents, drafts=drafts)
        self.redraw()
        self.page.chosen()
        self._changed()
        if any(mark.address not in known for draft in drafts for mark in draft.marks):
            self.page.load()

    def found_on_disk(self) -> OnDisk | None:
        """What was changed by hand in its file, as it was at the last look."""
        return self.contents.disk if self.contents is not None else None

    def redraw(self) -> None:
        """Make the lines anew; only those that differ are painted."""
        if self.contents is None:
            return
        self.fields = with_extra(self.contents.fields(self.page.bench.me.key), self.extra)
        shown = [f for f in self.fields if self.finder.has(f"{f.address} {f.label}")]
        lines, under = self.page.lines, self.page.lines.under
        lines.show(items_of(shown, self.typed))
        if self.typed is not None:  # its choices, or why it was refused, are still to be read
            lines.push_under(under)

    def refuse(self, error: WitnessmarkError) -> None:
        """A refusal in words under the line; the typed text stays."""
        self.page.lines.push_under(self.page.under_rows(error, indent=5))

    def may_write(self) -> bool:
        """Whether this person may pencil; says why not."""
        if self.page.bench.me.may_ink:
            return True
        self.page.tell("Read only: only a setter or a lead who is known here can change a value.")
        return False

    # Standing somewhere

    def field(self, address: object) -> Field | None:
        """The value at an address, where there is a line for it."""
        return next((each for each in self.fields if each.address == address), None)

    def current(self) -> Field | None:
        """The value of the chosen line."""
        return self.field(self.page.lines.key)

    def mine(self) -> list[Field]:
        """The values on which there is pencil of mine."""
        return [each for each in self.fields if each.mine is not None]

    def contested(self) -> bool:
        """Whether somebody else's ink has overtaken pencil of mine."""
        return any(each.sign == "!" for each in self.fields)

    def goto(self, address: str) -> None:
        """Stand on an address, or on the first one below it."""
        self.finder.clear()
        lines = self.page.lines
        if lines.choose(address):
            return
        below = next((f.address for f in self.fields if f.address.startswith(f"{address}.")), "")
        if not below or not lines.choose(below):
            self.page.tell(f"{address} has no line here")
