"""Marks: every ink, run and sign-off of a record, newest first.

Invariant: a mark is looked at, compared with, or restored from; never changed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import age, count, moment
from tui.safe import fit
from tui.screens.compare import Compare
from tui.screens.notice import Notice
from tui.screens.restore import Restore, how_much
from tui.screens.subject import AboutOne, Subject
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import key
from tui.widgets.lines import Item
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.views import Inked, Mark


class Marks(AboutOne, FinderPage):
    """The past of a document. Its answer is an address to go to, or None."""

    KEYS = (
        key("Enter", "compare with now", "what changed from this mark to now", "compare"),
        key("Space", "hold", "hold this mark; Enter on another compares the two", "hold"),
        key("v", "restore", "bring back a value, section or record as it was here", "restore"),
        FIND,
    )

    def __init__(self, subject: Subject, address: str = "") -> None:
        super().__init__()
        self.subject = subject
        self._address = address
        self._marks: Sequence[Mark] = ()
        self._held: Mark | None = None

    def heading(self) -> str:
        """Whose past."""
        return f"Marks of {self.name_of_record}"

    def load(self) -> None:
        """Ask for the marks."""
        question = lambda book: self.subject.of(book).past.marks()  # noqa: E731
        self.ask_to_show("looking back", question, self._show)

    def _show(self, marks: Sequence[Mark]) -> None:
        self._marks = marks
        self.show_frame()
        self.narrowed()

    def narrowed(self) -> None:
        """List the marks that have the wanted words."""
        kinds = [mark.kind for mark in self._marks]
        parts = [count(kinds.count(kind), kind) for kind in ("ink", "run", "sign-off")]
        parts += (
            [count(n, "merge that decided", "merges that decided")]
            if (n := kinds.count("merge"))
            else []
        )
        self.about.say((f" {', '.join(parts)}, newest first", ""))
        self.head.say(*_row(("mark", "when", "who", "what"), self.app.size.width, "strong"))
        now = self.bench.clock()
        items = [
            Item(mark.name, _drawer(mark, self.name_of_record, now, mark == self._held))
            for mark in self._marks
            if self.has_wanted(f"{mark.name} {mark.who.name} {mark.text}")
        ]
        self.lines.show(items or [paragraph(0, "No mark yet.")])
        self.chosen()

    def chosen(self) -> None:
        """The chosen mark in full."""
        mark = self._chosen()
        if mark is None:
            self.detail.say()
            return
        why = mark.text.removeprefix(f"{self.name_of_record}: ")
        login = f" (login {mark.who.login})" if mark.who.login else ""
        text = f" {moment(mark.when)}, {mark.who.name}{login}, {mark.commit[:12]}: {why}"
        self.detail.say((fit(text, self.app.size.width), ""))

    def _chosen(self) -> Mark | None:
        return next((mark for mark in self._marks if mark.name == self.lines.key), None)

    def do_hold(self) -> None:
        """Hold a mark, or let it go."""
        mark = self._chosen()
        self._held = None if mark == self._held else mark
        self.narrowed()
        held = f"{self._held.name} is held: Enter on another compares." if self._held else ""
        self.tell(held)

    def do_compare(self) -> None:
        """Compare the chosen mark with now, or the held one with the chosen one."""
        mark, held, subject = self._chosen(), self._held, self.subject
        if mark is None:
            return
        if held is None or held == mark:
            start, end = mark.name, "now"
        else:
            newest_first = [each for each in self._marks if each in (held, mark)]
            start, end = newest_first[-1].name, newest_first[0].name
        page = Compare(subject, lambda document, _: document.past.compare(start, end))
        self.app.push_screen(page, self._leave_to)

    def _leave_to(self, address: str | None) -> None:
        if address:
            self.dismiss(address)

    def do_restore(self) -> None:
        """Ask how much, then why, then restore."""
        mark = self._chosen()
        if mark is None:
            return
        if not self.bench.me.may_ink:
            self.tell("Read only: only a setter or a lead who is known here can restore.")
            return
        page, addresses = how_much(mark, self._address)

        def then(letter: str | None) -> None:
            if letter is not None:
                page = Restore(self.subject, mark, addresses[letter])
                self.app.push_screen(page, self._restored)

        self.app.push_screen(page, then)

    def _restored(self, answer: Inked | str | None) -> None:
        if answer is None:
            return
        if isinstance(answer, str):
            self.tell(
                "The record is not as it was inked, or is contested: see the editor.", "error"
            )
            return
        self.tell(f"Restored in a new ink: {count(len(answer.changes), 'value')}.")
        if answer.messages:
            texts = [(text, "") for text in answer.messages]
            self.app.push_screen(Notice("Restored. What to know now", texts))


def _row(texts: tuple[str, str, str, str], width: int, style: str = "") -> StyledRow:
    who = 16 if width < 120 else 24
    return (
        (fit(f"  {texts[0]}", 14), "strong"),
        (fit(texts[1], 9), style),
        (fit(texts[2], who - 1) + " ", style),
        (fit(texts[3], width - 23 - who), style),
    )


def _drawer(
    mark: Mark, name: str, now: datetime, held: bool
) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        text = mark.text.removeprefix(f"{name}: ")
        text = f"[held] {text}" if held else text
        return [_row((mark.name, age(mark.when, now), mark.who.name, text), width)]

    return draw
