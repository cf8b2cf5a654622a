"""Typing a value into the pencil column, in its own line.

Invariant: Enter hands the text to the engine and only its answer ends the
typing; a refusal stands in words under the line and the typed text stays. Esc
leaves everything as it was. The arrow keys never accept anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from schemas.address import show
from schemas.errors import WitnessmarkError
from tui.safe import wrap
from tui.screens.sheet import Field, Typing
from tui.screens.sheetpage import SheetPage
from tui.screens.words import ago, with_unit
from tui.widgets.entry import Entry
from tui.widgets.keys import PageKey, key
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.views import Draft
    from schemas.fields import Described

_STARTS = "0123456789.-+"
_WHILE_TYPING = (
    key("Enter", "put it in pencil", "put the typed value in pencil", ""),
    key("Esc", "leave it as it was", "leave the value as it was", ""),
)
_CHOOSING = (key("Up", "and", "", ""), key("Down", "other choices", "step through the choices", ""))


class EditingPage(SheetPage):
    """A document whose values can be typed."""

    def live_keys(self) -> tuple[PageKey, ...]:
        """Other keys while a value is typed."""
        if self.typing is None:
            return super().live_keys()
        return (*_WHILE_TYPING, *(_CHOOSING if self.typing.choices else ()))

    def do_change(self) -> None:
        """Begin to type, with the present value to correct."""
        each = self.current()
        if each is None or not self.may_write():
            return
        if each.kind == "yes/no":
            self.begin(each, show(each.value) or "no", ("yes", "no"))
        elif each.kind == "choice":
            name, address = self.name_of_record, each.address
            self.ask("", lambda book: book.describe(name, address), self._begin_choosing, hold=True)
        else:
            self.begin(each, show(each.value))

    def _begin_choosing(self, described: Described | None) -> None:
        if described is None:
            return
        each = next(f for f in self.fields if f.address == described.address)
        self.begin(each, show(each.value) or described.choices[0], described.choices)

    def may_write(self) -> bool:
        """Whether this person may pencil; says why not."""
        if self.bench.me.may_ink:
            return True
        self.tell("Read only: only a setter or a lead who is known here can change a value.")
        return False

    def begin(self, each: Field, text: str, choices: tuple[str, ...] = ()) -> None:
        """Type in the line of a field."""
        self.typing = Typing(each.address, Entry(text), choices)
        self.entry = self.typing.entry
        self.lines.choose(each.address)
        self.redraw()
        self.lines.push_under(self._beside(each, choices))
        self.tell("")
        self.show_keys()

    def _beside(self, each: Field, choices: Sequence[str]) -> list[StyledRow]:
        """What to know before typing: the choices, and who else has pencil here."""
        texts = [f"One of: {', '.join(choices)}"] if choices else []
        now = self.bench.clock()
        for other in each.others:
            value = with_unit(other.value, other.unit)
            texts.append(f": {other.who.name} has {value} in pencil, {ago(other.at, now)}")
        room = max(self.app.size.width - 6, 20)
        return [(("     ", ""), (line, "strong")) for text in texts for line in wrap(text, room)]

    def do_key(self, pressed: str, character: str | None) -> None:
        """A digit on a number begins a new one at once."""
        each = self.current()
        numeric = each is not None and each.kind in ("number", "whole")
        if self.typing is None and numeric and character and character in _STARTS:
            if self.may_write():
                assert each is not None
                self.begin(each, character)
            return
        super().do_key(pressed, character)

    def type_key(self, pressed: str, character: str | None) -> bool:
        """Arrow keys step through choices and do nothing else while a value is typed."""
        if self.typing is None:
            return super().type_key(pressed, character)
        if pressed in ("up", "down") and self.typing.choices:
            self._step_choice(-1 if pressed == "up" else 1)
        else:
            super().type_key(pressed, character)
        return True

    def _step_choice(self, by: int) -> None:
        assert self.typing is not None
        choices = self.typing.choices
        text = self.typing.entry.text
        place = choices.index(text) if text in choices else -1
        self.entry = self.typing.entry = Entry(choices[(place + by) % len(choices)])
        self.lines.redraw()

    def typed(self) -> None:
        """Show the typed text; a refusal of what stood there before goes."""
        if self.typing is None:
            super().typed()
            return
        if self.lines.under and not self.typing.choices:
            self.lines.push_under(())
        self.lines.redraw()

    def accept(self) -> None:
        """Hand the text to the engine."""
        if self.typing is None:
            super().accept()
            return
        name, address, text = self.name_of_record, self.typing.address, self.typing.entry.text
        if not text.strip():
            self.refuse(
                WitnessmarkError("nothing is typed", hint="Esc, then x, takes a value out.")
            )
            return
        self.ask(
            "putting it in pencil",
            lambda book: (book.set(name, address, text), book.drafts(name))[1],
            lambda drafts: self._taken(address, drafts),
            failed=self.refuse,
            hold=True,
        )

    def refuse(self, error: WitnessmarkError) -> None:
        """A refusal in words under the line; the typed text stays."""
        self.lines.push_under(self.under_rows(error, indent=5))

    def _taken(self, address: str, drafts: Sequence[Draft]) -> None:
        self._end()
        self.show_drafts(drafts)
        each = next((f for f in self.fields if f.address == address), None)
        if each is not None and each.mine is not None:
            self.tell(f"In pencil: {each.label} {with_unit(each.mine.value, each.unit)}")
        else:
            self.tell("As it is in ink: nothing in pencil here.")

    def drop(self) -> None:
        """Leave the value as it was."""
        if self.typing is None:
            super().drop()
            return
        self._end()
        self.redraw()
        self.tell("Left as it was.")

    def _end(self) -> None:
        self.typing = self.entry = self.extra = None
        self.lines.push_under(())
        self.show_keys()
