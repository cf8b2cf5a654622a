"""One fault for each rule: what is broken, and where the finding must point.

A rule that has no fault here has no test: `test_rules_table.py` says so.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from engine.repo.commit_object import EMAIL_HOST, Signature
from engine.repo.git import Git
from engine.repo.message import compose
from schemas.errors import Refused
from schemas.toml import write_toml
from tests.shop_floor import plain_git

from .conftest import ONE, PROGRAM, TWO, Mini, picture, sha

FILE_ONE = f"records/{ONE}.toml"


@dataclass(frozen=True)
class Fault:
    """How to break a book, and the finding that follows."""

    break_it: Callable[[Mini], Any]
    address: str
    record: str = ONE
    file: str = FILE_ONE
    only: bool = True  # no other rule has anything to say about it


FAULTS: dict[str, Fault] = {}


def fault(
    rule: str, address: str, record: str = ONE, file: str = FILE_ONE, *, only: bool = True
) -> Callable[[Callable[[Mini], Any]], Callable[[Mini], Any]]:
    def keep(break_it: Callable[[Mini], Any]) -> Callable[[Mini], Any]:
        FAULTS[rule] = Fault(break_it, address, record, file, only)
        return break_it

    return keep


def saved_by(mini: Mini, person: str, login: str, kind: str = "ink") -> str:
    """A save as the program makes it that says a person and a login; its commit."""
    git, name = Git(mini.folder), mini.people[person]["name"]
    head, when = git.head(), mini.clock()
    who = Signature(name, f"{person}@{EMAIL_HOST}", when)
    said = {"Kind": kind, "Person": person, "Login": login}
    made = git.commit(head, {}, compose("saved", [], said), who)
    assert git.move(git.branch(), made, head)
    git.close()
    return made


# programs


@fault("no-program", "program.file", only=False)
def no_program(mini: Mini) -> None:
    mini.one["program"] = {}


@fault("program-missing", "program.file")
def program_missing(mini: Mini) -> None:
    assert mini.book
    (mini.folder / "programs/cup_1.nc").unlink()


@fault("program-outside", "program.file", only=False)
def program_outside(mini: Mini) -> None:
    mini.one["program"]["file"] = "records/cup_1.nc"


@fault("program-unreadable", "program.file")
def program_unreadable(mini: Mini) -> None:
    assert mini.book
    path = mini.folder / "programs/cup_1.nc"
    path.unlink()
    path.symlink_to("cup_2.nc")


@fault("program-changed", "program.sha256")
def program_changed(mini: Mini) -> None:
    assert mini.book
    mini.write("programs/cup_1.nc", PROGRAM + b"\n")


@fault("program-not-proved", "program.sha256")
def program_not_proved(mini: Mini) -> None:
    del mini.one["program"]["sha256"]


def set_program(mini: Mini, text: bytes) -> None:
    mini.files["programs/cup_1.nc"] = text
    mini.one["program"]["sha256"] = sha(text)


@fault("program-end", "program.file")
def program_end(mini: Mini) -> None:
    set_program(mini, PROGRAM.replace(b"M30", b"M2"))


@fault("program-text", "program.file")
def program_text(mini: Mini) -> None:
    set_program(mini, PROGRAM.replace(b"M30\n%", b"M30"))


@fault("program-spindle", "program.spindle_top")
def program_spindle(mini: Mini) -> None:
    mini.one["program"]["spindle_top"] = 1199


# photos


@fault("no-photo", "photos", only=False)
def no_photo(mini: Mini) -> None:
    mini.one["photos"] = {}


@fault("photo-missing", "photos.jaws.file")
def photo_missing(mini: Mini) -> None:
    assert mini.book
    (mini.folder / "photos/jaws_1.jpg").unlink()


@fault("photo-outside", "photos.jaws.file", only=False)
def photo_outside(mini: Mini) -> None:
    mini.one["photos"]["jaws"]["file"] = "../jaws_1.jpg"


@fault("photo-unreadable", "photos.jaws.file")
def photo_unreadable(mini: Mini) -> None:
    cut = picture(50, (320, 240))[:-400]
    mini.files["photos/jaws_1.jpg"] = cut
    mini.one["photos"]["jaws"]["sha256"] = sha(cut)


@fault("photo-changed", "photos.jaws.sha256")
def photo_changed(mini: Mini) -> None:
    assert mini.book
    mini.write("photos/jaws_1.jpg", picture(200))


@fault("photo-of-nothing", "photos.jaws.shows")
def photo_of_nothing(mini: Mini) -> None:
    mini.one["photos"]["jaws"]["shows"] = "fingers.blank"


@fault("photo-older", "photos.jaws.file")
def photo_older(mini: Mini) -> None:
    mini.one["photos"]["jaws"]["shows"] = "jaws"
    mini.book.document(ONE).pencil.set("jaws.bite", "8.0")
    mini.book.document(ONE).ink("bored anew")


# files


@fault("file-not-inked", "photos.jaws.file")
def file_not_inked(mini: Mini) -> None:
    del mini.one["photos"]["jaws"]["sha256"]
    assert mini.book
    mini.write("photos/jaws_1.jpg", picture(200))


@fault("root-outside", "roots.programs", "book", "book.toml")
def root_outside(mini: Mini) -> None:
    mini.trees["book.toml"]["roots"] = {"programs": ["programs", "../nc"]}


@fault("open-to-all", "", "book", ".git/objects")
def open_to_all(mini: Mini) -> None:
    assert mini.book
    (mini.folder / ".git/objects").chmod(0o777)


@fault("file-unlinked", "roots.programs", "book", "programs/old.nc")
def file_unlinked(mini: Mini) -> None:
    assert mini.book
    mini.write("programs/old.nc", PROGRAM)


# values


@fault("unknown-cell", "record.cell")
def unknown_cell(mini: Mini) -> None:
    mini.one["record"]["cell"] = "south"


@fault("unknown-station", "approach.chute")
def unknown_station(mini: Mini) -> None:
    mini.one["approach"]["chute"] = {"length": 5}


@fault("unknown-axis", "positions.seat.wrist")
def unknown_axis(mini: Mini) -> None:
    mini.one["positions"]["seat"]["wrist"] = 90


@fault("position-missing", "positions.seat")
def position_missing(mini: Mini) -> None:
    del mini.one["positions"]["seat"]


@fault("axis-missing", "positions.seat.lift")
def axis_missing(mini: Mini) -> None:
    del mini.one["positions"]["seat"]["lift"]


@fault("outside-travel", "positions.seat.lift")
def outside_travel(mini: Mini) -> None:
    mini.one["positions"]["seat"]["lift"] = Decimal("500.001")


@fault("stages", "lot.stages")
def stages(mini: Mini) -> None:
    mini.one["lot"]["stages"] = [12, 12, 100]


@fault("other-positions", "positions.seat", only=False)
def other_positions(mini: Mini) -> None:
    mini.one["program"]["file"] = "programs/cup_2.nc"


# cells


@fault("leg-unknown", "legs.out.moves", "cells/north", "cells/north.toml")
def leg_unknown(mini: Mini) -> None:
    mini.cell["legs"]["out"]["moves"] = ["lift", "reach+wrist"]


@fault("round-unknown", "cell.round", "cells/north", "cells/north.toml")
def round_unknown(mini: Mini) -> None:
    mini.cell["cell"]["round"].append("chute")


@fault("gripper-unknown", "stations.seat.gripper", "cells/north", "cells/north.toml")
def gripper_unknown(mini: Mini) -> None:
    mini.cell["stations"]["seat"]["gripper"] = "two"


@fault("axis-unknown", "bed.up_axis", "cells/north", "cells/north.toml")
def axis_unknown(mini: Mini) -> None:
    mini.cell["bed"]["up_axis"] = "hoist"


@fault("travel-reversed", "axes.lift.least", "cells/north", "cells/north.toml", only=False)
def travel_reversed(mini: Mini) -> None:
    mini.cell["axes"]["lift"].update(least=500, most=0)


@fault("code-unreadable", "cell.codes", "cells/north", "cells/north.toml")
def code_unreadable(mini: Mini) -> None:
    mini.cell["cell"]["codes"] = ["M371", "door"]


@fault("ends-unclear", "cell.ends_attended", "cells/north", "cells/north.toml")
def ends_unclear(mini: Mini) -> None:
    mini.cell["cell"]["ends_attended"] = ["M2", "m030"]


# people and pencil


@fault("same-name", "people.bo.name", "people", "people.toml")
def same_name(mini: Mini) -> None:
    mini.people["bo"]["name"] = "ana  lind"


@fault("shared-login", "people.bo.logins", "people", "people.toml")
def shared_login(mini: Mini) -> None:
    for person in mini.people.values():
        person["logins"].append("floor")


@fault("save-under-other-login", "people.bo.logins", "people", "people.toml")
def save_under_other_login(mini: Mini) -> None:
    assert mini.book
    saved_by(mini, "bo", "alin")


@fault("save-without-right", "people.bo.logins", "people", "people.toml")
def save_without_right(mini: Mini) -> None:
    mini.people["bo"]["left_on"] = date(2026, 3, 1)
    assert mini.book
    saved_by(mini, "bo", "bfer")


@fault("no-role", "people.bo.roles", "people", "people.toml")
def no_role(mini: Mini) -> None:
    mini.people["bo"]["roles"] = []


@fault("no-lead", "people", "people", "people.toml")
def no_lead(mini: Mini) -> None:
    mini.people["ana"]["left_on"] = date(2026, 3, 2)
    assert mini.book
    mini.go(days=1)


@fault("pencil-left-behind", "jaws.bite")
def pencil_left_behind(mini: Mini) -> None:
    mini.people["bo"]["left_on"] = date(2026, 3, 2)
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=1)


@fault("stale-pencil", "jaws.bite")
def stale_pencil(mini: Mini) -> None:
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=3, seconds=1)


@fault("contested-pencil", "jaws.bite")
def contested_pencil(mini: Mini) -> None:
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.book.document(ONE).pencil.set("jaws.bite", "9.0")
    mini.book.document(ONE).ink("bored anew")


# documents


@fault("unreadable", "positions.seat.lift", only=False)
def unreadable(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "lift = 89.000", 'lift = "89"')


@fault("found-on-disk", "jaws.bite")
def found_on_disk(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "bite = 7.5", "bite = 8.0")


@fault("position-on-disk", "positions.seat.lift")
def position_on_disk(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "lift = 89.000", "lift = 89.500")


@fault("gone-from-disk", "")
def gone_from_disk(mini: Mini) -> None:
    assert mini.book
    (mini.folder / FILE_ONE).unlink()


@fault("never-inked", "", "cup-op30", "records/cup-op30.toml")
def never_inked(mini: Mini) -> None:
    assert mini.book
    tree = {**mini.one, "record": {**mini.one["record"], "id": "wm-bbbbb1"}}
    mini.write("records/cup-op30.toml", write_toml(tree))


@fault("duplicate-id", "record.id", only=False)
def duplicate_id(mini: Mini) -> None:
    assert mini.book
    shutil.copy(mini.folder / FILE_ONE, mini.folder / "records/cup-op11.toml")


# history


@fault("position-by-hand", "positions.seat.lift")
def position_by_hand(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "lift = 89.000", "lift = 89.500")
    mini.by_hand()


@fault("stamps-run-backwards", "", "book", "book.toml")
def stamps_run_backwards(mini: Mini) -> None:
    assert mini.book
    mini.go(days=3)
    mini.book.document(TWO).pencil.set("notes.text", "as always")
    mini.book.document(TWO).ink("words")
    mini.go(days=-2)
    mini.book.document(TWO).pencil.set("notes.text", "as ever")
    mini.book.document(TWO).ink("words")
    mini.go(days=2)


@fault("stamp-in-the-future", "", "book", "book.toml")
def stamp_in_the_future(mini: Mini) -> None:
    assert mini.book
    mini.go(days=3)
    mini.book.document(TWO).pencil.set("notes.text", "as always")
    mini.book.document(TWO).ink("words")
    mini.go(days=-3)


@fault("past-rewritten", "", "book", "book.toml", only=False)
def past_rewritten(mini: Mini) -> None:
    assert mini.book
    plain_git(mini.folder, "commit", "-q", "--amend", "--allow-empty", "-m", "as if nothing was")
    mini.book.refresh()


@fault("meeting-point-rewritten", "", "book", "book.toml")
def meeting_point_rewritten(mini: Mini) -> None:
    assert mini.book
    hub = mini.folder.parent / "hub.git"
    plain_git(mini.folder.parent, "clone", "-q", "--bare", str(mini.folder), str(hub))
    mini.book.sync(str(hub))
    plain_git(hub, "update-ref", "-d", "refs/heads/main")
    with suppress(Refused):
        mini.book.sync()


@fault("taken-out-and-changed", "notes.text", only=False)
def taken_out_and_changed(mini: Mini) -> None:
    assert mini.book
    mini.book.document(ONE).pencil.set("notes.text", "look twice")
    mini.book.document(ONE).ink("first")
    base = plain_git(mini.folder, "rev-parse", "HEAD").strip()
    mini.book.document(ONE).pencil.set("notes.text", "look left")
    changed = mini.book.document(ONE).ink("better").commit
    plain_git(mini.folder, "switch", "-q", "-c", "other", base)
    mini.book.refresh()
    mini.book.document(ONE).pencil.clear("notes.text")
    mini.book.document(ONE).ink("not any more")
    plain_git(mini.folder, "merge", "-q", "-s", "ours", changed, "-m", "joined")
    plain_git(mini.folder, "checkout", "-q", changed, "--", FILE_ONE)
    plain_git(mini.folder, "commit", "-q", "--amend", "--no-edit")
    mini.book.refresh()


@fault("taken-out", "", TWO, f"records/{TWO}.toml", only=False)
def taken_out(mini: Mini) -> None:
    assert mini.book
    (mini.folder / f"records/{TWO}.toml").unlink()
    mini.by_hand()


@fault("run-left-open", "")
def run_left_open(mini: Mini) -> None:
    mini.book.document(ONE).runs.start(20)
    mini.go(days=8)


@fault("two-runs-open", "record.cell")
def two_runs_open(mini: Mini) -> None:
    mini.book.document(ONE).runs.start(20)
    mini.book.document(TWO).runs.start(20)


@fault("rule-failed", "")
def rule_failed(_: Mini) -> None:
    """Broken by the test itself: see `test_rules_table.py`."""
