"""What was taken out of the book: by whom, its past, and the way back.

Invariant: nothing that is in the book is listed here; bringing back is a new ink with a
reason, and what will stand is listed before it is done.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from engine.views.wording import ago, count, moment
from tui.safe import fit
from tui.screens.marks import Marks
from tui.screens.notice import Notice
from tui.screens.restore import BringBack
from tui.screens.subject import Subject
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import key
from tui.widgets.lines import Item
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.views import Inked, TakenOut


class TakenOutList(FinderPage):
    """All that was in the book once and is not now."""

    KEYS = (
        key("Enter", "its past", "its marks: every ink, run and sign-off", "marks"),
        key("v", "bring back", "bring the chosen one back as it stood last", "bring_back"),
        FIND,
    )

    def __init__(self) -> None:
        super().__init__()
        self._gone: Sequence[TakenOut] = ()

    def heading(self) -> str:
        """What is listed."""
        return "Taken out of the book"

    def load(self) -> None:
        """Ask for the list."""
        self.ask_to_show("looking back", lambda book: book.taken_out(), self._show)

    def _show(self, gone: Sequence[TakenOut]) -> None:
        self._gone = gone
        self.narrowed()

    def narrowed(self) -> None:
        """List those that have the wanted words."""
        self.about.say((f" {count(len(self._gone), 'document')}, each with its past", ""))
        self.head.say(*_row(("was called", "part", "taken out"), self.app.size.width, "strong"))
        now = self.bench.clock()
        items = [
            Item(each.id, _drawer(each, now))
            for each in self._gone
            if self.has_wanted(f"{each.document} {each.id} {each.part} {each.kind}")
        ]
        self.lines.show(items or [paragraph(0, "Nothing was taken out of this book.")])
        self.chosen()

    def chosen(self) -> None:
        """The chosen one in full."""
        each = self._chosen()
        if each is None:
            self.detail.say()
            return
        ink = f"last inked {moment(each.last_ink.when)} by {each.last_ink.who.name}"
        out = f"; {each.by.commit[:12]}: {each.by.text}" if each.by else ""
        self.detail.say((fit(f" {each.kind} {each.id}, {ink}{out}", self.app.size.width), ""))

    def _chosen(self) -> TakenOut | None:
        return next((each for each in self._gone if each.id == self.lines.key), None)

    def do_marks(self) -> None:
        """The past of the chosen one."""
        each = self._chosen()
        if each is not None:
            self.app.push_screen(Marks(Subject(each.document, each.id)), lambda _: self.load())

    def do_bring_back(self) -> None:
        """Ask why, then bring it back."""
        each = self._chosen()
        if each is None:
            return
        if not self.bench.me.may_ink:
            self.tell("Read only: only a setter or a lead who is known here can bring it back.")
            return
        self.app.push_screen(BringBack(Subject(each.document, each.id), each.last_ink), self._back)

    def _back(self, answer: Inked | str | None) -> None:
        if isinstance(answer, str):
            self.tell("Something lies on the disk in its place: move that away first.", "error")
        elif answer is not None:
            self.load()
            texts = [(text, "") for text in answer.messages]
            self.app.push_screen(Notice(f"{answer.document} is in the book again", texts))


def _row(texts: tuple[str, str, str], width: int, style: str = "") -> StyledRow:
    spare = max(width - 80, 0)
    name, part = 26 + spare // 3, 18 + spare // 3
    return (
        (fit(f"  {texts[0]}", name - 1) + " ", "strong"),
        (fit(texts[1], part - 1) + " ", style),
        (fit(texts[2], width - name - part), style),
    )


def _drawer(each: TakenOut, now: datetime) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        by = each.by
        out = f"{ago(by.when, now)} by {by.who.name}" if by else "left out in a merge"
        return [_row((each.document, each.part or each.kind, out), width)]

    return draw
