"""To ink: the list of changes, what they do to the figures, and why.

Invariant: what is listed is my pencil as the journal has it, and what is listed is what
is inked: all of it, or with Tab only the value that one came from. A figure that no
longer fits is told above the list, too; it never forbids the ink.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.views import Change
from engine.views.wording import count, is_record, joined
from schemas.errors import BelongsTogether
from tui.screens.changes import change_row
from tui.screens.judged import PROVE, Outcome, broken, broken_words, change_items, outcome_of
from tui.screens.reason import ReasonPage
from tui.screens.subject import Subject
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import Item
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from engine.book import Book, DocumentHandle
    from engine.views import Draft, Inked, Pencilled
    from schemas.errors import WitnessmarkError
    from tui.widgets.paint import StyledRow

_DOES = "what it does to the figures"


@dataclass(frozen=True)
class _Way:
    """One choice of what is inked: which values, and whether they need a reason."""

    only: Sequence[str]
    needed: bool
    word: str  # for the keys line, of the key that leads here


class Ink(ReasonPage):
    """Lists my pencil on a document and inks it with a reason."""

    def __init__(self, subject: Subject, reason: str = "", here: str = "") -> None:
        super().__init__(subject, reason)
        self._here = here  # the value that one came from
        self._draft: Draft | None = None
        self._ways: list[_Way] = []
        self._way = 0
        self._values: list[Item] = []
        self._more = False  # whether pencil came up that belongs together with what was listed

    def heading(self) -> str:
        """What is to be inked."""
        return f"Ink {self.name_of_record}"

    def live_keys(self) -> tuple[PageKey, ...]:
        """Tab, where there is something to choose."""
        usual = super().live_keys()
        if len(self._ways) < 2:
            return usual
        after = self._ways[(self._way + 1) % len(self._ways)]
        return (usual[0], key("Tab", after.word, "", "other_way"), *usual[1:])

    def load(self) -> None:
        """My pencil, whether a reason is needed, and then the figures."""
        here = self._here

        def look(book: Book) -> tuple[Draft | None, list[_Way], str]:
            document = self.subject.of(book)
            draft = document.pencil.draft()
            ways = _ways(document, draft, here) if draft else []
            return draft, ways, "" if draft else document.pencil.became()

        self.ask_to_show("looking", look, self._show)

    def _show(self, answer: tuple[Draft | None, list[_Way], str]) -> None:
        self._draft, ways, became = answer
        if self._draft is None:
            self.ready = False
            said = f"{became[:1].upper()}{became[1:]}." if became else ""
            self.lines.show(
                [
                    paragraph(0, "There is nothing in pencil here."),
                    *([paragraph(1, said)] * bool(said)),
                ]
            )
            return
        same = len(ways) == len(self._ways)
        self._ways, self._way = ways, self._way if same else 0
        self._show_way()
        if self._more:
            self._more = False
            self.tell("You pencilled more of it elsewhere. Look at the list, then Enter.", "error")

    def _show_way(self) -> None:
        """List what is inked this way, and say what stays."""
        way, draft = self._ways[self._way], self._draft
        assert draft is not None
        chosen = [mark for mark in draft.marks if mark.address in way.only]
        stay = [mark.address for mark in draft.marks if mark.address not in way.only]
        self._say(f"{count(len(chosen), 'value')} will be inked as {self.bench.me.name}", "")
        self._values = [Item(mark.address, _drawer(mark), heading=False) for mark in chosen]
        if stay:
            self._values += [paragraph(3, ""), paragraph(4, f"In pencil stays: {joined(stay)}.")]
        self.show_changes(self._values, way.needed)
        self.show_keys()
        if is_record(self.name_of_record) and not stay:
            ask = lambda book: outcome_of(self.subject.of(book))  # noqa: E731
            self.ask("", ask, self._show_figures, failed=self._no_figures)

    def do_other_way(self) -> None:
        """Ink only the value that one came from, or what belongs with it, or all again."""
        if self.ready:
            self._way = (self._way + 1) % len(self._ways)
            self.head.say()
            self._show_way()

    def _say(self, text: str, worse: str) -> None:
        self._said = text
        self.about.say((f" {text}", ""), (worse and f"; {worse}", "error"), (":", ""))

    def _show_figures(self, outcome: Outcome) -> None:
        if self._way:
            return  # they are those of all pencil
        changes = outcome.changes
        if broken(changes):
            self._say(self._said, broken_words(changes))
        self.head.say((f" {PROVE}", ""))
        items = change_items(changes, f"{_DOES}, worst first")
        counts = ", ".join(outcome.counts)
        none = [paragraph(0, ""), paragraph(1, "It changes no figure noticeably.")]
        self.lines.show([*self._values, *(items or none), paragraph(2, f"With it: {counts}.")])

    def _no_figures(self, error: WitnessmarkError) -> None:
        text = f"The figures cannot be worked out: {error}"
        self.lines.show([*self._values, paragraph(0, ""), paragraph(1, text, "warning")])

    def differs(self, book: Book) -> bool:
        """Whether a listed value is another by now.

        What is gone, or was overtaken, is refused with names; what came up besides is not inked.
        """
        listed, draft = self._draft, self.subject.of(book).pencil.draft()
        if listed is None or draft is None:
            return False
        only = self._ways[self._way].only
        shown = {mark.address: mark.value for mark in listed.marks if mark.address in only}
        return any(
            mark.value != shown.get(mark.address, mark.value) and not mark.contested
            for mark in draft.marks
        )

    def act(self, book: Book, reason: str) -> Inked:
        """Ink what is listed."""
        document, only = self.subject.of(book), self._ways[self._way].only
        if self._way:
            return document.ink(reason, only, "without")
        return document.ink(reason, only, files=True)

    def _refused(self, error: WitnessmarkError) -> None:
        """More that belongs together with it was pencilled meanwhile: it is listed first."""
        if isinstance(error, BelongsTogether):
            self._more = True
            self.load()
        else:
            super()._refused(error)


def _ways(document: DocumentHandle, draft: Draft, here: str) -> list[_Way]:
    """All of it first; then only the value that one came from, and what belongs with it."""
    every = [mark.address for mark in draft.marks]
    sets = [(every, "all of it")]
    if here in every and len(every) > 1:
        sets.append(([here], f"only {here.rpartition('.')[2].replace('_', ' ')}"))
        group = document.pencil.together(here)
        if 1 < len(group) < len(every):
            sets.append((group, "what belongs together"))
    return [_Way(only, document.needs_reason(only), word) for only, word in sets]


def _drawer(mark: Pencilled) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        change = Change(mark.address, mark.inked, mark.value, mark.unit, mark.delta)
        return [change_row(change, width)]

    return draw
