"""What the checks have to say, and the way to the field.

Invariant: errors come first; each finding says in words its level, what is
wrong, and what to do; Enter goes to the field it speaks of.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from engine.views.wording import count
from tui.safe import wrap
from tui.screens.acknowledge import Acknowledge
from tui.screens.subject import Subject
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import key
from tui.widgets.lines import Item
from tui.widgets.paint import StyledRow, StyledText
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Finding

_ORDER = {"error": 0, "warning": 1, "note": 2}


class Findings(FinderPage):
    """Findings of one document, or of all. Its answer is (record, address), or None."""

    KEYS = (
        key("Enter", "go to the field", "open the field that the finding speaks of", "take"),
        FIND,
        key("k", "", "a lead acknowledges what is lost of the past", "acknowledge"),
    )

    def __init__(self, subject: Subject | None = None) -> None:
        super().__init__()
        self._subject = subject
        self._findings: list[Finding] = []

    def heading(self) -> str:
        """Of what."""
        return f"Findings of {self._subject.name if self._subject else 'the book'}"

    def load(self) -> None:
        """Have the checks run."""

        def question(book: Book) -> list[Finding]:
            return book.check([self._subject.of(book).name] if self._subject else ())

        self.ask_to_show("checking", question, self._show, checking=True)

    def _show(self, findings: Sequence[Finding]) -> None:
        self._findings = sorted(findings, key=lambda f: (_ORDER[f.level], f.record))
        self.show_frame()
        self.narrowed()

    def narrowed(self) -> None:
        """List those that have the wanted words."""
        levels = [f.level for f in self._findings]
        parts = [count(levels.count(level), level) for level in ("error", "warning", "note")]
        self.about.say((f" {', '.join(parts)}", "strong"), *self._of_the_past())
        alone = self._subject is not None
        items = [
            Item(n, _drawer(f, alone))
            for n, f in enumerate(self._findings)
            if self.has_wanted(f"{f.level} {f.record} {f.address} {f.rule} {f.message}")
        ]
        self.lines.show(items or [paragraph(0, "The checks have nothing to say.")])
        self.chosen()

    def _of_the_past(self) -> tuple[StyledText, ...]:
        lost = any(each.rule == "past-rewritten" for each in self._findings)
        return (("   k: acknowledge what is lost of the past", "error"),) if lost else ()

    def chosen(self) -> None:
        """Which rule speaks, and where the text stands."""
        at = self.lines.key
        if not isinstance(at, int):
            self.detail.say()
            return
        found = self._findings[at]
        line = f":{found.line}" if found.line else ""
        self.detail.say((f" rule {found.rule}   {found.file}{line}", ""))

    def do_take(self) -> None:
        """Go to the field."""
        if isinstance(self.lines.key, int):
            found = self._findings[self.lines.key]
            self.dismiss((found.record, found.address))

    def do_acknowledge(self) -> None:
        """What is lost of the past, and a lead's word that it is known."""
        self.app.push_screen(Acknowledge(), lambda _: self.load())


def _drawer(found: Finding, alone: bool) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        style = found.level if found.level != "note" else ""
        place = found.address if alone else f"{found.record}  {found.address}"
        rows: list[StyledRow] = [((f"  {found.level:8} ", style), (place, "strong"))]
        for text in (found.message, found.hint):
            if text:
                room = max(width - 13, 20)
                rows += [((" " * 11, ""), (line, "")) for line in wrap(text, room)]
        return [*rows, ()]

    return draw
