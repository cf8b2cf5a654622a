"""What can be done with pencil besides typing: undo, take out, rub out, decide.

Invariant: nothing that discards happens without a question, and the answer says
how it is brought back.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from engine.views.wording import count, with_unit
from tui.screens.choice import Choice, Option
from tui.screens.contested import contest_of
from tui.screens.editor.document import EditedDocument
from tui.screens.ondisk import question_of

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Draft

_RUBBED = "Rubbed out. b brings it back."


def undo(document: EditedDocument) -> None:
    """Undo the last thing done to this pencil, and name it."""
    name = document.name
    _act(
        document,
        "undoing",
        lambda book: book.document(name).pencil.undo(),
        "Undone: {0}. r does it again.",
    )


def redo(document: EditedDocument) -> None:
    """Do again what was undone."""
    name = document.name
    _act(
        document, "doing again", lambda book: book.document(name).pencil.redo(), "Done again: {0}."
    )


def take_out(document: EditedDocument) -> None:
    """Pencil that this value is to be taken out."""
    each = document.current()
    if each is None or not document.may_write():
        return
    if each.value is None:
        document.page.tell(f"{each.label} has no value.")
        return
    name, address = document.name, each.address
    said = f"In pencil: {each.label} is to be taken out. u undoes it."
    _act(document, "taking out", lambda book: book.document(name).pencil.clear(address), said)


def rub_out(document: EditedDocument) -> None:
    """Ask whether to rub out this value's pencil, or all of mine."""
    mine, here, name = document.mine(), document.current(), document.name
    if not mine:
        document.page.tell("You have nothing in pencil here.")
        return
    options = [Option("a", f"rub out all of it: {count(len(mine), 'value')}")]
    if here is not None and here.mine is not None:
        text = f"rub out {here.address} only: {with_unit(here.mine.value, here.unit)}"
        options.insert(0, Option("v", text))

    def then(answer: str | None) -> None:
        addresses = [here.address] if answer == "v" and here is not None else []
        if answer is not None:
            _act(
                document,
                "rubbing out",
                lambda book: book.document(name).pencil.rub_out(addresses),
                _RUBBED,
            )

    text = "Rubbed out pencil can be brought back with b. What is inked stays as it is."
    page = Choice("Rub out pencil?", [(text, "")], options, back="rub out nothing")
    document.page.app.push_screen(page, then)


def bring_back(document: EditedDocument) -> None:
    """Bring back what was rubbed out last."""
    name = document.name
    said = "Brought back into pencil."
    _act(document, "bringing back", lambda book: book.document(name).pencil.bring_back(), said)


def decide(document: EditedDocument) -> None:
    """Decide on pencil that somebody else's ink has overtaken."""
    page, name = document.page, document.name
    marks = [f.mine for f in document.fields if f.mine is not None and f.mine.contested]
    if not marks:
        page.tell("Nothing here is contested.")
        return
    addresses = [mark.address for mark in marks]

    def then(answer: str | None) -> None:
        if answer == "m":
            said = "Yours stays in pencil, on top of what was inked. i inks it."
            _act(document, "keeping", lambda book: book.document(name).pencil.keep(), said)
        elif answer == "t":
            _act(
                document,
                "taking theirs",
                lambda book: book.document(name).pencil.rub_out(addresses),
                _RUBBED,
            )

    page.app.push_screen(contest_of(marks, page.bench.clock(), page.app.size.width), then)


def on_disk(document: EditedDocument) -> None:
    """Decide on a file that was changed outside the program."""
    page, name, contents = document.page, document.name, document.contents
    if contents is None or contents.disk is None:
        page.tell("The file on disk is as it was inked.")
        return

    def then(answer: str | None) -> None:
        if answer == "p":
            said = "Taken from disk into pencil."
            _reloading(document, lambda book: book.document(name).on_disk.take(), said)
        elif answer == "b":
            said = "The inked text is back on disk."
            _reloading(document, lambda book: book.document(name).on_disk.put_back(), said)

    page.app.push_screen(question_of(contents.disk, page.app.size.width), then)


def _act(document: EditedDocument, word: str, act: Callable[[Book], object], said: str) -> None:
    """Do something to the pencil, show what is there afterwards, and say it."""
    name = document.name

    def question(book: Book) -> tuple[object, list[Draft]]:
        answer = act(book)
        return answer, book.document(name).drafts()

    def then(answer: tuple[object, list[Draft]]) -> None:
        done, drafts = answer
        document.show_drafts(drafts)
        document.page.tell(said.format(done) if isinstance(done, str) else said)

    document.page.ask(word, question, then, hold=True)


def _reloading(document: EditedDocument, act: Callable[[Book], object], said: str) -> None:
    """Do something to the file, load all anew, and say it."""

    def then(answer: object) -> None:
        document.page.load()
        document.page.tell(f"{said} {answer}" if isinstance(answer, str) and answer else said)

    document.page.ask("working", act, then, hold=True)
