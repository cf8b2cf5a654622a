"""Runs of a record: what was noted in each, and what a setter notes at the machine.

Invariant: what is noted is what a person says was done; the program looks at no
machine. Confirmed is said by a key of its own and follows from nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.views.wording import (
    ago,
    clock_time,
    confirmed_words,
    count,
    person,
    runs_words,
    written_at,
)
from schemas.address import show
from tui.safe import fit
from tui.screens.judged import PROVE
from tui.screens.notice import Notice
from tui.screens.noting import ASKED, Noting
from tui.screens.subject import AboutOne, Subject
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import DocumentHandle
    from engine.views import Confirmed, Inked, LogEntry, RunState

_START = key("s", "start a run", "start a run on what is inked now", "start")
_OPEN = (
    key("c", "confirm", "values put into the machine and read back there", "confirm"),
    key("p", "prove-out", "a stage of prove-out was run", "stage"),
    key("k", "piece", "the first or the last piece was checked", "piece"),
    key("r", "refill", "the tray was refilled", "refill"),
    key("x", "stop", "stop the run, with its counts", "stop"),
)
_WHAT = {
    "start": "started",
    "confirm": "read back at the machine",
    "stage": "prove-out stage",
    "piece": "piece checked",
    "refill": "refilled",
    "stop": "stopped",
    "ink": "inked meanwhile",
}


@dataclass(frozen=True, slots=True)
class Log:
    """All runs of a record."""

    runs: Sequence[RunState]
    entries: Sequence[LogEntry]
    confirmed: Confirmed | None
    quantity: str  # as the lot asks for
    stages: str
    pencil: int  # values that I have in pencil
    stands: str  # the last ink

    @property
    def open(self) -> RunState | None:
        """The run that goes on."""
        return next((run for run in self.runs if run.stopped is None), None)


def log_of(document: DocumentHandle) -> Log:
    """Ask for all at once."""
    values = document.values()
    quantity, stages = show(values.get("lot.quantity")), show(values.get("lot.stages"))
    draft = document.pencil.draft()
    pencil = len(draft.marks) if draft else 0
    runs = document.runs
    done = runs.all(), runs.log(), runs.confirmed()
    return Log(*done, quantity, stages, pencil, document.past.inks()[-1].commit)


class Runs(AboutOne, FinderPage):
    """The log of a record's runs, newest first. Its answer is nothing."""

    def __init__(self, subject: Subject) -> None:
        super().__init__()
        self.subject = subject
        self._log: Log | None = None

    def live_keys(self) -> tuple[PageKey, ...]:
        """What can be noted now: a start, or what belongs to a run that goes on."""
        usual = super().live_keys()
        if self._log is None or not self.bench.me.may_ink:
            return usual
        return (*(_OPEN if self._log.open else (_START,)), FIND, *usual)

    def heading(self) -> str:
        """Whose runs."""
        return f"Runs of {self.name_of_record}"

    def load(self) -> None:
        """Ask for the log."""
        self.ask_to_show("looking back", lambda book: log_of(self.subject.of(book)), self._show)

    def _show(self, log: Log) -> None:
        newer = self._log is not None and len(log.entries) > len(self._log.entries)
        self._log = log
        self.show_frame()
        self.about.say(*self._about(log))
        self.head.say((f" {PROVE}", ""))
        self.narrowed()
        if newer:
            self.lines.ends(last=False)

    def _about(self, log: Log) -> StyledRow:
        now, me = self.bench.clock(), self.bench.me.key
        words = f" {runs_words(log.runs, now)}; {confirmed_words(log.confirmed)}"
        if log.confirmed is not None:
            words += f" ({person(log.confirmed.who, me)}, {ago(log.confirmed.when, now)})"
        return ((words, "strong"),)

    def narrowed(self) -> None:
        """Each run under its heading, newest first."""
        if self._log is None:
            return
        items: list[Item] = []
        for run in sorted(self._log.runs, key=lambda r: r.number, reverse=True):
            entries = [e for e in self._log.entries if e.run == run.number and self._wants(e)]
            if not entries:
                continue
            if items:
                items.append(fixed(("space", run.number), (), heading=True))
            items.append(fixed(("run", run.number), ((_title(run), "heading"),), heading=True))
            for n, entry in reversed(list(enumerate(entries))):
                items.append(Item((run.number, n), _drawer(entry)))
        none = "It never ran." if not self.wanted else "Nothing here has these words."
        self.lines.show(items or [paragraph(0, none)])

    def _wants(self, entry: LogEntry) -> bool:
        return self.has_wanted(f"{_WHAT.get(entry.what, '')} {entry.text} {entry.who.name}")

    # Noting

    def do_start(self) -> None:
        """Start a run."""
        self._note("start", self._log.quantity if self._log else "", self._pencil())

    def do_confirm(self) -> None:
        """The values were read back at the machine."""
        self._note("confirm", hint=self._pencil())

    def do_stage(self) -> None:
        """A stage of prove-out."""
        self._note("stage", hint=f"Stages of this record: {self._log.stages}" if self._log else "")

    def do_piece(self) -> None:
        """The first or the last piece."""
        self._note("piece")

    def do_refill(self) -> None:
        """The tray was refilled."""
        self._note("refill")

    def do_stop(self) -> None:
        """Stop the run."""
        self._note("stop")

    def _pencil(self) -> str:
        number = self._log.pencil if self._log else 0
        return f"You have {count(number, 'value')} in pencil; they do not count." if number else ""

    def _note(self, what: str, text: str = "", hint: str = "") -> None:
        stands = self._log.stands if self._log and what in ("start", "confirm") else ""
        page = Noting(self.subject, ASKED[what], text, hint, stands)
        self.app.push_screen(page, self._noted)

    def _noted(self, done: Inked | None) -> None:
        if done is None:
            return
        self.tell(f"Noted: {done.subject.partition(': ')[2]}.")
        if done.messages:
            texts = [(text, "") for text in done.messages]
            self.app.push_screen(Notice("Noted. What to know now", texts))


def _title(run: RunState) -> str:
    lot = f" of {run.quantity}" if run.quantity is not None else ""
    counts = f", {run.good} good, {run.scrap} scrap" if run.stopped else ", goes on"
    return f" run {run.number}{lot}{counts}"


def _drawer(entry: LogEntry) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        what = f"{_WHAT.get(entry.what, entry.what)}{', ' if entry.text else ''}{entry.text}"
        written = written_at(entry.at)
        what += f" ({written})" if written else ""
        who, when = 16 if width < 120 else 24, f"  {clock_time(entry.at)}  "
        room = width - 2 - len(when) - who
        return [((when, ""), (fit(entry.who.name, who), ""), (fit(what, room), "strong"))]

    return draw
