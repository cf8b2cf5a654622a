"""A book, opened: what people do with it, one module for each kind of act.

`Book` is the one way in: it says what is said of the whole book, and the handle that
`Book.document` gives says what is said of one record. The modules here take the
opened book (`session`) or one document of it (`Held`) and do one thing each; what they
answer with stands in `engine.views`.
"""

from engine.book.chosen import Group
from engine.book.document import DocumentHandle
from engine.book.facade import Book, system_clock
from engine.repo.accounts import current_login

__all__ = ["Book", "DocumentHandle", "Group", "current_login", "system_clock"]
