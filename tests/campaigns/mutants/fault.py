"""A fault: a module's text with one thing changed, and what that changes in its compiled code."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import dataclass, field
from types import CodeType

OPTIMIZED = 0x1  # inspect.CO_OPTIMIZED: the code of a function, not of a module or class


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: `lines` are those of the statement it lies in; `text()` the module with it."""

    name: str
    file: str
    line: int
    lines: tuple[int, int]
    text: Callable[[], str] = field(repr=False, compare=False)


def swaps(fault: Fault, text: str, path: str) -> list[tuple[CodeType, CodeType]] | None:
    """Functions' code, old and new; None where the fault lies outside of functions.

    SyntaxError where the fault is no Python.
    """
    with_it = fault.text()
    old, new = (compile(source, path, "exec", dont_inherit=True) for source in (text, with_it))
    if ast.dump(ast.parse(text)) == ast.dump(ast.parse(with_it)):
        raise SyntaxError("the fault changes nothing")
    found: list[tuple[CodeType, CodeType]] = []
    return found if _compare(old, new, found) else None


def _compare(old: CodeType, new: CodeType, found: list[tuple[CodeType, CodeType]]) -> bool:
    """Whether two modules or classes differ inside their functions only; notes these."""
    olds, news = (
        [const for const in code.co_consts if isinstance(const, CodeType)] for code in (old, new)
    )
    plain_old, plain_new = (
        [const for const in code.co_consts if not isinstance(const, CodeType)]
        for code in (old, new)
    )
    same = (old.co_code, old.co_names, repr(plain_old)) == (
        new.co_code, new.co_names, repr(plain_new),
    )  # fmt: skip
    if not same or len(olds) != len(news):
        return False
    for one, other in zip(olds, news, strict=True):
        if one == other:
            continue
        if one.co_flags & OPTIMIZED:
            if one.co_freevars != other.co_freevars:
                return False
            found.append((one, other))
        elif not _compare(one, other, found):
            return False
    return True
