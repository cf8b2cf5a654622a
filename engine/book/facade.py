"""A book, as the three people speak of it: what is said of the whole book is said here.

The setter brings a job back and changes a value, the lead asks what changed and
signs off, the auditor asks who altered what. What they say of one record is said
of `Book.document(name)`. `Book` holds no logic: every method looks at the head
first and hands over to one act of this folder. Screens and commands have no other
way in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from engine.book import (
    clocks,
    events,
    listing,
    opening,
    pencilling,
    queries,
    records,
    rewritten,
    since_moment,
    taken_out,
)
from engine.book.document import DocumentHandle
from engine.book.session import Clock, Session
from engine.log.past import ChangeQuery
from engine.log.since import resolve
from engine.people.identity import hints, identify
from engine.repo.accounts import current_login
from engine.repo.safety import trust
from engine.repo.share import share
from engine.views import (
    Clocks,
    Comparison,
    Creep,
    Draft,
    Finding,
    HistoryPage,
    Identity,
    Inked,
    Listed,
    Moved,
    Shared,
    Stood,
    Synced,
    TakenOut,
    Traced,
    Upgraded,
    Waiting,
)
from schemas.address import Value
from schemas.errors import ReadError, UsageError
from schemas.people import Person

if TYPE_CHECKING:
    from engine.views import Paper


def system_clock() -> datetime:
    """The present moment on this machine's clock, with its offset."""
    return datetime.now().astimezone()


