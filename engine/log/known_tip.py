"""The tip of history that this box knew, and tips that are no longer in the past of the head.

The index is disposable; this stands in the book's private folder, where everybody who opens
the book sees it. A tip that was lost stays written down, its commits held by a ref of ours,
until it is in the past of the head again. Who acknowledged it is said by the book itself.
A folder that cannot be written costs the memory of it, never the answer.
"""

from __future__ import annotations

import json
import os
import re
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime

from engine.repo.git import Git
from engine.repo.private import (
    is_plain,
    listed,
    open_private,
    put_aside,
    read_private,
    write_private,
)
from schemas.errors import BookError

_TIP = re.compile(r"[0-9a-f]{40}([0-9a-f]{24})?")
_MOST_SAVES = 1_000  # named one by one; a past that is lost whole has more
_MOST_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class LostTip:
    """A tip that was the head and is not in its past. `at` is when that was noticed.

    `count` is how many saves are gone with it, 0 where its objects are not here; `saves` are
    the newest of them, `whose` how many each author made of those, `last` the newest's subject.
    """

    tip: str
    at: str
    count: int = 0
    saves: tuple[str, ...] = ()
    whose: dict[str, int] = field(default_factory=dict)
    last: str = ""


class KnownTip:
    """What one box knew of one book's head."""

    def __init__(self, git: Git) -> None:
        self._git = git
        self._folder = git.private / "witnessmark"
        self._at_hand: dict[str, LostTip] = {}  # what could not be written down too
        self._looked: dict[tuple[str, str], bool] = {}

    def look(self, head: str, clock: Callable[[], datetime]) -> None:
        """Take a head as the present one; what was known and is not in its past is lost."""
        known = self._read("known").strip()
        if not head or known == head:
            return
        if _TIP.fullmatch(known):
            if self._is_in(known, head):
                pass
            elif self._only_ahead(known, head):
                return
            else:
                self.lose(known, head, clock())
        with suppress(OSError):
            self._write(head)

    def lose(self, tip: str, head: str, at: datetime) -> None:
        """Write down that a tip is not in the past of a head."""
        if tip in self._at_hand or self._read(f"lost/{tip}.json"):
            return
        found = self._at_hand[tip] = self._of(tip, head, at)
        with suppress(OSError, BookError):
            if found.count:
                self._git.run("update-ref", "--", f"refs/witnessmark/lost/{tip}", tip)
        with suppress(OSError):
            text = json.dumps(asdict(found), ensure_ascii=True)
            write_private(self._folder, f"lost/{tip}.json", text.encode())

    def lost(self, head: str) -> list[LostTip]:
        """Tips that are not in the past of a head, oldest first; one that is again is forgotten.

        One that lies in the past of another is lost with that.
        """
        kept = self._kept()
        found = self._at_hand | kept
        for tip in list(found):
            if self._is_in(tip, head):
                del found[tip]
                self._at_hand.pop(tip, None)
                with suppress(OSError):
                    if tip in kept:
                        (self._folder / "lost" / f"{tip}.json").unlink(missing_ok=True)
        apart = [
            item
            for tip, item in found.items()
            if not any(tip != other and self._is_in(tip, other) for other in found)
        ]
        return sorted(apart, key=lambda item: (item.at, item.tip))

    def _of(self, tip: str, head: str, at: datetime) -> LostTip:
        try:
            gone = self._git.commits(tip, head) if self._git.object(tip)[0] else []
            made = [self._git.raw_commit(commit) for commit in gone[:_MOST_SAVES]]
        except BookError:  # some of its objects are gone as well
            gone, made = [], []
        whose = Counter(raw.author[0] for raw in made)
        last = made[0].message.partition("\n")[0] if made else ""
        saves = tuple(gone[:_MOST_SAVES])
        return LostTip(tip, at.isoformat(), len(gone), saves, dict(whose), last)

    def _is_in(self, tip: str, head: str) -> bool:
        """Whether a commit is in the past of a head; asked of git once."""
        key = (tip, head)
        if key not in self._looked:
            there = all(self._git.object(commit)[0] for commit in key)
            self._looked[key] = there and self._git.is_ancestor(tip, head)
        return self._looked[key]

    def _only_ahead(self, known: str, head: str) -> bool:
        """Whether another process knows a later head than the one read here a moment ago."""
        now = self._git.head()
        return now != head and self._is_in(head, known) and self._is_in(known, now)

    # files of the private folder

    def _kept(self) -> dict[str, LostTip]:
        """Lost tips that are written down."""
        found = {}
        with suppress(OSError):
            for name, _ in listed(self._folder, "lost"):
                tip, dot, _ = name.partition(".json")
                item = _unpacked(tip, self._read(f"lost/{name}")) if dot else None
                if item is not None:
                    found[tip] = item
        return found

    def _read(self, name: str) -> str:
        """What stands in a file; nothing where it cannot be had, or something else lies there."""
        try:
            data = read_private(self._folder, name, _MOST_BYTES)
        except OSError:
            return ""
        return (data or b"").decode("ascii", "replace")

    def _write(self, tip: str) -> None:
        """In place and not flushed: an older tip after a power cut is one of the same past."""
        if not is_plain(self._folder, "known"):
            put_aside(self._folder, "known")
        handle = open_private(self._folder, "known", os.O_WRONLY, make=True)
        try:
            os.pwrite(handle, f"{tip}\n".encode(), 0)
            os.ftruncate(handle, len(tip) + 1)
        finally:
            os.close(handle)


def _unpacked(tip: str, text: str) -> LostTip | None:
    """A tip by its file; of one that says nothing sound the name still counts."""
    if not _TIP.fullmatch(tip):
        return None
    try:
        told = json.loads(text)
        saves = tuple(str(save) for save in told["saves"])
        whose = {str(name): int(number) for name, number in told["whose"].items()}
        return LostTip(tip, str(told["at"]), int(told["count"]), saves, whose, str(told["last"]))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return LostTip(tip, "")
