"""What saves could not do yet, and what they found in git's index, in words.

Said at once with the save, and again at each opening until it is done.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from engine.book.intent import Todo
from engine.repo.stale_locks import INDEX

if TYPE_CHECKING:
    from engine.book.mending import Mended

_AGAIN = "it is tried again at every command and by every open screen"


def aside_in_words(mended: Mended) -> list[str]:
    """Locks of gits that ended."""
    return [f"a lock that an ended git left was put aside: .git/{name}" for name in mended.aside]


def mended_in_words(mended: Mended) -> list[str]:
    """What to know after a save: locks put aside, texts staged by hand, what was not done."""
    said = aside_in_words(mended)
    lock = next((each for each in mended.standing if each.name == INDEX), None)
    said += to_do_in_words(mended.todo, mended.why, lock.words if lock else "")
    said += [
        f"git's index holds another text of {path}, staged by hand: the next `git commit` by "
        f"hand would put it over what is inked; `git restore --staged {path}` takes it out"
        for path in mended.staged
    ]
    return said


def to_do_in_words(todo: Todo, why: str = "", lock: str = "") -> list[str]:
    """What published saves have still to do."""
    said = []
    if todo.files:
        reason = f" ({why})" if why else ""
        said.append(
            "a save is in the history, but not all its files could be written to the disk: "
            f"{_few(todo.files)}{reason}; {_AGAIN}"
        )
    if todo.behind:
        held = f"another git has it locked ({lock})" if lock else "it is locked or cannot be read"
        said.append(
            f"git's own index is behind what is inked in {_few(todo.behind)}, {held}: a "
            f"`git commit` by hand could take that back until it is brought up; {_AGAIN}"
        )
    if todo.closing or todo.asides:
        whose = [pencil.person for _, pencil in todo.closing]
        whose += [aside.person for _, aside in todo.asides]
        said.append(f"the journal of {_few(whose)} could not be written; {_AGAIN}")
    return said


def _few(names: Collection[str]) -> str:
    shown = list(dict.fromkeys(names))
    more = f" and {len(shown) - 3} more" if len(shown) > 3 else ""
    return f"{', '.join(shown[:3])}{more}"
