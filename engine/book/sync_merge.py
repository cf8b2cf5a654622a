"""The merge of this box's side with the shared one, planned as one commit.

The person who syncs is its author and changes no value by it: each value in the
result is one side's. What does not stand there goes back to the pencil of whoever
decided it, with a note that names the commit. The message of the merge says the same, so
that it is known wherever the merge comes in.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from engine.book.commit_words import trailers
from engine.book.linked_files import links_of
from engine.book.mending import AsidePencil
from engine.book.pencilling import overlay
from engine.book.session import Session
from engine.book.transaction import CommitPlan
from engine.drafts.marks import PencilMark, pack
from engine.log.commits import Saved
from engine.log.side_past import SidePast
from engine.merge.books import Aside, MergedBook, Side, merge_books
from engine.merge.documents import Contest, named, together
from engine.people.identity import require, seal
from engine.views import Who
from engine.views.wording import count
from schemas.address import KEY, Value, same_value, show
from schemas.document import Document, name_of, read_document
from schemas.errors import ReadError

MOST_IN_MESSAGE = 200  # lines of a merge's message; history itself has all of it


@dataclass(frozen=True)
class Claim:
    """A value that the merge did not take: who decided it, in which commit, and against whom."""

    contest: Contest
    who: Who
    commit: str
    reason: str
    against: Saved | None


@dataclass(frozen=True)
class Merged:
    """A planned merge; `commit` once it is made."""

    plan: CommitPlan
    ours: str
    incoming: str
    bases: tuple[str, ...]
    joined: tuple[str, ...]
    claims: tuple[Claim, ...]
    said: tuple[str, ...]
    commit: str = ""


def merge(session: Session, head: str, incoming: str) -> Merged:
    """Plan the merge of the session's head with what came in."""
    require(session.identity, lead=False, what="merge what came in with what was inked here")
    bases = session.git.merge_bases(head, incoming)
    here, there = side(session, head, bases), side(session, incoming, bases)
    trees = [session.git.tree(base) for base in bases]
    book = merge_books(session.past, trees, here, there)
    local = set(session.git.commits(head, incoming))
    work = _Work(session, book, bases, local, here.decided, there.decided)
    claims = work.claims()
    work.put_aside(claims)
    work.link_asides()
    return Merged(
        _plan(session, book, incoming, claims, work.packed()),
        head,
        incoming,
        tuple(bases),
        tuple(book.joined),
        tuple(claims),
        (*book.said, *work.said),
    )


def side(session: Session, commit: str, bases: Sequence[str]) -> Side:
    """One side of a merge: what stands at a commit, and what was decided since the bases."""
    return Side(session.git.tree(commit), SidePast.since(session.past, commit, bases))


def _plan(
    session: Session,
    book: MergedBook,
    incoming: str,
    claims: Sequence[Claim],
    aside: list[AsidePencil],
) -> CommitPlan:
    joined = f", {count(len(book.joined), 'document')} changed on both" if book.joined else ""
    lines = [_in_words(session, claim) for claim in claims if not claim.contest.kept]
    identity = session.identity
    return CommitPlan(
        f"merge: this box and the meeting point{joined}",
        [*book.said, *lines][:MOST_IN_MESSAGE],
        trailers(identity, "merge", "book"),
        seal(identity, session.clock()),
        dict(book.texts),
        stored=book.blobs,
        parents=(incoming,),
        aside=aside,
    )


def _in_words(session: Session, claim: Claim) -> str:
    """A contest on one line: the value that stands, the one in pencil, and who decided them."""
    contest, name = claim.contest, session.name_of_key(claim.contest.key.partition(" ")[0])
    whose = f"({claim.who.name}, {claim.commit[:10]}{_why(claim.reason)})"
    return (
        f"{name} {contest.address}: {show(contest.stands) or 'nothing'}{named(claim.against)} "
        f"stands, {show(contest.aside) or 'nothing'} {whose} is in pencil"
    )


def _why(reason: str) -> str:
    return f": {' '.join(reason.split())}" if reason else ""


