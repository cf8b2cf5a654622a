"""The document that a page speaks of, whatever it is called by now.

Invariant: what a page was opened on stays what it speaks of: it is known by its
identity once the book was asked for it, so no rename and no other record under its
old name changes that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.book import Book, DocumentHandle


@dataclass(slots=True)
class Subject:
    """One document. Pages that were opened from one another share it."""

    name: str  # as it was called at the last look
    key: str = ""  # its identity; empty until the book was asked

    def of(self, book: Book) -> DocumentHandle:
        """The document in a book; of what was taken out, its past. Gone where it never was."""
        handle = book.document(self.name, self.key)
        self.name, self.key = handle.name, handle.key
        return handle


class AboutOne:
    """Mixed into pages that speak of one document."""

    subject: Subject

    @property
    def name_of_record(self) -> str:
        """What it was called at the last look."""
        return self.subject.name
