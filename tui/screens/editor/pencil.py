"""What can be done with pencil besides typing: undo, take out, rub out, decide.

Invariant: nothing that discards happens without a question, and the answer says
how it is brought back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from engine.views.wording import count, with_unit
from schemas.errors import Conflict
from tui.screens.choice import Choice, Option
from tui.screens.contested import contest_of
from tui.screens.editor.document import EditedDocument
from tui.screens.ondisk import question_of

if TYPE_CHECKING:
    from engine.book import DocumentHandle
    from engine.views import Draft, Pencilled

_RUBBED = "Rubbed out. b brings it back."


def undo(document: EditedDocument) -> None:
    """Undo the last thing done to this pencil, and name it."""
    _act(
        document,
        "undoing",
        lambda asked: asked.pencil.undo(),
        "Undone: {0}. r does it again.",
    )


def redo(document: EditedDocument) -> None:
    """Do again what was undone."""
    _act(document, "doing again", lambda asked: asked.pencil.redo(), "Done again: {0}.")


def take_out(document: EditedDocument) -> None:
    """Pencil that this value is to be taken out."""
    each = document.current()
    if each is None or not document.may_write():
        return
    if each.value is None:
        document.page.tell(f"{each.label} has no value.")
        return
    address = each.address
    said = f"In pencil: {each.label} is to be taken out. u undoes it."
    _act(document, "taking out", lambda asked: asked.pencil.clear(address), said)


def rub_out(document: EditedDocument) -> None:
    """Ask whether to rub out this value's pencil, or all of mine."""
    mine, here = document.mine(), document.current()
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
                lambda asked: asked.pencil.rub_out(addresses),
                _RUBBED,
            )

    text = "Rubbed out pencil can be brought back with b. What is inked stays as it is."
    page = Choice("Rub out pencil?", [(text, "")], options, back="rub out nothing")
    document.page.app.push_screen(page, then)


def bring_back(document: EditedDocument) -> None:
    """Bring back what was rubbed out last."""
    said = "Brought back into pencil."
    _act(document, "bringing back", lambda asked: asked.pencil.bring_back(), said)


def decide(document: EditedDocument) -> None:
    """Decide on pencil that somebody else's ink has overtaken."""
    document.look_again(lambda: decide_contest(document))


def decide_contest(document: EditedDocument) -> None:
    """The same on what was looked at just now."""
    page = document.page
    marks = [f.mine for f in document.fields if f.mine is not None and f.mine.contested]
    if not marks:
        page.tell("Nothing here is contested.")
        return
    addresses = [mark.address for mark in marks]

    def keep(asked: DocumentHandle) -> object:
        _stop_if_other(_contested(asked), marks, "d")
        return asked.pencil.keep()

    def rub_out(asked: DocumentHandle) -> object:
        _stop_if_other(_contested(asked), marks, "d")
        return asked.pencil.rub_out(addresses)

    def then(answer: str | None) -> None:
        if answer == "m":
            said = "Yours stays in pencil, on top of what was inked. i inks it."
            _act(document, "keeping", keep, said)
        elif answer == "t":
            _act(document, "taking theirs", rub_out, _RUBBED)

    page.app.push_screen(contest_of(marks, page.bench.clock(), page.app.size.width), then)


def _contested(asked: DocumentHandle) -> list[Pencilled]:
    draft = asked.pencil.draft()
    return [mark for mark in draft.marks if mark.contested] if draft else []


def _stop_if_other(now: object, shown: object, key: str) -> None:
    """What was decided on is what was shown; what came meanwhile is looked at first."""
    if now != shown:
        hint = f"Look, then press {key} again."
        raise Conflict("this changed meanwhile: nothing was done", hint=hint)


def on_disk(document: EditedDocument) -> None:
    """Decide on a file that was changed outside the program, as it is on the disk now."""
    document.look_again(lambda: decide_on_disk(document))


def decide_on_disk(document: EditedDocument) -> None:
    """The same on what was looked at just now."""
    page, shown = document.page, document.found_on_disk()
    if shown is None:
        page.tell("The file on disk is as it was inked.")
        return

    def take(asked: DocumentHandle) -> object:
        _stop_if_other(asked.on_disk.found(), shown, "o")
        return asked.on_disk.take()

    def put_back(asked: DocumentHandle) -> object:
        _stop_if_other(asked.on_disk.found(), shown, "o")
        return asked.on_disk.put_back()

    def then(answer: str | None) -> None:
        if answer == "p":
            _reloading(document, take, "Taken from disk into pencil.")
        elif answer == "b":
            _reloading(document, put_back, "The inked text is back on disk.")

    page.app.push_screen(question_of(shown, page.app.size.width), then)


Act = Callable[["DocumentHandle"], object]


def _act(document: EditedDocument, word: str, act: Act, said: str) -> None:
    """Do something to the pencil, show what is there afterwards, and say it."""

    def then(answer: tuple[object, Sequence[Draft]]) -> None:
        done, drafts = answer
        document.show_drafts(drafts)
        document.page.tell(said.format(done) if isinstance(done, str) else said)

    document.page.ask(word, document.acting(act), then, failed=document.failed, hold=True)


def _reloading(document: EditedDocument, act: Act, said: str) -> None:
    """Do something to the file, load all anew, and say it."""

    def then(answer: object) -> None:
        document.page.load()
        document.page.tell(f"{said} {answer}" if isinstance(answer, str) and answer else said)

    question = lambda book: act(document.subject.of(book))  # noqa: E731
    document.page.ask("working", question, then, failed=document.failed, hold=True)
