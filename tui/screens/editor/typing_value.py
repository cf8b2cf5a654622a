"""Typing a value into the pencil column, in its own line.

Invariant: Enter hands the text to the engine and only its answer ends the
typing; a refusal stands in words under the line and the typed text stays. Esc
leaves everything as it was. The arrow keys never accept anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from engine.views.wording import ago, with_unit
from schemas.address import show
from schemas.errors import NotShown, WitnessmarkError
from tui.safe import wrap
from tui.screens.editor.columns import Typed
from tui.screens.editor.contents import Field
from tui.screens.editor.document import EditedDocument
from tui.widgets.entry import Entry
from tui.widgets.keys import PageKey, key
from tui.widgets.mode import Mode
from tui.widgets.paint import StyledRow

if TYPE_CHECKING:
    from engine.views import Draft
    from schemas.fields import Described

_STARTS = "0123456789.-+"
_CHOOSING = (key("Up", "and", "", ""), key("Down", "other choices", "step through the choices", ""))


class TypingValue(Mode):
    """One value is typed, or one of its choices taken."""

    KEYS = (
        key("Enter", "put it in pencil", "put the typed value in pencil", ""),
        key("Esc", "leave it as it was", "leave the value as it was", ""),
    )

    def __init__(
        self, document: EditedDocument, each: Field, text: str, choices: tuple[str, ...] = ()
    ) -> None:
        super().__init__(text)
        self._document = document
        self._address = each.address
        self._choices = choices
        document.typed = Typed(each.address, self)

    def live_keys(self) -> tuple[PageKey, ...]:
        """With choices, the arrow keys step through them."""
        return (*self.KEYS, *(_CHOOSING if self._choices else ()))

    def press(self, pressed: str, character: str | None) -> bool:
        """No key means anything else while a value is typed."""
        if pressed in ("up", "down") and self._choices:
            self._step(-1 if pressed == "up" else 1)
        else:
            super().press(pressed, character)
        return True

    def _step(self, by: int) -> None:
        choices, text = self._choices, self.entry.text
        place = choices.index(text) if text in choices else -1
        self.entry = Entry(choices[(place + by) % len(choices)])
        self._document.page.lines.redraw()

    def typed(self) -> None:
        """Show the typed text; a refusal of what stood there before goes."""
        lines = self._document.page.lines
        if lines.under and not self._choices:
            lines.push_under(())
        lines.redraw()

    def accept(self) -> None:
        """Hand the text to the engine."""
        document, address, text = self._document, self._address, self.entry.text
        if not text.strip():
            hint = "Esc, then x, takes a value out."
            document.refuse(WitnessmarkError("nothing is typed", hint=hint))
            return
        document.page.ask(
            "putting it in pencil",
            document.acting(lambda asked: asked.pencil.set(address, text)),
            self._taken,
            failed=self._refused,
            hold=True,
        )

    def _refused(self, error: WitnessmarkError) -> None:
        if isinstance(error, NotShown):  # it was taken: nobody is to type it again
            self._end()
            self._document.redraw()
            self._document.failed(error)
        else:
            self._document.refuse(error)

    def _taken(self, answer: tuple[object, Sequence[Draft]]) -> None:
        document = self._document
        self._end()
        document.show_drafts(answer[1])
        each = document.field(self._address)
        if each is not None and each.mine is not None:
            value = with_unit(each.mine.value, each.unit)
            document.page.tell(f"In pencil: {each.label} {value}")
        else:
            document.page.tell("As it is in ink: nothing in pencil here.")

    def drop(self) -> None:
        """Leave the value as it was."""
        self._end()
        self._document.redraw()
        self._document.page.tell("Left as it was.")

    def _end(self) -> None:
        document = self._document
        document.typed = document.extra = None
        document.page.lines.push_under(())
        document.page.begin(None)


def change(document: EditedDocument) -> None:
    """Begin to type, with the present value to correct."""
    each = document.current()
    if each is None or not document.may_write():
        return
    if each.kind == "yes/no":
        begin(document, each, show(each.value) or "no", ("yes", "no"))
    elif each.kind == "choice":
        subject, address = document.subject, each.address

        def then(described: Described | None) -> None:
            if described is not None:
                choices = described.choices
                begin(document, each, show(each.value) or choices[0], choices)

        document.page.ask("", lambda book: subject.of(book).describe(address), then, hold=True)
    else:
        begin(document, each, show(each.value))


def begin_at_once(document: EditedDocument, character: str | None) -> bool:
    """A digit on a number begins a new one; False where the key is for something else."""
    each = document.current()
    numeric = each is not None and each.kind in ("number", "whole")
    if each is None or not numeric or not character or character not in _STARTS:
        return False
    if document.may_write():
        begin(document, each, character)
    return True


def begin(document: EditedDocument, each: Field, text: str, choices: tuple[str, ...] = ()) -> None:
    """Type in the line of a value."""
    page = document.page
    mode = TypingValue(document, each, text, choices)
    page.lines.choose(each.address)
    document.redraw()
    page.lines.push_under(_beside(document, each, choices))
    page.tell("")
    page.begin(mode)


def _beside(document: EditedDocument, each: Field, choices: Sequence[str]) -> list[StyledRow]:
    """What to know before typing: the choices, and who else has pencil here."""
    texts = [f"One of: {', '.join(choices)}"] if choices else []
    now = document.page.bench.clock()
    for other in each.others:
        value = with_unit(other.value, other.unit)
        texts.append(f": {other.who.name} has {value} in pencil, {ago(other.at, now)}")
    room = max(document.page.app.size.width - 6, 20)
    return [(("     ", ""), (line, "strong")) for text in texts for line in wrap(text, room)]
