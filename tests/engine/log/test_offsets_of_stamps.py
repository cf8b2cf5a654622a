"""The moment of a commit by its stamp, held against Python's own reader of offsets."""

from datetime import UTC, datetime

import pytest

from engine.repo.commit_object import moment_of

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    "offset", ["+0000", "-0000", "+0530", "-0330", "+1245", "+2359", "-2359", "+01:00"]
)
def test_an_offset_is_what_python_reads_in_it(offset: str) -> None:
    found = moment_of(f"1700000000 {offset}")
    assert found.utcoffset() == datetime.strptime(offset, "%z").utcoffset()
    assert found.timestamp() == 1700000000


@pytest.mark.parametrize("offset", ["+9999", "+2460", "+1260", "junk", "+1", "+010", "0100", "Z1"])
def test_what_is_no_offset_makes_no_moment(offset: str) -> None:
    assert moment_of(f"1700000000 {offset}") == EPOCH


def test_a_stamp_without_an_offset_is_that_of_utc() -> None:
    assert moment_of("1700000000").utcoffset() == EPOCH.utcoffset()
