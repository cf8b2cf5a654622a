"""The book's list: one line for each record, and what one must know before opening it.

Invariant: pencil is named with the person and its age, and what does not fit is
said in words; names of records stand still, whatever their state. The chosen line is
that of a record and not of its name: it goes along with a rename.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from engine.views.wording import (
    NOT_YET,
    SIGNED,
    ago,
    confirmed_words,
    count,
    is_record,
    people_of,
)
from tui.safe import fit
from tui.screens.acknowledge import Acknowledge
from tui.screens.checking import Checking
from tui.screens.figures import Figures
from tui.screens.findings import Findings
from tui.screens.listed_row import head_row, record_row, widths, worst_of
from tui.screens.notice import Notice
from tui.screens.quitting import Leaving
from tui.screens.runs import Runs
from tui.screens.subject import Subject
from tui.screens.taken_out import TakenOutList
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import HELP, LOOK, MOVING, PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import LATER
from tui.widgets.paint import StyledRow, StyledText
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Draft, Finding, Listed, Waiting

    Answer = tuple[list[Listed], list[str], list[str], list[Finding]]


class Listing(FinderPage):
    """All records of the book; leads find cells, people and policy below them."""

    KEYS = (
        key("Enter", "open", "open the chosen record", "open"),
        FIND,
        key("f", "findings", "findings of the whole book", "findings"),
        key("g", "figures", "figures of the chosen record", "figures"),
        key("n", "runs", "runs of the chosen record: start, confirm, refill, stop", "runs"),
        key("k", "", "what is lost of the past; a lead acknowledges it", "acknowledge"),
        key("x", "", "show retired records, too, or leave them out", "retired"),
        key("t", "", "what was taken out of the book, and the way back", "taken_out"),
        key("q", "leave", "leave the program; pencil stays", "leave"),
        key("h", "its findings", "findings of the chosen record", "findings_here"),
        key("Esc", "", "show all records again", "back"),
        HELP,
        LOOK,
    )

    def __init__(self) -> None:
        super().__init__()
        self._listed: Sequence[Listed] = ()
        self._others: Sequence[str] = ()
        self._checking = Checking(self, self.narrowed)
        self._retired = False
        self._waiting_words = ""
        self._gone_words = ""
        self._past: Sequence[Finding] = ()

    def heading(self) -> str:
        """The book's name."""
        return f"Witnessmark   {self.bench.book_name}"

    def live_keys(self) -> tuple[PageKey, ...]:
        """There is nowhere to go back to."""
        return (*self.KEYS, *MOVING)

    # Loading

    def load(self) -> None:
        """The list at once, the findings when the checks are through."""
        retired = self._retired

        def question(book: Book) -> Answer:
            listed = book.list_records(retired=retired, findings=False, wait=False)
            names = {each.record for each in listed}
            others = [n for n in book.documents() if n not in names and not is_record(n)]
            return listed, others, book.warnings(), book.past_errors()

        self.ask_to_show("reading the book", question, self._show)

    def _show(self, answer: Answer) -> None:
        listed, self._others, warnings, self._past = answer
        self._take(listed)
        errors = {error.message for error in self._past}
        warnings = [words for words in warnings if words not in errors]
        if warnings:
            self.tell_aside(f"! {warnings[0]}", "warning")
        readable = [each.record for each in self._listed if not each.problems]
        self._checking.start([*readable, *self._others], self._look_up_the_rest)
        ask = lambda book: book.waiting()  # noqa: E731
        self.ask("", ask, self._show_waiting, failed=_ignore, urgency=LATER, checking=True)
        gone = lambda book: len(book.taken_out())  # noqa: E731
        self.ask("", gone, self._show_gone, failed=_ignore, urgency=LATER, checking=True)

    def _take(self, listed: Sequence[Listed]) -> None:
        before = self._chosen()
        self._listed = listed
        self.narrowed(self._called_now(before))
        self.show_frame()

    def _look_up_the_rest(self) -> None:
        """What the list did not know yet: the checks have looked at each record by now."""
        if all(each.known and each.last_ink for each in self._listed if not each.problems):
            return
        retired = self._retired
        ask = lambda book: book.list_records(retired=retired, findings=False)  # noqa: E731
        self.ask("", ask, self._take, urgency=LATER, checking=True)

    def _show_gone(self, number: int) -> None:
        """How much was taken out of the book: its past is still there."""
        self._gone_words = f"   taken out: {number} (t)" if number else ""
        self.show_frame()

    def _show_waiting(self, waiting: Waiting) -> None:
        """How much the other boxes have not got yet, where they meet at all."""
        saves = count(len(waiting.commits), "save")
        self._waiting_words = f"   not yet synced: {saves}" if waiting.commits else ""
        self.show_frame()

    # Drawing

    def narrowed(self, chosen: str | None = None) -> None:
        """List the records that have the wanted words; stand on the chosen one."""
        now, me, findings = self.bench.clock(), self.bench.me.key, self._checking.findings
        items: list[Item] = []
        for each in self._listed:
            if self.has_wanted(f"{each.record} {each.part} {each.cell} {each.id}"):
                row = record_row(each, me, now, findings.get(each.record))
                items.append(Item(each.record, row, tall=1))
        others = [name for name in self._others if self.has_wanted(name)]
        if others:
            title = ((" the book itself", "heading"),)
            items.append(fixed("others", (), title, heading=True))
            items += [Item(name, self._other(name)) for name in others]
        self.lines.show(items or [paragraph(0, self._none())], key=chosen)
        self.chosen()

    def _none(self) -> str:
        """Why the list is empty."""
        if self.wanted:
            return f"Nothing matches {self.wanted!r}; Esc shows all."
        return "No record here. `witnessmark new` begins one."

    def _other(self, name: str) -> Callable[[int], Sequence[StyledRow]]:
        """A cell, the people or the policy: its name, and what the checks say."""

        def draw(width: int) -> Sequence[StyledRow]:
            verdict = worst_of(self._checking.findings.get(name))
            room = sum(widths(width)[:-1])
            return [(("  ", ""), (fit(name, room), "strong"), verdict)]

        return draw

    def show_frame(self) -> None:
        """Title, state of the book, headings and keys."""
        super().show_frame()
        self.head.say(*head_row(self.app.size.width))
        drafts = [draft for each in self._listed for draft in each.pencil]
        who = people_of(drafts, self.bench.me.key)
        pencil = f"   in pencil: {count(len(drafts), 'record')} ({who})" if drafts else ""
        apart = f"{self._waiting_words}{self._gone_words}"
        words: list[StyledText] = [(f" {count(len(self._listed), 'record')}{pencil}{apart}", "")]
        if self._past:
            words.insert(0, (" ! the past was rewritten: k  ", "error"))
        self.about.say(*words)

    def chosen(self) -> None:
        """More of the chosen record: cell, sign-off, last ink."""
        each = self._chosen()
        if each is None:
            self.detail.say()
            return
        if each.problems:
            self.detail.say((f" {each.problems[0]}", "error"))
            return
        ink = each.last_ink
        now = self.bench.clock()
        if not each.known:
            self.detail.say((f" {NOT_YET}", ""))
            return
        text = f" {each.cell}, {SIGNED[each.signed_off]}, {confirmed_words(each.confirmed)}"
        if ink is not None:
            text += f", inked {ago(ink.when, now)} by {ink.who.name}: {ink.text}"
        self.detail.say((fit(text, self.app.size.width), ""))

    def _chosen(self) -> Listed | None:
        return next((each for each in self._listed if each.record == self.lines.key), None)

    def _called_now(self, before: Listed | None) -> str | None:
        """The name that a record has in the list now; None where no other has its identity."""
        if before is None or not before.id:
            return None
        names = [each.record for each in self._listed if each.id == before.id]
        return names[0] if len(names) == 1 else None

    def _subject(self) -> Subject | None:
        """The chosen record or other document."""
        each, chosen = self._chosen(), self.lines.key
        if each is not None:
            return Subject(each.record, each.id)
        return Subject(chosen) if isinstance(chosen, str) and chosen in self._others else None

    # Keys

    def do_open(self) -> None:
        """Open the chosen record, or say why it cannot be opened."""
        each, subject = self._chosen(), self._subject()
        if each is not None and each.problems:
            texts = [(str(problem), "") for problem in each.problems]
            self.app.push_screen(Notice(f"{each.record} cannot be opened", texts))
        elif subject is not None:
            self.bench.open_document(subject.name, key=subject.key)

    def do_findings(self) -> None:
        """Findings of the book."""
        self.app.push_screen(Findings(), self._open_at)

    def do_findings_here(self) -> None:
        """Findings of the chosen record."""
        subject = self._subject()
        if subject is not None:
            self.app.push_screen(Findings(subject), self._open_at)

    def do_figures(self) -> None:
        """Figures of the chosen record; a field that is chosen there is opened."""
        subject = self._of_a_record()
        if subject is not None:

            def then(address: str | None) -> None:
                self._open_at((subject.name, address) if address else None)

            self.app.push_screen(Figures(subject), then)

    def do_runs(self) -> None:
        """Runs of the chosen record."""
        subject = self._of_a_record()
        if subject is not None:
            self.app.push_screen(Runs(subject))

    def _of_a_record(self) -> Subject | None:
        each = self._chosen()
        return self._subject() if each is not None and not each.problems else None

    def _open_at(self, place: tuple[str, str] | None) -> None:
        if place is not None:
            self.lines.choose(place[0])
            self.bench.open_document(*place)

    def do_acknowledge(self) -> None:
        """What is lost of the past, and a lead's word that it is known."""
        self.app.push_screen(Acknowledge(), lambda _: self.load())

    def do_retired(self) -> None:
        """With or without retired records."""
        self._retired = not self._retired
        self.tell("Retired records are listed, too." if self._retired else "Without retired ones.")
        self.load()

    def do_taken_out(self) -> None:
        """What was taken out of the book."""
        self.app.push_screen(TakenOutList(), lambda _: self.load())

    def do_leave(self) -> None:
        """List my pencil once, then leave."""
        me = self.bench.me.key
        question = lambda book: [d for d in book.drafts() if me and d.who.key == me]  # noqa: E731
        self.ask("looking", question, self._leave, hold=True)

    def _leave(self, drafts: list[Draft]) -> None:
        if drafts:
            self.app.push_screen(Leaving(drafts), self._left)
        else:
            self.app.exit(0)

    def _left(self, answer: bool | str | None) -> None:
        if answer is True:
            self.app.exit(0)
        elif isinstance(answer, str):
            self.bench.open_document(answer)

    def leave(self) -> None:
        """Esc does not leave the program."""
        self.tell("q leaves the program.")


def _ignore(_: Exception) -> None:
    """What the line says of others is no news where it cannot be had; a sync tells why."""
