"""What differs between two marks: values, positions as vectors, and figures.

Invariant: both ends are named as the engine resolved them, so that nobody has
to trust what `last run` or a date was taken for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from engine.views.wording import clock_words, count, differ_words, is_record, moved_words
from tui.safe import wrap
from tui.screens.changes import change_row
from tui.screens.choice import Menu, Option
from tui.screens.judged import broken, broken_words, change_items
from tui.screens.subject import AboutOne, Subject
from tui.screens.trace import Trace
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import LATER
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import Book, DocumentHandle
    from engine.views import Change, Comparison, FigureChange, PositionChange

Question = Callable[["DocumentHandle", "Book"], "Comparison"]


def what_to_compare(name: str) -> Menu:
    """Against what?"""
    options = [
        Option("r", "since the last run: what stood at its stop -> in ink now"),
        Option("s", "since sign-off: what was accepted -> in ink now"),
        Option("d", "since a day or a span of time that you type -> in ink now"),
        Option("p", "my pencil: in ink now -> in pencil"),
        Option("m", "another mark: choose it in the list of marks"),
    ]
    return Menu(f"Compare {name}", [("What changed?", "strong")], options)


def question_by(letter: str) -> Question:
    """The question to the document that an answer of `what_to_compare` stands for."""
    questions: dict[str, Question] = {
        "r": lambda document, _: document.past.since_run(),
        "s": lambda document, _: document.past.since_sign_off(),
        "p": lambda document, _: document.past.compare(),
    }
    return questions[letter]


def since(text: str) -> Question:
    """The question what changed since a moment that was typed."""
    return lambda document, book: document.past.since(book.moment(text))


class Compare(AboutOne, FinderPage):
    """Shows a comparison. Its answer is an address to go to, or None."""

    KEYS = (
        key("Enter", "go to the field", "go to the chosen field in the editor", "take"),
        key("t", "trace", "the life of this value", "trace"),
        FIND,
    )

    def __init__(self, subject: Subject, question: Question) -> None:
        super().__init__()
        self.subject = subject
        self._question = question
        self._comparison: Comparison | None = None
        self._figures: Sequence[FigureChange] = ()

    def heading(self) -> str:
        """What is compared."""
        return f"Compare {self.name_of_record}"

    def load(self) -> None:
        """Ask each time: what is compared with may have been inked or pencilled meanwhile."""
        question = lambda book: self._question(self.subject.of(book), book)  # noqa: E731
        self.ask_to_show("comparing", question, self._show)

    def _show(self, comparison: Comparison) -> None:
        self._comparison = comparison
        self.show_frame()
        self.narrowed()
        start, end = comparison.start_commit, comparison.end_commit or "pencil"
        if is_record(self.name_of_record) and start:
            question = lambda book: self.subject.of(book).figures.consequences(start, end)  # noqa: E731
            self.ask("figures", question, self._show_figures, urgency=LATER)

    def _show_figures(self, changes: Sequence[FigureChange]) -> None:
        self._figures = changes
        self.narrowed()

    def narrowed(self) -> None:
        """Positions first, then values by section."""
        found = self._comparison
        if found is None:
            return
        changes = [c for c in found.changes if self.has_wanted(c.address)]
        respelt = f", {found.respelt} with another spelling only" if found.respelt else ""
        self.about.say((f" {found.start}  ->  {found.end}", "strong"))
        worse = f"; {broken_words(self._figures)}" if broken(self._figures) else ""
        values = f" {count(len(changes), 'value')} changed{respelt}"
        values = f" {differ_words(found)}" if found.unreadable else values
        self.head.say((values, ""), (worse, "error"))
        items: list[Item] = []
        positions = [p for p in found.positions if self.has_wanted(f"positions.{p.station}")]
        if positions:
            items.append(
                fixed("moved", ((" taught positions that moved", "heading"),), heading=True)
            )
            items += [Item(f"positions.{p.station}", _moved(p)) for p in positions]
        section = ""
        for change in changes:
            if change.address.partition(".")[0] != section:
                section = change.address.partition(".")[0]
                title = ((f" {section.replace('_', ' ')}", "heading"),)
                items.append(fixed(("section", section), title, heading=True))
            items.append(Item(change.address, _changed(change)))
        figures = [c for c in self._figures if self.has_wanted(f"{c.name} {c.at} {c.new_verdict}")]
        items += change_items(figures, "figures that changed, worst first")
        items += [paragraph(n, text, "error") for n, text in enumerate(found.unreadable)]
        if not items:
            items.append(paragraph(0, _none(found)))
        doubts = enumerate(clock_words(found.clocks), 1)
        self.lines.show([*(paragraph(n, words, "warning") for n, words in doubts), *items])

    def do_take(self) -> None:
        """Go to the chosen field."""
        if isinstance(self.lines.key, str):
            self.dismiss(self.lines.key)
        elif isinstance(self.lines.key, tuple):
            self.tell(
                "A figure has no field of its own; g in the editor says what it follows from."
            )

    def do_trace(self) -> None:
        """The life of the chosen value."""
        if isinstance(self.lines.key, str):
            self.app.push_screen(Trace(self.subject, self.lines.key))


def _none(found: Comparison) -> str:
    """Why nothing is listed."""
    if found.unreadable:
        return f"{differ_words(found)}. Choose an older mark; trace tells what its values were."
    return "Nothing differs."


def _moved(position: PositionChange) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        lines = wrap(moved_words(position), width - 5)
        return [(("   ", ""), (line, "strong" if n == 0 else "")) for n, line in enumerate(lines)]

    return draw


def _changed(change: Change) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        return [change_row(change, width)]

    return draw
