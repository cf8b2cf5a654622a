"""How far each figure is from its limit, worst first, one line for each.

Invariant: the upright of every bar is the limit; to its right is room, to its left
what is short or too much. A bar that fits covers the mark where `tight` ends, one
that is tight does not, and a larger margin of the same kind and limit never takes
fewer cells. Values are in the figure's own unit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

from rich.cells import cell_len

from engine.views import Figure, Verdict
from engine.views.wording import count
from engine.views.wording import figures as wording
from tui.pictures.signs import NARROWEST, Signs, finish, number, signs, words
from tui.safe import fit

_ORDER: tuple[Verdict, ...] = ("does not fit", "cannot tell", "tight", "fits")
_ONE_LINE = 74  # width from which a figure has one line; narrower ones take two
_OUT = 3  # cells of a bar on the side of the limit where nothing fits
_TIGHT = 4  # tight ends at this part of the cells on the other side
_LEGENDS = ("| limit   | to : tight zone", "| limit, to : tight", "| limit, : tight")


def margin_bars(
    figures: Sequence[Figure], width: int = 80, *, ascii_only: bool = False
) -> list[str]:
    """Every figure that has a limit or cannot be told, and what is missing for the latter.

    Figures for information have nothing to be far from; they are counted only.
    """
    parts = margin_parts(figures, width, ascii_only=ascii_only)
    told = wording.counted(figures)
    lines = words(f"Figures: {', '.join(told) or 'none'}", max(width, NARROWEST))
    bars = [line for _, entry in parts.entries for line in entry]
    return finish([*lines, *parts.head, *bars, *parts.missing], width, ascii_only)


@dataclass(frozen=True, slots=True)
class MarginParts:
    """The same in parts, for a list from which one figure is chosen."""

    head: list[str]
    entries: list[tuple[Figure, list[str]]]  # worst first
    missing: list[str]


def margin_parts(
    figures: Sequence[Figure], width: int = 80, *, ascii_only: bool = False
) -> MarginParts:
    """Headings, the lines of each figure, and what is missing."""
    inner, sign = max(width, NARROWEST), signs(ascii_only)
    judged = sorted((f for f in figures if f.verdict in _ORDER), key=_worst_first)
    table = _table(judged, inner)
    head = _head(table) if table.value else []
    entries = [(f, finish(_entry(f, table, sign), width, ascii_only)) for f in judged]
    missing = [line for text in _missing(judged) for line in words(text, inner)]
    return MarginParts(finish(head, width, ascii_only), entries, finish(missing, width, ascii_only))


@dataclass(frozen=True, slots=True)
class _Table:
    """Cells of the columns; narrow ones have figure and verdict over the numbers and the bar."""

    width: int
    texts: int
    value: int
    limit: int
    room: int

    @property
    def narrow(self) -> bool:
        """Whether a figure takes two lines."""
        return self.width < _ONE_LINE


def _table(judged: Sequence[Figure], width: int) -> _Table:
    """Columns as wide as what stands in them; figure and place have the rest."""
    numbers = [_numbers(figure) for figure in judged if figure.margin is not None]
    value = max((cell_len(one) for one, _ in numbers), default=0)
    limit = max((cell_len(other) for _, other in numbers), default=0)
    verdict = max((len(f.verdict) for f in judged if f.margin is not None), default=0)
    room = 8 if width < 100 else 16
    taken = 0 if width < _ONE_LINE else value + limit + _OUT + room + 4
    return _Table(width, max(width - verdict - 1 - taken, 12), value, limit, room)


def _worst_first(figure: Figure) -> tuple[int, float]:
    return _ORDER.index(figure.verdict), share(figure)


def share(figure: Figure) -> float:
    """The margin as a share of a full bar, of which tight takes a quarter; 0 without one."""
    if figure.margin is None or figure.limit is None:
        return 0.0
    full = _TIGHT * figure.kind.tight_below(figure.limit)
    if full > 0:
        return figure.margin / full
    return 1.0 if figure.margin >= 0 else -1.0


def _head(table: _Table) -> list[str]:
    bar = f"{'out':>{_OUT}}|{'room':<{table.room}}"
    room = table.width if table.narrow else table.texts
    legend = next((each for each in _LEGENDS if cell_len(each) <= room), "")
    if table.narrow:
        return words(f"bars: {bar.strip()}: {legend}", table.width)
    value, limit = fit("value", table.value, right=True), fit("limit", table.limit)
    return [f"{fit(legend, table.texts)} {value} {limit} {bar}"]


def _entry(figure: Figure, table: _Table, sign: Signs) -> Iterable[str]:
    if figure.verdict == "cannot tell":
        name = _named(figure, min(table.texts, table.width - 25))
        yield fit(f"{name} cannot tell: {', '.join(figure.missing)}", table.width)
        return
    name = _named(figure, table.texts)
    value, limit = _numbers(figure)
    bar = _bar(figure, table.room, sign)
    numbers = f"{fit(value, table.value, right=True)} {fit(limit, table.limit)} {bar}"
    if table.narrow:
        yield f"{name} {figure.verdict}"
        yield f"  {numbers}"
    else:
        yield f"{name} {numbers} {figure.verdict}"


def _named(figure: Figure, width: int) -> str:
    """Name to the left, place to the right; the name gives way."""
    at = fit(figure.at, min(cell_len(figure.at), width * 2 // 3))
    return f"{fit(figure.name, width - cell_len(at) - 1)} {at}"


def _numbers(figure: Figure) -> tuple[str, str]:
    """Value with its unit, and limit; with as many digits as tell them apart."""
    assert figure.value is not None
    assert figure.limit is not None
    value, limit = number(figure.value), _plain(number(figure.limit))
    for places in range(1, 7):
        if _plain(value) != limit or not figure.margin:
            break
        value, limit = f"{figure.value:.{places}f}", _plain(f"{figure.limit:.{places}f}")
    unit = "" if figure.unit == "1" else f" {figure.unit}"
    return value + unit, f"{'min' if figure.kind.bound == 'least' else 'max'} {limit}"


def _plain(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _bar(figure: Figure, room: int, sign: Signs) -> str:
    part, mark = share(figure), room // _TIGHT
    track = [" "] * room
    track[mark] = ":"
    if part < 0:
        cells = min(max(round(-part * _OUT), 1), _OUT)
        left = (sign.less if part < -1 else sign.full) + sign.full * (cells - 1)
        return f"{left:>{_OUT}}|{''.join(track)}"
    cells = ceil(part * room) if figure.verdict == "tight" else min(int(part * room) + 1, room)
    cells = min(cells, mark) if figure.verdict == "tight" else max(cells, mark + 1)
    track[:cells] = sign.full * cells
    if part > 1:
        track[-1] = sign.more
    return f"{'':>{_OUT}}|{''.join(track)}"


def _missing(judged: Sequence[Figure]) -> Iterable[str]:
    """Every missing address with the number of figures that wait for it."""
    waits = Counter(address for figure in judged for address in figure.missing)
    if not waits:
        return
    yield "To be able to tell, these are missing:"
    for address, waiting in sorted(waits.items(), key=lambda item: -item[1]):
        yield f"{address}: {count(waiting, 'figure')}"
