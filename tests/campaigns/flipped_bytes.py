"""One random history whose index is spoilt, and the right answers to all that can be asked of it.

A trial flips bits in 1 to 10 bytes of the index, in every second trial before the last commits are
taken in, and asks everything twice: of a book that is opened on what lies there, and of one that is
opened after it. Noticing costs time; a changed answer, or none, is wrong.
"""

from __future__ import annotations

import collections
import random
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from engine.log import index_file
from engine.log.commits import ChangeQuery, PastSource, ValueChange
from engine.log.document_cache import DocumentCache
from engine.log.index import IndexedPast
from engine.log.past import Past
from engine.log.walk import WalkedPast
from engine.repo.git import Git
from tests.engine.log.random_past import RandomPast

Answers = dict[str, Any]
_MOST_FLIPPED = 10
_COMMITS = 40


def _told(rows: Iterable[ValueChange]) -> list[str]:
    """Rows in one order, since within a commit both ways have their own; numbers as such."""
    return sorted(repr(replace(r, old=_plain(r.old), new=_plain(r.new))) for r in rows)


def _plain(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return tuple(map(_plain, value))
    if isinstance(value, Decimal) and value.is_nan():
        return "nan"  # which is not equal to itself
    return Decimal(value) if type(value) is int else value


def _listings(past: PastSource | Past, some: list[Any]) -> Answers:
    """What is asked across the whole book."""
    early, late = some[len(some) // 3].when, some[2 * len(some) // 3].when
    asked = {
        "all": ChangeQuery(),
        "by mira": ChangeQuery(person="mira"),
        "by hand": ChangeQuery(person="hand@shop"),
        "by nobody": ChangeQuery(person="nobody"),
        "in a span": ChangeQuery(since=early, until=late),
        "without reason": ChangeQuery(without_reason=True),
        "of one document": ChangeQuery(key="wm-test01"),
        "of some values": ChangeQuery(covers=lambda a: a.startswith("positions.")),
    }
    return {f"listing {name}": _told(past.rows_of_all(query)) for name, query in asked.items()}


def answers(past: PastSource | Past, keys: list[str], some: list[Any]) -> Answers:
    """Everything that can be asked of a past; `some` are commits of it."""
    found: Answers = {"count": past.count()} | _listings(past, some)
    found["last steps"] = {key: (n, repr(s)) for key, (n, s) in past.last_steps().items()}
    found["documents"] = past.documents()
    for name in ("a", "b", "c", "d-2", "d", "nobody"):
        found[f"named {name}"] = past.keys_at(f"records/{name}.toml")
    for key in [*keys, "wm-strange"]:
        found[f"life of {key}"] = repr(past.life(key))
        found[f"rows of {key}"] = _told(past.rows(key, lambda _: True))
        found[f"knows {key}"] = past.knows(key)
    for saved in some:
        found[f"saved {saved.id}"] = repr(past.saved(saved.id))
        found[f"beginning {saved.id}"] = past.commits_beginning(saved.id[:7])
        found[f"head at {saved.when}"] = past.head_at(saved.when)
    spans = [(one.id, other.id) for one in some[::2] for other in some[::3]]
    for key in keys:
        rows = past.rows(key, lambda _: True)
        stood = past.stood_in([(row.saved.id, row.address) for row in rows], spans)
        found[f"stood {key}"] = {  # where two people inked the same value apart, either counts
            (row.address, _plain(row.new), span)
            for row, own in zip(rows, stood, strict=True)
            for span in own
        }
    found["jumps"] = repr(past.jumps())
    found["stranger"] = past.order_of("f" * 40), past.saved("f" * 40)
    return found


class Campaign:
    """One random history, its index before and after its last commits, and the right answers."""

    def __init__(self, place: Path, seed: int) -> None:
        self.dice = random.Random(seed)
        made = RandomPast(place / "book", seed, _COMMITS)
        self.git, self.head = Git(made.folder), made.heads[-1]
        walked = WalkedPast(self.git, DocumentCache(self.git))
        walked.refresh(self.head)
        self.keys, self.some = list(walked._lives), walked._saves[::5]
        self.wanted = answers(self._asked(walked), self.keys, self.some)
        self.file = index_file.place_of(made.folder)
        self.grown: list[bytes] = []  # the file before its last commits, and with them
        for heads in (made.heads[:-3], made.heads[-3:]):
            index = IndexedPast(self.git, self.file)
            for head in heads:
                index.refresh(head)
            if heads[-1] == self.head:
                found = answers(self._asked(index), self.keys, self.some)
                assert found == self.wanted, "unspoilt"
            index.close()
            self.grown.append(self.file.read_bytes())
        self.ends: collections.Counter[str] = collections.Counter()
        self.wrong: list[str] = []

    def _asked(self, way: PastSource) -> Past:
        """A past that is known in one way, as people ask it: commits side by side in one order."""
        past = Past(self.git)
        past._way = way
        past.refresh(self.head)
        return past

    def trial(self, n: int) -> None:
        """Flip, and ask twice."""
        index_file.throw_away(self.file)
        spoilt = bytearray(self.grown[n % 2])
        for _ in range(self.dice.randint(1, _MOST_FLIPPED)):
            spoilt[self.dice.randrange(len(spoilt))] ^= 1 << self.dice.randrange(8)
        self.file.write_bytes(bytes(spoilt))
        for which in ("first", "second"):
            end = self.ask(f"trial {n}, {which}")
            self.ends[f"{which}: {end}"] += 1

    def ask(self, what: str) -> str:
        """Open the book on what lies there and ask: how it ended; what was wrong is kept."""
        past = Past(self.git)
        past.refresh(self.head)
        try:
            found = answers(past, self.keys, self.some)
        except Exception as error:  # no answer is a wrong one
            self.wrong.append(f"{what}: {type(error).__name__}: {error}")
            return "no answer"
        finally:
            way = "the index" if isinstance(past._way, IndexedPast) else "git"
            past.close()
        different = [name for name, answer in self.wanted.items() if found[name] != answer]
        self.wrong += [f"{what}: {name}" for name in different]
        return f"answered by {way}"

    def close(self) -> None:
        """End git."""
        self.git.close()


def run(place: Path, seed: int, trials: int) -> Campaign:
    """All trials of one seed, in a folder of their own."""
    campaign = Campaign(place, seed)
    for n in range(trials):
        campaign.trial(n)
    campaign.close()
    return campaign
