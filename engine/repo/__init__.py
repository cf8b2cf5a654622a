"""Bytes that last: git, objects, trees, the lock, files of the work tree, the journal, other boxes.

Nothing here knows what a value means. `git.py` is the one file that runs git.
"""
