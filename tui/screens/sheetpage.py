"""What the parts of the editor share: one document, loaded whole, and its lines.

Invariant: what is painted is what the engine said last; nothing is shown as
pencilled before the journal has it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from schemas.errors import WitnessmarkError
from tui.screens.judged import Outcome, outcome_of, outcome_row
from tui.screens.notice import Notice
from tui.screens.sheet import Field, Sheet, Typing, head_row, items_of, with_extra
from tui.screens.words import SIGNED, age, ago, confirmed_words, count, is_record, person, run_words
from tui.widgets.finder import FinderPage
from tui.widgets.page import LATER
from tui.widgets.paint import StyledText
from tui.widgets.painted import Bar

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Draft, Finding, Listed


def load_sheet(book: Book, name: str) -> Sheet:
    """All that the editor shows of a document."""
    disk = book.found_on_disk(name)
    return Sheet(name, book.layout(name), book.values(name), book.drafts(name), disk=disk)


def listed_of(book: Book, name: str) -> Listed | None:
    """How the book's list shows a record, or None for another document."""
    listed = book.list_records(retired=True, findings=False)
    return next((each for each in listed if each.record == name), None)


class SheetPage(FinderPage):
    """A document with its values in lines."""

    def __init__(self, name: str, address: str = "") -> None:
        super().__init__()
        self.name_of_record = name
        self.wished = address  # where to stand once the lines are there
        self.sheet: Sheet | None = None
        self.fields: list[Field] = []
        self.typing: Typing | None = None
        self.extra: Field | None = None  # a value that is being added
        self.listed: Listed | None = None
        self.findings: Sequence[Finding] = ()
        self.outcome: Outcome | None = None
        self._round = 0  # of figures: what a newer edit overtook is not worked out
        self._checks = 0  # the same of checks

    def below(self) -> Iterable[Bar]:
        """What the pencil does to the figures."""
        self.figures_bar = Bar(self.bench.paint, id="figures")
        self.figures_bar.display = is_record(self.name_of_record)
        yield self.figures_bar

    # Loading

    def load(self) -> None:
        """Values and pencil first; what takes longer afterwards."""
        name = self.name_of_record
        question = lambda book: load_sheet(book, name)  # noqa: E731
        self.ask_to_show(f"opening {name}", question, self.show_sheet)
        self.ask("", lambda book: listed_of(book, name), self._show_listed, urgency=LATER)
        self.load_figures()
        self.load_findings()

    def cannot_load(self, error: WitnessmarkError) -> None:
        """What cannot be read is told in full, on the page that one came from."""
        self.dismiss(None)
        self.app.push_screen(Notice.of_error(error))

    def load_figures(self) -> None:
        """Have the figures worked out, behind everything that a person waits for."""
        if not is_record(self.name_of_record):
            return
        name = self.name_of_record
        self._round += 1
        this = self._round

        def question(book: Book) -> Outcome | None:
            return outcome_of(book, name) if this == self._round else None

        self.ask("", question, self._show_figures, failed=self._no_figures, urgency=LATER)

    def _show_figures(self, outcome: Outcome | None) -> None:
        if outcome is not None:
            self.outcome = outcome
            self.show_outcome()

    def show_outcome(self) -> None:
        """The line about the figures."""
        if self.outcome is not None:
            self.figures_bar.say(*outcome_row(self.outcome, self.app.size.width))

    def _no_figures(self, error: WitnessmarkError) -> None:
        self.outcome = None
        self.figures_bar.say((f" figures cannot be worked out: {error}", "warning"))

    def load_findings(self) -> None:
        """Have the checks run, behind everything that a person waits for."""
        name = self.name_of_record
        self._checks += 1
        this = self._checks

        def question(book: Book) -> Sequence[Finding] | None:
            return book.check([name]) if this == self._checks else None

        self.ask("", question, self._show_findings, urgency=LATER, checking=True)

    def show_sheet(self, sheet: Sheet) -> None:
        """Show what was loaded."""
        self.sheet = sheet
        self.redraw()
        self.show_frame()
        if self.wished:
            self.goto(self.wished)
            self.wished = ""
        self.chosen()

    def show_drafts(self, drafts: Sequence[Draft]) -> None:
        """Show pencil that changed; inked values stay."""
        assert self.sheet is not None
        known = {row.address for row in self.sheet.rows}
        self.sheet = replace(self.sheet, drafts=drafts)
        self.redraw()
        self.chosen()
        self.show_about()
        self.load_figures()
        self.load_findings()
        if any(mark.address not in known for draft in drafts for mark in draft.marks):
            self.load()

    def _show_listed(self, listed: Listed | None) -> None:
        self.listed = listed
        self.show_frame()

    def _show_findings(self, findings: Sequence[Finding] | None) -> None:
        if findings is not None:
            self.findings = findings
            self.show_about()

    # Drawing

    def redraw(self) -> None:
        """Make the lines anew; only those that differ are painted."""
        if self.sheet is None:
            return
        self.fields = with_extra(self.sheet.fields(self.bench.me.key), self.extra)
        shown = [each for each in self.fields if self.has_wanted(f"{each.address} {each.label}")]
        self.lines.show(items_of(shown, self.typing))

    def narrowed(self) -> None:
        """List anew what has the wanted words."""
        self.redraw()

    def show_frame(self) -> None:
        """Title, state, headings and keys."""
        super().show_frame()
        self.head.say(*head_row(self.app.size.width))
        self.show_outcome()
        self.show_about()

    def heading(self) -> str:
        """The record and its part."""
        part = f"   {self.listed.part}" if self.listed else ""
        return f"{self.name_of_record}{part}"

    def heading_right(self) -> tuple[str, ...]:
        """How the record stands, and who is here."""
        me = super().heading_right()
        if self.listed is None:
            return me
        run = run_words(self.listed.last_run, self.bench.clock())
        return (", ".join([run, SIGNED[self.listed.signed_off]]) + "   " + "".join(me),)

    def show_about(self) -> None:
        """One line about the whole: what to decide, what does not fit, whose pencil."""
        if self.sheet is not None:
            words = [*self._urgent_words(), *self._pencil_words()]
            if self.listed is not None:
                words.append((confirmed_words(self.listed.confirmed), ""))
            self.about.say((" ", ""), *_joined(words))

    def _urgent_words(self) -> list[StyledText]:
        words: list[StyledText] = []
        if self.sheet is not None and self.sheet.disk is not None:
            words.append(("! changed on disk: o", "contested"))
        if any(each.sign == "!" for each in self.fields):
            words.append(("! contested: d", "contested"))
        for level in ("error", "warning"):
            number = sum(1 for each in self.findings if each.level == level)
            if number:
                words.append((count(number, level), level))
        return words

    def _pencil_words(self) -> list[StyledText]:
        assert self.sheet is not None
        me, now = self.bench.me.key, self.bench.clock()
        words: list[StyledText] = []
        for draft in self.sheet.drafts:
            mine = bool(me) and draft.who.key == me
            name = draft.who.name if self.app.size.width >= 120 else draft.who.name.split(" ")[0]
            text = f"{'you' if mine else name} {len(draft.marks)}, {age(draft.since, now)}"
            text = f"{'~' if mine else ':'} {text}"
            text = text if words else f"in pencil {text}"
            words.append((text, "pencil" if mine else "theirs"))
        return words or [("nothing in pencil", "")]

    # Standing somewhere

    def current(self) -> Field | None:
        """The field of the chosen line."""
        key = self.lines.key
        return next((each for each in self.fields if each.address == key), None)

    def goto(self, address: str) -> None:
        """Stand on an address, or on the first one below it."""
        self.clear_wanted()
        if self.lines.choose(address):
            return
        below = next((f.address for f in self.fields if f.address.startswith(f"{address}.")), "")
        if not below or not self.lines.choose(below):
            self.tell(f"{address} has no line here")

    def chosen(self) -> None:
        """Say more about the chosen value: whose pencil, or its full text."""
        each = self.current()
        if each is None:
            self.detail.say()
            return
        self.detail.say((f" {each.address}  ", ""), *self._detail_of(each))

    def _detail_of(self, each: Field) -> list[StyledText]:
        me, now = self.bench.me.key, self.bench.clock()
        words: list[StyledText] = []
        if each.mine is not None and each.mine.contested is not None:
            who = person(each.mine.contested, me)
            words.append(
                (f"! {who} inked this or what belongs to it meanwhile: press d", "contested")
            )
        elif each.mine is not None:
            note = f", {each.mine.note}" if each.mine.note else ""
            words.append((f"~ your pencil, {ago(each.mine.at, now)}{note}", "pencil"))
        for other in each.others:
            words.append((f": {other.who.name}'s pencil, {ago(other.at, now)}", "theirs"))
        return _joined(words)


def _joined(words: Sequence[StyledText]) -> list[StyledText]:
    found: list[StyledText] = []
    for word in words:
        found += [("   ", ""), word] if found else [word]
    return found
