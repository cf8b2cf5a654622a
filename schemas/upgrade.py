"""Old formats of files: pure steps from one to the next, taken whenever a file is read.

History keeps texts as they were written; reading brings each to the present format,
so values have their present addresses whenever they were inked, and a trace goes
through a change of format as if there had been none. A step never guesses: what the
old format did not know is absent. `record.id` and `format` keep their places for ever.
Whoever adds a step raises the `format` of the model with it, and the version of the
index of values, which holds values by their present addresses.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from schemas.address import Tree, look_up, put, take_out
from schemas.lines import TextLayout


@dataclass(frozen=True, slots=True)
class Upgrade:
    """One step. `tree` makes a new tree of the next format and leaves the old one alone.

    `moved` tells the address that an old address has in the next format, for the lines
    of findings and of comments.
    """

    tree: Callable[[Tree], Tree]
    moved: Callable[[str], str] = lambda address: address


STEPS: dict[tuple[str, int], Upgrade] = {}  # by kind of document and the format it starts from


def upgrade(kind: str, tree: Tree, layout: TextLayout) -> tuple[Tree, TextLayout]:
    """A tree and its layout in the present format; as they are where no step applies."""
    for step in _steps(kind, tree.get("format")):
        try:
            tree = step.tree(tree)
        except (KeyError, TypeError, ValueError, AttributeError):
            return tree, layout  # no text of that format after all: the schema tells why
        layout = TextLayout(
            {step.moved(address): line for address, line in layout.lines.items()},
            [(line, step.moved(near), words) for line, near, words in layout.comments],
            layout.deepest,
            layout.long_word,
        )
    return tree, layout


def _steps(kind: str, start: object) -> Iterator[Upgrade]:
    while isinstance(start, int) and (kind, start) in STEPS:
        yield STEPS[kind, start]
        start += 1


def is_old(data: bytes) -> bool:
    """Whether a text may be of a format from which a step leads on."""
    if not STEPS:
        return False
    return data.partition(b"\n")[0].removeprefix(b"format = ") in {
        str(start).encode() for _, start in STEPS
    }


def renaming(names: Mapping[str, str], to: int) -> Upgrade:
    """The step to a format in which only some addresses have other names."""

    def tree(old: Tree) -> Tree:
        new = _copied(old)
        for address, other in names.items():
            value = look_up(old, address)
            if value is not None:
                take_out(new, address)
                put(new, other, value)
        return new | {"format": to}

    return Upgrade(tree, lambda address: names.get(address, address))


def _copied(tree: Tree) -> Tree:
    return {k: _copied(v) if isinstance(v, dict) else v for k, v in tree.items()}
