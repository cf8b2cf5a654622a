"""Pencil: what a person changed and has not inked, as an append-only journal.

One journal for each person and document. A killed process loses at most the key in
hand: every act is one entry, and what the journal says is what replaying it gives.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from engine.drafts.marks import PencilMark, is_sound, pack, unpack
from engine.drafts.replay import Replayed, replay
from engine.repo.journal import Journal, JournalLine
from engine.repo.private import listed
from schemas.address import KEY, same_text, show
from schemas.errors import Refused
from schemas.upgrade import present

CLOSED = os.strerror(errno.EACCES)  # why a journal cannot be read that this account may not
_FOLDER = "pencil"
_DOCUMENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")  # `cells.` and a name, or a record's id


class Pencil:
    """The pencil of one person on one document."""

    def __init__(self, private: Path, person: str, document: str) -> None:
        if not KEY.fullmatch(person) or not _DOCUMENT.fullmatch(document):
            raise Refused(f"{person!r} or {document!r} cannot name a journal")
        self.person = person
        self.document = document
        self.journal = Journal(private / _FOLDER / person / f"{document}.jsonl", self._read)

    def _read(self, entry: JournalLine) -> JournalLine | None:
        """An entry at present addresses: a journal may be older than the names it is read with."""
        if not is_sound(entry):
            return None
        of_record = self.document.startswith(("wm-", "records."))
        kind = "record" if of_record else self.document.partition(".")[0].removesuffix("s")
        marks = [{**m, "address": present(kind, m["address"])} for m in entry.get("marks", [])]
        return entry | {"marks": marks} if marks else entry

    def state(self) -> Replayed:
        """What is pencilled now, others' processes included."""
        return replay(self.journal.entries())

    def put(self, marks: Sequence[PencilMark], do: str = "set") -> Replayed:
        """Put marks down in one entry (`do`: set or keep); durable when this returns."""

        def make(entries: list[JournalLine]) -> JournalLine | None:
            state = replay(entries)
            if do == "set" and all(_no_news(state.marks.get(m.address), m) for m in marks):
                return None
            return self._entry(do, state, marks=[pack(mark) for mark in marks])

        self.journal.append(make)
        return self.state()

    def _entry(self, do: str, state: Replayed, **more: Any) -> JournalLine:
        draft = state.draft if state.marks or state.done else ""
        return {"do": do, "draft": draft or f"d-{secrets.token_hex(6)}", **more}

    def rub_out(self, addresses: Sequence[str], at: datetime) -> list[PencilMark]:
        """Take marks away (all, if none are named); what was taken."""

        def make(entries: list[JournalLine]) -> JournalLine | None:
            state = replay(entries)
            taken = [m for a, m in state.marks.items() if not addresses or a in addresses]
            if not taken:
                return None
            packed = [pack(mark) for mark in taken]
            return self._entry("rub-out", state, marks=packed, when=at.isoformat())

        return _marks_of(self.journal.append(make)[-1:])

    def bring_back(self) -> list[PencilMark]:
        """Put back what was rubbed out last; empty where nothing was."""

        def make(entries: list[JournalLine]) -> JournalLine | None:
            state = replay(entries)
            rubbed = state.rubbed()
            if not rubbed:
                return None
            return self._entry("bring-back", state, marks=rubbed[-1]["marks"])

        return _marks_of(self.journal.append(make)[-1:])

    def step(self, do: str) -> JournalLine | None:
        """`undo` or `redo` one entry; the entry, None where there is none."""

        def make(entries: list[JournalLine]) -> JournalLine | None:
            state = replay(entries)
            possible = state.done if do == "undo" else state.undone
            return self._entry(do, state) if possible else None

        written = self.journal.append(make)
        if not written:
            return None
        after = replay(written)
        return (after.undone if do == "undo" else after.done)[-1]

    def set_aside(self, commit: str, marks: Sequence[JournalLine]) -> None:
        """Put down what a merge did not take, once; what is pencilled there already stays."""

        def make(entries: list[JournalLine]) -> JournalLine | None:
            if any(entry.get("aside") == commit for entry in entries):
                return None
            state = replay(entries)
            fresh = [mark for mark in marks if mark["address"] not in state.marks]
            return self._entry("set", state, marks=fresh, aside=commit) if fresh else None

        self.journal.append(make)

    def inked(self, draft: str, commit: str, marks: Sequence[JournalLine]) -> None:
        """Close a draft that is in history now; closing it twice does nothing.

        `marks` are those that were inked, packed; others stay in pencil.
        """

        def make(entries: list[JournalLine]) -> JournalLine | None:
            closed = any(e.get("do") == "inked" and e.get("commit") == commit for e in entries)
            done = {"do": "inked", "draft": draft, "commit": commit, "marks": list(marks)}
            return None if closed else done

        self.journal.append(make)


