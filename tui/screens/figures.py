"""The figures of a record: what the pencil does to them, and how far each is from its limit.

Invariant: the heading says whether the figures are those of my pencil or of what is
inked. The worst stands first; what cannot be told names what is missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.views.wording import figures as wording
from tui.safe import fit
from tui.screens.figure import FigurePage
from tui.screens.judged import CAUTION, change_items, counted, style_of
from tui.screens.picture import VIEW_TITLES, VIEWS, PicturePage
from tui.screens.subject import AboutOne, Subject
from tui.widgets.finder import FIND, FinderPage
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import Item, fixed
from tui.widgets.paint import StyledRow
from tui.widgets.prose import paragraph

if TYPE_CHECKING:
    from engine.book import DocumentHandle
    from engine.views import Figure, FigureChange
    from tui.pictures.margins import MarginParts


_WIDEST = 119  # cells; beyond, the eye loses the line between a name and its bar


@dataclass(frozen=True, slots=True)
class Worked:
    """The figures at a mark, laid out for a width."""

    figures: Sequence[Figure]
    changes: Sequence[FigureChange]
    parts: MarginParts
    pencil: bool  # whether I have pencil on the record at all
    width: int


def worked(document: DocumentHandle, at: str, width: int, plain: bool) -> Worked:
    """Ask for all that the page shows."""
    from tui.pictures.margins import margin_parts

    pencil = document.pencil.draft() is not None
    figures = document.figures.all(at if pencil else "now")
    changes = document.figures.consequences() if pencil and at == "pencil" else []
    parts = margin_parts(figures, min(width - 1, _WIDEST), ascii_only=plain)
    return Worked(figures, changes, parts, pencil, width)


class Figures(AboutOne, FinderPage):
    """Margins of all figures. Its answer is an address to go to, or None."""

    KEYS = (
        key("Enter", "how", "how this figure is worked out, and what it follows from", "take"),
        *VIEWS,
        FIND,
    )

    def __init__(self, subject: Subject) -> None:
        super().__init__()
        self.subject = subject
        self.at = "pencil"
        self._worked: Worked | None = None

    def live_keys(self) -> tuple[PageKey, ...]:
        """Pencil or ink is a choice only where there is pencil."""
        usual = super().live_keys()
        if self._worked is None or not self._worked.pencil:
            return usual
        other = "as inked" if self.at == "pencil" else "my pencil"
        return (key("p", other, "with my pencil, or as inked", "pencil"), *usual)

    def heading(self) -> str:
        """Whose figures, and whether with pencil."""
        found = self._worked
        how = "as inked" if found is None or not found.pencil or self.at == "now" else ""
        return f"Figures of {self.name_of_record} {how or 'with your pencil'}"

    def load(self) -> None:
        """Have them worked out for the width that is there."""
        at, width = self.at, self.app.size.width
        plain = not self.bench.paint.rich
        question = lambda book: worked(self.subject.of(book), at, width, plain)  # noqa: E731
        self.ask_to_show("working out", question, self._show)

    def _show(self, found: Worked) -> None:
        self._worked = found
        self.show_frame()
        self.about.say((f" {', '.join(counted(found.figures)) or 'no figure'}", "strong"))
        self.narrowed()
        if not self.status.text:
            self.tell(CAUTION, "")

    def show_frame(self) -> None:
        """Another width needs other bars."""
        super().show_frame()
        if self._worked is not None:
            self.head.say((f" {' '.join(self._worked.parts.head)}", ""))
            if self._worked.width != self.app.size.width:
                self.load()

    def narrowed(self) -> None:
        """What the pencil does first, then margins, then what has no limit."""
        found = self._worked
        if found is None:
            return
        changes = [c for c in found.changes if self.has_wanted(f"{c.name} {c.at} {c.new_verdict}")]
        items = change_items(changes, "what your pencil changes, worst first")[1:]
        entries = [e for e in found.parts.entries if self._wants(e[0])]
        if items and entries:
            title = ((" all figures with a limit, worst first", "heading"),)
            items += [fixed("space", (), heading=True), fixed("all", title, heading=True)]
        items += [fixed(("figure", f.name, f.at), *_rows(f, lines)) for f, lines in entries]
        if not self.wanted:
            items += [paragraph(n, text, "warning") for n, text in enumerate(found.parts.missing)]
        items += self._others(found)
        self.lines.show(items or [paragraph(0, "No figure here.")])
        self.chosen()

    def _wants(self, figure: Figure) -> bool:
        missing = " ".join(figure.missing)
        return self.has_wanted(f"{figure.name} {figure.at} {figure.verdict} {missing}")

    def _others(self, found: Worked) -> list[Item]:
        """Figures that have no limit."""
        rest = [f for f in found.figures if f.verdict == "for information" and self._wants(f)]
        if not rest:
            return []
        items = [
            fixed("space too", (), heading=True),
            fixed("rest", ((" for information, without a limit", "heading"),), heading=True),
        ]
        for f in rest:
            value = fit(wording.with_unit(f.value, f.unit), 14, right=True)
            row: StyledRow = ((f"  {fit(wording.place(f.name, f.at), 40)} {value}  {f.note}", ""),)
            items.append(fixed(("figure", f.name, f.at), row))
        return items

    def _chosen(self) -> Figure | None:
        at = self.lines.key
        if self._worked is None or not isinstance(at, tuple):
            return None
        return next((f for f in self._worked.figures if (f.name, f.at) == at[1:]), None)

    def chosen(self) -> None:
        """The chosen figure in words."""
        f = self._chosen()
        if f is None:
            self.detail.say()
        elif f.missing:
            self.detail.say((f" {wording.place(f.name, f.at)} needs {', '.join(f.missing)}", ""))
        else:
            self.detail.say((f" {wording.figure_in_words(f)}: {f.verdict}", ""))

    # Keys

    def do_take(self) -> None:
        """How the chosen figure comes about."""
        figure = self._chosen()
        if figure is not None:
            self.app.push_screen(FigurePage(self.subject, self._mark(), figure), self._leave)

    def do_pencil(self) -> None:
        """With my pencil, or as inked."""
        self.at = "now" if self.at == "pencil" else "pencil"
        self.load()

    def perform(self, action: str) -> None:
        """Open a picture; the rest is as on every page."""
        if action in VIEW_TITLES:
            page = PicturePage(self.subject, self._mark(), action)
            self.app.push_screen(page)
        else:
            super().perform(action)

    def _mark(self) -> str:
        return self.at if self._worked is not None and self._worked.pencil else "now"

    def _leave(self, address: str | None) -> None:
        if address:
            self.dismiss(address)


def _rows(figure: Figure, lines: Sequence[str]) -> list[StyledRow]:
    """The lines of a figure; the colour of its verdict repeats the word."""
    found: list[StyledRow] = []
    for line in lines:
        text, verdict, rest = line.rpartition(figure.verdict)
        found.append(((" ", ""), (text, ""), (verdict, style_of(verdict)), (rest, "")))
    return found
