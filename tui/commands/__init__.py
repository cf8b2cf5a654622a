"""The command line: one module for each kind of thing a person does.

Every command opens the book, calls one method of `engine.book.Book`, and hands
the answer to `output`. None of them computes, none of them imports Textual.
Data goes to standard output, messages to standard error.
"""
