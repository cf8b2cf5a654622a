"""Old formats of files: pure steps from one to the next, taken whenever a file is read.

History keeps texts as they were written; reading brings each to the present format,
so values have their present addresses whenever they were inked, and a trace goes
through a change of format as if there had been none. A step never guesses: what the
old format did not know is absent, and of a text that holds a value under both its old
and its new name nothing is moved. `record.id` and `format` keep their places for ever,
and a name that was given up is never given to anything else in that table: so an old
address is understood wherever it was written down, in a journal, a policy or a script.
Whoever adds a step raises the `format` of the model with it, and the version of the
index of values, which holds values by their present addresses.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from schemas.address import Tree, look_up, matches, put
from schemas.lines import TextLayout

Move = Callable[[str], str]  # address in one format -> address in another


def _stays(address: str) -> str:
    return address


@dataclass(frozen=True, slots=True)
class Upgrade:
    """One step. `tree` makes a new tree of the next format and leaves the old one alone.

    `moved` tells the address that an old address has in the next format, `was` the other
    way round. `names_only` says that nothing but addresses changes, each within its own
    table: then values that were read quickly need no full reading.
    """

    tree: Callable[[Tree], Tree]
    moved: Move = _stays
    was: Move = _stays
    names_only: bool = False


def upgrade(kind: str, tree: Tree, layout: TextLayout) -> tuple[Tree, TextLayout]:
    """A tree and its layout in the present format; as they are where no step applies."""
    for step in _steps(kind, tree.get("format")):
        try:
            tree = step.tree(tree)
        except (KeyError, TypeError, ValueError, AttributeError):
            return tree, layout  # no text of that format after all: the schema tells why
        lines = layout.lines
        moved = {address: step.moved(address) for address in lines}
        layout = TextLayout(
            {a if moved[a] in lines else moved[a]: line for a, line in lines.items()},
            [(line, step.moved(near), words) for line, near, words in layout.comments],
            layout.deepest,
            layout.long_word,
        )
    return tree, layout


def _steps(kind: str, start: object) -> Iterator[Upgrade]:
    while isinstance(start, int) and not isinstance(start, bool) and (kind, start) in STEPS:
        yield STEPS[kind, start]
        start += 1


def moves(kind: str, start: int) -> list[Move] | None:
    """How addresses move from a format to the present one; None where more than that changes."""
    found = []
    while (step := STEPS.get((kind, start))) is not None:
        if not step.names_only:
            return None
        found.append(step.moved)
        start += 1
    return found


def is_old(kind: str, number: object) -> bool:
    """Whether steps lead on from a format."""
    return any(True for _ in _steps(kind, number))


def present(kind: str, address: str) -> str:
    """The present address of what has, or once had, this address."""
    for _, step in sorted((start, step) for (of, start), step in STEPS.items() if of == kind):
        address = step.moved(address)
    return address


def covers(kind: str, pattern: str, address: str) -> bool:
    """Whether a pattern covers an address by the name that it has, or by one that it once had."""
    if matches(address, pattern):
        return True
    for start in sorted((start for of, start in STEPS if of == kind), reverse=True):
        address = STEPS[kind, start].was(address)
        if matches(address, pattern):
            return True
    return False


def renaming(names: Mapping[str, str], to: int) -> Upgrade:
    """The step to a format in which only some addresses have other names.

    `*` in a name stands for one key that a person chose, in both names alike.
    """
    moved = _mover(names)
    same_table = all(old.rpartition(".")[0] == new.rpartition(".")[0] for old, new in names.items())

    def tree(old: Tree) -> Tree:
        elsewhere: list[tuple[str, str]] = []
        new = _renamed(old, moved, "", elsewhere)
        for address, other in elsewhere:
            there = other if look_up(new, other) is None else address
            put(new, there, look_up(old, address))
        return new | {"format": to}

    return Upgrade(tree, moved, _mover({new: old for old, new in names.items()}), same_table)


def _renamed(table: Tree, moved: Move, prefix: str, elsewhere: list[tuple[str, str]]) -> Tree:
    """A copy with its values under their new names, in the old order; else in `elsewhere`."""
    new: Tree = {}
    for key, value in table.items():
        address = prefix + key
        if isinstance(value, dict):
            inner = _renamed(value, moved, f"{address}.", elsewhere)
            if inner or not value:
                new[key] = inner
            continue
        other = moved(address)
        above, _, name = other.rpartition(".")
        if other == address or (above == prefix[:-1] and name in table):
            new[key] = value
        elif above == prefix[:-1]:
            new[name] = value
        else:
            elsewhere.append((address, other))
    return new


def _mover(names: Mapping[str, str]) -> Move:
    patterns = [(old.split("."), new.split(".")) for old, new in names.items()]

    @lru_cache(maxsize=20_000)
    def moved(address: str) -> str:
        keys = address.split(".")
        for old, new in patterns:
            if len(keys) == len(old) and matches(address, ".".join(old)):
                chosen = iter([key for key, name in zip(keys, old, strict=True) if name == "*"])
                return ".".join(next(chosen) if name == "*" else name for name in new)
        return address

    return moved


_KEPT_AT = {
    "jaws.place": "jaws.kept_at",
    "tray.place": "tray.kept_at",
    "fingers.*.place": "fingers.*.kept_at",
}
STEPS: dict[tuple[str, int], Upgrade] = {  # by kind of document and the format it starts from
    ("record", 1): renaming(_KEPT_AT, 2),  # a place is where the loader does something
    ("sign-off", 1): renaming({}, 2),  # hashes of texts there, of values here: `formats` tells
}
