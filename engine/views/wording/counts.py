"""Counts with their noun, and lists of numbers."""

from __future__ import annotations

from collections.abc import Sequence


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun: `1 value`, `3 values`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def joined(parts: Sequence[str]) -> str:
    """Parts as a person would list them: `a`, `a and b`, `a, b and c`."""
    *most, last = parts or [""]
    return f"{', '.join(most)} and {last}" if most else last


def spans(numbers: Sequence[int]) -> str:
    """1, 2, 3, 5 as `1-3, 5`."""
    found: list[list[int]] = []
    for number in sorted(set(numbers)):
        if found and found[-1][-1] == number - 1:
            found[-1].append(number)
        else:
            found.append([number])
    return ", ".join(str(s[0]) if len(s) == 1 else f"{s[0]}-{s[-1]}" for s in found)
