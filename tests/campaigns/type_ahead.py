"""Typed ahead: what was typed before a page was there neither decides on it nor destroys anything.

The real program in a pseudo-terminal gets whole rows of keys at once, as from somebody who types a
reason blindly, or from a line that stood still. Contested pencil must be as it was afterwards,
unless the answer to a page was given after the page was shown; and a record that a colleague
renames under the open screen is still edited and inked.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

from tests.campaigns.acts import ADDRESS, Boxes, opened
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.end_to_end.conftest import Terminal
from tests.mini_book import SEAT, SEAT_ID, plain_git

MINE, THEIRS = "613.125", "614.250"
WORDS = (
    "taught higher",
    "moved to the left",
    "took t",
    "mm",
    "tt",
    "my mistake\rt\r",
    "e\rt\r",
    "tttt\r",
    "theirs",
)
FIRST = ("i", "d", "ii", "id", "d\x1bd", "/reach\ri", "e", "q", "q\r")
WAITS = (None, 0.0, 0.6)  # seconds after the start; None: when the record is shown


def run(wanted: Wanted) -> Outcome:
    """`cases` rows of keys: on contested pencil, on ordinary pencil, and under a rename."""
    outcome, boxes = Outcome(), Boxes(wanted.place)
    rows = [(first, words, wait) for first in FIRST for words in WORDS for wait in WAITS]
    outcome.counts["rows there are"] = 2 * len(rows)
    renames = max(1, wanted.cases // 8)
    for n in range(renames):
        with outcome.looking(f"rename {n}"):
            _renamed(boxes, outcome)
    for n, row in enumerate(
        wanted.some(rows, kind=lambda row: row[0], most=wanted.cases - renames)
    ):
        with outcome.looking(f"{row[0]!r} {row[1]!r} after {row[2]} s"):
            _typed(row, boxes, outcome, contested=n % 3 != 2)
    return outcome


def _terminal(folder: Path, place: Path) -> Terminal:
    home = place / "home"
    home.mkdir(exist_ok=True)
    environment = {"PATH": "/usr/bin:/bin:/usr/local/bin", "LANG": "C.UTF-8",
    "TERM": "xterm-256color",
                   "HOME": str(home)}  # fmt: skip
    words = ("--book", str(folder), "open", SEAT)
    return Terminal(*words, environment=environment, login="mira")


def _typed(
    row: tuple[str, str, float | None], boxes: Boxes, outcome: Outcome, *, contested: bool
) -> None:
    first, words, wait = row
    box, _ = boxes.fresh("sync")
    folder = box / "book"
    mine = opened(folder)
    mine.document(SEAT_ID).pencil.set(ADDRESS, MINE)
    if contested:
        theirs = opened(folder, "ole")
        theirs.document(SEAT_ID).pencil.set(ADDRESS, THEIRS)
        theirs.document(SEAT_ID).ink("theirs")
        theirs.close()
    head = plain_git(folder, "rev-parse", "HEAD")
    terminal = _terminal(folder, box)
    try:
        if wait is None:
            terminal.wait_for(SEAT, "in ink", "you, 1 value")
        else:
            time.sleep(wait)
        terminal.child.send(first + words)
        shown = _settled(terminal)
    finally:
        terminal.child.close(force=True)
    outcome.cases += 1
    outcome.counts["contested" if contested else "not contested"] += 1
    case = f"{first!r} {words!r} after {wait} s, {'' if contested else 'not '}contested"
    mine.refresh()
    draft = mine.document(SEAT_ID).pencil.draft()
    marks = (
        {mark.address: (str(mark.value), mark.contested is not None) for mark in draft.marks}
        if draft
        else {}
    )
    moved = plain_git(folder, "rev-parse", "HEAD") != head
    if "Traceback" in shown:
        outcome.complain(Kind.TRACEBACK, case, shown)
    if contested and (marks.get(ADDRESS) != (MINE, True) or moved):
        outcome.complain(
            Kind.LOST, case, f"pencil is {marks or 'gone'}{', and something is inked' * moved}"
        )
    elif not contested and marks.get(ADDRESS, ("",))[0] != MINE and not moved:
        outcome.complain(Kind.LOST, case, "pencil is gone")
    mine.close()
    boxes.done_with(box)


def _settled(terminal: Terminal, most: float = 20.0) -> str:
    """The screen when it has not changed for a second and shows something; bounded."""
    end, shown, since = time.monotonic() + most, "", time.monotonic()
    while time.monotonic() < end:
        now = terminal.read(0.25)
        if now != shown:
            shown, since = now, time.monotonic()
        elif (now.strip() and time.monotonic() - since > 1.0) or not terminal.child.isalive():
            break
    return shown


def _renamed(boxes: Boxes, outcome: Outcome) -> None:
    """A colleague renames the record under an open screen; the person edits and inks it all the
    same.
    """
    box, _ = boxes.fresh("sync")
    folder = box / "book"
    terminal = _terminal(folder, box)
    outcome.cases += 1
    outcome.counts["renamed under the screen"] += 1
    try:
        terminal.wait_for(SEAT, "in ink", "in pencil")
        ole = opened(folder, "ole")
        ole.document(SEAT_ID).rename("seat-no2", "another name")
        terminal.press("/", "seat.reach", "enter", "enter", "erase", MINE, "enter")
        terminal.wait_for(MINE, "+12.125")
        terminal.press("i")
        terminal.wait_for("Reason", MINE)
        terminal.press("taught again", "enter")
        for _ in _bounded(30):
            terminal.read(0.3)
            if plain_git(folder, "log", "-1", "--format=%an").strip() == "Mira Falk":
                break
        assert str(ole.document(SEAT_ID).values()[ADDRESS]) == MINE, "it was not inked"
        assert ole.document(SEAT_ID).name == "seat-no2"
        ole.close()
    finally:
        terminal.child.close(force=True)
        boxes.done_with(box)


def _bounded(most: int) -> Iterator[int]:
    yield from range(most)
