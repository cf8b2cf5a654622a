"""What was worked out from bytes, kept by their hash: it can be forgotten, never stale.

A key must say all that the answer depends on. Safe to use from several threads;
two of them may work out the same thing at once, which costs time and no truth.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

V = TypeVar("V")


class LruCache(Generic[V]):
    """The `most` answers that were asked for last."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, V] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], V]) -> V:
        """The answer to a key, worked out by `make` where it is not known."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = make()
        self.put(key, made)
        return made

    def put(self, key: Hashable, made: V) -> None:
        """Keep an answer that was worked out elsewhere."""
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def __contains__(self, key: Hashable) -> bool:
        """Whether an answer is kept now."""
        with self._lock:
            return key in self._kept
