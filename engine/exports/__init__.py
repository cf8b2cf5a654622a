"""Exports: a set-up on paper, and its tray plate for whoever cuts it.

Nothing here reads a book: `engine.book.papers` gathers, these modules draw.
The libraries that write PDF, QR and DXF take long to import, so each is
imported in the function that uses it.
"""
