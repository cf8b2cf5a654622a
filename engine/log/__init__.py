"""Who changed which value: commits, attribution, the walk over all of git, and the index beside it.

Everything here follows from git and can be thrown away; `walk` is the oracle of `index`.
"""
