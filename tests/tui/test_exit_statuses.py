"""How the command line ends: stopped, unread, with nowhere to write, without git."""

import logging
import os
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from schemas.errors import BookError
from tests.mini_book import SEAT
from tests.shop_floor import logged_in
from tui import error_log
from tui.commands import frame, output

PROGRAM = logged_in("mira") + "; import sys; from tui.console import main; sys.exit(main())"
WAITING = """
import sys, time
from tui.commands import reading
def slow(*_, **__):
    print("ready", file=sys.stderr, flush=True)
    time.sleep(60)
import engine.book
engine.book.Book.list_records = slow
"""


def begun(folder: Path, *words: str, before: str = "", **more) -> subprocess.Popen[bytes]:
    environment = {**os.environ, **more.pop("environment", {})}
    command = [sys.executable, "-c", f"{before}\n{PROGRAM}", "--book", str(folder), *words]
    streams = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(command, env=environment, **{**streams, **more})


def ended(folder: Path, *words: str, **more) -> tuple[int, str]:
    """Exit status and standard error."""
    with begun(folder, *words, **more) as process:
        said = process.stderr.read().decode()
        return process.wait(), said


@pytest.mark.parametrize(
    ("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, -signal.SIGTERM)]
)
def test_a_signal_ends_it_as_it_ends_others(little: Path, number: int, status: int) -> None:
    with begun(little, "list", before=WAITING) as process:
        assert process.stderr.readline() == b"ready\n"
        process.send_signal(number)
        said = process.stderr.read().decode()
        assert process.wait() == status
        assert "Traceback" not in said
        if number == signal.SIGINT:
            assert said.strip() == "stopped; what was saved is saved"


STOPPED_AT = """
import os, signal, sys
class Stops:
    def find_spec(self, name, path=None, target=None):
        if name == {name!r}:
            sys.meta_path.remove(self)
            os.kill(os.getpid(), signal.SIGINT)
sys.meta_path.insert(0, Stops())
"""


@pytest.mark.parametrize(
    ("name", "said"),
    [("tui.main", ""), ("click", ""), ("tui.commands.frame", ""),
     ("engine.book", "stopped; what was saved is saved")],
)  # fmt: skip
def test_who_stops_it_while_it_is_still_read_sees_no_traceback(
    little: Path, name: str, said: str
) -> None:
    begin = STOPPED_AT.format(name=name)
    program = f"{begin}\nfrom tui.console import main; sys.exit(main())"
    words = [sys.executable, "-c", program, "--book", str(little), "list"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr.strip()) == (130, "", said)


def test_the_console_script_begins_there() -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())
    assert project["project"]["scripts"] == {"witnessmark": "tui.console:main"}


JSON = ["history", "--format", "json"]
FORMS = [["history"], JSON, ["export-history"], ["--help"], ["--version"]]
WRITE = [["set", SEAT, "lot.quantity=7"], ["sheet", SEAT, "-o", "-"]]


@pytest.mark.parametrize("words", FORMS)
def test_a_reader_that_leaves_is_no_error(little: Path, words: list[str]) -> None:
    read, write = os.pipe()
    os.close(read)
    try:
        assert ended(little, *words, stdout=write) == (141, "")
    finally:
        os.close(write)


@pytest.mark.parametrize("words", [*FORMS, *WRITE])
def test_an_answer_that_could_not_be_written_is_not_done(little: Path, words: list[str]) -> None:
    with Path("/dev/full").open("wb") as full:
        status, said = ended(little, *words, stdout=full)
    assert status == 2
    assert "standard output: the answer could not be written: No space left on device" in said
    assert "Traceback" not in said
    assert "Exception ignored" not in said


