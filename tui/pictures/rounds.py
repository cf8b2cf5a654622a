"""One round as bars over time: machine and loader beside each other, then step by step; all s.

Invariant: starts and lengths are the engine's, at the mean pocket; a longer bar
never takes fewer cells. Where machining outlasts all else by far, the scale of
the steps ends early and what goes on shows `»` (`>` in ASCII).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from engine.views import CycleBar, RoundBars, Which
from tui.pictures.signs import NARROWEST, Signs, cannot_tell, finish, number, signs, words
from tui.safe import fit

_NUMBERS = 16  # two columns of seconds
_SHORT = 0.45  # a window on the steps no longer than this share of the round is worth it


@dataclass(frozen=True, slots=True)
class Scale:
    """From seconds to cells; what lies outside is cut at the edge."""

    start: float
    end: float
    cells: int

    def at(self, seconds: float) -> int:
        """The cell in which a moment lies."""
        share = (seconds - self.start) / (self.end - self.start)
        return min(max(round(share * self.cells), 0), self.cells)

    def long(self, seconds: float) -> int:
        """Cells of a length, one at least."""
        return max(round(seconds / (self.end - self.start) * self.cells), 1)


def cycle_bars(found: RoundBars, width: int = 80, *, ascii_only: bool = False) -> list[str]:
    """The steady round, the first or the last one, at a percentage of full speed."""
    inner, sign = max(width, NARROWEST), signs(ascii_only)
    lead = f"{_name(found.which)} at {_speed(found.percent)}"
    if found.missing:
        return finish(cannot_tell(found.missing, inner, lead), width, ascii_only)
    lines = words(_heading(found, f"{lead}:".capitalize()), inner)
    if found.machine:
        scale = Scale(0.0, max(bar.end for bar in found.bars) or 1.0, inner - 9)
        lines.append("machine " + _lane(found.machine, scale, sign))
        lines.append("loader  " + _lane(found.loader, scale, sign))
    return finish([*lines, *_steps(found.bars, inner, sign)], width, ascii_only)


def _name(which: Which) -> str:
    return "every round" if which == "steady" else f"the {which} round"


def _seconds(seconds: float) -> str:
    return f"{seconds:.1f}"


def _speed(percent: float) -> str:
    return "full speed" if percent == 100 else f"{percent:g} % of full speed"


def _heading(found: RoundBars, lead: str) -> str:
    text = f"{lead} {_seconds(found.seconds)} s"
    if found.which == "first":
        return f"{text}, a blank goes in, no part comes out"
    if found.which == "last":
        return f"{text}, the last part comes out, nothing goes in"
    hourly = f", {number(found.hourly)} parts an hour" if found.hourly is not None else ""
    waits = [f", {b.name} {_seconds(b.length)} s" for b in found.bars if b.kind == "waits"]
    return f"{text}{hourly}{''.join(waits)}"


def _lane(lane: Sequence[CycleBar], scale: Scale, sign: Signs) -> str:
    fills = {"cuts": sign.half, "works": sign.full, "waits": sign.dots, "stands": " "}
    line = [" "] * scale.cells
    for bar in lane:
        start, stop = scale.at(bar.start), scale.at(bar.end)
        room = stop - start
        if room <= 0:
            continue
        seconds = _seconds(bar.length)
        texts = (f" {bar.name} {seconds} ", f" {seconds} ", seconds, "")
        text = next(text for text in texts if len(text) < room or not text)
        line[start:stop] = "|" + (text + fills[bar.name] * room)[: room - 1]
    return "".join(line) + "|"


def _steps(found: Sequence[CycleBar], width: int, sign: Signs) -> Iterable[str]:
    longest = max(len(bar.name) for bar in found)
    named = min(max(longest, 10), width - _NUMBERS - 14, 28)
    scale = _window(found, width - named - _NUMBERS - 1)
    yield f"{'seconds':<{named}}  start   takes  {_ruler(scale)}"
    cuts = _cuts(found)
    for bar in found:
        times = f"{_seconds(bar.start):>7} {_seconds(bar.length):>7}"
        yield f"{fit(bar.name, named)}{times}  {_drawn(bar, cuts, scale, sign)}"
    yield from words(_key(found, sign), width)


def _cuts(found: Sequence[CycleBar]) -> CycleBar | None:
    return next((bar for bar in found if bar.kind == "machining"), None)


def _window(found: Sequence[CycleBar], cells: int) -> Scale:
    """The whole round, or where its steps are if that is a small part of it."""
    end = max(bar.end for bar in found)
    steps = [bar for bar in found if bar.kind == "loader"] or found
    low, high = min(bar.start for bar in steps), max(bar.end for bar in steps)
    if high - low > _SHORT * end or high <= low:
        return Scale(0.0, end or 1.0, cells)
    room = 0.12 * (high - low)
    return Scale(max(low - room, 0.0), min(high + room, end), cells)


def _drawn(bar: CycleBar, cuts: CycleBar | None, scale: Scale, sign: Signs) -> str:
    fill = _fill(bar, cuts, sign)
    start = min(scale.at(bar.start), scale.cells - 1)
    before = round((scale.start - bar.start) / (scale.end - scale.start) * scale.cells)
    size = scale.long(bar.length) - max(before, 0)
    cells = fill * min(max(size, 1), scale.cells - start)
    if bar.start < scale.start - 1e-6:
        cells = sign.less + cells[1:]
    if bar.end > scale.end + 1e-6:
        cells = cells[:-1] + sign.more
    return " " * start + cells


def _fill(bar: CycleBar, cuts: CycleBar | None, sign: Signs) -> str:
    if bar.kind == "machining":
        return sign.half
    if bar.kind == "waits":
        return sign.dots
    meanwhile = cuts is not None and cuts.start <= bar.start < cuts.end
    return sign.light if meanwhile else sign.full


def _ruler(scale: Scale) -> str:
    """Ticks at round seconds, each number behind its tick."""
    span, line = scale.end - scale.start, [" "] * scale.cells
    steps = (base * ten for ten in (0.1, 1.0, 10.0, 100.0, 1e3, 1e4) for base in (1, 2, 5))
    step = next((s for s in steps if s / span * scale.cells >= 7), span)
    tick = -(-scale.start // step) * step
    while tick <= scale.end + 1e-9:
        text = f"|{tick:g}"
        start = scale.at(tick)
        if start + len(text) <= scale.cells:
            line[start : start + len(text)] = text
        tick += step
    return "".join(line)


def _key(found: Sequence[CycleBar], sign: Signs) -> str:
    cuts = _cuts(found)
    said = {
        sign.full: "loader and door" + (", machine stands" if cuts else ""),
        sign.half: "machining",
        sign.light: "loader meanwhile",
        sign.dots: "waits",
    }
    there = {_fill(bar, cuts, sign) for bar in found}
    return "  ".join(f"{mark} {text}" for mark, text in said.items() if mark in there)
