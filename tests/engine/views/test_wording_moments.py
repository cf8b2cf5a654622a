"""A moment is said by the reader's clock; another clock of its writer stands behind it."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.views.wording import age, ago, clock_times, day, moment

BERLIN, CHICAGO, KOLKATA = map(ZoneInfo, ("Europe/Berlin", "America/Chicago", "Asia/Kolkata"))
ZONES = st.sampled_from([BERLIN, CHICAGO, KOLKATA, UTC])


@pytest.mark.parametrize(
    ("written", "zone", "words"),
    [
        ("2026-03-02T07:15:40+01:00", BERLIN, "2026-03-02 07:15"),
        ("2026-03-02T07:15:40+01:00", UTC, "2026-03-02 06:15 (07:15 at +01:00)"),
        ("2026-03-02T07:15:40+01:00", CHICAGO, "2026-03-02 00:15 (07:15 at +01:00)"),
        ("2026-03-02T05:15:40+01:00", CHICAGO, "2026-03-01 22:15 (2026-03-02 05:15 at +01:00)"),
        ("2026-03-02T07:15:00+00:00", KOLKATA, "2026-03-02 12:45 (07:15 at +00:00)"),
        # what was written in winter is read in summer, on the same clock
        ("2026-07-02T07:15:00+02:00", BERLIN, "2026-07-02 07:15"),
        ("2026-07-02T07:15:00+01:00", BERLIN, "2026-07-02 08:15 (07:15 at +01:00)"),
        # the hour that comes twice
        ("2026-10-25T02:30:00+02:00", BERLIN, "2026-10-25 02:30"),
        ("2026-10-25T02:30:00+01:00", BERLIN, "2026-10-25 02:30"),
        ("2026-10-25T01:30:00+00:00", BERLIN, "2026-10-25 02:30 (01:30 at +00:00)"),
    ],
)
def test_the_readers_clock_first(written: str, zone: ZoneInfo, words: str) -> None:
    assert moment(datetime.fromisoformat(written), zone) == words


@given(st.datetimes(datetime(2000, 1, 1), datetime(2040, 1, 1)), ZONES, ZONES)
def test_nothing_of_a_moment_is_lost(naive: datetime, writer: ZoneInfo, reader: ZoneInfo) -> None:
    then = naive.replace(tzinfo=UTC).astimezone(writer)
    words = moment(then, reader)
    here = then.astimezone(reader)
    assert words.startswith(here.strftime("%Y-%m-%d %H:%M"))
    assert ("at" in words) == (then.utcoffset() != here.utcoffset())
    assert day(then, reader) == words[:10]


def test_this_machines_clock_where_no_other_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    then = datetime.fromisoformat("2026-03-02T07:15:00+01:00")
    said = {}
    for zone in ("Europe/Berlin", "America/Chicago"):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        said[zone] = moment(then)
    monkeypatch.undo()
    time.tzset()
    assert said == {
        "Europe/Berlin": "2026-03-02 07:15",
        "America/Chicago": "2026-03-02 00:15 (07:15 at +01:00)",
    }


def test_a_night_with_a_change_of_clock_says_the_offsets() -> None:
    start = datetime.fromisoformat("2026-10-24T23:30:00+00:00")
    times = [start + timedelta(minutes=30 * n) for n in range(5)]
    assert clock_times(times, BERLIN) == [
        "2026-10-25 01:30 +02:00",
        "2026-10-25 02:00 +02:00",
        "2026-10-25 02:30 +02:00",
        "2026-10-25 02:00 +01:00",
        "2026-10-25 02:30 +01:00",
    ]
    assert clock_times(times[:2], BERLIN) == ["2026-10-25 01:30", "2026-10-25 02:00"]


def test_ages_in_one_figure() -> None:
    now = datetime(2026, 3, 9, 12, tzinfo=UTC)
    spans = [20, 300, 3 * 3600, 13 * 86400, 15 * 86400]
    said = [age(now - timedelta(seconds=s), now) for s in spans]
    assert said == ["now", "5 min", "3 h", "13 d", "2 wk"]
    assert ago(now, now) == "just now"
    assert ago(now - timedelta(hours=3), now) == "3 h ago"


@given(st.lists(st.integers(0, 10**8), min_size=2))
def test_what_is_older_never_reads_younger(spans: list[int]) -> None:
    now = datetime(2026, 3, 9, 12, tzinfo=UTC)
    units = {"now": 0, "min": 60, "h": 3600, "d": 86400, "wk": 7 * 86400}

    def size(seconds: int) -> int:
        number, _, unit = age(now - timedelta(seconds=seconds), now).rpartition(" ")
        return int(number or 0) * units[unit]

    assert all(size(a) <= size(b) for a, b in pairwise(sorted(spans)))
