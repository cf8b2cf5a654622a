"""Open while others work: a record is open here while a colleague acts on it there.

Every act of the colleague is tried with every act of the person in front. Identity is the record's
id, so a rename changes nothing for whoever has it open; what was accepted is in pencil or in ink
afterwards, what was refused was refused in words, and a hand edit is never swallowed.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import product
from pathlib import Path

from engine.book import DocumentHandle
from schemas.errors import WitnessmarkError
from tests.campaigns import children
from tests.campaigns.acts import Boxes, opened
from tests.campaigns.children import Notes
from tests.campaigns.outcome import Kind, Outcome, Wanted
from tests.mini_book import SEAT, SEAT_ID, plain_git
from tests.shop_floor import edit

VALUE, THEIRS, ADDRESS = "613.125", "614.250", "positions.seat.reach"
PATH = f"records/{SEAT}.toml"


def _hand_commit(folder: Path, *words: str) -> None:
    plain_git(folder, *words)
    plain_git(folder, "commit", "-qam", "by hand")


def _ink_as_ole(folder: Path, address: str, value: str) -> None:
    document = opened(folder, "ole").document(SEAT_ID)
    document.pencil.set(address, value)
    document.ink("theirs")


THERE: dict[str, Callable[[Path], object]] = {
    "nothing": lambda f: None,
    "rename": lambda f: opened(f, "ole").document(SEAT_ID).rename("seat-no2", "x"),
    "rename twice": lambda f: [opened(f, "ole").document(SEAT_ID).rename(n,
    "x") for n in ("seat-no2", "seat-no3")],
    "rename, and another takes the name": lambda f: [
        opened(f, "ole").document(SEAT_ID).rename("seat-no2", "x"),
        opened(f, "ole").document("bush-op20").rename(SEAT, "x"),
    ],
    "retire": lambda f: opened(f, "ole").document(SEAT_ID).retire("x"),
    "ink the same value": lambda f: _ink_as_ole(f, ADDRESS, THEIRS),
    "ink another value": lambda f: _ink_as_ole(f, "lot.quantity", "55"),
    "ink the coupled group": lambda f: _ink_as_ole(f, "jaws.bite", "8.5"),
    "restore": lambda f: opened(f, "ole").document(SEAT_ID).restore("ink-1", "", "x"),
    "pencil": lambda f: opened(f, "ole").document(SEAT_ID).pencil.set(ADDRESS, THEIRS),
    "copy": lambda f: opened(f, "ole").document(SEAT_ID).copy("seat-copy", "x"),
    "run": lambda f: opened(f, "ole").document(SEAT_ID).runs.start(5),
    "sync": lambda f: opened(f, "ole").sync(),
    "hand edit": lambda f: edit(f, PATH, "quantity = 110", "quantity = 111"),
    "hand edit of the same": lambda f: edit(f, PATH, "reach = 601.000", f"reach = {THEIRS}"),
    "hand commit": lambda f: (edit(f, PATH, "quantity = 110", "quantity = 111"), _hand_commit(f,
    "status")),
    "git mv": lambda f: _hand_commit(f, "mv", PATH, "records/moved.toml"),
    "git rm": lambda f: _hand_commit(f, "rm", "-q", PATH),
    "left out of people": lambda f: (edit(f, "people.toml", '"mira"]', '"nobody"]'),
    _hand_commit(f, "status")),
}  # fmt: skip


def _set(document: DocumentHandle, notes: Notes) -> None:
    document.pencil.set(ADDRESS, VALUE)
    notes.add("pencilled", value=VALUE)


def _ink(document: DocumentHandle, notes: Notes) -> None:
    _set(document, notes)
    notes.add("inked", commit=document.ink("mine").commit, value=VALUE)


def _ink_older(document: DocumentHandle, notes: Notes) -> None:
    notes.add("inked", commit=document.ink("mine").commit)


HERE: dict[
    str, tuple[bool, Callable[[DocumentHandle, Notes], object]]
] = {  # with pencil before, the act
    "set": (False, _set),
    "set and ink": (False, _ink),
    "ink older pencil": (True, _ink_older),
    "set another, ink": (True, _ink),
    "undo": (True, lambda d, n: d.pencil.undo()),
    "rub out": (True, lambda d, n: d.pencil.rub_out()),
    "keep, ink": (
        True,
        lambda d, n: (d.pencil.keep(), n.add("inked", commit=d.ink("mine").commit)),
    ),
    "look": (True, lambda d, n: (d.layout(), d.drafts(), d.values())),
    "past": (False, lambda d, n: (d.past.trace(ADDRESS), d.past.marks(), d.past.show("ink-1"))),
    "run": (False, lambda d, n: n.add("inked", commit=d.runs.start(3).commit)),
    "sign off": (False, lambda d, n: n.add("inked", commit=d.sign_off("x").commit)),
    "rename": (False, lambda d, n: n.add("inked", commit=d.rename("seat-mine", "x").commit)),
    "restore": (False, lambda d, n: n.add("inked", commit=d.restore("ink-1", "", "x").commit)),
    "take from disk": (False, lambda d, n: d.on_disk.take() if d.on_disk.found() else None),
    "put back": (False, lambda d, n: d.on_disk.put_back() if d.on_disk.found() else None),
}
HOLDS = ("nothing", "rename", "rename twice", "rename, and another takes the name",
"ink another value", "pencil",
         "copy", "run", "sync")  # after these, my edit and ink simply work  # fmt: skip


def run(wanted: Wanted) -> Outcome:
    """As many pairs as wanted."""
    outcome, boxes = Outcome(), Boxes(wanted.place)
    pairs = list(product(THERE, HERE))
    outcome.counts["pairs there are"] = len(pairs)
    dice = wanted.dice()
    dice.shuffle(pairs)
    for there, here in wanted.some(pairs, kind=lambda pair: pair[0]):
        box, notes = boxes.fresh("sync")
        case = f"{there} there, {here} here"
        outcome.cases += 1
        ended = children.run(partial(_both, box / "book", there, here, notes), notes)
        if ended.status == children.FELL_OVER:
            note = notes.all("fell over")[-1]
            outcome.complain(Kind.TRACEBACK, case, note["text"] + note["at"][-160:])
        outcome.counts["done" if not ended.status else "refused"] += 1
        if (
            ended.status
            and there in HOLDS
            and here in ("set", "set and ink", "past", "look", "run")
            and (there, here) != ("run", "run")  # one is open: rightly refused
        ):
            outcome.complain(Kind.WRONG, case, f"refused: {notes.all()[-1]}")
        with outcome.looking(case, Kind.LOST):
            _kept(box / "book", here, notes)
        boxes.done_with(box)
    return outcome


def _both(folder: Path, there: str, here: str, notes: Notes) -> None:
    """In a child: open it here, let it happen there (another book, another person), go on here."""
    before, act = HERE[here]
    book = opened(folder)
    document = book.document(SEAT)
    document.layout()
    if before:
        document.pencil.set("positions.seat.lift", "149.500")
    try:
        THERE[there](folder)
    except WitnessmarkError as error:
        raise RuntimeError(f"there: {error}") from error
    act(document, notes)


def _kept(folder: Path, here: str, notes: Notes) -> None:
    past = plain_git(folder, "rev-list", "HEAD").split()
    for note in notes.all("inked"):
        assert note["commit"] in past, "confirmed, and not in the history"
        if "value" in note:
            text = plain_git(
                folder,
                "grep",
                "-h",
                f"reach = {note['value']}",
                note["commit"],
                "--",
                "records",
                fails=True,
            )
            assert text, f"{note['value']} is not in its commit"
    values = [note["value"] for note in notes.all("pencilled")]
    if values and not notes.all("inked") and here != "rub out":
        files = list((folder / ".git/witnessmark/pencil/mira").glob("*.jsonl"))
        assert any(values[-1] in file.read_text() for file in files), "accepted, and in no journal"
