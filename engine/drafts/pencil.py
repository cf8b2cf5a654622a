"""Pencil: what a person changed and has not inked, as an append-only journal.

One journal for each person and document. The state is what replaying it gives,
so a killed process loses at most the key in hand, and undo, rub-out and
bring-back are entries like any other. A pencil mark remembers the inked value
it was set against and the commit of that moment: that is how a later ink by
somebody else is noticed.

Entries (`do`): set, rub-out, bring-back, keep, undo, redo, inked.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from engine.repo.journal import Journal, JournalLine
from schemas.address import KEY, Value, same_text, show
from schemas.errors import Refused
from schemas.toml import read_value, spell_value

_DOCUMENT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")  # `cells.` and a name, or a record's id


@dataclass(frozen=True, slots=True)
class PencilMark:
    """One value in pencil. None stands for no value, in pencil or in ink."""

    address: str
    value: Value | None
    inked: Value | None  # what was inked when the mark was made
    base: str  # the commit of that moment
    at: datetime
    note: str = ""


@dataclass
class Replayed:
    """A journal read to its end: marks by address, and what can be undone or redone."""

    marks: dict[str, PencilMark] = field(default_factory=dict)
    done: list[JournalLine] = field(default_factory=list)
    undone: list[JournalLine] = field(default_factory=list)
    draft: str = ""
    started: dict[str, JournalLine] = field(default_factory=dict)  # packed marks before `done`
    closed: list[JournalLine] = field(default_factory=list)  # rub-outs and bring-backs inked before

    def rubbed(self) -> list[JournalLine]:
        """Rub-outs that were not brought back yet, oldest first, earlier drafts included."""
        open_ones: list[JournalLine] = []
        for entry in self.closed + self.done:
            if entry["do"] == "rub-out":
                open_ones.append(entry)
            elif entry["do"] == "bring-back" and open_ones:
                open_ones.pop()
        return open_ones


def _spelt(value: Value | None) -> str | None:
    return None if value is None else spell_value(value)


def _value(text: Any) -> Value | None:
    return None if text is None else read_value(str(text))


def pack(mark: PencilMark) -> JournalLine:
    """A mark as it stands in a journal."""
    entry = {
        "address": mark.address,
        "value": _spelt(mark.value),
        "inked": _spelt(mark.inked),
        "base": mark.base,
        "at": mark.at.isoformat(),
    }
    return entry | ({"note": mark.note} if mark.note else {})


def unpack(entry: Mapping[str, Any]) -> PencilMark:
    """The mark that `pack` packed."""
    return PencilMark(
        entry["address"],
        _value(entry["value"]),
        _value(entry["inked"]),
        entry["base"],
        datetime.fromisoformat(entry["at"]),
        entry.get("note", ""),
    )


def _sound(entry: JournalLine) -> bool:
    """Whether an entry can be replayed; a damaged one is passed over."""
    marks, what, draft = entry.get("marks", []), entry.get("do"), entry.get("draft", "")
    try:
        whole = all(
            isinstance(packed["address"], str)
            and isinstance(packed["base"], str)
            and datetime.fromisoformat(packed["at"]).tzinfo is not None
            and _readable(packed["value"])
            and _readable(packed["inked"])
            for packed in marks
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        return False
    return whole and isinstance(draft, str) and (bool(marks) or what in ("undo", "redo", "inked"))


@lru_cache(maxsize=4096)
def _readable(text: str | None) -> bool:
    try:
        return text is None or read_value(text) is not None
    except (ValueError, RecursionError):
        return False


def _apply(marks: dict[str, JournalLine], entry: JournalLine) -> None:
    """Change packed marks by one entry."""
    for packed in entry["marks"]:
        marks.pop(packed["address"], None)
        # set, bring-back, keep put marks down; values are compared as they are spelt
        if entry["do"] != "rub-out" and packed["value"] != packed["inked"]:
            marks[packed["address"]] = packed


def replay(entries: Iterable[JournalLine]) -> Replayed:
    """The state that a journal leaves."""
    state = Replayed()
    for entry in entries:
        what = entry.get("do")
        if what in ("set", "rub-out", "bring-back", "keep"):
            state.done.append(entry)
            state.undone.clear()
        elif what == "undo" and state.done:
            state.undone.append(state.done.pop())
        elif what == "redo" and state.undone:
            state.done.append(state.undone.pop())
        elif what == "inked":
            state = _after_ink(state, entry)
            continue
        state.draft = entry.get("draft") or state.draft
    state.marks = {address: unpack(packed) for address, packed in _packed(state).items()}
    return state


def _packed(state: Replayed) -> dict[str, JournalLine]:
    marks = dict(state.started)
    for entry in state.done:
        _apply(marks, entry)
    return marks


def _after_ink(state: Replayed, entry: JournalLine) -> Replayed:
    """What is left: marks that another process of the same person made meanwhile."""
    inked = {packed["address"]: packed["value"] for packed in entry.get("marks", ())}
    left = {
        address: packed
        for address, packed in _packed(state).items()
        if address not in inked or inked[address] != packed["value"]
    }
    rest = f"d-{str(entry.get('commit', ''))[:12]}" if left else ""  # another draft than the inked
    closed = state.closed + [e for e in state.done if e["do"] in ("rub-out", "bring-back")]
    return Replayed(started=left, closed=closed, draft=rest)


class Pencil:
    """The pencil of one person on one document."""

    def __init__(self, private: Path, person: str, document: str) -> None:
        if not KEY.fullmatch(person) or not _DOCUMENT.fullmatch(document):
            raise Refused(f"{person!r} or {document!r} cannot name a journal")
        self.person = person
        self.document = document
        self.journal = Journal(private / "pencil" / person / f"{document}.jsonl", _sound)

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
        taken: list[PencilMark] = []

        def make(entries: list[JournalLine]) -> JournalLine | None:
            state = replay(entries)
            taken.extend(m for a, m in state.marks.items() if not addresses or a in addresses)
            if not taken:
                return None
            packed = [pack(mark) for mark in taken]
            return self._entry("rub-out", state, marks=packed, when=at.isoformat())

        self.journal.append(make)
        return taken

    def bring_back(self) -> list[PencilMark]:
        """Put back what was rubbed out last; Refused where nothing was."""
        back: list[PencilMark] = []

        def make(entries: list[JournalLine]) -> JournalLine:
            state = replay(entries)
            rubbed = state.rubbed()
            if not rubbed:
                raise Refused("nothing was rubbed out here", where=self.document)
            back.extend(unpack(packed) for packed in rubbed[-1]["marks"])
            return self._entry("bring-back", state, marks=rubbed[-1]["marks"])

        self.journal.append(make)
        return back

    def step(self, do: str) -> JournalLine:
        """`undo` or `redo` one entry; the entry. Refused where there is none."""
        found: list[JournalLine] = []

        def make(entries: list[JournalLine]) -> JournalLine:
            state = replay(entries)
            stack = state.done if do == "undo" else state.undone
            if not stack:
                raise Refused(f"there is nothing to {do} in this pencil", where=self.document)
            found.append(stack[-1])
            return self._entry(do, state)

        self.journal.append(make)
        return found[0]

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


def _no_news(known: PencilMark | None, mark: PencilMark) -> bool:
    """Whether a mark says only what is there already."""
    if known is None:
        return same_text(mark.value, mark.inked)
    return same_text(known.value, mark.value)


def in_words(entry: JournalLine) -> str:
    """What an entry did, for the line that says what was undone."""
    marks = [unpack(packed) for packed in entry["marks"]]
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
    """Every journal of a book, whoever wrote it."""
    found = []
    for path in sorted((private / "pencil").glob("*/*.jsonl")):
        named = KEY.fullmatch(path.parent.name) and _DOCUMENT.fullmatch(path.stem)
        if named and path.is_file():
            found.append(Pencil(private, path.parent.name, path.stem))
    return found
