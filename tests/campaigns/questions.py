"""Every question that people put to a book, by its own command line: an answer, or a no in words.

The questions are asked one after another in a child, each with a bound of time. Whatever falls
over, hangs, or sends a raw escape to where it is read is a complaint; so is a no to a question
about the past where the past must be answerable.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Mapping
from pathlib import Path

from tests.campaigns import children
from tests.campaigns.children import Notes
from tests.campaigns.outcome import Kind, Outcome
from tests.mini_book import BUSH, SEAT

BOUND = 40  # seconds for one question on a small book; the lock's own patience is 30
TOLD = 3000  # characters of an answer that are kept
ANSWERED = (0, 1)
FELL_OVER = ("something unexpected went wrong", "Traceback (most recent call last)")
SINCE = "2026-03-01"
PAST = {
    "list": ("list",),
    "marks": ("marks", SEAT),
    "trace": ("trace", SEAT, "positions.seat.reach"),
    "trace of another": ("trace", BUSH, "lot.quantity"),
    "history": ("history",),
    "export": ("export-history", "--format", "csv"),
    "export as JSON": ("export-history", "--format", "json"),
    "as it was": ("show", SEAT, "--at", "ink-1"),
}
NOW = {
    "show": ("show", SEAT),
    "show another": ("show", BUSH, "--format", "json"),
    "diff": ("diff", SEAT, "--since", SINCE),
    "diff of all": ("diff", "--all", "--since", SINCE, "--format", "json"),
    "check": ("check",),
    "pencil": ("pencil",),
    "moved": ("moved",),
    "sheet": ("sheet", SEAT),
}


def ask(folder: Path, notes: Notes, place: Path) -> None:
    """Ask everything, in this process; `place` takes papers and answers."""
    from tui.commands.frame import run
    from tui.main import witnessmark

    sheet = place / "sheets"
    sheet.mkdir(exist_ok=True)
    for name, words in (PAST | NOW).items():
        out, err = place / "out", place / "err"
        for number, file in ((1, out), (2, err)):
            handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(handle, number)
            os.close(handle)
        notes.add("asks", name=name)
        signal.alarm(BOUND)
        more = ("-o", str(sheet)) if words[0] == "sheet" else ()
        try:
            status = run(witnessmark, ["--book", str(folder), *words, *more])
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            signal.alarm(0)
        told = [file.read_bytes()[:TOLD].decode("utf-8", "backslashreplace") for file in (out, err)]
        notes.add("told", name=name, status=status, out=told[0], err=told[1])


def judge(outcome: Outcome, case: str, ended: children.Ended, notes: Notes, *, past: bool) -> None:
    """Complain about answers; `past`: questions about the past must be answered, not refused."""
    asked, told = notes.all("asks"), notes.all("told")
    if ended.status == -signal.SIGALRM or not ended.in_time:
        outcome.complain(
            Kind.UNANSWERABLE, f"{case}: {asked[-1]['name'] if asked else ''}", "never answers"
        )
    elif len(told) < len(PAST | NOW):
        why = (
            notes.all("fell over") or notes.all("refused") or [{"text": f"status {ended.status}"}]
        )[-1]["text"]
        outcome.complain(Kind.TRACEBACK, f"{case}: {asked[-1]['name'] if asked else 'start'}", why)
    for one in told:
        what = f"{case}: {one['name']}"
        if any(words in one["err"] for words in FELL_OVER):
            outcome.complain(Kind.TRACEBACK, what, one["err"])
        elif one["status"] not in ANSWERED and not one["err"].strip():
            outcome.complain(Kind.UNANSWERABLE, what, f"status {one['status']} without a word")
        elif past and one["name"] in PAST and one["status"] not in ANSWERED:
            outcome.complain(Kind.UNANSWERABLE, what, one["err"])
        if "\x1b" in one["out"] + one["err"]:
            outcome.complain(Kind.WRONG, what, "a raw escape in the answer")


def afresh(folder: Path, notes: Notes, place: Path, environment: Mapping[str, str | None]) -> None:
    """In a child: become a new interpreter in this environment (None takes a variable out), and
    ask.
    """
    wanted = {**os.environ, **{k: v for k, v in environment.items() if v is not None}}
    for name in [name for name, value in environment.items() if value is None]:
        wanted.pop(name, None)
    words = [
        sys.executable,
        "-m",
        "tests.campaigns.questions",
        str(folder),
        str(notes.path),
        str(place),
    ]
    os.execve(sys.executable, words, wanted)


if __name__ == "__main__":
    ask(Path(sys.argv[1]), Notes(Path(sys.argv[2])), Path(sys.argv[3]))
