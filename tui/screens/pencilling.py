"""What can be done with pencil besides typing: undo, rub out, decide.

Invariant: nothing that discards happens without a question, and the answer says
how it is brought back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from tui.screens.choice import Choice, Option
from tui.screens.contested import contest_of
from tui.screens.editing import EditingPage
from tui.screens.ondisk import question_of
from tui.screens.words import count, with_unit

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Draft


class PencillingPage(EditingPage):
    """A document whose pencil can be undone, rubbed out and decided on."""

    def _act(self, word: str, act: Callable[[Book], object], said: str = "") -> None:
        """Do something to the pencil, show what is there afterwards, and say it."""
        name = self.name_of_record

        def question(book: Book) -> tuple[object, list[Draft]]:
            answer = act(book)
            return answer, book.drafts(name)

        def then(answer: tuple[object, list[Draft]]) -> None:
            self.show_drafts(answer[1])
            self.tell(said.format(answer[0]) if isinstance(answer[0], str) else said)

        self.ask(word, question, then, hold=True)

    def do_undo(self) -> None:
        """Undo the last thing done to this pencil, and name it."""
        name = self.name_of_record
        self._act("undoing", lambda book: book.undo(name), "Undone: {0}. r does it again.")

    def do_redo(self) -> None:
        """Do again what was undone."""
        name = self.name_of_record
        self._act("doing again", lambda book: book.redo(name), "Done again: {0}.")

    def do_take_out(self) -> None:
        """Pencil that this value is to be taken out."""
        each = self.current()
        if each is None or not self.may_write():
            return
        if each.value is None:
            self.tell(f"{each.label} has no value.")
            return
        name, address = self.name_of_record, each.address
        said = f"In pencil: {each.label} is to be taken out. u undoes it."
        self._act("taking out", lambda book: book.clear(name, address), said)

    def do_rub_out(self) -> None:
        """Ask whether to rub out this value's pencil, or all of mine."""
        mine = [each for each in self.fields if each.mine is not None]
        if not mine:
            self.tell("You have nothing in pencil here.")
            return
        here = self.current()
        options = [Option("a", f"rub out all of it: {count(len(mine), 'value')}")]
        if here is not None and here.mine is not None:
            text = f"rub out {here.address} only: {with_unit(here.mine.value, here.unit)}"
            options.insert(0, Option("v", text))
        text = "Rubbed out pencil can be brought back with b. What is inked stays as it is."
        page = Choice("Rub out pencil?", [(text, "")], options, back="rub out nothing")
        address = here.address if here is not None else None
        self.app.push_screen(page, lambda answer: self._rub_out(answer, address))

    def _rub_out(self, answer: str | None, here: str | None) -> None:
        if answer is None:
            return
        name = self.name_of_record
        addresses = [here] if answer == "v" and here else []
        self._act("rubbing out", lambda book: book.rub_out(name, addresses), _RUBBED)

    def do_bring_back(self) -> None:
        """Bring back what was rubbed out last."""
        name = self.name_of_record
        self._act("bringing back", lambda book: book.bring_back(name), "Brought back into pencil.")

    # Contested pencil

    def do_decide(self) -> None:
        """Decide on pencil that somebody else's ink has overtaken."""
        marks = [f.mine for f in self.fields if f.mine is not None and f.mine.contested]
        if not marks:
            self.tell("Nothing here is contested.")
            return
        page = contest_of(marks, self.bench.clock(), self.app.size.width)
        self.app.push_screen(page, lambda answer: self._decide(answer, [m.address for m in marks]))

    def _decide(self, answer: str | None, addresses: Sequence[str]) -> None:
        name = self.name_of_record
        if answer == "m":
            said = "Yours stays in pencil, on top of what was inked. i inks it."
            self._act("keeping", lambda book: book.keep(name), said)
        elif answer == "t":
            self._act("taking theirs", lambda book: book.rub_out(name, addresses), _RUBBED)

    # Found on disk

    def do_on_disk(self) -> None:
        """Decide on a file that was changed outside the program."""
        if self.sheet is None or self.sheet.disk is None:
            self.tell("The file on disk is as it was inked.")
            return
        page = question_of(self.sheet.disk, self.app.size.width)
        self.app.push_screen(page, self._on_disk)

    def _on_disk(self, answer: str | None) -> None:
        name = self.name_of_record
        if answer == "p":
            self._reloading(lambda book: book.take_from_disk(name), "Taken from disk into pencil.")
        elif answer == "b":
            said = "The inked text is back on disk."
            self._reloading(lambda book: book.put_back(name), said)

    def _reloading(self, act: Callable[[Book], object], said: str) -> None:
        def then(answer: object) -> None:
            self.load()
            self.tell(f"{said} {answer}" if isinstance(answer, str) and answer else said)

        self.ask("working", act, then, hold=True)


_RUBBED = "Rubbed out. b brings it back."
