"""A book, as the three people speak of it: each thing they say is one method.

The setter brings a job back and changes a value, the lead asks what changed and
signs off, the auditor asks who altered what. `Book` holds no logic: every
method looks at the head first and hands over to one act of `engine.desk`.
Screens and commands have no other way in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from engine.book import (
    comparing,
    figures,
    hand_edits,
    inking,
    layout,
    listing,
    opening,
    pencilling,
    queries,
    records,
    revisions,
    runs,
    sign_offs,
)
from engine.book.layout import FieldRow
from engine.book.session import Clock, Held, Session
from engine.log.past import ChangeQuery
from engine.log.since import resolve
from engine.people.identity import Identity, current_login, identify
from engine.views import (
    Comparison,
    Confirmed,
    Creep,
    Draft,
    Expected,
    FigureChange,
    Filled,
    Finding,
    FittedTray,
    HistoryPage,
    Inked,
    Listed,
    LogEntry,
    Mark,
    Moved,
    OnDisk,
    RunState,
    Shown,
    Stood,
    Synced,
    Traced,
    Waiting,
)
from schemas.address import Value, flatten
from schemas.cell import Cell
from schemas.errors import ReadError, UsageError
from schemas.fields import Described
from schemas.people import Person

if TYPE_CHECKING:
    from engine.book.papers import PlateFormat
    from engine.exports.paper import Paper
    from engine.figures.depends import Input, Part
    from engine.figures.model import Facts, Figure
    from engine.programs import ProgramChange, ProgramFacts


def system_clock() -> datetime:
    """The present moment on this machine's clock, with its offset."""
    return datetime.now().astimezone()


