"""Figures: pure functions over record, cell and policy; no clock, no files, no git.

Each group is one module with one function `figures(facts) -> list[Figure]`;
`all_figures` runs them in the order a setter thinks: what goes in, how it is
held, where it lies, how it moves, how long it takes.
"""
