"""What a journal of pencil says when it is read to its end.

The state is what replaying gives: undo, rub-out and bring-back are entries like any
other. Entries (`do`): set, rub-out, bring-back, keep, undo, redo, inked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from engine.drafts.marks import PencilMark, unpack
from engine.repo.journal import JournalLine


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
