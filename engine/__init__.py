"""What follows from what is written down. Nothing here prints, nothing knows a screen.

The floor above is `tui`; the floor below is `schemas`. `engine.book.Book` is the way in.
"""
