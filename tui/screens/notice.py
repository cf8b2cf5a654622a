"""A page that says something in full and is closed with a key.

Invariant: no Enter that was typed before it was seen closes it.
"""

from __future__ import annotations

from collections.abc import Sequence

from schemas.errors import NotShown, ReadError, WitnessmarkError
from tui.widgets.keys import key
from tui.widgets.page import Page
from tui.widgets.paint import StyledText
from tui.widgets.prose import error_texts, paragraphs


class Notice(Page):
    """Some paragraphs; Enter or Esc closes."""

    KEYS = (key("Enter", "go on", "close this page", "close"),)

    def __init__(self, title: str, texts: Sequence[StyledText]) -> None:
        super().__init__()
        self._title = title
        self._texts = texts

    @classmethod
    def of_error(cls, error: WitnessmarkError) -> Notice:
        """An error in full."""
        titles = {NotShown: "Done, but it cannot be shown", ReadError: "This cannot be read"}
        fitting = (title for kind, title in titles.items() if isinstance(error, kind))
        return cls(next(fitting, "This did not work"), error_texts(error))

    def heading(self) -> str:
        """What it is about."""
        return self._title

    def load(self) -> None:
        """Nothing is asked: all is here."""
        self.lines.show(paragraphs(self._texts))
        self.sight.show_anew()

    def do_close(self) -> None:
        """Close it, once it was seen."""
        if self.in_sight():
            self.do_back()
