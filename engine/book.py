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

from engine.answers import (
    Comparison,
    Confirmed,
    Draft,
    Expected,
    FigureChange,
    Filled,
    Finding,
    FittedTray,
    Inked,
    Listed,
    LogEntry,
    Mark,
    OnDisk,
    RunState,
    Shown,
    Synced,
    Traced,
    Upgraded,
    Waiting,
)
from engine.desk import (
    figuring,
    founding,
    hand_edits,
    inking,
    layout,
    listing,
    looking,
    lots,
    pencilling,
    points,
    records,
    remembering,
    signing,
)
from engine.desk.layout import FieldRow
from engine.desk.shelf import Clock, Held, Shelf
from engine.history.past import Wanted
from engine.history.since import resolve
from engine.past_answers import Creep, Moved, Page, Stood
from engine.people.identity import Identity, current_login, identify
from schemas.address import Value, flatten
from schemas.cell import Cell
from schemas.errors import ReadError, UsageError
from schemas.fields import Described
from schemas.people import Person

if TYPE_CHECKING:
    from engine.desk.exporting import Form
    from engine.exports.paper import Paper
    from engine.figures.depends import Input, Part
    from engine.figures.model import Facts, Figure
    from engine.programs import ProgramChange, ProgramFacts


def system_clock() -> datetime:
    """The present moment on this machine's clock, with its offset."""
    return datetime.now().astimezone()