class Book:
    """One opened book, and one person in front of it."""

    def __init__(self, session: Session, login: str) -> None:
        self._session = session
        self._login = login

    # opening

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        as_person: str = "",
        login: str | None = None,
        clock: Clock = system_clock,
    ) -> Book:
        """Open a book. BookError where it is none or not safe; Refused for a wrong person."""
        book = cls(opening.open_session(folder, clock), current_login() if login is None else login)
        book.choose(as_person)
        return book

    @classmethod
    def start(
        cls,
        folder: Path,
        *,
        as_person: str = "",
        login: str | None = None,
        name: str = "",
        clock: Clock = system_clock,
    ) -> Book:
        """Start a book in a folder, taking in the files of a book that lie there."""
        who = current_login() if login is None else login
        opening.start(folder, as_person, who, name, clock)
        return cls.open(folder, as_person=as_person, login=login, clock=clock)

    @property
    def folder(self) -> Path:
        """Where the book lies."""
        return self._session.folder

    @property
    def name(self) -> str:
        """What people call the book."""
        try:
            return self._session.book_file().book.name
        except (ReadError, UsageError):
            return self.folder.name

    @property
    def id(self) -> str:
        """The book's identity, as printed on papers."""
        return self._session.book_file().book.id

    @property
    def identity(self) -> Identity:
        """Who is at the terminal."""
        return self._session.identity

    @property
    def head(self) -> str:
        """The commit that the book stands on."""
        return self._session.head

    def now(self) -> datetime:
        """The present moment on the book's clock."""
        return self._session.clock()

    def warnings(self) -> list[str]:
        """What a person should know about this book as a whole."""
        return opening.warnings(self._session)

    def persons(self) -> dict[str, Person]:
        """Everybody whom this login may be."""
        people = self._session.people().people
        return {key: people[key] for key in self.identity.candidates or people if key in people}

    def choose(self, key: str) -> Identity:
        """Say who is at the terminal, where the login does not."""
        today = self._session.clock().date()
        self._session.identity = identify(self._session.people(), self._login, key, today)
        return self._session.identity

    def refresh(self) -> bool:
        """Look again; True where somebody inked or pencilled meanwhile."""
        moved = self._session.refresh()
        return opening.pencil_moved(self._session) or moved

    def close(self) -> None:
        """End helper processes."""
        self._session.past.close()
        self._session.git.close()

    def _find(self, name: str) -> Held:
        self._session.refresh()
        return self._session.find(name)

    # reading

    def documents(self) -> list[str]:
        """Names of all records, cells, people and book."""
        self._session.refresh()
        return [held.name for held in self._session.places()]

    def list_records(self, *, retired: bool = False, findings: bool = True) -> list[Listed]:
        """The book's list, with pencil, runs, sign-offs and findings."""
        self._session.refresh()
        by_name: dict[str, list[Finding]] = {}
        for finding in self.check() if findings else ():
            by_name.setdefault(finding.record, []).append(finding)
        return listing.list_records(self._session, by_name, retired=retired)

    def show(self, name: str, at: str = "now") -> Shown:
        """A document at a mark."""
        return comparing.show(self._session, self._find(name), at)

    def values(self, name: str, at: str = "now") -> dict[str, Value]:
        """Every value of a document at a mark, by address."""
        return flatten(self.show(name, at).values)

    def describe(self, name: str, address: str) -> Described | None:
        """What an address means, and its unit."""
        return layout.describe_resolved(self._session, self._find(name), address)

    def layout(self, name: str) -> list[FieldRow]:
        """The rows of the editor."""
        return layout.rows(self._session, self._find(name))

    def cell_of(self, name: str) -> Cell | None:
        """The cell that a record runs on."""
        return self._session.cell_of(self._session.document(self._find(name).name))

    # pencil

    def set(self, name: str, address: str, text: str) -> Draft | None:
        """Pencil a value as typed; my pencil after it (None where nothing is left)."""
        return self.set_all(name, {address: text})

    def set_all(self, name: str, typed: Mapping[str, str]) -> Draft | None:
        """Pencil several values, all or none."""
        return self._pencilled(name, lambda held: pencilling.set_values(self._session, held, typed))

    def clear(self, name: str, address: str) -> Draft | None:
        """Pencil the removal of a value."""
        return self._pencilled(name, lambda held: pencilling.clear(self._session, held, address))

    def rub_out(self, name: str, addresses: Sequence[str] = ()) -> Draft | None:
        """Take my pencil away; it can be brought back."""
        return self._pencilled(
            name, lambda held: pencilling.rub_out(self._session, held, addresses)
        )

    def bring_back(self, name: str) -> Draft | None:
        """Put back what I rubbed out last."""
        return self._pencilled(name, lambda held: pencilling.bring_back(self._session, held))

    def keep(self, name: str) -> Draft | None:
        """Keep my pencil on top of what somebody else inked meanwhile."""
        return self._pencilled(name, lambda held: pencilling.keep(self._session, held))

    def take_from_disk(self, name: str) -> Draft | None:
        """Make pencil of what was changed in the file itself."""
        return self._pencilled(name, lambda held: hand_edits.take_from_disk(self._session, held))

    def _pencilled(self, name: str, act: Callable[[Held], Any]) -> Draft | None:
        held = self._find(name)
        act(held)
        return pencilling.draft(self._session, held)

    def undo(self, name: str) -> str:
        """Undo my last act of pencil; what it was."""
        return pencilling.step(self._session, self._find(name), "undo")

    def redo(self, name: str) -> str:
        """Do again what I undid last; what it was."""
        return pencilling.step(self._session, self._find(name), "redo")

    def draft(self, name: str) -> Draft | None:
        """My pencil on a document."""
        return pencilling.draft(self._session, self._find(name))

    def drafts(self, name: str | None = None) -> list[Draft]:
        """Everybody's pencil."""
        self._session.refresh()
        return pencilling.drafts(self._session, self._find(name) if name else None)

    def found_on_disk(self, name: str) -> OnDisk | None:
        """What was changed in the file itself since the last ink."""
        return hand_edits.found_on_disk(self._session, self._find(name))

    def put_back(self, name: str) -> str:
        """Put the inked text back on disk; where the copy of the other one is."""
        return hand_edits.put_back(self._session, self._find(name))

    # ink

    def needs_reason(self, name: str) -> bool:
        """Whether inking my pencil on a document needs a reason."""
        comparison = comparing.compare(self._session, self._find(name), "now", "pencil")
        return bool(inking.needs_reason(self._session, comparison.changes))

    def ink(self, name: str, reason: str = "") -> Inked:
        """Save my pencil on a document, with the program and photos that changed."""
        self._session.refresh()
        stray = opening.stray_path(self._session, name)
        if stray:
            return records.adopt(self._session, stray, reason)
        return inking.ink(self._session, self._find(name), reason)

    def new(
        self, name: str, *, part: str, cell: str, units: str, reason: str = "", **header: Value
    ) -> Inked:
        """Begin a record."""
        self._session.refresh()
        fields: dict[str, Value] = {"part": part, "cell": cell, "units": units, **header}
        return records.new(self._session, name, fields, reason)

    def copy(self, source: str, name: str, reason: str = "") -> Inked:
        """Begin a record as a copy of another."""
        return records.copy(self._session, self._find(source), name, reason)

    def rename(self, old: str, name: str, reason: str = "") -> Inked:
        """Give a record another name; its history goes along."""
        return records.rename(self._session, self._find(old), name, reason)

    def retire(self, name: str, reason: str = "", *, back: bool = False) -> Inked:
        """Take a record out of the list, or back into it."""
        return records.retire(self._session, self._find(name), reason, back=back)

    def restore(self, name: str, mark: str, address: str = "", reason: str = "") -> Inked:
        """Ink again what stood at a mark."""
        return records.restore(self._session, self._find(name), mark, address, reason)

    # runs, events, sign-off

    def run_start(self, name: str, quantity: int | None = None, note: str = "") -> Inked:
        """Open a run on what is inked now."""
        return runs.start(self._session, self._find(name), quantity, note)

    def run_step(self, name: str, what: str, **details: Any) -> Inked:
        """Note a confirmation, a stage, a checked piece or a refill."""
        return runs.step(self._session, self._find(name), what, details)

    def run_stop(self, name: str, good: int, scrap: int, note: str = "") -> Inked:
        """Close the open run with its counts."""
        return runs.stop(self._session, self._find(name), good, scrap, note)

    def runs(self, name: str) -> list[RunState]:
        """Runs of a record, oldest first."""
        return revisions.runs(self._session, self._find(name))

    def run_log(self, name: str, number: int | None = None) -> list[LogEntry]:
        """What was noted in a record's runs, or in one of them; the inks made in them too."""
        return revisions.run_log(self._session, self._find(name), number)

    def confirmed(self, name: str) -> Confirmed | None:
        """When the values were last read back at the machine, and whether that still holds."""
        return revisions.confirmed(self._session, self._find(name))

    def sign_off(self, name: str, note: str = "") -> Inked:
        """Accept a record as it is inked now."""
        return sign_offs.sign_off(self._session, self._find(name), note)

    def event(self, cell: str, kind: str, reason: str) -> Inked:
        """Note something after which taught positions are suspect."""
        self._session.refresh()
        return sign_offs.event(self._session, cell, kind, reason)

    # papers

    def sheet(self, name: str, at: str = "now", *, pencil: bool = False) -> Paper:
        """The set-up sheet of a record, to hang at the machine."""
        from engine.book import papers  # figures and drawing: not at start

        return papers.sheet(self._session, self._find(name), at, pencil=pencil)

    def plate(
        self, name: str, form: PlateFormat, at: str = "now", *, kerf: str = "", relief: str = "",
        holes: str = "",
    ) -> Paper:  # fmt: skip
        """The tray plate of a record, as DXF or SVG."""
        from engine.book import papers

        cut = {"kerf": kerf, "relief": relief, "holes": holes}
        return papers.plate(self._session, self._find(name), form, at, **cut)

    # compare and trace

    def compare(self, name: str, start: str = "now", end: str = "pencil") -> Comparison:
        """What differs between two marks."""
        return comparing.compare(self._session, self._find(name), start, end)

    def compare_since_run(self, name: str, number: int | None = None) -> Comparison:
        """What changed since a run stopped."""
        return comparing.since_run(self._session, self._find(name), number)

    def compare_since_sign_off(self, name: str) -> Comparison:
        """What changed since the last sign-off."""
        return comparing.since_sign_off(self._session, self._find(name))

    def compare_since(self, name: str, moment: datetime) -> Comparison:
        """What changed since a moment."""
        return comparing.since(self._session, self._find(name), moment)

    def moment(self, text: str) -> datetime:
        """The moment that `yesterday`, `3 weeks` or 2026-03-02 means."""
        return resolve(text, self._session.clock())

    def trace(self, name: str, address: str, *, through_copies: bool = False) -> list[Traced]:
        """The life of a value or of a whole position, oldest first."""
        return comparing.trace(
            self._session, self._find(name), address, through_copies=through_copies
        )

    def history(
        self, *, person: str = "", since: datetime | None = None, until: datetime | None = None,
        address: str = "", name: str = "", without_reason: bool = False, page: int = 1,
        per_page: int = 50,
    ) -> HistoryPage:  # fmt: skip
        """Changes of values across the book, newest first, a page of them."""
        wanted = self._wanted(person, since, until, address, name, without_reason)
        return queries.history(self._session, wanted, page, per_page)

    def every_change(
        self, *, person: str = "", since: datetime | None = None, until: datetime | None = None,
        address: str = "", name: str = "", without_reason: bool = False,
    ) -> Iterator[Traced]:  # fmt: skip
        """The same without pages, one by one."""
        wanted = self._wanted(person, since, until, address, name, without_reason)
        return queries.every(self._session, wanted)

    def _wanted(
        self, person: str, since: datetime | None, until: datetime | None, address: str,
        name: str, without_reason: bool,
    ) -> ChangeQuery:  # fmt: skip
        self._session.refresh()
        key = self._find(name).key if name else ""
        covers = queries.covering(address)
        return ChangeQuery(person, since, until, covers, key, without_reason)

    def stood(
        self, address: str, day: datetime, *, below: Decimal | None = None,
        above: Decimal | None = None,
    ) -> list[Stood]:  # fmt: skip
        """Records in which a value lay within a range on a day, with the runs of that day."""
        self._session.refresh()
        return queries.stood(self._session, address, below, above, day)

    def moved(self, *, address: str = "", since: datetime | None = None) -> list[Moved]:
        """Which values changed most often after they were first written."""
        wanted = self._wanted("", since, None, address, "", without_reason=False)
        return queries.moved(self._session, wanted)

    def creep(self, name: str, address: str = "positions") -> list[Creep]:
        """How taught positions went from run to run: slope and spread."""
        return queries.creep(self._session, self._find(name), address)

    def watch(self, progress: Callable[[int], None]) -> None:
        """Be told how many saves were read, while history is read for the first time."""
        self._session.past.progress = progress

    def marks(self, name: str) -> list[Mark]:
        """Named points of a document's past, newest first."""
        return revisions.marks(self._session, self._find(name))

    # figures and programs

    def figures(self, name: str, at: str = "now") -> list[Figure]:
        """Every figure of a record at a mark, with the cell and the policy as they stood then."""
        return figures.figures(self._session, self._find(name), at)

    def facts(self, name: str, at: str = "now") -> Facts:
        """What those figures are computed from, for pictures of the set-up."""
        return figures.facts(self._session, self._find(name), at)

    def figure_inputs(self, name: str, at: str, figure: Figure, part: Part) -> list[Input]:
        """What in the record, the cell or the policy a figure follows from."""
        from engine.figures import depends  # asked for seldom

        return depends.inputs_of(self.facts(name, at), figure, part)

    def figures_from(self, name: str, address: str) -> list[str]:
        """Names of the figures that follow from a value, my pencil counted."""
        from engine.figures import depends

        return depends.touched_by(self.facts(name, "pencil"), address)

    def consequences(
        self, name: str, start: str = "now", end: str = "pencil"
    ) -> list[FigureChange]:
        """What a change of values does to the figures, worst first."""
        return figures.consequences(self._session, self._find(name), start, end)

    def refills(
        self, name: str, start: datetime, percent: float = 100.0, seconds: float = 0.0
    ) -> list[Filled]:
        """When the tray must be refilled, for a start and the time that a refill takes."""
        return figures.refills(self._session, self._find(name), start, percent, seconds)

    def expected_positions(self, name: str) -> list[Expected]:
        """Positions that follow from the first taught one of each place."""
        return figures.expected(self._session, self._find(name))

    def pencil_expected(self, name: str, addresses: Sequence[str] = ()) -> Draft | None:
        """Pencil expected positions: those named, or all that are not taught yet."""
        return self._pencilled(
            name, lambda held: figures.pencil_expected(self._session, held, addresses)
        )

    def tray_fit(self, name: str) -> FittedTray:
        """What the taught pockets say about the grid of the tray."""
        return figures.fitted_tray(self._session, self._find(name))

    def pencil_tray_fit(self, name: str) -> Draft | None:
        """Pencil the pitches that the taught pockets say."""
        return self._pencilled(name, lambda held: figures.pencil_tray_fit(self._session, held))

    def program(self, name: str) -> ProgramFacts:
        """What the part program of a record says."""
        from engine.book import programs  # what reads programs is not needed at start

        return programs.program(self._session, self._find(name))

    def program_changes(self, name: str) -> list[ProgramChange] | None:
        """What changed in it since it was proved out; None where history has not that text."""
        from engine.book import programs

        return programs.changes_since_proved(self._session, self._find(name))

    # between boxes

    def sync(
        self,
        meet_at: str = "",
        *,
        accept_rewritten: bool = False,
        tell: Callable[[str], None] = lambda _: None,
    ) -> Synced:
        """Take in what other boxes shared, merge, and share what was inked here."""
        from engine.book import sync

        return sync.sync(self._session, meet_at, accept_rewritten=accept_rewritten, tell=tell)

    def waiting(self) -> Waiting:
        """What the other boxes have not got yet; works offline."""
        from engine.book import sync

        return sync.waiting(self._session)

    # checks

    def check(self, names: Sequence[str] = ()) -> list[Finding]:
        """What the rules have to say, about some documents or the whole book."""
        from engine.checks import check  # rules read photos: not at start

        self._session.refresh()
        return check(self._session, [self._find(name).name for name in names])
