"""Clocks that jump: stamps back and forward, the same moment twice, other zones, years apart.

Order is the history's. Whatever the stamps say, the trace has every change in the order in which it
was made and ends with what stands, marks and history have every ink, and `since` a moment leaves
out no save that is stamped after it nor any that stands on one; where it shows more, it says why.
Whoever asks has a clock as wrong as the last save's, or one that all stamps lie behind.
"""

from __future__ import annotations

import shutil
from datetime import datetime, timedelta
from pathlib import Path
from random import Random

from engine.book import Book
from engine.views import Change
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import BUSH, SEAT, found, plain_git
from tests.shop_floor import START, Clock

ADDRESS = "positions.seat.lift"
JUMPS = (
    timedelta(minutes=1), timedelta(0), timedelta(seconds=-1), timedelta(hours=-1),
    timedelta(days=-3),
    timedelta(days=3), timedelta(days=400), timedelta(days=-400), timedelta(weeks=-1500),
    timedelta(weeks=1200),
)  # fmt: skip
ZONES = ("+00:00", "+01:00", "-11:30", "+14:00")
SAVES = 7
SKEW = timedelta(minutes=15)  # as docs/formats.md has it
_BESIDE = (timedelta(0), timedelta(seconds=-30))  # moments that are asked for, by a stamp


def run(wanted: Wanted) -> Outcome:
    """`cases` rows of saves, each with jumps by chance."""
    outcome = Outcome()
    for n in range(wanted.cases):
        dice = Random(f"{wanted.seed} {n}")
        outcome.cases += 1
        with outcome.looking(f"row {n}", Kind.UNANSWERABLE):
            _row(wanted.place / f"row-{n}", dice)
        shutil.rmtree(wanted.place / f"row-{n}", ignore_errors=True)
    return outcome


def _row(folder: Path, dice: Random) -> None:
    clock = Clock(START)
    found(folder, clock)
    saves: list[tuple[str, str, datetime]] = []  # commit, value, stamp; in the order of history
    for n in range(SAVES):
        zone = datetime.fromisoformat(f"2026-01-01T00:00:00{dice.choice(ZONES)}").tzinfo
        clock.at = min(
            max((clock.at + dice.choice(JUMPS)).astimezone(zone), _year(1975)), _year(2090)
        )
        if dice.random() < 0.25:
            commit, value = _by_hand(folder, n, clock.at), f"{150 + n}.250"
        else:
            commit, value = _by_program(folder, n, clock), f"{150 + n}.250"
        saves.append((commit, value, clock.at))
    if dice.random() < 0.5:
        clock.at = max(stamp for *_, stamp in saves)
    book = Book.open(folder, login="ada", clock=clock)
    try:
        _ask(book, saves)
    finally:
        book.close()


def _year(year: int) -> datetime:
    return datetime.fromisoformat(f"{year}-01-01T00:00:00+00:00")


def _by_program(folder: Path, n: int, clock: Clock) -> str:
    book = Book.open(folder, login="mira", clock=clock)
    book.document(SEAT).pencil.set(ADDRESS, f"{150 + n}.250")
    done = book.document(SEAT).ink("measured")
    book.close()
    return done.commit


def _by_hand(folder: Path, n: int, when: datetime) -> str:
    path = folder / f"records/{SEAT}.toml"
    book = Book.open(folder, login="ada")
    was = str(book.document(SEAT).values()[ADDRESS])
    book.close()
    text = path.read_text()
    assert f"lift = {was}" in text
    path.write_text(text.replace(f"lift = {was}", f"lift = {150 + n}.250"))
    plain_git(folder, "commit", "-qam", "by hand", when=when)
    return plain_git(folder, "rev-parse", "HEAD").strip()


def _ask(book: Book, saves: list[tuple[str, str, datetime]]) -> None:
    past = book.document(SEAT).past
    told = [(item.commit, str(item.change.new)) for item in past.trace(ADDRESS)]
    wanted = [(commit, value) for commit, value, _ in saves]
    assert told[-SAVES:] == wanted, f"the trace is {told}, not {wanted}"
    marks = {mark.commit for mark in past.marks()}
    assert {commit for commit, *_ in saves} <= marks, "an ink has no mark"
    listed = {item.commit for item in book.every_change(name=SEAT)}
    assert {commit for commit, *_ in saves} <= listed, "history lacks a change"
    assert book.document(BUSH).past.trace("lot.quantity"), "another record's trace is empty"
    for moment in sorted({stamp + shift for *_, stamp in saves for shift in _BESIDE}):
        latest = _latest_base(saves, moment, book.now() + SKEW)
        if latest is not None and START < moment <= book.now():  # else it began later, or will
            found = past.since(moment)
            base = _base(saves, [c for c in found.changes if c.address == ADDRESS])
            told_of = "" if found.clocks else ", and nothing is said of clocks"
            stamps = [stamp.isoformat() for *_, stamp in saves]
            words = (
                f"since {moment.isoformat()}: from save {base} and not {latest}{told_of}; {stamps}"
            )
            assert base == latest or (base < latest and found.clocks), words


def _base(saves: list[tuple[str, str, datetime]], changes: list[Change]) -> int:
    """After which save, in the order of history, the shown changes begin; 0 for what was there
    before them all, -1 for nothing. No value comes twice.
    """
    if not changes:
        return len(saves)
    values = ["148.900", *(value for _, value, _ in saves)]
    return -1 if changes[0].old is None else values.index(str(changes[0].old))


def _latest_base(
    saves: list[tuple[str, str, datetime]], moment: datetime, limit: datetime
) -> int | None:
    """How many saves come before the first that is stamped after a moment; None for all.

    Stamps in the future of whoever asks tell nothing.

    More than what came after may be shown where clocks are wrong, and is said; never less.
    """
    return next((n for n, (*_, stamp) in enumerate(saves) if moment < stamp <= limit), None)
