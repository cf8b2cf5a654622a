"""The screen that every page of the app is made of.

Invariant: from top to bottom a title, two lines about the whole, the list, two
lines about the chosen thing and the last action, and the keys. Nothing takes
focus, so no key is ever lost to a widget and moving about repaints nothing but
the lines that change. What a page has that decides or destroys (`sight`) is done by
no key that was typed before it was seen.
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
from tui.widgets.echo import Sight, Typed
from tui.widgets.keys import BACK, HELP, LOOK, MOVING, PageKey, keys_row
from tui.widgets.lines import Lines
from tui.widgets.mode import Mode
from tui.widgets.painted import Bar, Painted

__all__ = ["LAST", "LATER", "SOON", "Page"]
_UNSEEN = "That was typed before this was seen: nothing is done. Look, then press it again."


class Page(AskingScreen):
    """One page. Subclasses name their keys, load what they show, and draw it."""

    AUTO_FOCUS = ""
    KEYS: ClassVar[tuple[PageKey, ...]] = ()

    def __init__(self) -> None:
        super().__init__()
        self.mode: Mode | None = None  # what is being typed, if anything is
        self.awake = False  # whether it is there to take keys
        self._painted_once = False  # whether all of it was painted since it was put up
        self._echo = 0  # behind which echo the key at hand was typed
        self.sight = self.another_sight()  # of what this page decides, if it decides anything

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
        self.keys_bar.say(*keys_row(self.keys_now(), self.app.size.width))

    # What has to be seen before a key may decide it

    def another_sight(self) -> Sight:
        """Something on this page that a key may decide only once it is seen."""
        return Sight(self.call_after_refresh, lambda: self.bench.echoes)

    def in_sight(self, sight: Sight | None = None) -> bool:
        """Whether the key at hand was typed with this in sight; says so where it was not."""
        sight = sight or self.sight
        seen = sight.seen_by(self._echo)
        if not seen and not sight.refusal:
            self.tell_unseen(_UNSEEN)
        return seen

    def tell_unseen(self, text: str) -> None:
        """Say that a key decided nothing, since it was typed too early."""
        self.tell(text)

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
            return (f"{me.login}, read only" if me.login else "read only",)
        return (me.name if me.may_ink else f"{me.name}, read only",)

    def load(self) -> None:
        """Ask the book for what the page shows."""

    def book_moved(self) -> None:
        """Somebody else inked or pencilled something."""
        self.load()

    def chosen(self) -> None:
        """Another line was chosen."""

    def live_keys(self) -> tuple[PageKey, ...]:
        """The keys that work while nothing is typed."""
        return (*self.KEYS, BACK, HELP, LOOK, *MOVING)

    def keys_now(self) -> tuple[PageKey, ...]:
        """The keys that work now."""
        return self.live_keys() if self.mode is None else self.mode.live_keys()

    # Keys

    def on_typed(self, typed: Typed) -> None:
        """Every key comes here."""
        if not self.in_front:  # typed ahead, while this page was opening or closing another
            self.bench.pass_on(typed)
        elif not self.held_back(typed):
            self.take(typed)

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text goes where text is typed, and nowhere else."""
        event.stop()
        if self.mode is not None and not self.holding:
            self.mode.entry.insert(safe(event.text.strip(), lines=True))
            self.mode.typed()

    def take(self, typed: Typed) -> None:
        """Do what a key does; a fault is told and ends nothing."""
        pressed, character = typed.pressed, typed.character
        self._echo, self._unread = typed.echo, False
        try:
            if pressed == "ctrl+c":
                self.tell("Esc goes back; q on the list of records leaves. Pencil is kept.")
            elif self.mode is None or not self.mode.press(pressed, character):
                self.do_key(pressed, character)
        except Exception as error:  # the key's edge: a fault must not take the screen down
            self.bench.unexpected(error)

    def do_key(self, pressed: str, character: str | None) -> None:
        """Do what the table of keys says."""
        for each in self.keys_now():
            if pressed in each.press:
                if each.action:
                    self.perform(each.action)
                return

    def perform(self, action: str) -> None:
        """Do what a key is for."""
        getattr(self, f"do_{action}")()

    def begin(self, mode: Mode | None) -> None:
        """Type in this way from now on, or no longer."""
        self.mode = mode
        self.show_keys()

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

    def do_look(self) -> None:
        """Look again, as if the page had just been opened."""
        self.tell("Looked again.")
        self.load()

    def do_back(self) -> None:
        """Back to the page before."""
        self.dismiss(None)

    def do_help(self) -> None:
        """The keys of this page."""
        self.bench.show_help(self.heading(), self.live_keys())
