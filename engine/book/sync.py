"""Sync: take in what others shared, merge, send, and try again where someone was faster.

Nothing that anybody inked is lost: both sides become parents of a merge, a value
that both changed stands as it is shared and goes back to its author's pencil, and
a file that was changed on disk stops what would write over it. Stopped at any
point, the next sync goes on. The save lock is held only while the book changes,
never while the boxes talk.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

from engine.book import sync_merge, sync_report
from engine.book.session import Session
from engine.book.transaction import CommitPlan
from engine.people.identity import seal
from engine.repo import meeting_point, stale_locks
from engine.repo.durable import disk_refused
from engine.repo.lock import held
from engine.repo.meeting_point import MeetingPoint
from engine.views import Sent, Synced, Waiting
from schemas.book import BookFile
from schemas.errors import BookError, ReadError, Refused, UsageError

TRIES = 20  # that many others may be faster before it is left for later
Tell = Callable[[str], None]


class _UpToDate(Exception):
    """There is nothing to take in."""


def sync(
    session: Session,
    wanted: str = "",
    *,
    accept_rewritten: bool = False,
    tell: Tell = lambda _: None,
) -> Synced:
    """Sync with the meeting point that is set, or with another one from now on.

    Refused where the meeting point holds another book or its past was rewritten.
    """
    there = meeting_point.find(session.git, wanted)
    if there is None:
        raise UsageError(
            "no meeting point is set",
            hint="Name a bare repository once: `witnessmark sync --with FOLDER` or "
            "`--with ssh://user@host/path/to/book.git`.",
        )
    try:
        with held(session.private, "sync-lock"):
            stale_locks.look(session.private, there.locks)  # of a sync that was killed
            done = _Sync(session, there, accept_rewritten, tell).run()
        if wanted and not done.problem:
            meeting_point.remember(session.git, there.address)
    except OSError as error:
        hint = "Look at space and rights, then sync again: it goes on where it stopped."
        raise disk_refused(error, session.folder, hint) from error
    return done


def waiting(session: Session) -> Waiting:
    """What the meeting point has not got yet, as far as this box knows."""
    there = meeting_point.find(session.git)
    if there is None:
        return Waiting("")
    session.refresh()
    seen = there.seen()
    commits = _sent(session, seen.tip if seen else "")
    return Waiting(there.address, commits, seen.at if seen else None)


def _sent(session: Session, *without: str) -> tuple[Sent, ...]:
    """Commits of the head that are not in the past of others, newest first."""
    known = [commit for commit in without if commit and session.git.object(commit)[0]]
    saves = map(session.past.saved, session.git.commits(session.head, *known))
    return tuple(Sent(s.id, s.when, s.who, s.subject) for s in saves if s is not None)


class _Sync:
    """One sync: `incoming` is what stands at the meeting point, empty where nothing does."""

    def __init__(
        self, session: Session, there: MeetingPoint, accept_rewritten: bool, tell: Tell
    ) -> None:
        self.session = session
        self.there = there
        self.accept_rewritten = accept_rewritten
        self.tell = tell
        self.incoming = ""
        self.merged: list[sync_merge.Merged] = []
        self.said: list[str] = []

    def run(self) -> Synced:
        self.session.inker.mend_if_needed()
        self.session.refresh()
        before, failed_at, failure = self.session.head, None, ""
        for attempt in range(TRIES):
            if attempt:
                time.sleep(random.uniform(0, 0.05 * attempt))
            try:
                self._fetch()
            except BookError as error:
                return self._answer(before, problem=error.what)
            newer = self._newer()
            if newer:
                return self._answer(before, problem=newer)
            self._take_in()
            if self.session.head == self.incoming:
                return self._answer(before)
            if failed_at == self.incoming:  # nobody was faster: it is refused for itself
                return self._answer(before, problem=failure)
            went = _sent(self.session, self.incoming)
            try:
                self._send()
                return self._answer(before, went=went)
            except BookError as error:
                failed_at, failure = self.incoming, error.what
        return self._answer(before, problem="others were faster again and again")

    def _fetch(self) -> None:
        self.tell(f"looking at {self.there.address}")
        self.incoming = self.there.fetch()
        self._stop_if_rewritten()
        if self.incoming:
            _stop_at_another_book(self.session, self.there.address, self.incoming)
            self.there.saw(self.incoming, self.session.clock())

    def _newer(self) -> str:
        """Why nothing is taken in or sent where a newer program wrote here or there, in words."""
        for commit, where in ((self.session.head, ""), (self.incoming, self.there.address)):
            found = self.session.inker.formats.newer(commit)
            if found is not None:
                refusal = found.refusal(where)
                return f"{refusal}. {refusal.hint}"
        return ""

    def _stop_if_rewritten(self) -> None:
        """What was once shared is there for ever; where it is gone, somebody took it away."""
        seen = self.there.seen()
        if seen is None or not self.session.git.object(seen.tip)[0] or self.accept_rewritten:
            return
        if self.incoming and self.session.git.is_ancestor(seen.tip, self.incoming):
            return
        words = sync_report.rewritten_in_words(self.session, seen, self.incoming)
        with suppress(OSError):  # it is told now in any case
            self.there.note_rewritten(words, seen, self.session.clock())
        raise Refused(
            words,
            where=self.there.address,
            hint="Nothing was taken in or sent, and this box still has every commit. Ask who "
            "did it. `witnessmark sync --accept-rewritten` then joins both pasts: what was taken "
            "away comes back, and nothing that was put there is lost.",
        )

    def _take_in(self) -> None:
        """Let the book hold what came in: by going forward, or by a merge."""
        if not self.incoming:
            return

        def plan(head: str) -> tuple[CommitPlan, sync_merge.Merged | None]:
            self.session.move_to(head)
            if self.session.git.is_ancestor(self.incoming, head):
                raise _UpToDate
            if self.session.git.is_ancestor(head, self.incoming):
                return self._forward(head), None
            merged = sync_merge.merge(self.session, head, self.incoming)
            return merged.plan, merged

        before, names = self.session.head, sync_report.changed_on_both(self.session, self.incoming)
        known = sync_report.errors(self.session, names)
        try:
            done = self.session.inker.commit(plan)
        except _UpToDate:
            return
        self.session.refresh()
        self.said += done.said
        self.said += sync_report.merged_elsewhere(self.session, before, self.incoming)
        self.said += sync_report.made_by_hand(self.session, before, self.incoming)
        if done.kept is not None:
            self.merged.append(replace(done.kept, commit=done.commit))
            now = sync_report.errors(self.session, names)
            self.said += [words for place, words in now.items() if place not in known]

    def _forward(self, head: str) -> CommitPlan:
        old, new = self.session.git.tree(head), self.session.git.tree(self.incoming)
        differ = {p: new.get(p) for p in {**old, **new} if old.get(p) != new.get(p)}
        nobody = seal(self.session.identity, self.session.clock())
        return CommitPlan("", [], {}, nobody, {}, stored=differ, ready=self.incoming)

    def _send(self) -> None:
        self.tell(f"sending to {self.there.address}")
        head = self.session.head
        self.there.push(head)
        self.there.saw(head, self.session.clock())

    def _answer(self, before: str, went: tuple[Sent, ...] = (), problem: str = "") -> Synced:
        """What happened, as far as it went."""
        self.tell("looking at what came in")
        self.session.refresh()
        seen = self.there.seen()
        done = Synced(
            self.there.address,
            self.session.head,
            went=went,
            waiting=_sent(self.session, seen.tip if seen else ""),
            problem=problem,
        )
        if self.session.head == before:
            return replace(done, messages=tuple(dict.fromkeys(self.said)))
        came, files = sync_report.came_in(self.session, before, self.incoming)
        said, contested = list(self.said), []
        for merged in self.merged:
            said += merged.said
            contested += sync_report.disputed(self.session, merged)
            said += sync_report.unfit(self.session, merged)
        return replace(
            done,
            came=tuple(came),
            files=tuple(files),
            contested=tuple(contested),
            messages=tuple(dict.fromkeys(said)),
            merged=self.merged[-1].commit if self.merged else "",
        )


def _stop_at_another_book(session: Session, address: str, incoming: str) -> None:
    """Refused where what is there is no later or parallel state of this book."""
    git = session.git
    if session.head and not git.merge_bases(session.head, incoming):
        raise Refused(
            f"another book lies there: {_book_at(session, incoming)}, this is "
            f"{_book_at(session, session.head)}, and they have no commit in common",
            where=address,
            hint="Nothing was taken in or sent. Use a meeting point of its own for each book; "
            "another box gets this book by `git clone`, not by `init`.",
        )
    here, there = _id_at(session, session.head), _id_at(session, incoming)
    if here and there != here:
        raise Refused(
            f"the book there calls itself {there or 'nothing'}, this one is {here}",
            where=address,
            hint="Nothing was taken in or sent. The identity of a book never changes.",
        )
    known = set(_others(session, session.head))
    strange = [path for path in _others(session, incoming) if path not in known]
    if strange:
        raise Refused(
            f"a link or another repository lies in the shared book: {', '.join(strange[:3])}",
            where=address,
            hint="Nothing was taken in. Whoever put it there takes it out again.",
        )


def _others(session: Session, commit: str) -> list[str]:
    """Paths of links and other repositories in a commit."""
    others = session.git.tree(commit).others()
    return [path.encode("utf-8", "surrogateescape").decode("utf-8", "replace") for path in others]


def _id_at(session: Session, commit: str) -> str:
    blob = session.git.blob_at(commit, "book.toml")
    values = session.past.values("book.toml", blob) or {}
    return str(values.get("book.id", ""))


def _book_at(session: Session, commit: str) -> str:
    blob = session.git.blob_at(commit, "book.toml")
    try:
        model = session.past.document("book.toml", blob).model if blob else None
    except ReadError:
        model = None
    return f"{model.book.name} ({model.book.id})" if isinstance(model, BookFile) else "no book"
