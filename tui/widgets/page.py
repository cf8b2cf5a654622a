"""The screen that every page of the app is made of.

Invariant: from top to bottom a title, two lines about the whole, the list, two
lines about the chosen thing and the last action, and the keys. Nothing takes
focus, so no key is ever lost to a widget and moving about repaints nothing but
the lines that change.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Self

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.geometry import Region

from tui.safe import fit, safe
from tui.widgets.asking import LAST, LATER, SOON, AskingScreen
from tui.widgets.entry import Entry
from tui.widgets.keys import BACK, HELP, MOVING, PageKey, keys_row
from tui.widgets.lines import Lines
from tui.widgets.paint import StyledText
from tui.widgets.painted import Bar, Painted

_ARROWS = ("up", "down", "pageup", "pagedown")
__all__ = ["LAST", "LATER", "SOON", "Page"]


class Page(AskingScreen):
    """One page. Subclasses name their keys, load what they show, and draw it."""

    AUTO_FOCUS = ""
    KEYS: ClassVar[tuple[PageKey, ...]] = ()
    arrows_move: ClassVar[bool] = True  # the list, while text is typed

    def __init__(self) -> None:
        super().__init__()
        self.entry: Entry | None = None  # what is being typed in, if anything is
        self.awake = False  # whether it is there to take keys
        self._painted_once = False  # whether all of it was painted since it was put up

    # The parts of the screen

    def compose(self) -> ComposeResult:
        """Seven parts, the same on every page, and what a page puts below its list."""
        paint = self.bench.paint
        self.title_bar = Bar(paint, id="title")
        self.about = Bar(paint, id="about")
        self.head = Bar(paint, id="head")
        self.lines = Lines(paint, id="lines")
        self.detail = Bar(paint, id="detail")
        self.status = Bar(paint, id="status")
        self.keys_bar = Bar(paint, id="keys")
        self.lines.moved = self.chosen
        yield self.title_bar
        yield self.about
        yield self.head
        yield self.lines
        yield from self.below()
        yield self.detail
        yield self.status
        yield self.keys_bar

    def below(self) -> Iterable[Bar]:
        """Lines of a page's own between the list and what is said of the chosen thing."""
        return ()

    def on_mount(self) -> None:
        """Show the parts that need no book."""
        self.show_frame()

    def on_screen_resume(self) -> None:
        """Come to the front: load what may have changed meanwhile."""
        for part in self.query(Painted):
            part.repaint()
        self.load()
        self.awake = True
        self.bench.hand_over_ahead()

    def refresh(
        self,
        *regions: Region,
        repaint: bool = True,
        layout: bool = False,
        recompose: bool = False,
    ) -> Self:
        """Paint no page twice: laying out paints what it has to, and all of it at first.

        Textual asks for all of a page again right after that, which is kilobytes.
        """
        if not regions and not layout and self._size and not self._painted_once:
            self._painted_once = True
            return self
        repaint = repaint and not (layout and not regions)
        return super().refresh(*regions, repaint=repaint, layout=layout, recompose=recompose)

    def on_resize(self, event: events.Resize) -> None:
        """Lay out bars whose text depends on the width."""
        self.call_after_refresh(self.show_frame)

    def show_frame(self) -> None:
        """Title and keys."""
        self.show_title(self.heading(), *self.heading_right())
        self.show_keys()

    def show_title(self, left: str, right: str = "") -> None:
        """The top line: what this is, and who is at it."""
        width = self.app.size.width
        right = safe(right)
        room = max(width - cell_len(right) - 4, 10)
        left = safe(left) if cell_len(safe(left)) <= room else fit(left, room)
        gap = max(width - cell_len(left) - cell_len(right) - 2, 1)
        self.title_bar.say((f" {left}{' ' * gap}{right} ", "bar"))

    def show_keys(self) -> None:
        """The bottom line."""
        self.keys_bar.say(*keys_row(self.live_keys(), self.app.size.width))

    # What subclasses say

    def heading(self) -> str:
        """The title of the page."""
        return "Witnessmark"

    def heading_right(self) -> tuple[str, ...]:
        """What stands at the right of the title: who is here."""
        me = getattr(self.bench, "me", None)
        if me is None:
            return ()
        if not me.key:
            return ("read only",)
        return (me.name if me.may_ink else f"{me.name}, read only",)

    def load(self) -> None:
        """Ask the book for what the page shows."""

    def book_moved(self) -> None:
        """Somebody else inked or pencilled something."""
        self.load()

    def chosen(self) -> None:
        """Another line was chosen."""

    def live_keys(self) -> tuple[PageKey, ...]:
        """The keys that work now."""
        return (*self.KEYS, BACK, HELP, *MOVING)

    # Keys

    def on_key(self, event: events.Key) -> None:
        """Every key comes here."""
        event.stop()
        event.prevent_default()
        if not self.in_front:  # typed ahead, while this page was opening or closing another
            self.bench.pass_on(event.key, event.character)
        elif not self.held_back(event.key, event.character):
            self.press_key(event.key, event.character)

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text goes where text is typed, and nowhere else."""
        event.stop()
        if self.entry is not None and not self.holding:
            self.entry.insert(safe(event.text.strip(), lines=True))
            self.typed()

    def press_key(self, pressed: str, character: str | None) -> None:
        """Do what a key does; a fault is told and ends nothing."""
        try:
            if pressed == "ctrl+c":
                self.tell("Esc goes back; q on the list of records leaves. Pencil is kept.")
            elif self.entry is None or not self.type_key(pressed, character):
                self.do_key(pressed, character)
        except Exception as error:
            self.bench.unexpected(error)

    def do_key(self, pressed: str, character: str | None) -> None:
        """Do what the table of keys says."""
        for each in self.live_keys():
            if pressed in each.press:
                getattr(self, f"do_{each.action}")()
                return

    def type_key(self, pressed: str, character: str | None) -> bool:
        """A key while text is typed; False hands it on to the table of keys."""
        assert self.entry is not None
        if pressed == "enter":
            self.accept()
        elif pressed == "escape":
            self.drop()
        elif self.entry.press(pressed, character):
            self.typed()
        else:
            return not (self.arrows_move and pressed in _ARROWS)  # other keys mean nothing then
        return True

    def typed(self) -> None:
        """The typed text changed."""

    def accept(self) -> None:
        """Enter was pressed on typed text."""

    def drop(self) -> None:
        """Esc was pressed on typed text."""
        self.entry = None

    def entry_row(self, label: str) -> tuple[StyledText, ...]:
        """A line to type in, with what is asked for."""
        assert self.entry is not None
        room = max(self.app.size.width - len(label) - 3, 10)
        return ((f"{label}: ", "strong"), *self.entry.pieces(room))

    # What keys do on every page

    def do_move_up(self) -> None:
        """One line up."""
        self.lines.step(-1)

    def do_move_down(self) -> None:
        """One line down."""
        self.lines.step(1)

    def do_page_up(self) -> None:
        """One page up."""
        self.lines.page(-1)

    def do_page_down(self) -> None:
        """One page down."""
        self.lines.page(1)

    def do_move_first(self) -> None:
        """To the first line."""
        self.lines.ends(last=False)

    def do_move_last(self) -> None:
        """To the last line."""
        self.lines.ends(last=True)

    def do_back(self) -> None:
        """Back to the page before."""
        self.dismiss(None)

    def do_help(self) -> None:
        """The keys of this page."""
        from tui.screens.help import Help

        self.app.push_screen(Help(self.heading(), self.live_keys()))