class Book:
    """One opened book, and one person in front of it."""

    def __init__(self, shelf: Shelf, login: str) -> None:
        self._shelf = shelf
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
        book = cls(founding.open_shelf(folder, clock), current_login() if login is None else login)
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
        founding.start(folder, as_person, who, name, clock)
        return cls.open(folder, as_person=as_person, login=login, clock=clock)

    @property
    def folder(self) -> Path:
        """Where the book lies."""
        return self._shelf.folder

    @property
    def name(self) -> str:
        """What people call the book."""
        try:
            return self._shelf.book_file().book.name
        except (ReadError, UsageError):
            return self.folder.name

    @property
    def id(self) -> str:
        """The book's identity, as printed on papers."""
        return self._shelf.book_file().book.id

    @property
    def identity(self) -> Identity:
        """Who is at the terminal."""
        return self._shelf.identity

    @property
    def head(self) -> str:
        """The commit that the book stands on."""
        return self._shelf.head

    def now(self) -> datetime:
        """The present moment on the book's clock."""
        return self._shelf.clock()

    def warnings(self) -> list[str]:
        """What a person should know about this book as a whole."""
        return founding.warnings(self._shelf)

    def persons(self) -> dict[str, Person]:
        """Everybody whom this login may be."""
        people = self._shelf.people().people
        return {key: people[key] for key in self.identity.candidates or people if key in people}

    def choose(self, key: str) -> Identity:
        """Say who is at the terminal, where the login does not."""
        today = self._shelf.clock().date()
        self._shelf.identity = identify(self._shelf.people(), self._login, key, today)
        return self._shelf.identity

    def refresh(self) -> bool:
        """Look again; True where somebody inked or pencilled meanwhile."""
        moved = self._shelf.refresh()
        return founding.pencil_moved(self._shelf) or moved

    def close(self) -> None:
        """End helper processes."""
        self._shelf.past.close()
        self._shelf.git.close()

    def _find(self, name: str) -> Held:
        self._shelf.refresh()
        return self._shelf.find(name)

    # reading

    def documents(self) -> list[str]:
        """Names of all records, cells, people and book."""
        self._shelf.refresh()
        return [held.name for held in self._shelf.places()]

    def list_records(self, *, retired: bool = False, findings: bool = True) -> list[Listed]:
        """The book's list, with pencil, runs, sign-offs and findings."""
        self._shelf.refresh()
        by_name: dict[str, list[Finding]] = {}
        for finding in self.check() if findings else ():
            by_name.setdefault(finding.record, []).append(finding)
        return listing.list_records(self._shelf, by_name, retired=retired)

    def show(self, name: str, at: str = "now") -> Shown:
        """A document at a mark."""
        return looking.show(self._shelf, self._find(name), at)

    def values(self, name: str, at: str = "now") -> dict[str, Value]:
        """Every value of a document at a mark, by address."""
        return flatten(self.show(name, at).values)

    def describe(self, name: str, address: str) -> Described | None:
        """What an address means, and its unit."""
        return layout.describe_resolved(self._shelf, self._find(name), address)

    def layout(self, name: str) -> list[FieldRow]:
        """The rows of the editor."""
        return layout.rows(self._shelf, self._find(name))

    def cell_of(self, name: str) -> Cell | None:
        """The cell that a record runs on."""
        return self._shelf.cell_of(self._shelf.document(self._find(name).name))

    # pencil

    def set(self, name: str, address: str, text: str) -> Draft | None:
        """Pencil a value as typed; my pencil after it (None where nothing is left)."""
        return self.set_all(name, {address: text})

    def set_all(self, name: str, typed: Mapping[str, str]) -> Draft | None:
        """Pencil several values, all or none."""
        return self._pencilled(name, lambda held: pencilling.set_values(self._shelf, held, typed))

    def clear(self, name: str, address: str) -> Draft | None:
        """Pencil the removal of a value."""
        return self._pencilled(name, lambda held: pencilling.clear(self._shelf, held, address))

    def rub_out(self, name: str, addresses: Sequence[str] = ()) -> Draft | None:
        """Take my pencil away; it can be brought back."""
        return self._pencilled(name, lambda held: pencilling.rub_out(self._shelf, held, addresses))

    def bring_back(self, name: str) -> Draft | None:
        """Put back what I rubbed out last."""
        return self._pencilled(name, lambda held: pencilling.bring_back(self._shelf, held))

    def keep(self, name: str) -> Draft | None:
        """Keep my pencil on top of what somebody else inked meanwhile."""
        return self._pencilled(name, lambda held: pencilling.keep(self._shelf, held))

    def take_from_disk(self, name: str) -> Draft | None:
        """Make pencil of what was changed in the file itself."""
        return self._pencilled(name, lambda held: hand_edits.take_from_disk(self._shelf, held))

    def _pencilled(self, name: str, act: Callable[[Held], Any]) -> Draft | None:
        held = self._find(name)
        act(held)
        return pencilling.draft(self._shelf, held)

    def undo(self, name: str) -> str:
        """Undo my last act of pencil; what it was."""
        return pencilling.step(self._shelf, self._find(name), "undo")

    def redo(self, name: str) -> str:
        """Do again what I undid last; what it was."""
        return pencilling.step(self._shelf, self._find(name), "redo")

    def draft(self, name: str) -> Draft | None:
        """My pencil on a document."""
        return pencilling.draft(self._shelf, self._find(name))

    def drafts(self, name: str | None = None) -> list[Draft]:
        """Everybody's pencil."""
        self._shelf.refresh()
        return pencilling.drafts(self._shelf, self._find(name) if name else None)

    def found_on_disk(self, name: str) -> OnDisk | None:
        """What was changed in the file itself since the last ink."""
        return hand_edits.found_on_disk(self._shelf, self._find(name))

    def put_back(self, name: str) -> str:
        """Put the inked text back on disk; where the copy of the other one is."""
        return hand_edits.put_back(self._shelf, self._find(name))

    # ink

    def needs_reason(self, name: str) -> bool:
        """Whether inking my pencil on a document needs a reason."""
        comparison = looking.compare(self._shelf, self._find(name), "now", "pencil")
        return bool(inking.needs_reason(self._shelf, comparison.changes))

    def ink(self, name: str, reason: str = "") -> Inked:
        """Save my pencil on a document, with the program and photos that changed."""
        self._shelf.refresh()
        stray = founding.stray_path(self._shelf, name)
        if stray:
            return records.adopt(self._shelf, stray, reason)
        return inking.ink(self._shelf, self._find(name), reason)

    def new(
        self, name: str, *, part: str, cell: str, units: str, reason: str = "", **header: Value
    ) -> Inked:
        """Begin a record."""
        self._shelf.refresh()
        fields: dict[str, Value] = {"part": part, "cell": cell, "units": units, **header}
        return records.new(self._shelf, name, fields, reason)

    def copy(self, source: str, name: str, reason: str = "") -> Inked:
        """Begin a record as a copy of another."""
        return records.copy(self._shelf, self._find(source), name, reason)

    def rename(self, old: str, name: str, reason: str = "") -> Inked:
        """Give a record another name; its history goes along."""
        return records.rename(self._shelf, self._find(old), name, reason)

    def retire(self, name: str, reason: str = "", *, back: bool = False) -> Inked:
        """Take a record out of the list, or back into it."""
        return records.retire(self._shelf, self._find(name), reason, back=back)

    def restore(self, name: str, mark: str, address: str = "", reason: str = "") -> Inked:
        """Ink again what stood at a mark."""
        return records.restore(self._shelf, self._find(name), mark, address, reason)

    # runs, events, sign-off

    def run_start(self, name: str, quantity: int | None = None, note: str = "") -> Inked:
        """Open a run on what is inked now."""
        return lots.start(self._shelf, self._find(name), quantity, note)

    def run_step(self, name: str, what: str, **details: Any) -> Inked:
        """Note a confirmation, a stage, a checked piece or a refill."""
        return lots.step(self._shelf, self._find(name), what, details)

    def run_stop(self, name: str, good: int, scrap: int, note: str = "") -> Inked:
        """Close the open run with its counts."""
        return lots.stop(self._shelf, self._find(name), good, scrap, note)

    def runs(self, name: str) -> list[RunState]:
        """Runs of a record, oldest first."""
        return points.runs(self._shelf, self._find(name))

    def run_log(self, name: str, number: int | None = None) -> list[LogEntry]:
        """What was noted in a record's runs, or in one of them; the inks made in them too."""
        return points.run_log(self._shelf, self._find(name), number)

    def confirmed(self, name: str) -> Confirmed | None:
        """When the values were last read back at the machine, and whether that still holds."""
        return points.confirmed(self._shelf, self._find(name))

    def sign_off(self, name: str, note: str = "") -> Inked:
        """Accept a record as it is inked now."""
        return signing.sign_off(self._shelf, self._find(name), note)

    def event(self, cell: str, kind: str, reason: str) -> Inked:
        """Note something after which taught positions are suspect."""
        self._shelf.refresh()
        return signing.event(self._shelf, cell, kind, reason)

    # papers

    def sheet(self, name: str, at: str = "now", *, pencil: bool = False) -> Paper:
        """The set-up sheet of a record, to hang at the machine."""
        from engine.desk import exporting  # figures and drawing: not at start

        return exporting.sheet(self._shelf, self._find(name), at, pencil=pencil)

    def plate(
        self, name: str, form: Form, at: str = "now", *, kerf: str = "", relief: str = "",
        holes: str = "",
    ) -> Paper:  # fmt: skip
        """The tray plate of a record, as DXF or SVG."""
        from engine.desk import exporting

        cut = {"kerf": kerf, "relief": relief, "holes": holes}
        return exporting.plate(self._shelf, self._find(name), form, at, **cut)

    # compare and trace

    def compare(self, name: str, start: str = "now", end: str = "pencil") -> Comparison:
        """What differs between two marks."""
        return looking.compare(self._shelf, self._find(name), start, end)

    def compare_since_run(self, name: str, number: int | None = None) -> Comparison:
        """What changed since a run stopped."""
        return looking.since_run(self._shelf, self._find(name), number)

    def compare_since_sign_off(self, name: str) -> Comparison:
        """What changed since the last sign-off."""
        return looking.since_sign_off(self._shelf, self._find(name))

    def compare_since(self, name: str, moment: datetime) -> Comparison:
        """What changed since a moment."""
        return looking.since(self._shelf, self._find(name), moment)

    def moment(self, text: str) -> datetime:
        """The moment that `yesterday`, `3 weeks` or 2026-03-02 means."""
        return resolve(text, self._shelf.clock())

    def trace(self, name: str, address: str, *, through_copies: bool = False) -> list[Traced]:
        """The life of a value or of a whole position, oldest first."""
        return looking.trace(self._shelf, self._find(name), address, through_copies=through_copies)

    def history(
        self, *, person: str = "", since: datetime | None = None, until: datetime | None = None,
        address: str = "", name: str = "", without_reason: bool = False, page: int = 1,
        per_page: int = 50,
    ) -> Page:  # fmt: skip
        """Changes of values across the book, newest first, a page of them."""
        wanted = self._wanted(person, since, until, address, name, without_reason)
        return remembering.history(self._shelf, wanted, page, per_page)

    def every_change(
        self, *, person: str = "", since: datetime | None = None, until: datetime | None = None,
        address: str = "", name: str = "", without_reason: bool = False,
    ) -> Iterator[Traced]:  # fmt: skip
        """The same without pages, one by one."""
        wanted = self._wanted(person, since, until, address, name, without_reason)
        return remembering.every(self._shelf, wanted)

    def _wanted(
        self, person: str, since: datetime | None, until: datetime | None, address: str,
        name: str, without_reason: bool,
    ) -> Wanted:  # fmt: skip
        self._shelf.refresh()
        key = self._find(name).key if name else ""
        covers = remembering.covering(address)
        return Wanted(person, since, until, covers, key, without_reason)

    def stood(
        self, address: str, day: datetime, *, below: Decimal | None = None,
        above: Decimal | None = None,
    ) -> list[Stood]:  # fmt: skip
        """Records in which a value lay within a range on a day, with the runs of that day."""
        self._shelf.refresh()
        return remembering.stood(self._shelf, address, below, above, day)

    def moved(self, *, address: str = "", since: datetime | None = None) -> list[Moved]:
        """Which values changed most often after they were first written."""
        wanted = self._wanted("", since, None, address, "", without_reason=False)
        return remembering.moved(self._shelf, wanted)

    def creep(self, name: str, address: str = "positions") -> list[Creep]:
        """How taught positions went from run to run: slope and spread."""
        return remembering.creep(self._shelf, self._find(name), address)

    def watch(self, progress: Callable[[int], None]) -> None:
        """Be told how many saves were read, while history is read for the first time."""
        self._shelf.past.progress = progress

    def marks(self, name: str) -> list[Mark]:
        """Named points of a document's past, newest first."""
        return points.marks(self._shelf, self._find(name))

    # figures and programs

    def figures(self, name: str, at: str = "now") -> list[Figure]:
        """Every figure of a record at a mark, with the cell and the policy as they stood then."""
        return figuring.figures(self._shelf, self._find(name), at)

    def facts(self, name: str, at: str = "now") -> Facts:
        """What those figures are computed from, for pictures of the set-up."""
        return figuring.facts(self._shelf, self._find(name), at)

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
        return figuring.consequences(self._shelf, self._find(name), start, end)

    def refills(
        self, name: str, start: datetime, percent: float = 100.0, seconds: float = 0.0
    ) -> list[Filled]:
        """When the tray must be refilled, for a start and the time that a refill takes."""
        return figuring.refills(self._shelf, self._find(name), start, percent, seconds)

    def expected_positions(self, name: str) -> list[Expected]:
        """Positions that follow from the first taught one of each place."""
        return figuring.expected(self._shelf, self._find(name))

    def pencil_expected(self, name: str, addresses: Sequence[str] = ()) -> Draft | None:
        """Pencil expected positions: those named, or all that are not taught yet."""
        return self._pencilled(
            name, lambda held: figuring.pencil_expected(self._shelf, held, addresses)
        )

    def tray_fit(self, name: str) -> FittedTray:
        """What the taught pockets say about the grid of the tray."""
        return figuring.fitted_tray(self._shelf, self._find(name))

    def pencil_tray_fit(self, name: str) -> Draft | None:
        """Pencil the pitches that the taught pockets say."""
        return self._pencilled(name, lambda held: figuring.pencil_tray_fit(self._shelf, held))

    def program(self, name: str) -> ProgramFacts:
        """What the part program of a record says."""
        from engine.desk import programs  # what reads programs is not needed at start

        return programs.program(self._shelf, self._find(name))

    def program_changes(self, name: str) -> list[ProgramChange] | None:
        """What changed in it since it was proved out; None where history has not that text."""
        from engine.desk import programs

        return programs.changes_since_proved(self._shelf, self._find(name))

    # formats

    def upgrade(self, *, ink: bool = False) -> Upgraded:
        """What changes when all files take the present format; with `ink` one commit does it."""
        from engine.desk import upgrading  # once in a book's years

        return upgrading.upgrade(self._shelf, ink=ink)

    # between boxes

    def sync(
        self,
        meet_at: str = "",
        *,
        accept_rewritten: bool = False,
        tell: Callable[[str], None] = lambda _: None,
    ) -> Synced:
        """Take in what other boxes shared, merge, and share what was inked here."""
        from engine.desk import syncing

        return syncing.sync(self._shelf, meet_at, accept_rewritten=accept_rewritten, tell=tell)

    def waiting(self) -> Waiting:
        """What the other boxes have not got yet; works offline."""
        from engine.desk import syncing

        return syncing.waiting(self._shelf)

    # checks

    def check(self, names: Sequence[str] = ()) -> list[Finding]:
        """What the rules have to say, about some documents or the whole book."""
        from engine.checks import check  # rules read photos: not at start

        self._shelf.refresh()
        return check(self._shelf, [self._find(name).name for name in names])