@dataclass
class _Work:
    """Finds whose the values are that do not stand, and puts them in their pencil."""

    session: Session
    book: MergedBook
    bases: Sequence[str]
    local: set[str]  # commits that only this box has
    here: SidePast
    there: SidePast
    said: list[str] = field(default_factory=list)
    marks: dict[tuple[str, str], list[PencilMark]] = field(default_factory=dict)

    def claims(self) -> list[Claim]:
        """Every value that does not stand, with who decided it, and who the one that stands."""
        found = []
        for contest in self.book.contests:
            sides = (self.there, self.here) if contest.yielded else (self.here, self.there)
            key, near = contest.key, together(contest.key, contest.address)
            own, other = (
                side.who(key, contest.address, value, near)
                for side, value in zip(sides, (contest.aside, contest.stands), strict=True)
            )
            saved = own or self._ever_inked(contest)
            if saved is None:
                found.append(Claim(contest, Who("", "somebody"), self.session.head, "", other))
            else:
                found.append(Claim(contest, saved.who, saved.id, saved.reason, other))
        return found

    def _ever_inked(self, contest: Contest) -> Saved | None:
        """Who inked a value before both sides parted, where merges crossed."""
        key, address = contest.key.partition(" ")[0], contest.address
        rows = self.session.past.rows(key, lambda other: other == address, address)
        inked = (row for row in rows if row.decided is None)
        made = [row.saved for row in inked if same_value(row.new, contest.aside)]
        return made[-1] if made else None

    def put_aside(self, claims: Iterable[Claim]) -> None:
        """Each value that does not stand becomes pencil of whoever decided it."""
        documents = self._documents()
        entries: dict[tuple[str, str, str], list[tuple[PencilMark, str]]] = {}
        for claim in claims:
            contest, person = claim.contest, self._journal(claim.who)
            entry = ".".join(contest.address.split(".")[:2])
            found = entries.setdefault((person, contest.key, entry), [])
            found.append((self._mark(claim, person), claim.commit))
        for (person, key, _), marks in entries.items():
            document = documents.get(key)
            if not self._add(person, key, [mark for mark, _ in marks], document):
                for mark, commit in marks:
                    self._add_alone(person, key, mark, document, commit)

    def _mark(self, claim: Claim, person: str) -> PencilMark:
        contest = claim.contest
        did = "taken out" if contest.aside is None else "inked"
        note = f"set aside by a sync; it was {did} in {claim.commit[:10]}"
        if person != claim.who.key:
            note += f" by {claim.who.name}"
        base, at = self.bases[0] if self.bases else "", self.session.clock()
        note += _why(claim.reason)
        return PencilMark(contest.address, contest.aside, contest.stands, base, at, note)

    def _journal(self, who: Who) -> str:
        """Whose pencil takes a value: its author's, or of the one who syncs where that is none."""
        return who.key if KEY.fullmatch(who.key) else self.session.identity.key

    def _documents(self) -> Mapping[str, Document]:
        """Merged documents by their key."""
        found = {}
        for path, text in self.book.texts.items():
            document = read_document(text, path)
            found[str(document.values.get("record.id", name_of(path)))] = document
        return found

    def _add(
        self, person: str, key: str, fresh: Sequence[PencilMark], document: Document | None
    ) -> bool:
        """Marks that go together, if the document can bear them beside those that are there."""
        marks = self.marks.setdefault((person, key), [])
        try:
            if document is not None:
                overlay(document, [*marks, *fresh])
        except (ReadError, AttributeError, TypeError):
            return False
        marks += fresh
        return True

    def _add_alone(
        self, person: str, key: str, mark: PencilMark, document: Document | None, commit: str
    ) -> None:
        if not self._add(person, key, [mark], document):
            self.said.append(
                f"{document.name if document else key} {mark.address}: "
                f"{show(mark.value) or 'nothing'} does not go with what is shared; it is kept in "
                f"history only, in {commit[:10]}"
            )

    def link_asides(self) -> None:
        """A program or photo that was set aside is linked in the pencil of whoever changed it."""
        for aside in self.book.asides:
            saved = self._changed_by(aside.path)
            for held in self.session.places("record"):
                try:
                    document = held.read()
                except ReadError:
                    continue
                for address, path in links_of(document).items():
                    if path == aside.path:
                        self._link(held.key, address, aside, saved)

    def _link(self, key: str, address: str, aside: Aside, saved: Saved | None) -> None:
        who = saved.who if saved else Who("", "somebody")
        commit = saved.id if saved else self.session.head
        note = f"changed on both sides; this text was inked in {commit[:10]} by {who.name}"
        wanted: dict[str, tuple[Value, Value | None]] = {address: (aside.aside, aside.path)}
        if address != "program.file":
            digest = hashlib.sha256(self.session.git.blob(aside.blob)).hexdigest()
            wanted[f"{address.removesuffix('file')}sha256"] = (digest, None)
        base = self.bases[0] if self.bases else ""
        marks = self.marks.setdefault((self._journal(who), key), [])
        for where, (value, inked) in wanted.items():
            marks[:] = [mark for mark in marks if mark.address != where]
            marks.append(PencilMark(where, value, inked, base, self.session.clock(), note))

    def _changed_by(self, path: str) -> Saved | None:
        """Who changed a file on this box last."""
        found = self.session.git.commits(self.session.head, path=path)
        last = next((commit for commit in found if commit in self.local), "")
        return self.session.past.saved(last) if last else None

    def packed(self) -> list[AsidePencil]:
        """What to put into which journal once the merge is published."""
        return [
            AsidePencil(
                person, key.partition(" ")[0].replace("/", "."), [pack(mark) for mark in marks]
            )
            for (person, key), marks in self.marks.items()
            if marks
        ]
