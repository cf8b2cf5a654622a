"""Pictures of a set-up: tray, round, bites, agreement of taught positions, fills.

Invariant: a picture shows how a job is set up, as inked or with my pencil as its
heading says, and never how far a lot has come.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tui.screens.agreeing import agreement_lines
from tui.screens.fills import fill_lines
from tui.screens.judged import RECORDS
from tui.screens.subject import AboutOne, Subject
from tui.widgets.keys import PageKey, key
from tui.widgets.lines import fixed
from tui.widgets.page import Page

if TYPE_CHECKING:
    from engine.book import Book
    from engine.views import Which

VIEWS = (
    key("t", "tray", "the tray from above: order, webs, reach", "tray"),
    key("r", "round", "one round as bars over time", "round"),
    key("b", "bites", "what jaws and fingers hold, from the side", "bites"),
    key("a", "agreement", "what taught positions say about each other", "agreement"),
    key("f", "fills", "when the tray runs empty, by the clock", "fills"),
)
_ROUND = (
    key("n", "first, last, every", "the first round, the last one, every one", "next_round"),
    key("s", "stage", "at the next stage of prove-out, and at full speed", "next_stage"),
)
VIEW_TITLES = {
    "tray": "Tray",
    "round": "Round",
    "bites": "Bites",
    "agreement": "Agreement",
    "fills": "Fills",
}
_ROUNDS: tuple[Which, ...] = ("steady", "first", "last")
_CAUTIONS = {
    "tray": "Lock out a live loader before the tray is refilled or changed.",
    "round": "Prove out slowly and without a blank first; seconds are not safety.",
    "bites": "Measure before you clamp. Lock out before jaws or fingers are changed.",
    "fills": "Lock out before you refill a live loader.",
    "agreement": "Teach at reduced speed, and teach again what does not agree.",
}


@dataclass(frozen=True, slots=True)
class PictureRequest:
    """What is to be drawn, and in how much room."""

    at: str
    view: str
    width: int
    height: int
    plain: bool
    which: Which
    stage: int  # 0 is full speed, then the stages of prove-out


def drawn(book: Book, subject: Subject, wish: PictureRequest) -> list[str]:
    """The lines of a picture."""
    from tui.pictures.bites import bite_view
    from tui.pictures.plan import tray_plan
    from tui.pictures.rounds import cycle_bars

    record = subject.of(book)
    name = record.name
    if wish.view == "tray":
        tray = record.figures.tray_plan(wish.at)
        return tray_plan(tray, wish.width, ascii_only=wish.plain, height=wish.height)
    if wish.view == "bites":
        bites = record.figures.bites(wish.at)
        return bite_view(bites, wish.width, ascii_only=wish.plain, height=wish.height)
    if wish.view == "agreement":
        return agreement_lines(book, name, wish.at, wish.width)
    if wish.view == "fills":
        return fill_lines(book, name, wish.width)
    bars = record.figures.round_bars(wish.at, wish.which, wish.stage)
    return cycle_bars(bars, wish.width, ascii_only=wish.plain)


class PicturePage(AboutOne, Page):
    """One picture; letters show the others. Its answer is nothing."""

    def __init__(self, subject: Subject, at: str, view: str) -> None:
        super().__init__()
        self.subject = subject
        self._at = at
        self._view = view
        self._which = 0
        self._stage = 0
        self._drawn_for = 0  # cells across

    def live_keys(self) -> tuple[PageKey, ...]:
        """The other pictures, and what can be chosen of a round."""
        others = tuple(k for k in VIEWS if k.action != self._view)
        more = _ROUND if self._view == "round" else ()
        return (*more, *others, *super().live_keys())

    def heading(self) -> str:
        """Which picture, of what."""
        how = "as inked" if self._at == "now" or self._view == "fills" else "with your pencil"
        return f"{VIEW_TITLES[self._view]} of {self.name_of_record} {how}"

    def load(self) -> None:
        """Have it drawn for the room that is there."""
        self._drawn_for = width = self.app.size.width
        height = self.app.size.height - 6
        plain, which = not self.bench.paint.rich, _ROUNDS[self._which]
        wish = PictureRequest(self._at, self._view, width - 1, height, plain, which, self._stage)
        self.ask_to_show("drawing", lambda book: drawn(book, self.subject, wish), self._show)

    def _show(self, lines: Sequence[str]) -> None:
        self.lines.top = 0
        rows = [((" ", ""), (line, "")) for line in lines]
        self.lines.show([fixed(n, row, heading=True) for n, row in enumerate(rows)])
        more = len(rows) > self.lines.size.height > 0
        self.tell("There is more below: Down, or PgDn." if more else "", "")
        self.about.say((f" {_CAUTIONS[self._view]}", ""))
        self.head.say()
        self.detail.say((f" {RECORDS}", ""))
        self.show_frame()

    def show_frame(self) -> None:
        """Another width needs another picture."""
        super().show_frame()
        if self.awake and self.app.size.width != self._drawn_for:
            self.load()

    # Keys

    def perform(self, action: str) -> None:
        """Turn to another picture; the rest is as on every page."""
        if action in VIEW_TITLES:
            self._view = action
            self.load()
        else:
            super().perform(action)

    def do_next_round(self) -> None:
        """Every round, the first, the last."""
        self._which = (self._which + 1) % len(_ROUNDS)
        self.load()

    def do_next_stage(self) -> None:
        """Full speed, then each stage of prove-out."""
        self._stage += 1
        self.load()
