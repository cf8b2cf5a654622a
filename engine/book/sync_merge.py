"""The merge of this box's side with the shared one, planned as one commit.

The person who syncs is its author and changes no value by it: each value in the
result is one side's. What does not stand there goes back to the pencil of whoever
inked it on this box, with a note that names the commit.
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
from engine.merge.books import Aside, MergedBook, merge_books
from engine.merge.documents import Contest
from engine.people.identity import require, seal
from engine.views import Who
from engine.views.wording import count
from schemas.address import KEY, Value, same_value, show
from schemas.document import Document, name_of, read_document
from schemas.errors import ReadError

MOST_IN_MESSAGE = 200  # lines of a merge's message; history itself has all of it


@dataclass(frozen=True)
class Claim:
    """A value of this box that the merge did not take: whose it is, and since which commit."""

    contest: Contest
    who: Who
    commit: str


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
    trees = [session.git.tree(base) for base in bases]
    book = merge_books(session.past, trees, session.git.tree(head), session.git.tree(incoming))
    work = _Work(session, book, bases, set(session.git.commits(head, incoming)))
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


def _plan(
    session: Session,
    book: MergedBook,
    incoming: str,
    claims: Sequence[Claim],
    aside: list[AsidePencil],
) -> CommitPlan:
    joined = f", {count(len(book.joined), 'document')} changed on both" if book.joined else ""
    lines = [
        f"{claim.contest.key} {claim.contest.address}: the shared "
        f"{show(claim.contest.shared) or 'nothing'} stays, {show(claim.contest.ours) or 'nothing'} "
        f"({claim.who.name}, {claim.commit[:10]}) is in pencil"
        for claim in claims
    ]
    identity = session.identity
    return CommitPlan(
        f"merge: this box and the meeting point{joined}",
        [*lines, *book.said][:MOST_IN_MESSAGE],
        trailers(identity, "merge", "book"),
        seal(identity, session.clock()),
        dict(book.texts),
        stored=book.blobs,
        parents=(incoming,),
        aside=aside,
    )


@dataclass
class _Work:
    """Finds whose the values are that do not stand, and puts them in their pencil."""

    session: Session
    book: MergedBook
    bases: Sequence[str]
    local: set[str]  # commits that only this box has
    said: list[str] = field(default_factory=list)
    marks: dict[tuple[str, str], list[PencilMark]] = field(default_factory=dict)

    def claims(self) -> list[Claim]:
        """Every contested value of this box, with who inked it."""
        found = []
        for contest in self.book.contests:
            saved = self._inked_by(contest.key, contest.address, contest.ours)
            who = saved.who if saved else Who("", "somebody")
            found.append(Claim(contest, who, saved.id if saved else self.session.head))
        return found

    def _inked_by(self, key: str, address: str, value: Value | None) -> Saved | None:
        rows = self.session.past.rows(key.partition(" ")[0], lambda other: other == address)
        local = [r for r in rows if r.saved.id in self.local and r.decided is None]
        made = [r for r in local if same_value(r.new, value)]
        return made[-1].saved if made else None

    def put_aside(self, claims: Iterable[Claim]) -> None:
        """Each contested value becomes pencil of whoever inked it here."""
        documents = self._documents()
        for claim in claims:
            contest = claim.contest
            note = f"set aside by a sync; it was inked in {claim.commit[:10]}"
            person = self._journal(claim.who)
            if person != claim.who.key:
                note += f" by {claim.who.name}"
            base = self.bases[0] if self.bases else ""
            at = self.session.clock()
            mark = PencilMark(contest.address, contest.ours, contest.base, base, at, note)
            self._add(person, contest.key, mark, documents.get(contest.key), claim.commit)

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
        self, person: str, key: str, mark: PencilMark, document: Document | None, commit: str
    ) -> None:
        """A mark, if the document can bear it beside those that are there."""
        marks = self.marks.setdefault((person, key), [])
        try:
            if document is not None:
                overlay(document, [*marks, mark])
        except (ReadError, AttributeError, TypeError):
            self.said.append(
                f"{document.name if document else key} {mark.address}: "
                f"{show(mark.value) or 'nothing'} does not go with what is shared; it is kept in "
                f"history only, in {commit[:10]}"
            )
            return
        marks.append(mark)

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
