"""What goes over the wire: few bytes a key, none when idle, nothing lost when the line drops.

A raw pseudo-terminal stands for the SSH line. Numbers are counted after the
screen has come to rest, so they do not depend on the machine's speed.
"""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pexpect
import pytest

from engine.book import Book
from tests.demo_book import RECORD
from tests.tui.terminal_line import ROOT, Line

SEAT = "positions.seat.lift"


@pytest.fixture
def line(folder: Path) -> Iterator[Line]:
    line = Line(folder, RECORD)
    line.until("seal-carrier-op20")
    line.until("record")
    line.until("g shows them")  # the figures, which come last
    yield line
    line.child.close(force=True)


DOWN, ENTER, ESCAPE = "\x1b[B", "\r", "\x1b"


def test_few_bytes_a_key(line: Line, record_property):
    line.send("\t" * 4)
    line.send(DOWN)
    sizes = {
        "down": len(line.send(DOWN)),
        "tab": max(len(line.send("\t")) for _ in range(2)),
        "find": len(line.send("/seat lift\r")),
        "first digit": len(line.send("9")),
        "digit": len(line.send("8")),
        "esc": len(line.send(ESCAPE)),
        "accepted": len(line.send("303.79\r")),  # six signs, the value, and its figures
        "figures": len(line.send("g")),
        "down in figures": len(line.send(DOWN)),
        "back": len(line.send(ESCAPE)),
    }
    for name, size in sizes.items():
        record_property(name, size)
    assert sizes["down"] < 260
    assert sizes["digit"] < 120
    assert sizes["first digit"] < 600
    assert sizes["esc"] < 900
    assert sizes["tab"] < 3000  # it may have to scroll
    assert sizes["accepted"] < 2600
    assert sizes["figures"] < 8000  # an empty page, then a full one
    assert sizes["back"] < 3500  # a page, painted once
    assert sizes["down in figures"] < 700


def test_idle_writes_nothing(line: Line):
    line.read()
    with pytest.raises(pexpect.TIMEOUT):
        line.child.read_nonblocking(1, timeout=6.5)


def test_no_mouse_no_blinking_no_true_colour(folder: Path):
    line = Line(folder, COLORTERM="truecolor")
    sent = line.until("Sallowmere")
    sent += line.send(ENTER) + line.send("9")
    assert b"?1000h" not in sent
    assert b"?1003h" not in sent
    assert b"\x1b[5m" not in sent
    assert not re.search(rb"[;\[][34]8;2;", sent)
    line.child.close(force=True)


def test_no_color_sends_no_colours(folder: Path):
    line = Line(folder, NO_COLOR="1")
    sent = line.until("Sallowmere") + line.send(ENTER) + line.send("9")
    for codes in re.findall(rb"\x1b\[([0-9;]*)m", sent):
        for code in filter(None, codes.split(b";")):
            assert int(code) < 30 or int(code) in (39, 49), codes
    line.child.close(force=True)


def test_without_utf8_everything_is_ascii(folder: Path):
    lead = Book.open(folder, login="itob")
    lead.document(RECORD).pencil.set("jaws.kept_at", "Šatník Ω")
    lead.document(RECORD).ink()
    line = Line(
        folder,
        RECORD,
        LC_ALL="C",
        PYTHONUTF8="0",
        PYTHONCOERCECLOCALE="0",
        PYTHONIOENCODING="ascii:backslashreplace",
    )
    sent = line.until("record")
    sent += line.send("/") + line.send("jaws.kept_at")
    assert sent.isascii()
    assert "?atn?k ?" in line.text()
    assert "\\u" not in line.text()
    line.child.close(force=True)


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM, signal.SIGKILL])
def test_a_dropped_line_loses_no_accepted_value(folder: Path, number: int):
    line = Line(folder, RECORD)
    line.until("record")
    line.send("/seat lift\r")
    line.send("303.79\r")
    assert "303.79" in line.text()
    os.kill(line.child.pid, number)
    line.child.expect(pexpect.EOF, timeout=5)
    line.child.close()
    book = Book.open(folder, login="mosk")
    draft = book.document(RECORD).pencil.draft()
    assert draft is not None
    assert [str(mark.value) for mark in draft.marks] == ["303.79"]


def test_a_closed_terminal_leaves_no_orphan(folder: Path):
    line = Line(folder, RECORD)
    line.until("record")
    pid = line.child.pid
    os.close(line.child.child_fd)
    line.child.closed = True
    for _ in range(50):
        if not _alive(pid):
            break
        time.sleep(0.1)
    assert not _alive(pid)


def _alive(pid: int) -> bool:
    try:
        return os.waitpid(pid, os.WNOHANG) == (0, 0)
    except ChildProcessError:
        return False


def test_leaving_gives_the_terminal_back(folder: Path):
    line = Line(folder)
    line.until("Sallowmere")
    sent = line.send("q")
    assert b"\x1b[?1049l" in sent
    assert b"\x1b[?25h" in sent
    line.child.expect(pexpect.EOF, timeout=5)
    line.child.close()
    assert line.child.exitstatus == 0


def test_typed_ahead_keys_arrive_in_order(folder: Path):
    line = Line(folder)
    line.until("Sallowmere")
    line.child.send(f"/{RECORD}\r\r/seat lift\r303.79\r")
    line.until("In pencil: lift 303.79 mm")
    line.child.close(force=True)


def test_the_first_picture_waits_for_no_engine():
    code = (
        "import sys, tui.app;"
        "heavy = [m for m in ('pydantic', 'git', 'PIL', 'tomli_w') if m in sys.modules];"
        "heavy += [m for m in sys.modules if m.startswith('engine.') "
        "and not m.startswith('engine.views.wording') and m != 'engine.views'];"
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
