"""One module for each page that people see.

A page asks the engine through `Page.ask`, draws what it answers, and computes
nothing: a figure, a difference or a rule that a page needs is the engine's work.
`words` puts values, ages and people into words for all of them; `sheet` turns a
record's values and pencil into the lines of the editor.
"""
