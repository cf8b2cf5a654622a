"""The demo: a copy of the demo book, and eight invented weeks of work on it.

Everything is played through the same calls that people use, with a clock that
runs through the weeks; nothing is written into history by another way.
"""
