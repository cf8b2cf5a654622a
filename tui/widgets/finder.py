"""Narrowing a list by typing words after `/`.

Invariant: what is narrowed says so in the status line until Esc clears it; a
line is listed only if it has every typed word.
"""

from __future__ import annotations

from collections.abc import Callable

from tui.widgets.entry import Entry
from tui.widgets.keys import key
from tui.widgets.mode import Mode
from tui.widgets.page import Page

FIND = key("/", "find", "narrow the list: type words, Enter keeps, Esc clears", "find")


class Finding(Mode):
    """Words are typed; `narrowed` lists anew what has them."""

    KEYS = (
        key("Enter", "keep", "keep the list narrowed", ""),
        key("Esc", "show all", "list everything", ""),
        key("Up", "", "one line up", "move_up", shown=False),
        key("Down", "", "one line down", "move_down", shown=False),
        key("PgUp", "", "one page up", "page_up", shown=False),
        key("PgDn", "", "one page down", "page_down", shown=False),
    )

    def __init__(self, page: Page, narrowed: Callable[[], None]) -> None:
        super().__init__()
        self._page = page
        self._narrowed = narrowed
        self.wanted = ""

    def has(self, text: str) -> bool:
        """Whether a line is to be listed."""
        text = text.lower()
        return all(word in text for word in self.wanted.lower().split())

    def begin(self) -> None:
        """Begin to type."""
        self.entry = Entry(self.wanted)
        self._show()
        self._page.begin(self)

    def typed(self) -> None:
        """Narrow while typing."""
        self.wanted = self.entry.text
        self._narrowed()
        self._show()

    def accept(self) -> None:
        """Keep the list narrowed, and say so."""
        self._page.begin(None)
        only = f"Only lines with: {self.wanted}   (Esc shows all)"
        self._page.tell(only if self.wanted else "")

    def drop(self) -> None:
        """Show everything again."""
        self.clear()
        self._page.begin(None)

    def clear(self) -> bool:
        """List everything again; False where everything was listed."""
        was, self.wanted = self.wanted, ""
        if was:
            self._narrowed()
        self._page.tell("")
        return bool(was)

    def _show(self) -> None:
        self._page.status.say(*self.entry.row("find", self._page.app.size.width))


class FinderPage(Page):
    """A page whose list can be narrowed."""

    def __init__(self) -> None:
        super().__init__()
        self.finder = Finding(self, self.narrowed)

    @property
    def wanted(self) -> str:
        """The words that a line must have to be listed."""
        return self.finder.wanted

    def narrowed(self) -> None:
        """List anew what has the wanted words."""
        raise NotImplementedError

    def has_wanted(self, text: str) -> bool:
        """Whether a line is to be listed."""
        return self.finder.has(text)

    def do_find(self) -> None:
        """Begin to type."""
        self.finder.begin()

    def do_back(self) -> None:
        """Esc shows everything first, and then goes back."""
        if not self.finder.clear():
            self.leave()

    def leave(self) -> None:
        """Back to the page before."""
        self.dismiss(None)
