"""One line of text is asked for.

Invariant: Esc answers nothing; what was typed is handed over as it is.
"""

from __future__ import annotations

from tui.widgets.keys import PageKey, key
from tui.widgets.prose import paragraph
from tui.widgets.typing_page import TypingPage


class AskText(TypingPage):
    """Its answer is the typed text, or None."""

    def __init__(self, title: str, label: str, text: str, start: str = "") -> None:
        super().__init__(start)
        self._title = title
        self._label = label
        self._text = text

    def heading(self) -> str:
        """What is asked."""
        return self._title

    def live_keys(self) -> tuple[PageKey, ...]:
        """Letters are typed here."""
        return (key("Enter", "go on", "", ""), key("Esc", "back", "", ""))

    def load(self) -> None:
        """What may be typed, and the line."""
        self.lines.show([paragraph(0, self._text)])
        self.typed()

    def typed(self) -> None:
        """Show the line."""
        self.status.say(*self.line_row(f" {self._label}"))

    def accept(self) -> None:
        """Hand it over."""
        self.dismiss(self.text or None)
