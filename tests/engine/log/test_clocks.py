"""A moment put to a history whose clocks went wrong: by small histories, told by their stamps."""

from __future__ import annotations

import random

import pytest

from engine.log.ancestry import apart
from engine.log.clocks import SKEW, Clock
from engine.log.walked_ways import WalkedWays
from tests.engine.log.test_who_changed_what import NOON, Saved, Who

DAY = 86_400


def ways(*stamps: float, parents: dict[int, tuple[int, ...]] | None = None) -> WalkedWays:
    """A straight history by its stamps in days; `parents` where it is not straight."""
    made = WalkedWays()
    for n, days in enumerate(stamps):
        own = (parents or {}).get(n, (n - 1,) if n else ())
        ids = tuple(map(str, own))
        saved = Saved(
            str(n), ids, Who("m", "M"), NOON, "", "", "", "", True, stamp=round(days * DAY)
        )
        made.append(saved, own)
    return made


def head_at(made: WalkedWays, head: int, days: float, now: float | None = None) -> int:
    clock = Clock(made, head, None if now is None else now * DAY)
    return clock.head_at(days * DAY)


@pytest.mark.parametrize(
    ("stamps", "asked", "now", "found"),
    [
        ((1, 2, 3), 2.5, 4, 1),
        ((1, 2, 3), 2, 4, 1),  # of that very moment
        ((1, 2, 3), 0.5, 4, -1),
        ((1, 5, 6, 3), 4, 7, 0),  # the head is stamped three days back
        ((1, 5, 6, 3), 6.5, 7, 2),  # it may be later than that
        ((1, 5, 2, 6), 3, 7, 0),  # one in between
        ((1, 5, 2, 6), 5.5, 7, 1),
        ((1, 5, 2, 6), 6.5, 7, 3),  # what stands on it is surely there
        ((1, 3, 4, 0.5, 0.6, 0.7), 2, 5, 0),  # set back for good, behind all there is
        ((1, 3, 4, 0.5, 0.6, 0.7), 4.5, 5, 2),
        ((1, 2, 32, 33, 3, 4), 3.5, 5, 4),  # a clock in the future for a while, seen from before
        ((1, 2, 32, 33, 3, 4), 2.5, 5, 1),
        ((1, 2, 32, 33), 3, 5, 1),  # and still there
        ((32, 33, 3), 4, 5, 2),
        ((1, 2, 32, 33, 3, 4), 3.5, 40, 1),  # seen from after: nobody knows; all is shown
        ((1, 2, 32, 33, 3, 4, 34), 35, 40, 6),
    ],
)
def test_the_head_at_a_moment(stamps: tuple[float, ...], asked: float, now: float, found: int):
    assert head_at(ways(*stamps), len(stamps) - 1, asked, now) == found


def test_small_skews_of_boxes_are_none():
    apart = (SKEW - 1) / DAY
    made = ways(1, 1 + apart, 1.0001, 2)
    assert (made.jumps().count, made.jumps().behind) == (0, 0)
    assert head_at(made, 3, 1.5) == 2
    apart = (SKEW + 60) / DAY
    made = ways(1, 1 + apart, 1, 2)
    (jump,) = made.jumps().last
    assert (jump.commit, jump.parent, made.jumps().behind) == ("2", "1", 1)


def test_what_may_be_later_is_never_left_out():
    dice = random.Random(7)
    for _ in range(300):
        true = sorted(dice.uniform(1, 100) for _ in range(12))
        stamps = list(true)
        start, length = dice.randrange(12), dice.choice([1, 1, 2, 5, 12])
        off = dice.choice([-30, -3, 3, 30])
        shifted = range(start, min(start + length, 12))
        for n in shifted:
            stamps[n] += off
        if off < 0 and not all(stamps[n] < true[start - 1] - 0.1 for n in shifted if start):
            continue  # no order shows that such a stamp is wrong
        if off < 0 and not start:
            continue
        made = ways(*stamps)
        for asked in [n + 0.1 for n in range(100)]:
            found = head_at(made, 11, asked, now=100)
            assert found < sum(moment <= asked for moment in true), (stamps, true, asked)


@pytest.mark.parametrize("asked", [1.5, 2.5, 3.5, 6.5])
def test_later_than_a_moment_is_what_its_head_did_not_know(asked: float):
    """A box that is two days ahead, and one that is right, meet."""
    made = ways(1, 2, 5, 3, 4, 6, parents={2: (1,), 3: (1,), 4: (3, 2), 5: (4,)})
    clock = Clock(made, 5, 7 * DAY)
    later = clock.later_than(asked * DAY)
    known = clock.head_at(asked * DAY - 1)
    assert not later(known)
    shown = {n for n in range(6) if later(n)}
    stamped = [1, 2, 5, 3, 4, 6]
    assert {n for n, stamp in enumerate(stamped) if stamp >= asked and n not in (2,)} <= shown | {
        n for n in range(6) if not later(5)
    }


@pytest.mark.parametrize("stamps", [(32,), (1, 32), (32, 1)])
def test_a_stamp_of_the_future_is_noticed_wherever_it_stands(stamps: tuple[float, ...]):
    made = ways(*stamps)
    assert Clock(made, len(stamps) - 1, 5 * DAY).is_ahead
    assert not Clock(made, len(stamps) - 1, 33 * DAY).is_ahead
    assert not Clock(made, len(stamps) - 1, None).is_ahead
    assert not Clock(made, -1, 5 * DAY).is_ahead, "nothing was ever saved"


@pytest.mark.parametrize(
    ("stamps", "order"),
    [
        ((1, 1, 1, 1, 1), [1, 2, 3, 4]),  # of one moment
        ((1, 2, 3, 4, 5), [1, 2, 3, 4]),
        ((1, 4, 5, 2, 3), [3, 4, 1, 2]),  # side by side, by their clocks
        ((1, 5, 2, 3, 4), [3, 4, 1, 2]),  # whatever runs backwards stays behind what it stands on
    ],
)
def test_commits_of_two_sides_come_parents_first_and_then_by_their_clocks(
    stamps: tuple[float, ...], order: list[int]
):
    made = ways(*stamps, parents={3: (0,)})
    found = apart(made, [2, 4])
    assert list(found) == order
    assert found == {1: 0b01, 2: 0b01, 3: 0b10, 4: 0b10}
    assert apart(made, [2, 1]) == {2: 0b01}
    assert apart(made, [2, 2]) == {}
