"""Figures in words: a value with the digits that its unit deserves, and what changed.

Rounding is for the eye only; nothing is judged by a rounded value.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.views import Figure, FigureChange

_DIGITS = {"mm": 2, "deg": 2, "s": 1, "N": 0, "N·m": 2, "kg": 3, "mm/s": 0, "h": 1, "1/h": 1}
_DIGITS |= {"%": 1, "1": 2, "pockets": 0, "pieces": 0, "fills": 0, "refills": 0}
FITS = 3
_RANK = {"does not fit": 0, "cannot tell": 1, "tight": 2, "fits": FITS, "for information": FITS}


def number(value: float | None, unit: str) -> str:
    """A value for the eye, without its unit; `?` where it is not known."""
    if value is None:
        return "?"
    text = f"{value:.{_DIGITS.get(unit, 2)}f}"
    return text.removeprefix("-") if not text.strip("-0.") else text


def with_unit(value: float | None, unit: str) -> str:
    """A value for the eye with its unit; `1` is none."""
    return number(value, unit) if unit == "1" or value is None else f"{number(value, unit)} {unit}"


def place(name: str, at: str) -> str:
    """A figure by name and place: `free height (blank)`."""
    return f"{name} ({at})" if at else name


def against(figure: Figure) -> str:
    """The limit in words: `at least 3.00 mm`; empty where there is none."""
    if figure.limit is None or figure.kind.bound == "none":
        return ""
    return f"at {figure.kind.bound} {with_unit(figure.limit, figure.unit)}"


def figure_in_words(figure: Figure) -> str:
    """`free height (blank) 2.50 mm, at least 3.00 mm`."""
    words = f"{place(figure.name, figure.at)} {with_unit(figure.value, figure.unit)}"
    return f"{words}, {against(figure)}" if against(figure) else words


def change_in_words(change: FigureChange) -> str:
    """`free height (blank) 3.20 -> 0.90 mm: tight`."""
    values = f"{number(change.old, change.unit)} -> {with_unit(change.new, change.unit)}"
    return f"{place(change.name, change.at)} {values}: {change.new_verdict}"


def worsened(change: FigureChange) -> bool:
    """Whether a figure fits less than before, or can no longer be told."""
    return rank(change.new_verdict) < rank(change.old_verdict)


def rank(verdict: str) -> int:
    """Verdicts by how bad they are, 0 the worst; what was not there before counts as fitting."""
    return _RANK.get(verdict, FITS)


_PLURAL = {"does not fit": "do not fit", "fits": "fit"}


def counted(figures: Sequence[Figure]) -> list[str]:
    """How many figures have which verdict, worst first: `2 do not fit`."""
    found = []
    for verdict in ("does not fit", "cannot tell", "tight", "fits", "for information"):
        count = sum(figure.verdict == verdict for figure in figures)
        if count:
            found.append(f"{count} {verdict if count == 1 else _PLURAL.get(verdict, verdict)}")
    return found


def worst_first(figures: Sequence[Figure]) -> list[Figure]:
    """Those that do not fit, then the tight ones, by how little margin is left of the limit."""
    bad = [f for f in figures if f.verdict in ("does not fit", "tight")]
    return sorted(bad, key=lambda f: (_RANK[f.verdict], (f.margin or 0.0) / abs(f.limit or 1.0)))


def waiting(figures: Sequence[Figure]) -> dict[str, list[Figure]]:
    """Figures that cannot be told, by each input that they miss; most awaited first."""
    found: dict[str, list[Figure]] = {}
    for figure in figures:
        for address in figure.missing if figure.verdict == "cannot tell" else ():
            found.setdefault(address, []).append(figure)
    return dict(sorted(found.items(), key=lambda item: -len(item[1])))
