"""Moments and ages.

Invariant: a moment is said as the reader's own clock had it. Where it was written
under another offset than that clock had then, the clock of its writer stands behind
it: `2026-03-02 06:15 (07:15 at +01:00)`. So one night a year, and two sites, are
never mixed up. `zone` is the reader's; None is this machine's.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, tzinfo

_TIME = "%H:%M"
_MOMENT = f"%Y-%m-%d {_TIME}"
_AGES = ((60, 1, ""), (3600, 60, "min"), (86400, 3600, "h"), (86400 * 14, 86400, "d"))
_WEEK = 86400 * 7


def moment(then: datetime, zone: tzinfo | None = None) -> str:
    """A moment by the reader's clock, and by its writer's where that differs."""
    written = written_at(then, zone)
    return f"{clock_time(then, zone)} ({written})" if written else clock_time(then, zone)


def clock_time(then: datetime, zone: tzinfo | None = None) -> str:
    """A moment by the reader's clock alone: only where `written_at` has a place of its own."""
    return then.astimezone(zone).strftime(_MOMENT)


def written_at(then: datetime, zone: tzinfo | None = None) -> str:
    """The writer's clock, `07:15 at +01:00`; empty where it agreed with the reader's."""
    here = then.astimezone(zone)
    if then.utcoffset() == here.utcoffset():
        return ""
    return f"{then.strftime(_TIME if then.date() == here.date() else _MOMENT)} at {_offset(then)}"


def day(then: datetime, zone: tzinfo | None = None) -> str:
    """The day that a moment had by the reader's calendar."""
    return then.astimezone(zone).strftime("%Y-%m-%d")


def clock_times(moments: Iterable[datetime], zone: tzinfo | None = None) -> list[str]:
    """Moments that follow each other; each with its offset where the clock is changed meanwhile."""
    here = [then.astimezone(zone) for then in moments]
    changed = len({then.utcoffset() for then in here}) > 1
    return [f"{then:{_MOMENT}}{f' {_offset(then)}' if changed else ''}" for then in here]


def _offset(then: datetime) -> str:
    text = then.strftime("%z")
    return f"{text[:3]}:{text[3:5]}"


def age(then: datetime, now: datetime) -> str:
    """How long ago, in one figure: `4 min`, `3 h`, `2 d`, `5 wk`."""
    seconds = max((now - then).total_seconds(), 0)
    for below, size, word in _AGES:
        if seconds < below:
            return f"{int(seconds // size)} {word}" if word else "now"
    return f"{int(seconds // _WEEK)} wk"


def how_old(then: datetime, now: datetime) -> str:
    """The age of a thing, behind its name: `3 h old`."""
    text = age(then, now)
    return "just now" if text == "now" else f"{text} old"


def ago(then: datetime, now: datetime) -> str:
    """How long ago, for a sentence."""
    text = age(then, now)
    return "just now" if text == "now" else f"{text} ago"
