"""One figure: its verdict, how it is worked out, from what, and where its limit comes from.

Invariant: the values it follows from are those that it asked for; nothing is listed
from memory. Some count only if others were different. Enter on a value goes to its field.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.views.wording import figures as wording
from engine.views.wording import with_unit
from tui.safe import fit, wrap
from tui.screens.judged import CAUTION, RECORDS, style_of
from tui.screens.subject import AboutOne, Subject
from tui.widgets.keys import key
from tui.widgets.lines import Item, fixed
from tui.widgets.page import LATER, Page
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Figure, FigureInput
    from schemas.errors import WitnessmarkError

_CAUTIONS = {
    "hold": CAUTION,
    "mass": CAUTION,
    "motion": "Teach at reduced speed. Prove out slowly and without a blank first.",
    "cycle": "Prove out slowly and without a blank first; seconds are not safety.",
    "tray": "Lock out a live loader before the tray is refilled or changed.",
    "clamp": "Lock out before jaws are changed; the control's own limits come first.",
}


@dataclass(frozen=True, slots=True)
class InputShown:
    """A value that the figure follows from, with its unit in words."""

    input: FigureInput
    words: str


def _in_words(book: Book, name: str, cell: str, found: FigureInput) -> str:
    """The value with its unit, as the document says that it stands in."""
    part, _, address = found.address.rpartition(":")
    document = {"": name, "cell": f"cells/{cell}", "policy": "book"}[part]
    address = f"policy.{address}" if part == "policy" else address
    known = book.document(document).describe(address)
    return with_unit(found.value, known.unit if known else "")


_Found = tuple[str, "Figure | None", list[InputShown]]  # the cell, the figure now, its inputs


class FigurePage(AboutOne, Page):
    """Its answer is an address to go to, or None."""

    KEYS = (key("Enter", "go to the field", "go to the chosen value in the editor", "take"),)

    def __init__(self, subject: Subject, at: str, figure: Figure) -> None:
        super().__init__()
        self.subject = subject
        self._at = at
        self._figure = figure
        self._inputs: list[InputShown] = []
        self._cell = ""
        self._looking = True

    def heading(self) -> str:
        """Which figure, of what."""
        how = "as inked" if self._at == "now" else "with your pencil"
        name = wording.place(self._figure.name, self._figure.at)
        return f"{name[:1].upper()}{name[1:]}, {how}"

    def load(self) -> None:
        """What is known at once; then the figure as it is now, and what it follows from."""
        self._show()
        if self._looking:
            self.tell(_CAUTIONS.get(self._figure.group, RECORDS), "")
        self._look()

    def _look(self) -> None:
        at, figure = self._at, self._figure

        def question(book: Book) -> _Found:
            record = self.subject.of(book)
            cell = str(record.values(at).get("record.cell", ""))
            same = [f for f in record.figures.all(at) if (f.name, f.at) == (figure.name, figure.at)]
            found = record.figures.inputs_of(at, same[0]) if same else []
            shown = [InputShown(e, _in_words(book, record.name, cell, e)) for e in found]
            return cell, same[0] if same else None, shown

        self.ask("", question, self._found, failed=self._lost, urgency=LATER)

    def _found(self, answer: _Found) -> None:
        self._cell, figure, self._inputs = answer
        self._looking = False
        if figure is None:
            self.tell("This figure does not come about any more.")
        else:
            self._figure = figure
        self._show()

    def _lost(self, error: WitnessmarkError) -> None:
        self._looking = False
        self._show()
        self.tell_in_a_line(error)

    # Drawing

    def _show(self) -> None:
        f = self._figure
        said = f"{wording.figure_in_words(f)}: {f.verdict}"
        if f.verdict == "cannot tell":
            said = "It cannot be told: values are missing."
        elif f.margin is not None:
            lacks = "short" if f.kind.bound == "least" else "over"
            side = "room" if f.margin >= 0 else lacks
            said += f", {wording.with_unit(abs(f.margin), f.unit)} {side}"
        items = [paragraph(0, said, style_of(f.verdict) or "strong")]
        items += [paragraph(1, f.note[:1].upper() + f.note[1:] + ".")] if f.note else []
        items += self._missing()
        items += [paragraph(2, ""), *_labelled("Worked out", f.kind.formula, 3)]
        items += _labelled("Source", f.kind.source, 4)
        items += self._followed("It follows from", of_limit=False)
        items += self._limit()
        self.lines.show(items)

    def _missing(self) -> list[Item]:
        absent = self._figure.missing
        rows = [fixed(("missing", a), ((f"    {_spelt(a)}", ""),)) for a in absent]
        return [_head("These are missing; Enter goes to the field"), *rows] if absent else []

    def _limit(self) -> list[Item]:
        f = self._figure
        if f.limit is None:
            return []
        title = f"The limit, {wording.against(f)}, follows from"
        found = self._followed(title, of_limit=True)
        if not found and not self._looking:
            text = f"The limit, {wording.against(f)}, is fixed: it follows from no value."
            return [paragraph(8, ""), paragraph(9, text)]
        return found

    def _followed(self, title: str, *, of_limit: bool) -> list[Item]:
        found = [each for each in self._inputs if each.input.of_limit == of_limit]
        if not found:
            waits = self._looking and not of_limit and not self._figure.missing
            return [paragraph(7, ""), paragraph(6, "Looking for the values ...")] if waits else []
        rows = [
            fixed(
                ("input", each.input.address),
                ((f"    {fit(_spelt(each.input.address), 46)} ", ""), (each.words, "strong")),
            )
            for each in found
        ]
        return [_head(title), *rows]

    # Keys

    def do_take(self) -> None:
        """Go to the field, in this record or in the cell or the policy."""
        if not isinstance(self.lines.key, tuple):
            return
        part, _, address = self.lines.key[1].rpartition(":")
        if not part:
            self.dismiss(address)
        elif part == "policy":
            self.bench.open_document("book", f"policy.{address}")
        elif self._cell:
            self.bench.open_document(f"cells/{self._cell}", address)


def _spelt(address: str) -> str:
    part, _, rest = address.rpartition(":")
    return f"{part}: {rest}" if part else address


def _head(text: str) -> Item:
    return fixed(("head", text), (), ((f"  {text}", "heading"),), heading=True)


def _labelled(label: str, text: str, number: int) -> list[Item]:
    def draw(width: int) -> list[tuple[tuple[str, str], ...]]:
        lines = wrap(text, max(width - 16, 20))
        first = ((f"  {label:12}", "strong"), (lines[0], ""))
        return [first, *(((" " * 14, ""), (line, "")) for line in lines[1:])]

    return [Item(f"labelled {number}", draw, heading=True)]
