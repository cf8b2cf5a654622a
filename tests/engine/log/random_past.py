"""Random histories made by plain git, and an oracle that compares tree with tree.

Nothing of the program is used here: commits come from `git fast-import`, values from
`tomllib`. A row is (commit, document, address, old, new); values are Decimal where they
are numbers, `nan` as text; a commit that leaves a text which is no TOML has a row without
address and values. Records stand in format 1 or 2, which calls `jaws.place` `jaws.kept_at`; values
have their addresses of format 2.
"""

from __future__ import annotations

import random
import re
import subprocess
import tomllib
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.mini_book import plain_git

Tree = dict[str, bytes]
Row = tuple[str, str, str, Any, Any]
_ID = re.compile(r'^id *= *"(wm-[0-9a-z]{6,12})"', re.MULTILINE)
TEXTS = ("jaws.id", "notes.text", "jaws.kept_at", "fingers.blank.kept_at")
ODD = ["nan", "-inf", "1e30", "1e99999999", "7" * 30, "07:15:00", "2026-03-02", "true",
       '"lift"', "[2, nan, 07:15:00]", "{ a = nan }"]  # fmt: skip
_NAMES = [f"records/{name}.toml" for name in ("a", "b", "c", "d-2", "d")]


def record(identity: str, values: dict[str, str], style: int = 0, number: int = 2) -> bytes:
    """A record's text in a format: canonical, or as a hand would write it."""
    head = (
        f"format = {number}\n\n" + '[record]\nid = "{}"\npart = "P"\ncell = "mill"\nunits = "mm"\n'
    )
    text = head.format(identity)
    tables: dict[str, list[str]] = {}
    for address, spelt in values.items():
        table, _, key = address.rpartition(".")
        key = "place" if key == "kept_at" and number == 1 else key
        tables.setdefault(table, []).append(f"{key} = {spelt}\n")
    names = sorted(tables, reverse=style == 2)
    for name in names:
        text += f"\n[{name}]\n" + "".join(tables[name])
    if style == 1:
        text = text.replace("\n[record]", "\n# by hand\n[record]").replace(" = ", "  =  ")
    if style == 3:
        text += "\n[positions.seat\n"  # no TOML any more
    if style == 4:
        text = text.replace("\n", "\r\n")
    return text.encode()


class Line:
    """One line of history: its newest commit and what stands there."""

    def __init__(self, mark: int, tree: Tree, records: dict[str, tuple[str, dict[str, str]]]):
        self.mark = mark
        self.tree = dict(tree)
        self.records = {path: (i, dict(values)) for path, (i, values) in records.items()}


