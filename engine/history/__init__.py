"""The history of values: git, the journal of pencil, the ink, the past, diff and trace.

Only `git.py` runs git. HEAD is the truth; everything cached here can be made again.
"""
