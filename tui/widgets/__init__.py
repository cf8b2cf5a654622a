"""Pieces that every screen is made of; none of them knows what a record is.

`paint` styles by name, `painted` widgets that repaint only lines that changed,
`lines` the one virtual list, `entry` the one line that is typed in, `keys` the
one table from which dispatch, keys line and help are made, `mode` one kind of
typing on a page, `prose` text in paragraphs, `clerk` the one
thread that talks to the book, `bench` what pages expect of the app, `asking`
how they ask the book, `echo` which keys were typed before something was seen,
`page` the screen that holds it all together, `finder` narrowing a list by typing,
`typing_page` a page whose one line is always typed in, `deciding` one on which
something is chosen and then done with Enter.
What shows records, drafts or findings belongs in `tui/screens/`.
"""