def _marks_of(entries: Sequence[JournalLine]) -> list[PencilMark]:
    return [unpack(packed) for entry in entries for packed in entry["marks"]]


def _no_news(known: PencilMark | None, mark: PencilMark) -> bool:
    """Whether a mark says only what is there already."""
    if known is None:
        return same_text(mark.value, mark.inked)
    return same_text(known.value, mark.value)


def in_words(entry: JournalLine) -> str:
    """What an entry did, for the line that says what was undone."""
    marks = _marks_of([entry])
    first = marks[0]
    value = show(first.value) if first.value is not None else "nothing"
    verb = {
        "set": "setting",
        "keep": "keeping",
        "rub-out": "rubbing out",
        "bring-back": "bringing back",
    }[entry["do"]]
    more = f" and {len(marks) - 1} more" if len(marks) > 1 else ""
    target = f" to {value}" if entry["do"] == "set" else ""
    return f"{verb} {first.address}{target}{more}"


def journals(private: Path) -> list[Pencil]:
    """Every journal of a book, whoever wrote it; of one that cannot be read, too."""
    found = []
    for person, mode in _listed(private, _FOLDER):
        if KEY.fullmatch(person) and stat.S_ISDIR(mode):
            for name, _ in _listed(private, f"{_FOLDER}/{person}"):
                document = name.removesuffix(".jsonl")
                if name != document and _DOCUMENT.fullmatch(document):
                    found.append(Pencil(private, person, document))
    return found


def hidden_journals(private: Path) -> list[tuple[str, str]]:
    """Where somebody's pencil may be that nothing looks into: the place and what it is."""
    found = []
    try:
        for person, mode in listed(private, _FOLDER):
            if KEY.fullmatch(person) and not stat.S_ISDIR(mode):
                found.append((f"{_FOLDER}/{person}", "it is no folder"))
            elif KEY.fullmatch(person):
                try:
                    listed(private, f"{_FOLDER}/{person}")
                except OSError as error:
                    found.append((f"{_FOLDER}/{person}", error.strerror or str(error)))
    except OSError as error:
        found.append((_FOLDER, error.strerror or str(error)))
    return found


def hidden(private: Path) -> list[str]:
    """Keys of people whose pencil, or some of it, this account's rights do not let it read."""
    closed = [place for place, why in hidden_journals(private) if why == CLOSED]
    if _FOLDER in closed:
        return ["everybody"]
    people = {place.rpartition("/")[2] for place in closed}
    return sorted(people | {pencil.person for pencil in journals(private) if _is_closed(pencil)})


def _is_closed(pencil: Pencil) -> bool:
    path = pencil.journal.path
    try:
        return stat.S_ISREG(path.lstat().st_mode) and not os.access(path, os.R_OK)
    except OSError:  # it went meanwhile
        return False


def stamps(private: Path) -> dict[str, tuple[int, int, int]]:
    """What each journal is, by place: another answer says that somebody pencilled."""
    found = {}
    for pencil in journals(private):
        with suppress(OSError):  # one that went meanwhile
            stands = pencil.journal.path.lstat()
            place = str(pencil.journal.path)
            found[place] = (stands.st_ino, stands.st_size, stands.st_mtime_ns)
    return found


def _listed(private: Path, folder: str) -> list[tuple[str, int]]:
    try:
        return listed(private, folder)
    except OSError:  # `hidden_journals` says it
        return []
