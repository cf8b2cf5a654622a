"""Looking: what stood at a mark, what differs, and the life of a value.

Nothing here writes. A comparison says what it compared; a moment is echoed as
it was resolved.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from engine.book import taken_out
from engine.book.clocks import doubts
from engine.book.layout import describe_resolved
from engine.book.pencilling import MyPencil
from engine.book.revisions import Revision, Revisions, did_not_exist
from engine.book.run_log import RunLog
from engine.book.session import Session
from engine.log import trace as tracing
from engine.log.commits import is_whole_text
from engine.log.diff import changes_between, position_changes
from engine.repo.work_tree import read_file
from engine.views import Change, Comparison, Shown, Traced
from engine.views.wording import UNREADABLE
from schemas.address import Value, grow, lies_in
from schemas.document import Document, read_problems, read_tree
from schemas.errors import ReadError, UsageError
from schemas.fields import Described
from schemas.record import is_link
from schemas.typed import describe_known


class DocumentPast(Revisions):
    """The past of one document: its marks, what differs between them, the life of its values."""

    def show(self, at: str = "now") -> Shown:
        """The document at a mark, as nested tables, with what is wrong with its text."""
        if at == "pencil":
            values = self._my_pencil().values()
            return Shown(self._held.name, self._session.head, at, grow(values))
        point = self.resolve(at)
        shown = Shown(self._held.name, point.commit, at or "now", {})
        try:
            document = self.document_at(point)
        except ReadError as error:
            return self._as_it_lies(point, replace(shown, problems=tuple(error.problems)))
        if document is None:
            raise self._not_there(at)
        return replace(shown, values=document.tree)

    def _as_it_lies(self, point: Revision, shown: Shown) -> Shown:
        """What can be told of a text that cannot be used."""
        data = self._session.git.blob(point.blob)
        try:
            return replace(shown, values=read_tree(data, point.path)[0])
        except ReadError:
            return replace(shown, text=data.decode("utf-8", "replace"))

    def _not_there(self, at: str) -> UsageError:
        gone = self._held.gone and at in ("now", "HEAD", "")
        return taken_out.is_gone(self._held) if gone else did_not_exist(self._held, at)

    def _my_pencil(self) -> MyPencil:
        if self._held.gone:
            raise taken_out.is_gone(self._held)
        return MyPencil(self._held)

    def describe(self, address: str) -> Described | None:
        """What an address means, with the unit that it has in the text that stands or stood last.

        None where nothing is known there, or where that text cannot be used.
        """
        try:
            return describe_resolved(self._held, address)
        except ReadError:
            return None

    def compare(self, start: str = "now", end: str = "pencil") -> Comparison:
        """What differs between two marks; `pencil` is my pencil and the files on disk."""
        return self.between(self._point(start), self._point(end))

    def _point(self, mark: str) -> Revision:
        if mark == "pencil":
            self._my_pencil()
            return Revision("pencil", "", self._held.path, self._held.blob)
        return self.resolve(mark)

    def since_run(self, number: int | None = None) -> Comparison:
        """What changed since the stop of a run: the last stopped one, or the one named."""
        runs = RunLog(self._held).all()
        chosen = [r for r in runs if (r.number == number if number is not None else r.stopped)]
        if not chosen:
            which = f"run {number}" if number is not None else "run that was stopped"
            numbers = ", ".join(str(run.number) for run in runs) or "none"
            raise UsageError(f"{self._held.name} has no {which}", hint=f"Its runs: {numbers}.")
        run = chosen[-1]
        words = "its stop" if run.stopped else "its start, it is still open"
        when = run.stopped or run.started
        label = f"run {run.number} ({words}, {when.isoformat(timespec='minutes')})"
        start = self.at_commit(run.end_commit or run.commit, label)
        return self.between(start, self.resolve("now"))

    def since_sign_off(self) -> Comparison:
        """What changed since the last sign-off."""
        done = self.sign_offs()
        if not done:
            raise UsageError(f"{self._held.name} was never signed off")
        head = done[-1].sign_off
        label = f"sign-off {len(done)} ({head.at.isoformat(timespec='minutes')})"
        return self.between(self.at_commit(head.commit, label), self.resolve("now"))

    def since(self, moment: datetime) -> Comparison:
        """What changed since a moment."""
        start = self.before(moment, moment.isoformat(timespec="seconds"))
        found = self.between(start, self.resolve("now"))
        return replace(found, clocks=doubts(self._session, moment))

    def between(self, start: Revision, end: Revision) -> Comparison:
        """Value by value, positions as vectors, program and photos by their hash.

        A text that is no TOML (a merge's markers, committed by hand) is unreadable there: its
        values are not gone, nobody can tell them.
        """
        ends = (start.commit if start.blob else "", end.commit if end.blob else "")
        compared = Comparison(self._held.name, start.label, end.label, (), (), 0, *ends)
        old, new = self._values(start), self._values(end)
        if old is None or new is None:
            same = start.blob == end.blob and start.label != "pencil" != end.label
            return compared if same else replace(compared, unreadable=self._why(start, end))
        changes, respelt = changes_between(old, new, self._held.units(), self._held.path)
        changes += _contents(self._session, start, old, end, new)
        moved = tuple(position_changes(changes))
        return replace(compared, changes=tuple(changes), positions=moved, respelt=respelt)

    def _values(self, point: Revision) -> dict[str, Value] | None:
        there = self.values_at(point)
        return (
            self._my_pencil().values() if point.label == "pencil" and there is not None else there
        )

    def _why(self, *points: Revision) -> tuple[str, ...]:
        """Why nothing can be compared: the ends whose text is no TOML; pencil lies on what is."""
        found = []
        for point in points:
            if self.values_at(point) is None:
                label = "now" if point.label == "pencil" else point.label
                problem = read_problems(self._session.git.blob(point.blob), point.path)[0]
                line = f", line {problem.line}" if problem.line else ""
                found.append(f"the text at {label} is {UNREADABLE}{line} ({problem.what})")
        return tuple(dict.fromkeys(found))

    def trace(self, address: str, *, through_copies: bool = False) -> list[Traced]:
        """Every change of a value, a position or a section, oldest first."""
        address = self._held.present(address)
        document = self._document()
        told = _traced(self._session, self._held.key, address, self._held.units())
        items = [item for item in told if not item.change.is_unreadable_text]
        if not items and document is not None:
            describe_or_table(document, address)
        source = document.values.get("record.copied_from") if document else None
        items = tracing.with_runs(items, RunLog(self._held).all(), self._session.past)
        items = _among(told, items)
        if through_copies and isinstance(source, str):
            copied = self.life()[0].saved.id  # a copy's first appearance is no change
            own = [item for item in items if item.commit != copied]
            return [*_before_copy(self._session, source, address), *own]
        return items

    def _document(self) -> Document | None:
        try:
            return self._held.read()
        except ReadError:
            return None


def _contents(
    session: Session, start: Revision, old: dict[str, Value], end: Revision, new: dict[str, Value]
) -> list[Change]:
    """Linked files whose bytes differ, as `program.content`, `photos.jaws.content`."""
    found = []
    for address in [a for a in {**old, **new} if is_link(a)]:
        one, other = (
            _bytes_at(session, start, old.get(address)),
            _bytes_at(session, end, new.get(address)),
        )
        if one != other and old and new:
            name = address.removesuffix("file") + "content"
            found.append(Change(name, _sha(one), _sha(other), "sha256", None))
    return found


def _bytes_at(session: Session, point: Revision, path: Value | None) -> bytes | None:
    if not isinstance(path, str):
        return None
    if point.commit == "":
        try:
            return read_file(session.folder, path)
        except UsageError:
            return None
    entries = session.entries if point.commit == session.head else session.git.tree(point.commit)
    return session.git.blob(entries[path]) if path in entries else None


def _sha(data: bytes | None) -> str | None:
    return hashlib.sha256(data).hexdigest() if data is not None else None


def _traced(session: Session, key: str, address: str, unit: Callable[[str], str]) -> list[Traced]:
    """Rows of an address, and of the texts that nobody can read."""
    covers = tracing.covering(address)
    rows = session.past.rows(key, lambda a: is_whole_text(a) or covers(a), within=address)
    return [tracing.traced(row, unit, session.past.saved) for row in rows]


def _among(told: list[Traced], items: list[Traced]) -> list[Traced]:
    """The items, in the order in which they were told, with the unreadable texts since the first.

    `items` are those of `told` that are about values, with more known of each.
    """
    known, found = iter(items), list[Traced]()
    for each in told:
        if not each.change.is_unreadable_text:
            found.append(next(known))
        elif found:
            found.append(each)
    return found


def describe_or_table(document: Document, address: str) -> None:
    """UsageError where an address can never hold anything."""
    if any(lies_in(known, address) for known in document.values):
        return
    keys = address.split(".")
    tables = (
        "positions",
        "approach",
        "tools",
        "photos",
        "fingers",
        "offsets",
        "axes",
        "stations",
        "legs",
        "grippers",
        "people",
    )
    if keys[0] in tables or (len(keys) == 1 and keys[0] in type(document.model).model_fields):
        return
    describe_known(type(document.model), address)


def _before_copy(session: Session, source: str, address: str) -> list[Traced]:
    """The source's own trace, up to the commit that was copied."""
    key, _, commit = source.partition("@")
    held = taken_out.held_of(session, key) if session.past.knows(key) else None
    unit = held.units() if held else (lambda _: "")
    items = _traced(session, key, address, unit)
    items = [item for item in items if not item.change.is_unreadable_text]
    if held:
        items = tracing.with_runs(items, RunLog(held).all(), session.past)
    known = session.past.order_of(commit) >= 0
    return [item for item in items if known and session.git.is_ancestor(item.commit, commit)]
