"""What was typed before something was seen, told from what was typed afterwards.

Invariant: a key counts as typed after a picture only if it came out of the terminal
behind the terminal's own answer to a question that was written behind the picture. A
terminal reads and answers in order, so that holds over any line, however slow, and
for keys of one burst, of a paste, or typed while the book was at work. Each key that
comes in is stamped with the last answer, the echo, that came before it.

The question is where the cursor stands, which is put to a place of its own for each
number (nobody sees it: it is hidden); every terminal has known it since the first
ones. One that does not answer is taken to have shown a picture once it was quiet for
a moment after it. Without a terminal the app's own queue of keys is the line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from textual.message import Message

QUIET = 0.3  # seconds without a key, where the terminal does not answer
_ROW = 1  # from zero; an answer about the first row could be a key with Shift
_PLACES = 16  # columns of that row that numbers are told apart by
_LOST = 8  # questions without an answer, after which a terminal is taken to be silent


@dataclass(eq=False)
class Typed(Message, bubble=False):
    """A key, and the number of the last echo that came before it."""

    pressed: str
    character: str | None
    echo: int


@dataclass(eq=False)
class EchoCame(Message, bubble=False):
    """The echo of a number came, in the order in which keys come."""

    number: int


class Wire(Protocol):
    """As much of the app as has to do with its terminal."""

    def terminal(self) -> Callable[[str], None] | None:
        """What writes to the terminal behind all that was painted; None without one."""
        ...

    def post_message(self, message: Message) -> bool:
        """Put a message behind the keys that came already."""
        ...

    def set_timer(self, delay: float, callback: Callable[[], None]) -> object:
        """Call something later."""
        ...


class Echoes:
    """Echoes by number: those that were asked for, and the last one that came."""

    def __init__(self, bench: Wire) -> None:
        self._bench = bench
        self._asked = 0
        self._came = 0
        self._answers = False  # whether this terminal is known to answer
        self._keys = 0  # how many were typed so far

    def stamp(self, pressed: str, character: str | None) -> Typed:
        """A key as it comes in."""
        self._keys += 1
        return Typed(pressed, character, self._came)

    def ask(self) -> int:
        """Ask for an echo behind all that was painted so far; its number."""
        self._asked += 1
        number = self._asked
        write = self._bench.terminal()
        if write is None:
            self._bench.post_message(EchoCame(number))
            return number
        if number - self._came > _LOST:
            self._answers = False
        write(f"\x1b[{_ROW + 1};{number % _PLACES + 1}H\x1b[6n")
        if not self._answers:
            self._wait_for_quiet(number)
        return number

    def answered(self, x: int, y: int) -> None:
        """The terminal said where its cursor stands, from zero."""
        if y != _ROW or x >= _PLACES:
            return
        number = self._asked - (self._asked - x) % _PLACES
        if number > self._came:
            self._answers = True
            self.came(number)

    def came(self, number: int) -> None:
        """An echo came; what is typed from now on is typed behind it."""
        self._came = max(self._came, number)

    def _wait_for_quiet(self, number: int) -> None:
        self._bench.set_timer(QUIET, partial(self._was_quiet, number, self._keys))

    def _was_quiet(self, number: int, keys: int) -> None:
        if number <= self._came:
            return
        if keys == self._keys:
            self.came(number)
        else:
            self._wait_for_quiet(number)


class Sight:
    """Whether something was in sight when the key at hand was typed."""

    def __init__(
        self, after_painting: Callable[[Callable[[], None]], object], echoes: Callable[[], Echoes]
    ) -> None:
        self._after_painting = after_painting
        self._echoes = echoes
        self.refusal = False  # whether it is a refusal, which is to be read as it stands
        self._needed: int | None = None  # the echo behind its picture; None: not painted yet
        self._round = 0

    def show_anew(self, *, refusal: bool = False) -> None:
        """It is about to be painted: no key that was typed up to now saw it."""
        self.refusal = refusal
        self._needed = None
        self._round += 1
        self._after_painting(partial(self._painted, self._round))

    def _painted(self, this: int) -> None:
        if this == self._round:
            self._needed = self._echoes().ask()

    def seen_by(self, echo: int) -> bool:
        """Whether a key with this stamp was typed with it in sight."""
        if self._needed is not None and echo >= self._needed:
            return True
        if self._needed is not None:
            self._echoes().ask()  # the answer may have been lost; a later one will do
        return False
