"""A page with one line that is always typed in: a reason, a note, words to find.

Invariant: letters belong to the line, so no letter is a key here.
"""

from __future__ import annotations

from tui.widgets.keys import PageKey
from tui.widgets.mode import Mode
from tui.widgets.page import Page
from tui.widgets.paint import StyledText


class TypingPage(Page):
    """Subclasses say what Enter, Esc and each change do."""

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self.line = self.mode = _OwnLine(self, text)

    @property
    def text(self) -> str:
        """What is typed, without blanks around it."""
        return self.line.entry.text.strip()

    def line_row(self, label: str) -> tuple[StyledText, ...]:
        """The line, with what is asked for."""
        return self.line.entry.row(label, self.app.size.width)

    def typed(self) -> None:
        """Show what is typed."""
        raise NotImplementedError

    def accept(self) -> None:
        """Enter was pressed."""
        raise NotImplementedError

    def drop(self) -> None:
        """Nothing is done; what was typed goes."""
        self.dismiss(None)


class _OwnLine(Mode):
    """Leaves to the page what its keys do."""

    def __init__(self, page: TypingPage, text: str) -> None:
        super().__init__(text)
        self._page = page

    def live_keys(self) -> tuple[PageKey, ...]:
        return self._page.live_keys()

    def press(self, pressed: str, character: str | None) -> bool:
        """No line of text has a Tab in it: that is the page's, where it has a use for it."""
        return pressed != "tab" and super().press(pressed, character)

    def typed(self) -> None:
        self._page.typed()

    def accept(self) -> None:
        self._page.accept()

    def drop(self) -> None:
        self._page.drop()
