"""One module for each page that people see.

A page asks the engine through `Page.ask`, draws what it answers, and computes
nothing: a figure, a difference or a rule that a page needs is the engine's work.
`words` puts values, ages and people into words for all of them; `editor/` is the one
page with rooms of its own, for its modes and for what is done there.
"""
