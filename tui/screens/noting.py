"""One note in a run's log: what is asked, how the answer is read, and the act.

Invariant: nothing is noted before it was read, nor by an Enter that was typed before
the question was seen; what cannot be read or is refused stays typed, with the reason
above it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from schemas.errors import Conflict, UsageError, WitnessmarkError
from schemas.number import read_typed
from tui.screens.subject import AboutOne, Subject
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import fixed
from tui.widgets.prose import paragraph
from tui.widgets.typing_page import TypingPage

if TYPE_CHECKING:
    from engine.book import Book, DocumentHandle
    from engine.views import Inked

_NOUNS = ("%", "good", "scrap", "and", "parts")
REMARK = "Words after it are kept as a remark."


@dataclass(frozen=True, slots=True)
class Said:
    """What was typed, read: numbers first, then a remark."""

    numbers: tuple[Decimal, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked, what it means, how many numbers it takes, and the act."""

    title: str
    label: str
    text: str
    least: int
    most: int
    act: Callable[[DocumentHandle, Said], Inked]
    whole: bool = True

    def read(self, text: str) -> Said:
        """What was typed. UsageError with what to type instead."""
        numbers: list[Decimal] = []
        words = text.split()
        while words and len(numbers) < self.most and words[0][0].isdigit():
            try:
                numbers.append(read_typed(words[0].rstrip("%,")))
            except ValueError as error:
                raise UsageError(str(error)) from None
            words.pop(0)
            if words and words[0].strip(",") in _NOUNS:  # `108 good 2 scrap`
                words.pop(0)
        if len(numbers) < self.least:
            raise UsageError(f"type {self.label}", hint="Numbers first, then words.")
        if self.whole and any(number != int(number) for number in numbers):
            raise UsageError("counts are whole numbers")
        return Said(tuple(numbers), " ".join(words))


def _start(record: DocumentHandle, said: Said) -> Inked:
    quantity = int(said.numbers[0]) if said.numbers else None
    return record.runs.start(quantity, said.words)


def _confirm(record: DocumentHandle, said: Said) -> Inked:
    return record.runs.confirm(said.words)


def _stage(record: DocumentHandle, said: Said) -> Inked:
    percent = said.numbers[0]
    if not 0 < percent <= 100:
        raise UsageError(f"{percent} is no stage", hint="More than 0 and at most 100 percent.")
    return record.runs.stage(percent, said.words)


def _piece(record: DocumentHandle, said: Said) -> Inked:
    which, _, note = said.words.partition(" ")
    if which not in ("first", "last"):
        raise UsageError("say which piece it was", hint="Type first or last, then any remark.")
    return record.runs.piece(which, note)


def _refill(record: DocumentHandle, said: Said) -> Inked:
    good = int(said.numbers[0]) if said.numbers else None
    scrap = int(said.numbers[1]) if len(said.numbers) > 1 else None
    return record.runs.refill(good, scrap, said.words)


def _stop(record: DocumentHandle, said: Said) -> Inked:
    good, scrap = (int(number) for number in said.numbers)
    return record.runs.stop(good, scrap, said.words)


ASKED = {
    "start": Asked(
        "Start a run",
        "quantity",
        "The run is tied to what is inked now; pencil stays pencil. The quantity may be left out. "
        f"{REMARK}",
        0,
        1,
        _start,
    ),
    "confirm": Asked(
        "Confirmed at the machine?",
        "remark, if any",
        "Enter says: I put the inked values into the machine's control and read them back "
        "there. Whoever reads this later relies on it.",
        0,
        0,
        _confirm,
    ),
    "stage": Asked(
        "A stage of prove-out was run",
        "percent of full speed",
        f"At what percent did it run? {REMARK} The first stage runs without a blank.",
        1,
        1,
        _stage,
        whole=False,
    ),
    "piece": Asked(
        "A piece was checked",
        "first or last",
        f"Type first or last. {REMARK}",
        0,
        0,
        _piece,
    ),
    "refill": Asked(
        "The tray was refilled",
        "good and scrap so far, if counted",
        f"Two numbers, for example 27 1, or nothing. {REMARK} Lock out a live loader first.",
        0,
        2,
        _refill,
    ),
    "stop": Asked(
        "Stop the run",
        "good and scrap",
        f"Two numbers, for example 108 2. {REMARK}",
        2,
        2,
        _stop,
    ),
}


class Noting(AboutOne, TypingPage):
    """Asks for one note and makes it. Its answer is what was written, or None."""

    def __init__(
        self, subject: Subject, asked: Asked, text: str = "", hint: str = "", stands: str = ""
    ) -> None:
        super().__init__(text)
        self.subject = subject
        self._stands = stands  # the ink that is spoken of, where the note is about what is inked
        self._asked = asked
        self._hint = hint

    def heading(self) -> str:
        """What is noted, of what."""
        return f"{self._asked.title}   {self.name_of_record}"

    def live_keys(self) -> tuple[PageKey, ...]:
        """Letters are typed here."""
        return (key("Enter", "note it", "", ""), key("Esc", "note nothing", "", ""))

    def load(self) -> None:
        """What may be typed, and the line."""
        texts = [self._asked.text, "", self._hint]
        self.lines.show([paragraph(n, text) for n, text in enumerate(texts)])
        self.typed()
        self.sight.show_anew()

    def typed(self) -> None:
        """Show the line."""
        self.status.say(*self.line_row(f" {self._asked.label}"))

    def accept(self) -> None:
        """Read it, and hand it over."""
        if not self.in_sight():
            return
        try:
            said = self._asked.read(self.text)
        except WitnessmarkError as error:
            self._refused(error)
            return
        act, stands = self._asked.act, self._stands

        def question(book: Book) -> Inked:
            record = self.subject.of(book)
            last = record.past.inks()[-1]
            if stands and last.commit != stands:
                hint = "Esc, look at what was inked, and then note it."
                raise Conflict(f"{last.who.name} inked while this was open", hint=hint)
            return act(record, said)

        self.ask(
            "noting",
            question,
            self._done,
            failed=self._refused,
            hold=True,
        )

    def _done(self, done: Inked) -> None:
        self.dismiss(done)

    def tell_unseen(self, text: str) -> None:
        """Under what is asked: the status line is typed in."""
        self._under(WitnessmarkError(text.rstrip(".")))

    def _refused(self, error: WitnessmarkError) -> None:
        """The typed text stays; the reason stands under what is asked."""
        self._under(error)
        self.sight.show_anew(refusal=True)

    def _under(self, error: WitnessmarkError) -> None:
        texts = [self._asked.text, "", self._hint, "" if self._hint else None]
        items = [paragraph(n, text) for n, text in enumerate(texts) if text is not None]
        rows = [
            fixed(("no", n), row, heading=True) for n, row in enumerate(self.under_rows(error, 2))
        ]
        self.lines.show([*items, *rows])