class RandomPast:
    """Writes a random history into a folder; `heads` are ends of the main line, oldest first."""

    def __init__(self, folder: Path, seed: int, commits: int) -> None:
        self.folder = folder
        self.dice = random.Random(seed)
        self.stream = b""
        self.mark = 0
        self.ids = 0
        self.gone: list[tuple[str, dict[str, str]]] = []
        self.main_marks: list[int] = []
        folder.mkdir()
        plain_git(folder, "init", "-q", "-b", "main")
        self._make(commits)
        marks = folder / "marks"
        subprocess.run(["git", "fast-import", "--quiet", f"--export-marks={marks}"], cwd=folder,
                       input=self.stream, check=True)  # fmt: skip
        known = dict(line.split() for line in marks.read_text().splitlines())
        self.heads = [known[f":{mark}"] for mark in self.main_marks]
        marks.unlink()

    def _make(self, commits: int) -> None:
        main = Line(0, {"book.toml": b"format = 1\n", "cells/c.toml": b"n = 1\n"}, {})
        self._new_record(main)
        lines = [main]
        self._commit(lines[0], [])
        while self.mark < commits:
            line = self.dice.choice(lines)
            chance = self.dice.random()
            if chance < 0.12 and len(lines) < 4:
                lines.append(Line(line.mark, line.tree, line.records))
            elif chance < 0.3 and len(lines) > 1:
                other = lines.pop(self.dice.randrange(1, len(lines)))
                into = self.dice.choice(lines)
                self._merge(into, other)
            else:
                self._act(line)
                self._commit(line, [line.mark])
            if line is lines[0]:
                self.main_marks.append(line.mark)
        for other in lines[1:]:
            self._merge(lines[0], other)
        self.main_marks.append(lines[0].mark)
        self.stream += f"reset refs/heads/main\nfrom :{lines[0].mark}\n\n".encode()

    def _commit(self, line: Line, parents: list[int]) -> None:
        self.mark += 1
        line.mark = self.mark
        who = self.dice.choice(["Mira <mira@witnessmark>", "By Hand <hand@shop>"])
        stamp = f"{who} {1_700_000_000 + self.mark * 1000} +0100"
        reason = self.dice.choice(["Kind: ink\nPerson: mira\nReason: worn\n", "no trailers\n"])
        message = f"saved {self.mark}\n\n{reason}".encode()
        text = f"commit refs/heads/x\nmark :{self.mark}\nauthor {stamp}\ncommitter {stamp}\n"
        self.stream += text.encode() + b"data %d\n" % len(message) + message
        for word, parent in zip(("from", *["merge"] * 5), parents, strict=False):
            self.stream += f"{word} :{parent}\n".encode()
        self.stream += b"deleteall\n"
        for path, data in line.tree.items():
            self.stream += f"M 100644 inline {path}\n".encode() + b"data %d\n" % len(data) + data
        self.stream += b"\n"

    def _new_record(self, line: Line, path: str = "") -> None:
        self.ids += 1
        path = path or self.dice.choice(_NAMES)
        values = {"positions.seat.reach": "612.350", "positions.seat.lift": "148.9",
                  "jaws.bite": "7.5", "jaws.id": '"C-1"', "lot.stages": "[8, 30]",
                  "jaws.kept_at": '"rack 1"', "fingers.blank.kept_at": '"rack 2"'}  # fmt: skip
        self._put(line, path, f"wm-test{self.ids:02d}", values)

    def _put(
        self, line: Line, path: str, identity: str, values: dict[str, str], style: int = 0
    ) -> None:
        line.records[path] = (identity, values)
        line.tree[path] = record(identity, values, style, self.dice.choice([1, 1, 2]))

    def _act(self, line: Line) -> None:
        acts: list[Callable[[Line], None]] = [
            *[self._edit] * 8, self._new_record, self._rename, self._delete, self._again,
            self._break, self._cell, self._swap, self._twice,
        ]  # fmt: skip
        self.dice.choice(acts)(line)

    def _some(self, line: Line) -> str:
        return self.dice.choice(sorted(line.records)) if line.records else ""

    def _edit(self, line: Line) -> None:
        path = self._some(line)
        if not path:
            return
        identity, values = line.records[path]
        values = dict(values)
        for _ in range(self.dice.randint(1, 2)):
            address = self.dice.choice([*values, "positions.park.lift", "notes.text"])
            number = self.dice.choice(["1.5", "1.50", "2", "2.0", "-3.25", "0.0", "612.350"])
            texts = ['"x"', '"a\\nb"', '"\\\\ \\"q\\""']
            if self.dice.random() < 0.15:
                values.pop(address, None)
            elif address in TEXTS:
                values[address] = self.dice.choice(texts)
            elif address == "lot.stages":
                values[address] = self.dice.choice(
                    ["[8, 30]", "[8.0, 30]", "[\n    5,\n    9.5,\n]"]
                )
            else:
                values[address] = number if self.dice.random() < 0.85 else self.dice.choice(ODD)
        self._put(line, path, identity, values, self.dice.choice([0, 0, 0, 0, 1, 2, 4]))

    def _rename(self, line: Line) -> None:
        old, new = self._some(line), self.dice.choice(_NAMES)
        if old and new not in line.records:
            line.tree[new] = line.tree.pop(old)
            line.records[new] = line.records.pop(old)
            if self.dice.random() < 0.4:
                self._edit(line)

    def _swap(self, line: Line) -> None:
        """Two records exchange their names."""
        one, other = self._some(line), self._some(line)
        if one != other:
            for kept in (line.tree, line.records):
                kept[one], kept[other] = kept[other], kept[one]  # type: ignore[index]

    def _delete(self, line: Line) -> None:
        path = self._some(line)
        if path:
            self.gone.append(line.records.pop(path))
            del line.tree[path]

    def _again(self, line: Line) -> None:
        """A record that was deleted comes back, perhaps under another's old name."""
        path = self.dice.choice(_NAMES)
        if self.gone and path not in line.records:
            identity, values = self.dice.choice(self.gone)
            self._put(line, path, identity, values)

    def _twice(self, line: Line) -> None:
        """A file is copied by hand with its identity."""
        old, new = self._some(line), self.dice.choice(_NAMES)
        if old and new not in line.records and self.dice.random() < 0.5:
            identity, values = line.records[old]
            self._put(line, new, identity, dict(values))

    def _break(self, line: Line) -> None:
        path = self._some(line)
        if path:
            identity, values = line.records[path]
            self._put(line, path, identity, values, 3)

    def _cell(self, line: Line) -> None:
        line.tree["cells/c.toml"] = self.dice.choice(
            [b"n = 1\n", b"n = 2\nm = [1, 2]\n", b"n = [\n"]
        )

    def _merge(self, into: Line, other: Line) -> None:
        """Join, decide value by value, discard one side, or something new."""
        how = self.dice.choice(["ours", "theirs", "join", "values", "new"])
        if how == "theirs":
            into.tree, into.records = dict(other.tree), dict(other.records)
        elif how in ("join", "values"):
            for path in [*other.records]:
                if how == "values" and path in into.records:
                    identity, values = into.records[path]
                    theirs = other.records[path][1]
                    mixed = {a: self.dice.choice([v, theirs.get(a, v)]) for a, v in values.items()}
                    self._put(into, path, identity, mixed)
                elif self.dice.random() < 0.6:
                    into.tree[path], into.records[path] = other.tree[path], other.records[path]
        elif how == "new":
            self._act(into)
        self._commit(into, [into.mark, other.mark])


# the oracle


