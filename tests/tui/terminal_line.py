"""A terminal at the other end of a line, for tests of what goes over the wire."""

import os
import re
import sys
import time
from pathlib import Path

import pexpect
import pyte

ROOT = Path(__file__).parents[2]
PROGRAM = """
import sys
from pathlib import Path
from engine.book import Book
from tui.app import run
folder, record = Path(sys.argv[1]), sys.argv[2]
sys.exit(run(lambda person: Book.open(folder, as_person=person, login="mosk"), record))
"""


_QUESTION = re.compile(rb"\x1b\[(\d+);(\d+)H\x1b\[6n")


class Line:
    """A terminal at the other end of a line; one that `answers` says where its cursor stands."""

    def __init__(
        self, folder: Path, record: str = "", *, answers: bool = False, **env: str
    ) -> None:
        self.answers = answers
        environment = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLORTERM")}
        environment |= {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT), **env}
        environment["XDG_STATE_HOME"] = environment["XDG_CACHE_HOME"] = str(folder.parent)
        self.child = pexpect.spawn(
            sys.executable,
            ["-c", PROGRAM, str(folder), record],
            env=environment,  # type: ignore[arg-type]
            dimensions=(24, 80),
            timeout=30,
        )
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)

    def read(self, quiet: float = 0.5, most: float = 20) -> bytes:
        """Everything that comes until it is quiet."""
        found, end = b"", time.monotonic() + most
        while time.monotonic() < end:
            try:
                came = self.child.read_nonblocking(65536, timeout=quiet)
                found += came
                if self.answers:
                    for row, column in _QUESTION.findall(came):
                        self.child.send(b"\x1b[" + row + b";" + column + b"R")
            except pexpect.TIMEOUT:
                break
            except pexpect.EOF:
                break
        # pyte does not know private sequences with these marks
        self.stream.feed(re.sub(rb"\x1b\[[<>=?][0-9;]*[a-zA-Z]|\x1b\[[0-9;]*\$p", b"", found))
        return found

    def until(self, words: str) -> bytes:
        """Everything until these words stand on the screen."""
        found, end = b"", time.monotonic() + 30
        while words not in self.text():
            assert time.monotonic() < end, self.text()
            found += self.read(0.2)
        return found + self.read()

    def send(self, keys: str) -> bytes:
        """Press keys; what came back."""
        self.child.send(keys)
        return self.read()

    def text(self) -> str:
        """What stands on the screen."""
        return "\n".join(self.screen.display)
