"""Plays the demo's story into a copy of the demo book.

Starts from the demo book with some values set back to how they stood eight
weeks ago, and brings every one of them to what the demo book holds now.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any, cast

from engine.book import Book
from schemas.address import Tree, Value, grow, look_up, put, same_text, show, take_out
from schemas.document import check_tree, read_document
from schemas.errors import BookError
from tui.demo import script

DAYS = 40  # working days of the story
LOGINS = {"mirela": "mosk", "ifeoma": "itob", "jun": "jari"}


def demo_book() -> Path:
    """Where the demo book lies: beside the packages in a checkout, inside them when installed."""
    for place in (
        Path(__file__).parents[2] / "demo_jobs",
        Path(str(resources.files("tui"))) / "demo/jobs",
    ):
        if (place / "book.toml").is_file():
            return place
    raise BookError(
        "the demo book is missing from this installation",
        hint="Install again, or take demo_jobs/ from the source.",
    )


@dataclass
class Player:
    """Plays the story line by line; `said` is called with the share done.

    `visitor` is the login of whoever looks at the demo: it stands for everybody in it, so
    that each of them can be tried with --as.
    """

    folder: Path
    now: datetime
    weeks: float
    said: Callable[[float], None]
    visitor: str = ""
    moment: datetime = field(init=False)
    present: dict[str, dict[str, Value]] = field(init=False, default_factory=dict)
    books: dict[str, Book] = field(init=False, default_factory=dict)

    def play(self) -> None:
        """Copy, set back, start the book, play every line, and leave some pencil."""
        days = _working_days(self.now, self.weeks)
        story = script.lines()
        self.moment = days[0].replace(hour=5, minute=50)
        self._set_up()
        founder = Book.start(self.folder, login=LOGINS["ifeoma"], clock=self._clock)
        founder.close()
        for number, (day, at, who, act, about, details) in enumerate(story):
            hour, minute = map(int, at.split(":"))
            wanted = days[day].replace(hour=hour, minute=minute)
            # Of days that fall together in a short history, none begins before the last has ended.
            self.moment = max(wanted, self.moment + timedelta(minutes=1))
            getattr(self, "_" + act.replace("-", "_"))(self._book(who), about, details)
            self.said((number + 1) / len(story))
        for hours, who, record, values in script.LEFT_IN_PENCIL:
            self.moment = self.now - timedelta(hours=hours)
            self._book(who).document(record).pencil.set_all(values)
        for book in self.books.values():
            book.close()

    def _clock(self) -> datetime:
        return self.moment

    def _book(self, who: str) -> Book:
        if who not in self.books:
            self.books[who] = Book.open(self.folder, login=LOGINS[who], clock=self._clock)
        return self.books[who]

    # before the story

    def _set_up(self) -> None:
        source = demo_book()
        for name in ("programs", "photos", "cells"):
            shutil.copytree(source / name, self.folder / name)
        (self.folder / "records").mkdir()
        shutil.copy(source / "book.toml", self.folder)
        self._people(source)
        for path in sorted((source / "records").glob("*.toml")):
            self._record(path)
        for path in (source / "cells").glob("*.toml"):
            self.present[f"cells/{path.stem}"] = read_document(
                path.read_bytes(), f"cells/{path.name}"
            ).values
        self._slower_door()
        self._earlier_program("programs/ti_cup_1.nc", "S900", "S1000")

    def _people(self, source: Path) -> None:
        document = read_document((source / "people.toml").read_bytes(), "people.toml")
        tree = grow(document.values)
        put(tree, "people.jun.roles", ["setter"])
        for who in LOGINS if self.visitor else ():
            address = f"people.{who}.logins"
            put(tree, address, list(dict.fromkeys([*look_up(tree, address), self.visitor])))
        (self.folder / "people.toml").write_bytes(check_tree(tree, "people.toml").bytes)

    def _slower_door(self) -> None:
        path = self.folder / "cells/west-mill.toml"
        document = read_document(path.read_bytes(), "cells/west-mill.toml")
        tree = grow(document.values)
        put(tree, "times.door", Decimal("3.4"))
        path.write_bytes(check_tree(tree, "cells/west-mill.toml").bytes)

    def _earlier_program(self, path: str, now: str, then: str) -> None:
        file = self.folder / path
        file.write_bytes(file.read_bytes().replace(now.encode(), then.encode()))

    def _record(self, path: Path) -> None:
        document = read_document(path.read_bytes(), f"records/{path.name}")
        self.present[path.stem] = document.values
        if path.stem in script.NOT_YET:
            return
        name = script.EARLIER_NAMES.get(path.stem, path.stem)
        tree = grow(document.values)
        for address, text in script.EARLIER.get(name, {}).items():
            _set_back(tree, address, text)
        earlier = check_tree(tree, f"records/{name}.toml")
        (self.folder / earlier.path).write_bytes(earlier.bytes)

    # acts of the story

    def _values(self, record: str, values: dict[str, str]) -> dict[str, str]:
        """Typed values; `present` is what the demo book holds."""
        there = self.present.get(record, {})
        return {
            address: show(there[address]) if text == "present" else text
            for address, text in values.items()
        }

    def _set(self, book: Book, record: str, details: dict[str, Any]) -> None:
        values = dict(details["values"])
        if "everything" in values:
            crept = values.pop("everything")
            self._everything(book, record, crept)
        else:
            book.document(record).pencil.set_all(self._values(record, values))
        book.document(record).ink(details["reason"])

    def _everything(self, book: Book, record: str, crept: str) -> None:
        """Fill a fresh copy with all that the demo book says of it."""
        document = book.document(record)
        inked, wanted = document.values(), dict(self.present[record])
        for place, text in {**script.FIRST_TAUGHT, script.CREPT: crept}.items():
            wanted[place] = Decimal(text)
        for address in [a for a in inked if a not in wanted]:
            if not address.startswith("record."):
                document.pencil.clear(address)
        fresh = {
            a: show(v)
            for a, v in wanted.items()
            if not same_text(inked.get(a), v) and not a.startswith("record.id")
        }
        document.pencil.set_all(fresh)

    def _program(self, book: Book, record: str, details: dict[str, Any]) -> None:
        document = book.document(record)
        path = str(document.values()["program.file"])
        self._earlier_program(path, details["old"], details["new"])
        if details["values"]:
            document.pencil.set_all(self._values(record, details["values"]))
        document.ink(details["reason"])

    def _copy(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).copy(details["name"], "same blank, other side")

    def _rename(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).rename(details["name"], "drawing has its name")

    def _event(self, book: Book, cell: str, details: dict[str, Any]) -> None:
        book.event(cell, details["kind"], details["reason"])

    def _sign_off(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).sign_off(details["note"])

    def _start(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).runs.start(details["quantity"])

    def _confirm(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).runs.confirm(**details)

    def _stage(self, book: Book, record: str, details: dict[str, Any]) -> None:
        document = book.document(record)
        stages = cast("list[int | Decimal]", document.values()["lot.stages"])
        document.runs.stage(Decimal(stages[details["number"]]))

    def _piece(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).runs.piece(details["piece"])

    def _refill(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).runs.refill(**details)

    def _stop(self, book: Book, record: str, details: dict[str, Any]) -> None:
        book.document(record).runs.stop(details["good"], details["scrap"], details["note"])


def _set_back(tree: Tree, address: str, text: str) -> None:
    """An earlier value: as written, or the present one plus a signed difference."""
    if text == "":
        take_out(tree, address)
    elif text[0] in "+-":
        put(tree, address, look_up(tree, address) + Decimal(text))
    else:
        present = look_up(tree, address)
        kind: Callable[[str], Any] = type(present) if present is not None else str
        put(tree, address, kind(text))


def _working_days(now: datetime, weeks: float) -> list[datetime]:
    """The story's days, ending yesterday or on the last working day before."""
    found: list[datetime] = []
    day = now.date()
    while len(found) < max(DAYS, int(weeks * 5)):
        day -= timedelta(days=1)
        if day.weekday() < 5:
            found.append(datetime.combine(day, time()).astimezone(now.tzinfo))
    found.reverse()
    span = max(int(weeks * 5), 1)
    chosen = found[-span:]
    return [chosen[min(n * span // DAYS, span - 1)] for n in range(DAYS)]