def in_a_shell(command: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(["sh", "-c", command], capture_output=True, check=False)


def test_standard_output_that_is_closed_is_told_and_no_file_takes_its_number(little: Path) -> None:
    command = f"exec {sys.executable} -c '{PROGRAM}' --book {little} history >&-"
    done = in_a_shell(command)
    assert done.returncode == 2
    assert b"could not be written" in done.stderr


@pytest.mark.parametrize("redirected", ["2>/dev/full", "2>&-"])
def test_a_message_that_cannot_be_had_stops_nothing(little: Path, redirected: str) -> None:
    words = f"set {SEAT} lot.quantity=7 --ink"
    command = f"exec {sys.executable} -c '{PROGRAM}' --book {little} {words} {redirected}"
    done = in_a_shell(command)
    assert done.returncode == 0
    assert done.stdout.startswith(b"inked ")


def test_without_git_it_says_what_to_install(little: Path, tmp_path: Path) -> None:
    for words in (["list"], ["init", str(tmp_path / "new")], ["--help"]):
        status, said = ended(little, *words, environment={"PATH": str(tmp_path)})
        if words == ["--help"]:
            assert (status, said) == (0, "")
        else:
            assert status == 2
            assert "git is not on this machine" in said
            assert "apt install git" in said
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("said", ["git version 2.25.1", "git version 1.9"])
def test_a_git_that_is_too_old_is_told(little: Path, tmp_path: Path, said: str) -> None:
    old = tmp_path / "git"
    old.write_text(f"#!/bin/sh\necho '{said}'\n")
    old.chmod(0o755)
    status, told = ended(little, "list", environment={"PATH": f"{tmp_path}:/usr/bin:/bin"})
    assert status == 2
    assert "2.36" in told


def test_a_fault_of_the_program_goes_to_the_log_without_harm(monkeypatch, tmp_path, capsys) -> None:
    monkeypatch.setattr(error_log, "log_file", lambda: tmp_path / "logs" / "it.log")

    class Group:
        def main(self, *_: object, **__: object) -> int:
            raise RuntimeError("odd \x1b]0;x\x07 \udce9")

    with monkeypatch.context() as patch:  # of half a sign pytest can make no report
        patch.setattr(logging.getLogger(), "handlers", [])
        assert frame.run(Group()) == 2
    said = capsys.readouterr().err
    assert "it.log" in said
    assert "Traceback" not in said
    logged = (tmp_path / "logs" / "it.log").read_bytes()
    assert b"Traceback" in logged
    assert b"odd \\u001b]0;x\\u0007 \\udce9" in logged
    assert b"\x1b" not in logged


def test_a_log_that_cannot_be_written_is_said(monkeypatch, tmp_path, capsys) -> None:
    (tmp_path / "logs").write_text("")
    monkeypatch.setattr(error_log, "log_file", lambda: tmp_path / "logs" / "it.log")

    class Group:
        def main(self, *_: object, **__: object) -> int:
            raise RuntimeError("odd")

    assert frame.run(Group()) == 2
    assert f"{tmp_path}/logs/it.log cannot be written: " in capsys.readouterr().err


@pytest.mark.parametrize("kind", ["link", "fifo", "folder", "file above"])
def test_an_odd_log_is_not_followed_and_stops_nothing(monkeypatch, tmp_path, kind: str) -> None:
    file, other = tmp_path / "logs" / "it.log", tmp_path / "other"
    other.write_text("")
    monkeypatch.setattr(error_log, "log_file", lambda: file)
    if kind == "file above":
        file.parent.write_text("")
    else:
        file.parent.mkdir()
        {"link": lambda: file.symlink_to(other), "fifo": lambda: os.mkfifo(file),
         "folder": file.mkdir}[kind]()  # fmt: skip
    handler = error_log._ErrorLog()
    handler.emit(logging.LogRecord("x", logging.ERROR, "x", 1, "what", None, None))
    assert other.read_text() == ""


def test_what_click_says_is_said_through_the_one_door(capsys) -> None:
    assert frame.run(__import__("tui.main", fromlist=["x"]).witnessmark, ["\x1b[2J"]) == 2
    assert "\x1b" not in capsys.readouterr().err


def test_errors_of_the_book_keep_their_status(capsys) -> None:
    class Group:
        def main(self, *_: object, **__: object) -> int:
            raise BookError("what", where="there", hint="do this")

    assert frame.run(Group()) == 2
    assert capsys.readouterr().err == "witnessmark: there: what\n  do this\n"


def test_progress_writes_over_one_line_only(monkeypatch, capsys) -> None:
    from tui.commands import progress

    moments = iter([0.0, 1.0, 1.1, 2.0, 3.0])
    monkeypatch.setattr(time, "monotonic", lambda: next(moments))
    shown = progress.Reading()
    for number in (1, 20, 30, 40, 0):
        shown(number)
    said = capsys.readouterr().err
    assert said.count("\r") == 4
    assert said.endswith("\r")
    assert "20 saves" in said
    assert "30 saves" not in said
    assert "\n" not in said
    assert output.say_over
