"""The pages that are opened from a document, and what their answers do there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.views.wording import count, is_record, unit_word
from schemas.address import show
from tui.screens.asktext import AskText
from tui.screens.compare import Compare, Question, question_by, since, what_to_compare
from tui.screens.editor.document import EditedDocument
from tui.screens.editor.pencil import decide_contest, decide_on_disk, on_disk
from tui.screens.editor.wording import explained
from tui.screens.figures import Figures
from tui.screens.findings import Findings
from tui.screens.help import Explained, Help
from tui.screens.ink import Ink
from tui.screens.marks import Marks
from tui.screens.notice import Notice
from tui.screens.runs import Runs
from tui.screens.trace import Trace
from tui.widgets.page import Page

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Inked
    from schemas.fields import Described

_SINCE = "A span as 7 days or 3 weeks, yesterday, or a day as 2026-03-02."


def _open(document: EditedDocument, page: Page) -> None:
    """Put up a page whose answer, if any, is an address to go to."""

    def then(address: str | None) -> None:
        if address:
            document.goto(address)

    document.page.app.push_screen(page, then)


def ink(document: EditedDocument) -> None:
    """The ink page, where there is pencil of mine."""
    if document.may_write():
        document.look_again(lambda: _ink_what_stands(document))


def _ink_what_stands(document: EditedDocument) -> None:
    if document.found_on_disk() is not None:
        decide_on_disk(document)
    elif not document.mine():
        document.page.tell("You have nothing in pencil here, so there is nothing to ink.")
    elif document.contested():
        decide_contest(document)
    else:
        here = document.current()
        address = here.address if here is not None and here.mine is not None else ""
        page = Ink(document.subject, document.reason, address)

        def then(answer: Inked | str | None) -> None:
            document.reason = page.text if isinstance(answer, str) else ""  # to be typed once only
            _inked(document, answer)

        document.page.app.push_screen(page, then)


def _inked(document: EditedDocument, answer: Inked | str | None) -> None:
    page = document.page
    if answer == "disk":
        on_disk(document)
    elif answer == "contested":
        page.tell("Somebody inked meanwhile. Look at it, then press d.")
    elif answer is not None and not isinstance(answer, str):
        document.trail = []
        page.tell(f"In ink: {count(len(answer.changes), 'value')}, {answer.commit[:7]}.")
        if answer.messages:
            texts = [(text, "") for text in answer.messages]
            page.app.push_screen(Notice("In ink. What to know now", texts))


def trace(document: EditedDocument) -> None:
    """The life of this value."""
    each = document.current()
    if each is not None:
        document.page.app.push_screen(Trace(document.subject, each.address))


def compare(document: EditedDocument) -> None:
    """Ask against what, then show it."""
    app = document.page.app

    def put(question: Question) -> None:
        _open(document, Compare(document.subject, question))

    def since_when(text: str | None) -> None:
        if text:
            put(since(text))

    def then(answer: str | None) -> None:
        if answer == "m":
            marks(document)
        elif answer == "d":
            page = AskText("Compare since when?", "since", _SINCE, "7 days")
            app.push_screen(page, since_when)
        elif answer is not None:
            put(question_by(answer))

    app.push_screen(what_to_compare(document.name), then)


def marks(document: EditedDocument) -> None:
    """Marks of this document."""
    each = document.current()
    _open(document, Marks(document.subject, each.address if each else ""))


def figures(document: EditedDocument) -> None:
    """Figures of this record."""
    if is_record(document.name):
        _open(document, Figures(document.subject))
    else:
        document.page.tell("Only records have figures.")


def runs(document: EditedDocument) -> None:
    """Runs of this record."""
    if is_record(document.name):
        document.page.app.push_screen(Runs(document.subject))
    else:
        document.page.tell("Only records have runs.")


def findings(document: EditedDocument) -> None:
    """Findings of this record."""

    def then(answer: tuple[str, str] | None) -> None:
        if answer is not None:
            document.goto(answer[1])

    document.page.app.push_screen(Findings(document.subject), then)


def copy(document: EditedDocument) -> None:
    """Copy the present value by the terminal's own clipboard sequence."""
    each, page = document.current(), document.page
    if each is not None and each.value is not None:
        page.app.copy_to_clipboard(show(each.value))
        page.tell(f"Copied {show(each.value)}, if this terminal allows it.")


def help_here(document: EditedDocument) -> None:
    """The meaning of this value, the keys, and all fields."""
    addresses = [each.address for each in document.fields]
    here, page = document.current(), document.page

    def question(book: Book) -> tuple[list[Described], list[str]]:
        asked = document.subject.of(book)
        record = is_record(document.name)
        follow = asked.figures.touched_by(here.address) if here and record else []
        described = [asked.describe(address) for address in addresses]
        return [each for each in described if each is not None], follow

    def then(answer: tuple[list[Described], list[str]]) -> None:
        described, follow = answer
        fields = [Explained(d.address, d.meaning, unit_word(d.unit)) for d in described]
        known = next((d for d in described if here and d.address == here.address), None)
        now = page.bench.clock()
        about = explained(here, known, follow, now) if here and known else []
        _open(document, Help(document.name, page.live_keys(), about, fields))

    page.ask("looking up", question, then)
