"""WHEN in people's words: resolved exactly, or refused where it can be read two ways."""

import time
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.log import since
from engine.log.since import resolve
from schemas.errors import UsageError

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(
    2026, 3, 31, 14, 30, 5, tzinfo=BERLIN
)  # a Tuesday, two days after the clocks changed


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-03-02", "2026-03-02T00:00:00+01:00"),
        ("2026-03-30", "2026-03-30T00:00:00+02:00"),
        ("2026-03-02T07:15", "2026-03-02T07:15:00+01:00"),
        ("2026-03-02 07:15:30", "2026-03-02T07:15:30+01:00"),
        ("2026-03-02t07:15Z", "2026-03-02T07:15:00+00:00"),
        ("2026-03-02 07:15 -05:00", "2026-03-02T07:15:00-05:00"),
        ("2026-03-02T07:15+0100", "2026-03-02T07:15:00+01:00"),
        ("2026-W10", "2026-03-02T00:00:00+01:00"),
        ("today", "2026-03-31T00:00:00+02:00"),
        ("Yesterday", "2026-03-30T00:00:00+02:00"),
        ("last week", "2026-03-23T00:00:00+01:00"),
        ("last  month", "2026-02-01T00:00:00+01:00"),
        ("last year", "2025-01-01T00:00:00+01:00"),
        ("monday", "2026-03-30T00:00:00+02:00"),
        ("wednesday", "2026-03-25T00:00:00+01:00"),
        ("3 days", "2026-03-28T14:30:05+01:00"),
        ("a week ago", "2026-03-24T14:30:05+01:00"),
        ("1 month", "2026-02-28T14:30:05+01:00"),
        ("13 months", "2025-02-28T14:30:05+01:00"),
        ("25 months", "2024-02-29T14:30:05+01:00"),
        ("one year", "2025-03-31T14:30:05+02:00"),
        ("12 hours", "2026-03-31T02:30:05+02:00"),
        ("90 minutes ago", "2026-03-31T13:00:05+02:00"),
        ("60 hours", "2026-03-29T01:30:05+01:00"),
    ],
)
def test_a_moment_is_resolved(text, moment):
    assert resolve(text, NOW) == datetime.fromisoformat(moment)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("banana", "no date"),
        ("", "no date"),
        ("03/11", "two ways"),
        ("3.11.", "two ways"),
        ("03/11/2025", "two ways"),
        ("11.3", "two ways"),
        ("2026/03/02", "two ways"),
        ("2026-02-30", "calendar"),
        ("2026-13-01", "calendar"),
        ("2026-W54", "calendar"),
        ("2026-03-02T25:00", "calendar"),
        ("2027-01-01", "future"),
        ("2026-03-31T14:31", "future"),
        ("last tuesday", "two ways"),
        ("tuesday", "two ways"),
        ("last monday", "two ways"),
        ("99999 years", "before the calendar"),
        ("-3 days", "no date"),
        ("3 fortnights", "no date"),
        ("2026-03-29T02:30", "clock change"),
        ("2025-10-26T02:30", "clock change"),
        ("now-ish", "no date"),
        ("2026-03-02T07:15 Berlin", "no date"),
        ("0x5 days", "no date"),
        ("3 days\n; rm", "no date"),
        ("2026-3-2", "no date"),
    ],
)
def test_what_is_unclear_is_refused_with_a_reason(text, why):
    with pytest.raises(UsageError, match=why) as caught:
        resolve(text, NOW)
    assert caught.value.hint


def test_an_hour_that_comes_twice_is_told_apart_by_its_offset():
    early, late = (resolve(f"2025-10-26T02:30{offset}", NOW) for offset in ("+02:00", "+01:00"))
    assert late - early == timedelta(hours=1)


def test_hours_are_hours_across_a_clock_change():
    now = datetime(2026, 3, 29, 4, 0, tzinfo=BERLIN)
    assert now.timestamp() - resolve("2 hours", now).timestamp() == 7200
    assert resolve("1 day", now).isoformat() == "2026-03-28T04:00:00+01:00"


def test_in_the_repeated_hour_the_second_time_is_not_the_future():
    now = datetime(2025, 10, 26, 2, 10, fold=1, tzinfo=BERLIN)
    assert resolve("30 minutes", now).timestamp() == now.timestamp() - 1800
    assert resolve("2025-10-26T02:40+02:00", now)
    with pytest.raises(UsageError, match="future"):
        resolve("2025-10-26T02:40+01:00", now)


@given(
    st.datetimes(datetime(1980, 1, 1), datetime(2090, 1, 1)),
    st.sampled_from(["minute", "hour", "day", "week", "month", "year"]),
    st.integers(1, 400),
    st.sampled_from([BERLIN, UTC, timezone(timedelta(hours=-7)), ZoneInfo("Australia/Lord_Howe")]),
)
def test_any_count_is_resolved_backwards(naive, unit, count, zone):
    now = naive.replace(tzinfo=zone)
    moment = resolve(f"{count} {unit}s", now)
    assert moment.timestamp() < now.timestamp()
    days = {"minute": 1 / 1440, "hour": 1 / 24, "day": 1, "week": 7, "month": 30.5, "year": 365.3}[
        unit
    ]
    assert (
        abs((now.timestamp() - moment.timestamp()) / 86400 - count * days) < 2 + count * days / 50
    )


@given(st.text(max_size=20))
def test_any_text_is_a_moment_or_refused(text):
    try:
        assert resolve(text, NOW).tzinfo
    except UsageError as error:
        assert error.hint  # noqa: PT017


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-03-02T07:15", "2026-03-02T07:15:00+01:00"),
        ("2026-03-30T07:15", "2026-03-30T07:15:00+02:00"),
        ("yesterday", "2026-03-30T00:00:00+02:00"),
        ("3 days", "2026-03-28T14:30:00+01:00"),
        ("2026-03-29T02:30", "clock change"),
        ("2025-10-26T02:30", "clock change"),
    ],
)
def test_the_clock_of_the_machine_knows_its_changes(monkeypatch, text, moment):
    """Python gives it as a fixed offset, that of now, which would be wrong before a change."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    monkeypatch.setattr(since, "_is_system", lambda _: True)
    time.tzset()
    try:
        now = datetime(2026, 3, 31, 14, 30).astimezone()
        if "change" in moment:
            with pytest.raises(UsageError, match=moment):
                resolve(text, now)
        else:
            assert resolve(text, now).isoformat() == moment
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    ("word", "day"),
    [("monday", 30), ("sunday", 29), ("saturday", 28), ("friday", 27), ("thursday", 26),
     ("wednesday", 25)],
)  # fmt: skip
def test_a_weekday_is_the_last_one_of_that_name(word, day):
    assert resolve(word.title(), NOW).date() == date(2026, 3, day)
