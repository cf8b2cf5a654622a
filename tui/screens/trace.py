"""The life of a value, or of a whole position: from what to what, who, when, why.

Invariant: every change is shown, newest first, with the person, the moment, the
reason, the runs made with it, and whether this program saved it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from engine.views.wording import (
    address_words,
    clock_time,
    count,
    decided_words,
    difference,
    new_words,
    old_words,
    ran_in,
    unit_word,
    written_at,
)
from tui.safe import wrap
from tui.screens.subject import AboutOne, Subject
from tui.widgets.keys import key
from tui.widgets.lines import Item
from tui.widgets.page import Page
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.views import Traced


class Trace(AboutOne, Page):
    """Who changed this value, from what to what, when and why."""

    KEYS = (
        key("w", "wider", "trace the whole table around this value", "wider"),
        key("n", "narrower", "back to the value alone", "narrower"),
        key("o", "through copies", "follow the record that this one was copied from", "copies"),
    )

    def __init__(self, subject: Subject, address: str) -> None:
        super().__init__()
        self.subject = subject
        self._whole = address
        self._address = address
        self._through_copies = False

    def heading(self) -> str:
        """What is traced."""
        return f"Trace {self._address} of {self.name_of_record}"

    def load(self) -> None:
        """Ask for the life."""
        address, through = self._address, self._through_copies
        self.ask_to_show(
            "tracing",
            lambda book: self.subject.of(book).past.trace(address, through_copies=through),
            self._show,
        )

    def _show(self, traced: list[Traced]) -> None:
        self.show_frame()
        outside = sum(1 for each in traced if not each.verified)
        proof = f", {outside} not saved by this program" if outside else ""
        self.about.say((f" {count(len(traced), 'change')}, newest first{proof}", ""))
        wide = self._address != self._whole or any(
            each.change.address != self._address for each in traced
        )
        items = [
            Item(n, _drawer(each, self.name_of_record, wide))
            for n, each in enumerate(reversed(traced))
        ]
        if not items:
            items = [paragraph(0, "This value was never inked.")]
        self.lines.show(items)

    def do_wider(self) -> None:
        """One table more."""
        above = self._address.rpartition(".")[0]
        if above:
            self._address = above
            self.load()
        else:
            self.tell("Wider than a section: see the marks of the record.")

    def do_narrower(self) -> None:
        """One table less, towards the value."""
        if self._address != self._whole:
            rest = self._whole.removeprefix(f"{self._address}.")
            self._address = f"{self._address}.{rest.partition('.')[0]}"
            self.load()

    def do_copies(self) -> None:
        """Follow copies, or stop following them."""
        self._through_copies = not self._through_copies
        self.tell("Copies are followed." if self._through_copies else "This record only.")
        self.load()


def _drawer(each: Traced, name: str, wide: bool) -> Callable[[int], Sequence[StyledRow]]:
    def draw(width: int) -> Sequence[StyledRow]:
        change = each.change
        old, new = old_words(change), new_words(change)
        unit = unit_word(change.unit)
        delta = difference(change.old, change.new, change.delta, change.unit)
        where = f"{address_words(change)}  " if wide or change.is_unreadable_text else ""
        where = f"{each.document}: {where}" if each.document != name else where
        what: StyledRow = (
            (f"  {clock_time(each.when)}  ", ""),
            (where, ""),
            (f"{old} -> {new} {unit}".rstrip(), "strong"),
            (f"   {delta}", ""),
        )
        return [what, *_why_and_who(each, width), ()]

    return draw


def _why_and_who(each: Traced, width: int) -> Iterator[StyledRow]:
    decided = decided_words(each)
    reason = each.reason or decided or "no reason given"
    if each.reason and decided:
        reason = f"{decided}; {reason}"
    for line in wrap(reason, max(width - 8, 20)):
        yield ("      ", ""), (line, "")
    login = f" (login {each.who.login})" if each.who.login else ""
    written = written_at(each.when)
    clock = f", written {written}" if written else ""
    who = f"{each.who.name}{login}, {ran_in(each.runs)}, {each.commit[:7]}{clock}"
    for line in wrap(who, max(width - 8, 20)):
        yield ("      ", ""), (line, "")
    if not each.verified:
        yield (("      ! not saved by this program: the name is not vouched for", "error"),)
