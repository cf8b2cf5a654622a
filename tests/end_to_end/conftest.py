"""A real terminal for the real program: keys in, a screen to read out."""

import os
import re
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pexpect
import pyte
import pytest

from tests.shop_floor import logged_in

_PRIVATE = re.compile(rb"\x1b\[[<>=][0-9;]*[a-zA-Z]|\x1b\[\?[0-9;]*\$p")
_QUESTION = re.compile(rb"\x1b\[(\d+);(\d+)H\x1b\[6n")
_AS_ANOTHER = "%s; import sys; from tui.main import main; sys.exit(main())"


class Terminal:
    """The program in a pseudo-terminal of 24 lines of 80 columns, under a `login` or this one."""

    def __init__(self, *arguments: str, environment: dict[str, str], login: str = "") -> None:
        self.screen = pyte.Screen(80, 24)
        self.stream = pyte.ByteStream(self.screen)
        self.child = pexpect.spawn(
            sys.executable,
            [
                *(["-c", _AS_ANOTHER % logged_in(login)] if login else ["-m", "tui.main"]),
                *arguments,
            ],
            dimensions=(24, 80),
            timeout=60,
            env=environment,
            cwd=Path(__file__).parents[2],
        )

    def read(self, seconds: float = 0.2) -> str:
        """What the screen shows after listening for a while."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                data = self.child.read_nonblocking(65536, timeout=0.1)
                for row, column in _QUESTION.findall(data):  # where is your cursor?
                    self.child.send(b"\x1b[" + row + b";" + column + b"R")
                self.stream.feed(_PRIVATE.sub(b"", data))
            except pexpect.TIMEOUT:
                continue
            except pexpect.EOF:
                break
        return "\n".join(self.screen.display)

    def wait_for(self, *words: str, seconds: float = 60) -> str:
        """The screen, once all the words stand on it."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            shown = self.read()
            if all(word in shown for word in words):
                return shown
        raise AssertionError(f"{words} never came; the screen shows:\n{shown}")

    def press(self, *keys: str) -> None:
        """Type keys one after another, as a person would."""
        names = {
            "enter": "\r",
            "down": "\x1b[B",
            "up": "\x1b[A",
            "esc": "\x1b",
            "tab": "\t",
            "backspace": "\x7f",
            "erase": "\x15",
        }
        for key in keys:
            self.child.send(names.get(key, key))
            self.read(0.15)

    def kill(self) -> None:
        """End the program in the hardest way there is."""
        self.child.kill(signal.SIGKILL)
        self.child.wait()

    def gone(self, seconds: float = 10) -> bool:
        """Whether the program ended by itself."""
        end = time.monotonic() + seconds
        while time.monotonic() < end and self.child.isalive():
            self.read(0.1)
        return not self.child.isalive()


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """A clean environment with a home of its own."""
    kept = {name: os.environ[name] for name in ("PATH", "LANG") if name in os.environ}
    root = str(Path(__file__).parents[2])
    return {
        "LANG": "C.UTF-8",
        **kept,
        "HOME": str(tmp_path / "home"),
        "TERM": "xterm-256color",
        "PYTHONPATH": root,
    }


@pytest.fixture
def start(environment: dict[str, str]) -> Iterator[Callable[..., Terminal]]:
    """Start the program in a terminal; whatever is still running afterwards is ended."""
    running: list[Terminal] = []

    def begin(*arguments: str) -> Terminal:
        running.append(Terminal(*arguments, environment=environment))
        return running[-1]

    yield begin
    for terminal in running:
        terminal.child.close(force=True)
