"""The desk: what people do with a book, one module for each kind of act.

Every act gets the `Shelf` (the book as it stands: head, pencil, who is here)
and answers with plain values from `engine.answers`. Acts never print, never ask
and never guess; the facade `engine.book.Book` is a list of them.
"""
