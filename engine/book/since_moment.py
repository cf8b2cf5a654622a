"""What changed in many records since a moment: one look at history for all of them.

The answer for each is what the record's own past says of it (`DocumentPast.since`), and where
a text is not plain enough for the quick way, it is asked. The quick way compares only the
tables of two texts that differ, reads texts and trees many at once, and asks the index once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from engine.book.clocks import doubts
from engine.book.comparing import DocumentPast
from engine.book.revisions import Revision
from engine.book.session import Held, Session
from engine.log.canonical_text import Spelt, unspell
from engine.log.diff import changes_between, position_changes
from engine.log.document_cache import record_id
from engine.log.locations import Location
from engine.log.recent_texts import RecentTexts
from engine.views import Change, Comparison
from schemas.address import Value
from schemas.document import Document, kind_of
from schemas.errors import ReadError
from schemas.fields import describe, place_in
from schemas.record import Record

_MANY = 400  # objects asked for at once
_LINK = re.compile(rb'^[ \t]*file[ \t]*=[ \t]*"([^"\\\n]*)"', re.MULTILINE)
_FILE = re.compile(rb"\bfile\b")


def since_moment(session: Session, held: Sequence[Held], moment: datetime) -> list[Comparison]:
    """What changed in some records since a moment, in their order."""
    return _Since(session, held, moment).all()


class _Since:
    """One question: what it looked up for all records, and the answer for each."""

    def __init__(self, session: Session, held: Sequence[Held], moment: datetime) -> None:
        self._session = session
        self._held = held
        self._label = moment.isoformat(timespec="seconds")
        self._clocks = doubts(session, moment)
        self._texts = RecentTexts(session.git)
        past = session.past
        self._start = past.head_at(moment, session.clock())
        self._before = _places(session, self._start, self._texts)
        there = {h.key: self._before[h.key].blob for h in held if h.key in self._before}
        self._own = past.last_with(there, self._start) if self._start else {}
        commits = [*dict.fromkeys(self._own.values())]
        self._trees = dict(zip(commits, session.git.trees(commits), strict=True))

    def all(self) -> list[Comparison]:
        """The comparisons."""
        found = []
        for n in range(0, len(self._held), _MANY):
            some = self._held[n : n + _MANY]
            starts = [self._revision(held) for held in some]
            texts = [p.blob for pair in zip(some, starts, strict=True) for p in pair]
            self._texts.fetch(self._session.git, texts)
            found += [self._since(h, start) for h, start in zip(some, starts, strict=True)]
        return found

    def _revision(self, held: Held) -> Revision:
        """What stood there of a record at the moment."""
        where = self._before.get(held.key)
        if where is None:
            return Revision(f"{self._label} (it began later)", "", held.path, "")
        return Revision(self._label, self._own.get(held.key, self._start), *where)

    def _since(self, held: Held, start: Revision) -> Comparison:
        end = Revision("now", self._session.head, held.path, held.blob)
        found = self._quickly(held, start, end)
        found = found or DocumentPast(held).between(start, end)
        return replace(found, clocks=self._clocks)

    def _quickly(self, held: Held, start: Revision, end: Revision) -> Comparison | None:
        """The comparison by what differs between two plain texts; None where that is not sure."""
        if not start.blob or self._linked_differ(start, end):
            return None
        compared = Comparison(
            held.name, start.label, end.label, (), (), 0, start.commit, end.commit
        )
        if start.blob == end.blob:
            return compared
        quick = self._texts.quick_change("record", [start.blob], end.blob)
        document = _usable(held)
        if quick is None or document is None:
            return None
        old, new = (_values(spelt) for spelt in (quick[0][0], quick[1]))
        unit = self._session.units(document)
        changes, respelt = changes_between(old, new, unit, held.path)
        gone = sum(item.new is None for item in changes)
        if gone > 1 or (self._texts.is_by_hand(start.blob) and any(map(_is_whole, changes))):
            return None  # the order of the old text, or how it spells a number, is to be looked at
        changes.sort(key=lambda item: _order(document, item))
        moved = tuple(position_changes(changes))
        return replace(compared, changes=tuple(changes), positions=moved, respelt=respelt)

    def _linked_differ(self, start: Revision, end: Revision) -> bool:
        """Whether a linked file may differ: some text names one in another way, or it does."""
        before = self._trees.get(start.commit)
        if before is None:
            return True
        for blob in dict.fromkeys((start.blob, end.blob)):
            data = self._texts.blob(blob)
            paths = _LINK.findall(data)
            if len(paths) != len(_FILE.findall(data)):
                return True
            for path in map(_as_text, paths):
                if before.get(path) != self._session.entries.get(path):
                    return True
        return False


def _places(session: Session, commit: str, texts: RecentTexts) -> Mapping[str, Location]:
    """Where each record lay in a commit: of one that lay there twice, its first path."""
    tree = session.git.tree_if_any(commit)
    known = {(held.path, held.blob): held.key for held in session.places("record")}
    files = [(p, blob) for p, blob in tree.under("records") if kind_of(p) == "record"]
    found: dict[str, Location] = {}
    keys: dict[tuple[str, str], str] = {}
    for n in range(0, len(files), _MANY):
        some = [file for file in files[n : n + _MANY] if file not in known]
        texts.fetch(session.git, [blob for _, blob in some])
        keys |= {file: record_id(file[0], texts.blob(file[1])) for file in some}
    for file in sorted(files):
        key = known.get(file) or keys[file]
        found.setdefault(key, Location(*file))
    return found


def _usable(held: Held) -> Document | None:
    try:
        return held.read()
    except ReadError:
        return None


def _values(spelt: Spelt) -> dict[str, Value]:
    return {address: unspell(text) for address, text in spelt.items()}


def _order(document: Document, item: Change) -> tuple[bool, object]:
    """In the order of the new text, then what is gone."""
    return item.new is None, item.new is not None and place_in(type(document.model), item.address)


def _is_whole(item: Change) -> bool:
    """Whether a field takes whole numbers only: 1e3, by hand, is none."""
    described = describe(Record, item.address)
    return described is not None and described.kind == "whole"


def _as_text(path: bytes) -> str:
    return path.decode("utf-8", "replace")
