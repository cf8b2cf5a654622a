"""The editor of a record, a cell, the people or the policy: both values of everything.

Invariant: leaving asks nothing, since pencil stays where it is. Each key does
what its line in KEYS says, by one call of the engine or one page.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from schemas.address import show
from tui.screens.adding import AddingPage
from tui.screens.asktext import AskText
from tui.screens.compare import Compare, question_by, since, what_to_compare
from tui.screens.figures import Figures
from tui.screens.findings import Findings
from tui.screens.help import Explained, Help
from tui.screens.ink import Ink
from tui.screens.marks import Marks
from tui.screens.notice import Notice
from tui.screens.runs import Runs
from tui.screens.sheet import Field, next_group
from tui.screens.trace import Trace
from tui.screens.words import ago, count, is_record, unit_word, with_unit
from tui.widgets.finder import FIND
from tui.widgets.keys import PageKey, key

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Inked
    from schemas.fields import Described

_SINCE = "A span as 7 days or 3 weeks, yesterday, or a day as 2026-03-02."
_DECIDE = key("d", "decide", "decide on contested pencil", "decide")
_DISK = key("o", "on disk", "decide on what was found on disk", "on_disk")


class Editor(AddingPage):
    """One document. Its answer is nothing: what was done is in the book already."""

    KEYS = (
        key("Enter", "change", "change the value: type it, Enter puts it in pencil", "change"),
        key("Tab", "section", "to the next section or station", "next_section"),
        FIND,
        key("i", "ink", "save the pencil with a reason", "ink"),
        key("g", "figures", "figures: margins, tray, round, bites, agreement, fills", "figures"),
        key("u", "undo", "undo the last thing done to your pencil, and name it", "undo"),
        key("c", "compare", "compare with the last run, the sign-off, a mark", "compare"),
        key("t", "trace", "the life of this value: who, when, why", "trace"),
        key("Shift+Tab", "", "to the section or station before", "last_section"),
        key("0-9", "", "on a number: type a new one at once", ""),
        key("r", "redo", "do again what was undone", "redo"),
        key("x", "", "take the value out, in pencil", "take_out"),
        key("e", "", "rub out pencil: this value or all; asks first", "rub_out"),
        key("b", "", "bring back what was rubbed out", "bring_back"),
        key("l", "", "to the last change; again: to the one before", "last_change"),
        key("f", "", "findings of this record", "findings"),
        key("n", "runs", "runs: start, confirm, prove-out, refill, stop; their log", "runs"),
        key("m", "", "marks: every ink, run and sign-off; restore", "marks"),
        key("a", "", "add a value by its address, as tools.T05.what", "add"),
        key("d", "", "decide on contested pencil", "decide"),
        key("o", "", "decide on what was found on disk", "on_disk"),
        key("y", "", "copy the value, where the terminal allows it", "copy"),
    )

    def __init__(self, name: str, address: str = "") -> None:
        super().__init__(name, address)
        self._trail: list[str] = []  # addresses of the last changes still to visit

    def live_keys(self) -> tuple[PageKey, ...]:
        """What has to be decided comes first."""
        usual = super().live_keys()
        if self.typing is not None or self.finding or self.adding:
            return usual
        urgent: tuple[PageKey, ...] = ()
        if self.sheet is not None and self.sheet.disk is not None:
            urgent = (_DISK,)
        elif any(each.sign == "!" for each in self.fields):
            urgent = (_DECIDE,)
        return (*urgent, *usual)

    # Moving

    def do_next_section(self) -> None:
        """To the next section or station."""
        self._to_section(1)

    def do_last_section(self) -> None:
        """To the section or station before."""
        self._to_section(-1)

    def _to_section(self, by: int) -> None:
        listed = [f for f in self.fields if self.lines.index(f.address) >= 0]
        address = next_group(listed, self.lines.key, by)
        if address is not None:
            self.lines.choose(address)

    def do_last_change(self) -> None:
        """To the last change: my pencil, newest first, else what the last ink changed."""
        if self._trail:
            self._follow_trail()
            return
        mine = [f.mine for f in self.fields if f.mine is not None]
        if mine:
            newest = sorted(mine, key=lambda mark: mark.at, reverse=True)
            self._trail = [mark.address for mark in newest]
            self._follow_trail()
            return
        name = self.name_of_record
        self.ask("looking back", lambda book: _last_inked(book, name), self._start_trail)

    def _start_trail(self, addresses: list[str]) -> None:
        self._trail = addresses
        if addresses:
            self._follow_trail()
        else:
            self.tell("Nothing was changed here yet.")

    def _follow_trail(self) -> None:
        address = self._trail.pop(0)
        self.goto(address)
        left = f", {count(len(self._trail), 'more')} with l" if self._trail else ""
        self.tell(f"Last changed: {address}{left}".replace("mores", "more"))

    # Other pages

    def do_ink(self) -> None:
        """The ink page, where there is pencil of mine."""
        if not self.may_write():
            return
        if not any(each.mine is not None for each in self.fields):
            self.tell("You have nothing in pencil here, so there is nothing to ink.")
        elif any(each.sign == "!" for each in self.fields):
            self.do_decide()
        else:
            self.app.push_screen(Ink(self.name_of_record), self._inked)

    def _inked(self, answer: Inked | str | None) -> None:
        if answer == "disk":
            self.do_on_disk()
        elif answer == "contested":
            self.tell("Somebody inked meanwhile. Look at it, then press d.")
        elif answer is not None and not isinstance(answer, str):
            self._trail = []
            self.tell(f"In ink: {count(len(answer.changes), 'value')}, {answer.commit[:7]}.")
            if answer.messages:
                texts = [(text, "") for text in answer.messages]
                self.app.push_screen(Notice("In ink. What to know now", texts))

    def do_trace(self) -> None:
        """The life of this value."""
        each = self.current()
        if each is not None:
            self.app.push_screen(Trace(self.name_of_record, each.address))

    def do_compare(self) -> None:
        """Ask against what, then show it."""

        def then(answer: str | None) -> None:
            if answer == "m":
                self.do_marks()
            elif answer == "d":
                page = AskText("Compare since when?", "since", _SINCE, "7 days")
                self.app.push_screen(page, self._compare_since)
            elif answer is not None:
                question = question_by(answer, self.name_of_record)
                self.app.push_screen(Compare(self.name_of_record, question), self._jump)

        self.app.push_screen(what_to_compare(self.name_of_record), then)

    def _compare_since(self, text: str | None) -> None:
        if text:
            question = since(self.name_of_record, text)
            self.app.push_screen(Compare(self.name_of_record, question), self._jump)

    def do_marks(self) -> None:
        """Marks of this document."""
        each = self.current()
        page = Marks(self.name_of_record, each.address if each else "")
        self.app.push_screen(page, self._jump)

    def do_figures(self) -> None:
        """Figures of this record."""
        if is_record(self.name_of_record):
            self.app.push_screen(Figures(self.name_of_record), self._jump)
        else:
            self.tell("Only records have figures.")

    def do_runs(self) -> None:
        """Runs of this record."""
        if is_record(self.name_of_record):
            self.app.push_screen(Runs(self.name_of_record))
        else:
            self.tell("Only records run.")

    def do_findings(self) -> None:
        """Findings of this record."""

        def then(answer: tuple[str, str] | None) -> None:
            if answer is not None:
                self.goto(answer[1])

        self.app.push_screen(Findings([self.name_of_record]), then)

    def _jump(self, address: str | None) -> None:
        if address:
            self.goto(address)

    def do_copy(self) -> None:
        """Copy the present value by the terminal's own clipboard sequence."""
        each = self.current()
        if each is not None and each.value is not None:
            self.app.copy_to_clipboard(show(each.value))
            self.tell(f"Copied {show(each.value)}, if this terminal allows it.")

    def do_help(self) -> None:
        """The meaning of this field, the keys, and all fields."""
        name, addresses = self.name_of_record, [f.address for f in self.fields]
        here = self.current()

        def then(answer: tuple[list[Described | None], list[str]]) -> None:
            described = [each for each in answer[0] if each is not None]
            fields = [Explained(d.address, d.meaning, unit_word(d.unit)) for d in described]
            about = self._about(here, described, answer[1]) if here else []
            self.app.push_screen(Help(name, self.live_keys(), about, fields), self._jump)

        def question(book: Book) -> tuple[list[Described | None], list[str]]:
            follow = book.figures_from(name, here.address) if here and is_record(name) else []
            return [book.describe(name, a) for a in addresses], follow

        self.ask("looking up", question, then)

    def _about(
        self, here: Field, described: list[Described], figures: list[str]
    ) -> list[tuple[str, str]]:
        known = next(d for d in described if d.address == here.address)
        now = self.bench.clock()
        texts = [(here.address, "heading"), (known.meaning, "strong")]
        unit = unit_word(here.unit or known.unit)
        texts.append((f"Unit: {unit}" if unit else f"Kind: {known.kind}", ""))
        if known.choices:
            texts.append((f"One of: {', '.join(known.choices)}", ""))
        texts.append((f"In ink: {with_unit(here.inked, here.unit)}", ""))
        for mark in (*((here.mine,) if here.mine else ()), *here.others):
            who = "you" if mark is here.mine else mark.who.name
            value = with_unit(mark.value, mark.unit)
            texts.append((f"In pencil: {value}, {who}, {ago(mark.at, now)}", "pencil"))
        if figures:
            texts.append((f"Figures that follow from it: {', '.join(figures)}", ""))
        return texts


def _last_inked(book: Book, name: str) -> list[str]:
    """Addresses that the last ink changed."""
    inks = [mark for mark in book.marks(name) if mark.kind == "ink"]
    if len(inks) < 2:
        return []
    return [c.address for c in book.compare(name, inks[1].name, inks[0].name).changes]