def flat(tree: dict[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from flat(value, f"{prefix}{key}.")
        else:
            yield prefix + key, _decimals(value)


def _decimals(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(map(_decimals, value))
    if isinstance(value, Decimal) and value.is_nan():
        return "nan"  # what is no number is not equal to itself
    return Decimal(value) if type(value) is int else value


def _read(data: bytes) -> dict[str, Any] | None:
    try:
        text = data.decode().replace("\r\n", "\n")
        values = dict(flat(tomllib.loads(text, parse_float=Decimal)))
    except tomllib.TOMLDecodeError:
        return None
    if "record.id" not in values:
        return values
    ends = {"jaws.place": "jaws.kept_at", "fingers.blank.place": "fingers.blank.kept_at"}
    return {ends.get(address, address): v for address, v in values.items()} | {"format": Decimal(2)}


def _key(path: str, data: bytes) -> str:
    if not path.startswith("records/"):
        return path.removesuffix(".toml")
    values = _read(data)
    if values is None:
        found = _ID.search(data.decode().partition("[record]")[2].replace("\r\n", "\n"))
        return found[1] if found else path.removesuffix(".toml")
    return str(values["record.id"])


def oracle(folder: Path, head: str) -> set[Row]:
    """Every change of a value up to a head, found by comparing trees with plain git."""
    order = plain_git(folder, "rev-list", "--topo-order", "--reverse", "--parents", head)
    states: dict[str, dict[str, dict[str, Any]]] = {}
    pasts: dict[str, set[str]] = {}
    broken: dict[str, dict[str, bytes]] = {}
    rows: set[Row] = set()
    lives: dict[tuple[str, str], list[tuple[str, Any]]] = {}  # commit and value, oldest first
    for line in order.splitlines():
        commit, *parents = line.split()
        before = [states[parent] for parent in parents] or [{}]
        now = states[commit] = _state(folder, commit, before[0])
        pasts[commit] = {commit}.union(*(pasts[parent] for parent in parents))
        broken[commit] = _broken(folder, commit)
        for key, data in broken[commit].items():
            if all(broken[parent].get(key) != data for parent in parents):
                rows.add((commit, key, "", None, None))
        for key in {key for state in (now, *before) for key in state}:
            new, olds = now.get(key, {}), [state.get(key, {}) for state in before]
            for address in {a for values in (new, *olds) for a in values}:
                value, life = new.get(address), lives.setdefault((key, address), [])
                old = [old.get(address) for old in olds]
                if all(other != value for other in old):
                    was = old[0]
                elif any(other != value for other in _standing(life, pasts, commit)):
                    was = old[_overruled(life, pasts, parents, old, value)]
                else:
                    continue
                life.append((commit, value))
                rows.add((commit, key, address, was, value))
    return rows


def _standing(life: list[tuple[str, Any]], pasts: dict[str, set[str]], commit: str) -> list[Any]:
    """What the changes in the past of a commit say that no other one of them stands on."""
    own = [change for change in life if change[0] in pasts[commit]]
    return [
        value
        for made, value in own
        if not any(made != later and made in pasts[later] for later, _ in own)
    ]


def _overruled(
    life: list[tuple[str, Any]], pasts: dict[str, set[str]], parents: list[str], old: list[Any],
    value: Any,
) -> int:  # fmt: skip
    """The first parent with another value that knows a change which no other parent knows."""
    known = [{made for made, _ in life if made in pasts[parent]} for parent in parents]
    return next(
        n for n, mine in enumerate(known)
        if old[n] != value and not any(mine < other for other in known)
    )  # fmt: skip


def stands(folder: Path, head: str) -> dict[str, dict[str, Any]]:
    """What each document of a head says, by address, where it is TOML."""
    found: dict[str, dict[str, Any] | None] = {}
    for path in plain_git(folder, "ls-tree", "-r", "--name-only", head).splitlines():
        data = plain_git(folder, "cat-file", "blob", f"{head}:{path}").encode()
        found.setdefault(_key(path, data), _read(data))
    return {key: values for key, values in found.items() if values is not None}


def _broken(folder: Path, commit: str) -> dict[str, bytes]:
    """The texts of a commit that are no TOML."""
    found: dict[str, bytes] = {}
    for path in plain_git(folder, "ls-tree", "-r", "--name-only", commit).splitlines():
        data = plain_git(folder, "cat-file", "blob", f"{commit}:{path}").encode()
        found.setdefault(_key(path, data), data)
    return {key: data for key, data in found.items() if _read(data) is None}


def _state(
    folder: Path, commit: str, first: dict[str, dict[str, Any]]
) -> dict[str, dict[str, Any]]:
    """What each document says at a commit; where it is no TOML, what its first parent said."""
    state: dict[str, dict[str, Any]] = {}
    for path in plain_git(folder, "ls-tree", "-r", "--name-only", commit).splitlines():
        data = plain_git(folder, "cat-file", "blob", f"{commit}:{path}").encode()
        key = _key(path, data)
        if key not in state:
            values = _read(data)
            state[key] = first.get(key, {}) if values is None else values
    return state
