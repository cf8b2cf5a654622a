"""Several accounts on one book, with the masks that people have: nobody locks the others out.

Children of root take other accounts (`setuid`), each with a home and a mask of its own, and work
in turn. A shared book (`core.sharedRepository`, a group, folders that hand their group on) can be
written by all of them after whatever any of them did; a book of one account can be read or is
refused in words, and nobody is ever told to start one where one is.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from functools import partial
from itertools import product
from pathlib import Path

from engine.book import Book
from tests.campaigns import children
from tests.campaigns.acts import CREW, Boxes, opened
from tests.campaigns.children import Notes
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import BUSH_ID, SEAT_ID, plain_git

GROUP = 20_771
ACCOUNTS = (20_771, 20_772, 20_773)
MASKS = (0o022, 0o002, 0o027, 0o077)
SHARED, OWN = "shared", "of one account"
Act = Callable[[Path, Notes, int], None]


def _pencil(folder: Path, notes: Notes, n: int) -> None:
    book = opened(folder, CREW[n % len(CREW)])
    book.document(SEAT_ID).pencil.set("lot.quantity", str(100 + n))
    notes.add("pencilled", value=str(100 + n), person=CREW[n % len(CREW)])


def _ink(folder: Path, notes: Notes, n: int) -> None:
    book = opened(folder, CREW[n % len(CREW)])
    document = book.document((SEAT_ID, BUSH_ID)[n % 2])
    document.pencil.set("tools.T04.length", f"{50 + n}.5")
    notes.add("inked", commit=document.ink("of this account").commit)


def _run(folder: Path, notes: Notes, n: int) -> None:
    runs = opened(folder, "ole").document(BUSH_ID).runs
    notes.add("inked", commit=runs.start(n + 1).commit)
    notes.add("inked", commit=runs.stop(n, 1).commit)


def _new(folder: Path, notes: Notes, n: int) -> None:
    book = opened(folder, "ole")
    done = book.new(f"new-{n}-op10", part="New", cell="lathe", units="mm", reason="a new job")
    notes.add("inked", commit=done.commit)


def _sync(folder: Path, notes: Notes, n: int) -> None:
    book = opened(folder, CREW[n % len(CREW)])
    notes.add("synced", problem=book.sync().problem)


def _sign_off(folder: Path, notes: Notes, n: int) -> None:
    notes.add("inked", commit=opened(folder, "ole").document(BUSH_ID).sign_off(f"seen {n}").commit)


def _look(folder: Path, notes: Notes, n: int) -> None:
    book = opened(folder, CREW[n % len(CREW)])
    book.list_records()
    book.document(SEAT_ID).past.trace("positions.seat.reach")


ACTS: dict[str, Act] = {"pencil": _pencil, "ink": _ink, "run": _run, "new": _new, "sync": _sync,
                        "sign-off": _sign_off, "look": _look}  # fmt: skip


def run(wanted: Wanted) -> Outcome:
    """Every act by every account and mask, on books shared and not, begun with every mask."""
    outcome = Outcome(left_out="" if os.getuid() == 0 else "needs root, to take other accounts")
    if outcome.left_out:
        return outcome
    for folder in (wanted.place, wanted.place.parent):  # made for root alone
        folder.chmod(0o755)
    boxes = Boxes(wanted.place)
    books = list(product((SHARED, OWN), MASKS))
    turns = list(product(ACTS, MASKS, ACCOUNTS))
    each = max(3, wanted.cases // len(books))
    dice = wanted.dice()
    for kind, mask in books:
        chosen = wanted.some(turns, kind=lambda turn: turn[0], most=each)
        dice.shuffle(chosen)
        _one_book(kind, mask, chosen, boxes, outcome)
    return outcome


def _one_book(
    kind: str, mask: int, turns: list[tuple[str, int, int]], boxes: Boxes, outcome: Outcome
) -> None:
    box, notes = boxes.fresh("sync")
    notes.path.touch(mode=0o666)
    notes.path.chmod(0o666)
    _give(box, kind, mask)
    (box / "homes").mkdir()
    (box / "homes").chmod(0o777)
    known: set[Path] = set()
    for n, (act, own_mask, account) in enumerate([("ink", mask, ACCOUNTS[0]), *turns]):
        who = f"{act} by account {ACCOUNTS.index(account)} with {own_mask:03o}"
        case = f"book {kind}, begun with {mask:03o}: {who}, turn {n}"
        at = len(notes.all())
        ended = children.run(partial(_as, account, own_mask, box, act, notes, n), notes)
        outcome.cases += 1
        outcome.counts[f"{kind}: {'done' if not ended.status else 'refused'}"] += 1
        for note in notes.all()[at:]:
            if note["what"] == "fell over":
                outcome.complain(Kind.TRACEBACK, case, note["text"] + note["at"][-200:])
            elif note["what"] == "refused":
                _judge_no(outcome, case, note, kind, owner=account == ACCOUNTS[0], act=act)
        if kind == SHARED:
            _writable(outcome, case, box / "book", known)
    with outcome.looking(f"book {kind}, begun with {mask:03o}", Kind.LOST):
        past = plain_git(box / "book", "-c", "safe.directory=*", "rev-list", "HEAD").split()
        assert {note["commit"] for note in notes.all("inked")} <= set(past)
    boxes.done_with(box)


def _as(account: int, mask: int, box: Path, act: str, notes: Notes, n: int) -> None:
    """In a child: be somebody else, with a home of their own, and do it."""
    home = box / "homes" / str(account)
    os.setgroups([GROUP])
    os.setgid(GROUP if account == ACCOUNTS[0] else account)
    os.setuid(account)
    os.umask(0o077)
    home.mkdir(exist_ok=True)
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        os.environ[name] = str(home)
    os.umask(mask)
    for name in ("book", "hub.git") if account != ACCOUNTS[0] else ():
        Book.trust(box / name)
    ACTS[act](box / "book", notes, n)


def _give(box: Path, kind: str, mask: int) -> None:
    """Hand a book and its meeting point to the first account, as a founder with this mask leaves
    them.
    """
    shared = kind == SHARED
    for name in ("book", "hub.git"):
        if shared:
            config = ".git/config" if name == "book" else "config"
            plain_git(box / name, "config", "--file", config, "core.sharedRepository", "group")
        for path in [box / name, *(box / name).rglob("*")]:
            os.chown(path, ACCOUNTS[0], GROUP, follow_symlinks=False)
            mode = 0o777 if path.is_dir() else 0o666
            if shared:
                others = (
                    0o000 if mask & 0o007 == 0o007 else 0o005
                )  # as `core.sharedRepository` leaves them
                path.chmod(mode & (0o770 | others) | 0o2000 * path.is_dir())
            else:
                path.chmod(mode & ~mask)
    box.chmod(0o755)


def _judge_no(
    outcome: Outcome, case: str, note: dict[str, str], kind: str, *, owner: bool, act: str
) -> None:
    """A no is right where the book is somebody else's; it never advises to start another one."""
    text = f"{note['text']} {note['hint']}"
    if "init" in text and "is no book" in text:
        outcome.complain(Kind.WRONG, case, f"advises to start a book where one is: {text}")
    elif note["error"] != "Conflict" and (owner or kind == SHARED):  # a contest locks nobody out
        outcome.complain(Kind.WRONG, case, f"locked out: {text}")


def _writable(outcome: Outcome, case: str, folder: Path, known: set[Path]) -> None:
    """Everything in a shared book is the group's, to read and to write (git's objects to read)."""
    for path in {folder, *folder.rglob("*")} - known:
        mode = path.lstat().st_mode
        need = (
            0o040
            if "objects" in path.parts and not path.is_dir()
            else 0o060 | (0o010 if path.is_dir() else 0)
        )
        if stat.S_ISLNK(mode):
            continue
        if mode & need != need or path.lstat().st_gid != GROUP:
            name = path.relative_to(folder)
            outcome.complain(
                Kind.WRONG, case, f"{name} is {stat.filemode(mode)} of group {path.lstat().st_gid}"
            )
            known.add(path)
