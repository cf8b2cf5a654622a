"""A book, opened: what people do with it, one module for each kind of act.

`Book` is the one way in. The modules here take the opened book (`session`) and do one thing
each; what they answer with stands in `engine.views`.
"""

from engine.book.facade import Book, system_clock

__all__ = ["Book", "system_clock"]
