"""Marks: named points in a document's past, and what stood there.

`now` is the head, `pencil` is my pencil on it, `ink-12` the twelfth ink of the
document, `run-3` the revision at the stop of its third run (`run-3-start` at
its start), `sign-off-1` a sign-off; anything else is the beginning of a commit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from engine.book.run_log import RunLog
from engine.book.session import Held
from engine.log.commits import is_whole_text
from engine.log.past import DocumentChange, Saved
from engine.views import Mark, RunState
from engine.views.wording import UNREADABLE, moment
from schemas.address import Value
from schemas.document import Document
from schemas.errors import ReadError, UsageError
from schemas.log import SignOff

_INK = re.compile(r"ink-(\d+)")
_RUN = re.compile(r"run-(\d+)(-start)?")
_SIGN_OFF = re.compile(r"sign-off-(\d+)")
_COMMIT = re.compile(r"[0-9a-f]{7,64}")


@dataclass(frozen=True, slots=True)
class Revision:
    """One state of the document: the commit, the words for it, and its values there."""

    label: str
    commit: str
    path: str
    blob: str  # empty where the document did not exist there


class Revisions:
    """The past states of one document, by the marks that name them."""

    def __init__(self, held: Held) -> None:
        self._held = held
        self._session = held.session

    def life(self) -> list[DocumentChange]:
        """Steps of the document, oldest first."""
        return self._session.past.life(self._held.key)

    def inks(self) -> list[Mark]:
        """Every ink of the document, oldest first."""
        steps = [step.saved for step in self.life() if step.is_ink]
        rows = self._session.past.rows(self._held.key, is_whole_text)
        broken = {row.saved.id for row in rows}
        return [
            Mark(f"ink-{n}", "ink", s.id, s.when, s.who, _said(s.subject, s.id in broken))
            for n, s in enumerate(steps, 1)
        ]

    def named_by(self) -> Saved | None:
        """The save that gave it the name that it has now; None where it was begun with it.

        A rename that was merged in is its own maker's, and not the merger's.
        """
        path, steps = self._held.path, [step for step in self.life() if step.new]
        came = [s for before, s in pairwise(steps) if s.path == path and before.path != path]
        renames = [step for step in steps if step.path == path and step.saved.kind == "rename"]
        found = [*came, *renames]
        return found[-1].saved if found else None

    def sign_offs(self) -> list[SignOff]:
        """Sign-offs of the record, oldest first."""
        found = []
        for path, blob in self._session.entries.under(f"signoffs/{self._held.key}"):
            try:
                model = self._session.past.document(path, blob).model
            except ReadError:
                continue
            if isinstance(model, SignOff):
                found.append(model)
        rank = self._session.past.rank
        return sorted(found, key=lambda s: (rank(s.sign_off.commit), s.sign_off.at))

    def merges(self) -> list[Mark]:
        """Merges that kept the text of one side against another's, oldest first."""
        return [merge_mark(step) for step in self.life() if step.new and step.only_decides]

    def marks(self) -> list[Mark]:
        """All named points of the document, newest first in the order of history.

        Of those side by side in it, the later one by their clocks comes first.
        """
        found = self.inks() + self.merges()
        for run in RunLog(self._held).all():
            when = run.stopped or run.started
            state = f"stopped, {run.good} good, {run.scrap} scrap" if run.stopped else "running"
            commit = run.end_commit or run.commit
            found.append(Mark(f"run-{run.number}", "run", commit, when, run.who, state))
        for n, model in enumerate(self.sign_offs(), 1):
            head = model.sign_off
            who, said = self._session.person(head.who), head.note or "signed off"
            found.append(Mark(f"sign-off-{n}", "sign-off", head.commit, head.at, who, said))
        rank = self._session.past.rank
        return sorted(found, key=lambda mark: rank(mark.commit))[::-1]

    def resolve(self, text: str) -> Revision:
        """The point that a mark names. UsageError with what there is."""
        if text in ("now", "HEAD", ""):
            blob = "" if self._held.gone else self._held.blob
            return Revision("now", self._session.head, self._held.path, blob)
        commit = self._commit_of(text)
        return self.at_commit(commit, text)

    def at_commit(self, commit: str, label: str) -> Revision:
        """What stood at a commit, wherever the document lay then."""
        path, blob = self._session.past.place_at(commit, self._held.key, self._held.path)
        return Revision(label, commit, path or self._held.path, blob)

    def _commit_of(self, text: str) -> str:
        if found := _INK.fullmatch(text):
            all_inks = self.inks()
            if 1 <= int(found[1]) <= len(all_inks):
                return all_inks[int(found[1]) - 1].commit
        elif found := _RUN.fullmatch(text):
            numbered = [run for run in RunLog(self._held).all() if run.number == int(found[1])]
            _stop_at_several(text, numbered)
            for run in numbered:
                return run.commit if found[2] else (run.end_commit or run.commit)
        elif found := _SIGN_OFF.fullmatch(text):
            done = self.sign_offs()
            if 1 <= int(found[1]) <= len(done):
                return done[int(found[1]) - 1].sign_off.commit
        elif _COMMIT.fullmatch(text):
            if len(text) == len(self._session.head) and self._session.past.order_of(text) >= 0:
                return text
            same = self._session.past.commits_beginning(text)
            if len(same) == 1:
                return same[0]
            if same:
                raise UsageError(
                    f"{text!r} is the beginning of {len(same)} commits", hint="Write more of it."
                )
        raise UsageError(
            f"{self._held.name} has no mark {text!r}",
            hint="`marks` lists them: now, pencil, ink-12, run-3, sign-off-1, a commit.",
        )

    def before(self, moment: datetime, label: str) -> Revision:
        """What stood in the book at a moment; nothing where the document began later.

        The commit is the document's own last one by then, so that it says whose text that was.
        """
        held, past = self._held, self._session.past
        head = past.head_at(moment, self._session.clock())
        path, blob = past.place_at(head, held.key, held.path) if head else ("", "")
        if not blob:
            return Revision(f"{label} (it began later)", "", held.path, "")
        known = past.known_at(head)
        own = [step.saved.id for step in self.life() if step.new == blob and known(step.saved.id)]
        return Revision(label, own[-1] if own else head, path, blob)

    def document_at(self, point: Revision) -> Document | None:
        """The document at a point, or None where there was none. ReadError for a broken text."""
        return self._session.past.document(point.path, point.blob) if point.blob else None

    def values_at(self, point: Revision) -> dict[str, Value] | None:
        """Every value at a point; empty where there was no document, None where no TOML."""
        return self._session.past.values(point.path, point.blob)


def _said(subject: str, broken: bool) -> str:
    return f"{subject} ({UNREADABLE})" if broken else subject


def merge_mark(step: DocumentChange) -> Mark:
    """A merge that kept one side's text: named by its commit, so that no ink is renumbered."""
    saved = step.saved
    return Mark(saved.id[:10], "merge", saved.id, saved.when, saved.who, saved.subject)


def did_not_exist(held: Held, at: str) -> UsageError:
    """What to say of a mark at which the document was not there."""
    return UsageError(f"{held.name} did not exist at {at}", hint="`marks` lists when it did.")


def _stop_at_several(text: str, numbered: list[RunState]) -> None:
    """UsageError where boxes that had not met gave one number to several runs."""
    if len(numbered) > 1:
        said = ", ".join(f"{run.commit[:10]} of {moment(run.started)}" for run in numbered)
        raise UsageError(
            f"{text} stands for {len(numbered)} runs, begun on boxes that had not met",
            hint=f"Name the commit: {said}.",
        )