class Book:
    """One opened book, and one person in front of it."""

    def __init__(self, session: Session, login: str) -> None:
        self._session = session
        self._login = login
        self._seen = session.head  # at the last look
        self._checked: Callable[[int], None] = lambda _: None
        opening.pencil_moved(session)
        self._hints = hints()

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
        shared: str = "",
        group: str = "",
        clock: Clock = system_clock,
    ) -> Book:
        """Start a book in a folder, taking in the files of a book that lie there.

        `shared` as in `share`; empty for a book of one account.
        """
        who = current_login() if login is None else login
        opening.start(folder, opening.Founding(as_person, who, name, shared, group), clock)
        return cls.open(folder, as_person=as_person, login=login, clock=clock)

    @staticmethod
    def trust(folder: Path) -> Path:
        """Name a book of another account as trusted by this one; where that is remembered."""
        return trust(folder)

    @staticmethod
    def check_objects(folder: Path, tell: Callable[[int], None] = lambda _: None) -> list[Finding]:
        """Findings about every object of a book's history, read one by one; nothing is opened.

        `tell` is told how many were read so far.
        """
        from engine.book import inspecting  # once in a while

        return inspecting.check_objects(folder, tell)

    @staticmethod
    def share(folder: Path, how: str = "group", group: str = "") -> Shared:
        """Share a book or a meeting point with other accounts, and put its rights in order.

        `how` is group, all, or rights as core.sharedRepository has them (0640).
        """
        return share(folder, how, group)

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

    def past_errors(self) -> list[Finding]:
        """What was lost of the past and that no lead has acknowledged; looks at nothing else."""
        self._session.refresh()
        return rewritten.findings(self._session)

    def lost_tips(self) -> list[str]:
        """The commits that those errors speak of, in the same order."""
        self._session.refresh()
        return [item.tip for item in rewritten.lost(self._session)]

    def acknowledge(self, commit: str, reason: str) -> Inked:
        """A lead's word that a part of the past is lost: named by its tip, or the only one."""
        self._session.refresh()
        return rewritten.acknowledge(self._session, commit, reason)

    def persons(self) -> dict[str, Person]:
        """Everybody whom this login may be."""
        people, me = self._session.people().people, self.identity
        may_be = (me.key,) if me.key else me.candidates
        return {key: people[key] for key in may_be if key in people}

    def own_logins(self) -> dict[str, list[str]]:
        """Logins that stand for one person only, by that person's key."""
        people = self._session.people()
        return {
            key: [login for login in person.logins or [] if people.by_login(login) == [key]]
            for key, person in people.people.items()
        }

    def choose(self, key: str) -> Identity:
        """Say who is at the terminal, where the login does not."""
        today = self._session.clock().date()
        who = identify(self._session.people(), self._login, key, today)
        self._session.identity = replace(who, hints=self._hints)
        return self._session.identity

    def refresh(self) -> bool:
        """Look again; True where somebody inked or pencilled since the last look, or the opening.

        Whatever was asked meanwhile: any question may have moved to a newer head already.
        """
        self._session.inker.mend_if_needed(wait=False)
        self._session.refresh()
        before, self._seen = self._seen, self._session.head
        return opening.pencil_moved(self._session) or before != self._seen

    def close(self) -> None:
        """End helper processes."""
        self._session.past.close()
        self._session.git.close()

    # documents

    def document(self, name: str, key: str = "") -> DocumentHandle:
        """A record, cell, the people or the book's own file. UsageError with near names.

        With `key` (`DocumentHandle.key`), the one with that identity, whatever it is called now.
        """
        return DocumentHandle(self._session, name, key)

    def documents(self) -> list[str]:
        """Names of all records, cells, people and book."""
        self._session.refresh()
        return [held.name for held in self._session.places()]

    def list_records(
        self, *, retired: bool = False, findings: bool = True, wait: bool = True
    ) -> list[Listed]:
        """The book's list, with pencil, runs, sign-offs and findings.

        Without `wait` it is there at once, with what is known already: see `Listed`.
        """
        self._session.refresh()
        by_name: dict[str, list[Finding]] | None = None
        if findings and (wait or self.knows_findings()):
            by_name = {}
            for finding in self.check():
                by_name.setdefault(finding.record, []).append(finding)
        return listing.list_records(self._session, by_name, retired=retired, wait=wait)

    def listed(self, name: str) -> Listed | None:
        """How the list shows one record; None for another document. Without its findings."""
        self._session.refresh()
        held = taken_out.find(self._session, name)
        return listing.of_record(held) if held.is_record and not held.gone else None

    def taken_out(self) -> list[TakenOut]:
        """What was in the book once and is not now, by its last name."""
        self._session.refresh()
        return taken_out.list_gone(self._session)

    def drafts(self) -> list[Draft]:
        """Everybody's pencil."""
        self._session.refresh()
        return pencilling.drafts(self._session)

    def pencil_troubles(self) -> list[str]:
        """Whose pencil cannot be read, where it lies, and why, in words."""
        return pencilling.troubles(self._session)

    def notices(self) -> list[str]:
        """What the person should be told of besides the answers, each once."""
        told, self._session.notices = self._session.notices, []
        return told

    def refused_pencil(self, name: str = "") -> list[Draft]:
        """Marks in journals that could not have been typed, on one document or all."""
        self._session.refresh()
        only = self._session.find(name) if name else None
        return pencilling.refused(self._session, only)

    def new(
        self, name: str, *, part: str, cell: str, units: str, reason: str = "", **header: Value
    ) -> Inked:
        """Begin a record."""
        self._session.refresh()
        fields: dict[str, Value] = {"part": part, "cell": cell, "units": units, **header}
        return records.new(self._session, name, fields, reason)

    def event(self, cell: str, kind: str, reason: str) -> Inked:
        """Note something after which taught positions are suspect."""
        self._session.refresh()
        return events.event(self._session, cell, kind, reason)

    def save_paper(self, paper: Paper, target: Path, *, over: bool = False) -> Path:
        """Write a paper to a file or into a folder; where it is then."""
        from engine.book import papers  # figures and drawing: not at start

        return papers.save(paper, target, over=over)

    def moment(self, text: str) -> datetime:
        """The moment that `yesterday`, `3 weeks` or 2026-03-02 means."""
        return resolve(text, self._session.clock())

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
        key = taken_out.find(self._session, name).key if name else ""
        covers = queries.covering(address)
        return ChangeQuery(person, since, until, covers, key, without_reason)

    def since(self, moment: datetime, names: Sequence[str]) -> dict[str, Comparison]:
        """What changed in records since a moment, by name; of those that stand in the book."""
        self._session.refresh()
        there = [held for name in names if (held := self._session.knows(name)) and held.is_record]
        found = since_moment.since_moment(self._session, there, moment)
        return {held.name: item for held, item in zip(there, found, strict=True)}

    def namesakes(self, name: str) -> list[str]:
        """Other records that once had the present name of one, each told with its identity."""
        held = self._session.knows(name)
        return taken_out.namesakes(held) if held else []

    def clocks(self, since: datetime | None = None) -> Clocks | None:
        """What wrong clocks leave open of all that came after a moment; None where nothing."""
        self._session.refresh()
        return clocks.doubts(self._session, since)

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
        self._session.refresh()
        return queries.creep(taken_out.find(self._session, name), address)

    def watch(
        self, saves: Callable[[int], None], checked: Callable[[int], None] | None = None
    ) -> None:
        """Be told how many saves were read, while history is read for the first time, and how
        many documents were checked, where those are many; 0 when it is over."""
        self._session.past.progress = saves
        self._checked = checked or self._checked

    # formats

    def upgrade(self, *, ink: bool = False) -> Upgraded:
        """What changes when all files take the present format; with `ink` one commit does it."""
        from engine.book import upgrading  # once in a book's years

        return upgrading.upgrade(self._session, ink=ink)

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
        wanted = [taken_out.find(self._session, name).name for name in names]
        return check(self._session, wanted, self._checked)

    def read_past(self) -> None:
        """Have the past read by another process, if it is not known: this one stays quick."""
        from engine.checks import crew

        self._session.refresh()
        if not self._session.past.at_hand() and self._session.past.keeps:
            crew.read_past(self._session, self._session.past.progress or (lambda _: None))

    def check_alone(self, names: Sequence[str]) -> list[Finding]:
        """What the rules about single documents say of some: soon, whatever is known of others."""
        from engine.checks import check_alone

        self._session.refresh()
        return check_alone(self._session, names)

    def knows_findings(self, names: Sequence[str] = ()) -> bool:
        """Whether what checks say is known already, or soon: nobody waits long for it."""
        from engine.checks import knows

        self._session.refresh()
        return self._session.past.at_hand() and knows(self._session, names)
