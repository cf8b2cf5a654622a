"""The console script: Ctrl-C is quiet from its first step on, while the program is still read.

Nothing is imported here that takes time: whoever stops a command at once gets the exit status
of one that was stopped, and no traceback of Python's.
"""

from __future__ import annotations

STOPPED = 130  # as if by SIGINT: what shells expect


def main() -> int:
    """Run the program; its exit status."""
    try:
        from tui.main import main as run

        return run()
    except KeyboardInterrupt:  # before there was anybody to tell, or again while it was told
        return STOPPED
