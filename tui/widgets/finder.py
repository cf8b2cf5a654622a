"""A page whose list is narrowed by typing words after `/`.

Invariant: what is narrowed says so in the status line until Esc clears it; a
line is listed only if it has every typed word.
"""

from __future__ import annotations

from tui.widgets.entry import Entry
from tui.widgets.keys import PageKey, key
from tui.widgets.page import Page

FIND = key("/", "find", "narrow the list: type words, Enter keeps, Esc clears", "find")


class FinderPage(Page):
    """Adds finding to a page; `narrowed` lists anew."""

    def __init__(self) -> None:
        super().__init__()
        self.finding = False
        self.wanted = ""

    def narrowed(self) -> None:
        """List anew what has the wanted words."""
        raise NotImplementedError

    def has_wanted(self, text: str) -> bool:
        """Whether a line is to be listed."""
        text = text.lower()
        return all(word in text for word in self.wanted.lower().split())

    def do_find(self) -> None:
        """Begin to type."""
        self.finding, self.entry = True, Entry(self.wanted)
        self._show_finding()

    def typed(self) -> None:
        """Narrow while typing."""
        assert self.entry is not None
        if self.finding:
            self.wanted = self.entry.text
            self.narrowed()
            self._show_finding()

    def accept(self) -> None:
        """Keep the list narrowed."""
        self.finding, self.entry = False, None
        self.show_keys()
        self.tell_narrowed()

    def drop(self) -> None:
        """Show everything again."""
        self.finding, self.entry = False, None
        self.clear_wanted()
        self.show_keys()

    def clear_wanted(self) -> bool:
        """List everything again; False where everything was listed."""
        was, self.wanted = self.wanted, ""
        if was:
            self.narrowed()
        self.tell("")
        return bool(was)

    def tell_narrowed(self) -> None:
        """Say that not everything is listed."""
        if self.wanted:
            self.tell(f"Only lines with: {self.wanted}   (Esc shows all)")
        else:
            self.tell("")

    def do_back(self) -> None:
        """Esc shows everything first, and then goes back."""
        if not self.clear_wanted():
            self.leave()

    def leave(self) -> None:
        """Back to the page before."""
        self.dismiss(None)

    def live_keys(self) -> tuple[PageKey, ...]:
        """Other keys while words are typed."""
        if self.finding:
            return _WHILE_FINDING
        return super().live_keys()

    def _show_finding(self) -> None:
        self.status.say(*self.entry_row("find"))
        self.show_keys()


_WHILE_FINDING = (
    key("Enter", "keep", "keep the list narrowed", ""),
    key("Esc", "show all", "list everything", ""),
    key("Up", "", "one line up", "move_up", shown=False),
    key("Down", "", "one line down", "move_down", shown=False),
    key("PgUp", "", "one page up", "page_up", shown=False),
    key("PgDn", "", "one page down", "page_down", shown=False),
)
