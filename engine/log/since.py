"""WHEN, as people write it, becomes one moment, or is refused with a reason.

What could be read two ways is never guessed: 03/11 is a day in March or in
November, and an hour that a clock change repeats is two hours. The resolved
moment is for the caller to show. Moments are aware; days begin at midnight of
the reader's own clock.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from schemas.errors import UsageError

_ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_ISO_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}(:\d{2})?( ?(Z|z|[+-]\d{2}:?\d{2}))?")
_ISO_WEEK = re.compile(r"(\d{4})-[Ww](\d{2})")
_COUNT = re.compile(r"(\d{1,5}|an?|one) (minute|hour|day|week|month|year)s?( ago)?")
_SLASHED = re.compile(r"\d{1,4}[/.]\d{1,2}([/.]\d{2,4})?\.?")
_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_HINT = (
    "Write a day as 2026-03-02, a moment as 2026-03-02T07:15, or say yesterday, last week, "
    "3 weeks, 12 hours."
)


def resolve(text: str, now: datetime) -> datetime:
    """The moment that `text` means, seen from `now` (aware). UsageError if unclear."""
    words = " ".join(text.strip().lower().split())
    zone = now.tzinfo
    assert zone is not None
    moment = _iso(words, now) or _named(words, now) or _counted(words, now)
    if moment is None:
        if _SLASHED.fullmatch(words):
            raise _refuse(text, "is written in a form that can be read two ways (day and month)")
        raise _refuse(text, "is no date that is understood here")
    if moment.timestamp() > now.timestamp():  # of one zone, Python compares the clocks' faces
        raise _refuse(text, f"lies in the future ({moment.isoformat(timespec='minutes')})")
    return moment


def _refuse(text: str, why: str) -> UsageError:
    return UsageError(f"{text.strip()!r} {why}", hint=_HINT)


def _iso(words: str, now: datetime) -> datetime | None:
    try:
        if _ISO_DAY.fullmatch(words):
            return _midnight(date.fromisoformat(words), now)
        week = _ISO_WEEK.fullmatch(words)
        if week:
            return _midnight(date.fromisocalendar(int(week[1]), int(week[2]), 1), now)
        if _ISO_MOMENT.fullmatch(words):
            moment = datetime.fromisoformat(words.upper().replace(" ", "T", 1).replace(" ", ""))
            return moment if moment.tzinfo else _local(moment, now, words)
    except ValueError as error:
        raise _refuse(words, f"is no day of the calendar ({error})") from None
    return None


def _local(naive: datetime, now: datetime, words: str) -> datetime:
    """A wall-clock moment; refused where a clock change repeats or skips it."""
    early, late = _place(naive, now.tzinfo, 0), _place(naive, now.tzinfo, 1)
    if early.utcoffset() != late.utcoffset():
        raise _refuse(
            words, "is an hour that a clock change repeats or skips; add the offset, as +01:00"
        )
    return early


def _place(naive: datetime, zone: tzinfo | None, fold: int) -> datetime:
    """A naive moment on the reader's clock; the system's where `zone` is a fixed offset of it."""
    if zone is None or _is_system(zone):
        return naive.replace(fold=fold).astimezone()
    return naive.replace(tzinfo=zone, fold=fold)


def _is_system(zone: tzinfo) -> bool:
    """`datetime.now().astimezone()` carries a fixed offset, which knows no clock change."""
    here = datetime.now().astimezone().tzinfo
    return type(zone) is type(here) and zone == here


def _midnight(day: date, now: datetime) -> datetime:
    return _place(datetime.combine(day, time()), now.tzinfo, 0)


def _named(words: str, now: datetime) -> datetime | None:
    today = now.date()
    if words == "today":
        return _midnight(today, now)
    if words == "yesterday":
        return _midnight(today - timedelta(days=1), now)
    if words == "last week":
        return _midnight(today - timedelta(days=today.weekday() + 7), now)
    if words == "last month":
        return _midnight(_months_back(today.replace(day=1), 1), now)
    if words == "last year":
        return _midnight(date(today.year - 1, 1, 1), now)
    day = words.removeprefix("last ")
    if day in _DAYS:
        back = (today.weekday() - _DAYS.index(day)) % 7
        if back == 0 or words != day:
            raise _refuse(words, "can be read two ways (this week's or the one before)")
        return _midnight(today - timedelta(days=back), now)
    return None


def _counted(words: str, now: datetime) -> datetime | None:
    found = _COUNT.fullmatch(words)
    if found is None:
        return None
    count = int(found[1]) if found[1].isdigit() else 1
    unit = found[2]
    try:
        if unit in ("minute", "hour"):
            past = now.astimezone(UTC) - timedelta(**{f"{unit}s": count})
            return past.astimezone(now.tzinfo)
        if unit in ("day", "week"):
            day = now.date() - timedelta(days=count * (7 if unit == "week" else 1))
        else:
            day = _months_back(now.date(), count * (12 if unit == "year" else 1))
        return _place(datetime.combine(day, now.time()), now.tzinfo, 0)
    except (OverflowError, ValueError):
        raise _refuse(words, "lies before the calendar begins") from None


def _months_back(day: date, months: int) -> date:
    """The same day so many months earlier, or the last one of a shorter month."""
    total = day.year * 12 + day.month - 1 - months
    year, month = divmod(total, 12)
    for last in range(day.day, 0, -1):
        try:
            return date(year, month + 1, last)
        except ValueError:
            if year < 1:
                raise
    raise AssertionError("every month has a first day")  # pragma: no cover
