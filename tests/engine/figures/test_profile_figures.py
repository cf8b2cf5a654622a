"""Times of one stretch against published values, `ruckig`, and a sum over small steps.

Published: Lynch and Park, Modern Robotics: Mechanics, Planning, and Control, 2017,
section 9.2 (from memory).
`ruckig` is an independent trajectory library; without a jerk limit it solves the
same problem.
"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import ruckig
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.mechanics.profile import (
    LastStretch,
    Limits,
    Share,
    joint,
    peak,
    peak_to_rest,
    seconds,
    seconds_to_rest,
    stopping_distance,
)

MOVES = 1200
BOOK = Limits(1000, 2000, 2000)


def by_ruckig(way, limits, start=0.0, end=0.0):
    """Shortest time of one axis by the reference library; asymmetric braking as its minimum."""
    axes = len(way)
    given_, found = ruckig.InputParameter(axes), ruckig.Trajectory(axes)
    given_.synchronization = ruckig.Synchronization.No  # each axis as fast as it can
    given_.current_position = [0.0] * axes
    given_.target_position = list(way)
    given_.current_velocity = [start] * axes
    given_.target_velocity = [end] * axes
    given_.max_velocity = [one.speed for one in limits]
    given_.max_acceleration = [one.acceleration for one in limits]
    given_.min_acceleration = [-one.braking for one in limits]
    assert ruckig.Ruckig(axes).calculate(given_, found) == ruckig.Result.Working
    return found.duration


def some_limits(rng):
    return Limits(rng.uniform(5, 3000), rng.uniform(20, 12000), rng.uniform(20, 12000))


def by_small_steps(distance, limits, approach, steps=40_000):
    """Time by adding up ds/v under everything that bounds the speed at each place."""
    s = (np.arange(steps) + 0.5) * distance / steps
    begins = distance - min(approach.length, distance)
    slow = min(approach.speed, limits.speed)
    speed = np.minimum(limits.speed, np.sqrt(2 * limits.acceleration * s))
    speed = np.minimum(speed, np.sqrt(2 * limits.braking * (distance - s)))
    before = np.sqrt(slow**2 + 2 * limits.braking * np.maximum(begins - s, 0))
    return float(np.sum(distance / steps / np.minimum(speed, before)))


# -- published ---------------------------------------------------------------


@pytest.mark.parametrize(("d", "t"), [(1000, 1.5), (500, 1.0), (100, 0.44721)])
def test_move_time_as_published(d, t):
    assert seconds(d, BOOK) == pytest.approx(t, abs=5e-6)


def test_unequal_braking_by_hand():
    # d/v + v/2·(1/a + 1/b) = 1000/500 + 250·(1/1000 + 1/500) = 2.75 s
    assert seconds(1000, Limits(500, 1000, 500)) == pytest.approx(2.75)
    # too short to reach it: v² = 2abd/(a+b) = 2·1000·500·100/1500, t = v·(1/a + 1/b)
    v = math.sqrt(2 * 1000 * 500 * 100 / 1500)
    assert seconds(100, Limits(500, 1000, 500)) == pytest.approx(v * (1 / 1000 + 1 / 500))


def test_approach_by_hand():
    # 500 mm, the last 20 at 100 mm/s, v 500, a 1000, b 500:
    # up 0.5 s (125 mm), down to 100 in 0.8 s (240 mm), 115 mm at 500 in 0.23 s;
    # then 10 mm at 100 in 0.1 s and 10 mm of braking in 0.2 s
    found = seconds_to_rest(500, Limits(500, 1000, 500), LastStretch(20, 100))
    assert found == pytest.approx(0.5 + 0.8 + 0.23 + 0.1 + 0.2)


# -- the reference library ---------------------------------------------------


def test_one_axis_as_ruckig():
    rng = random.Random(1)
    for _ in range(MOVES):
        limits, way = some_limits(rng), 10 ** rng.uniform(-1, 3.5)
        assert seconds(way, limits) == pytest.approx(by_ruckig([way], [limits]), rel=1e-3)


def test_free_moves_of_three_axes_as_ruckig():
    rng = random.Random(2)
    for _ in range(MOVES):
        limits = [some_limits(rng) for _ in range(3)]
        ways = [rng.uniform(-2000, 2000) for _ in range(3)]
        slowest = max(seconds(abs(way), one) for way, one in zip(ways, limits, strict=True))
        towards = [  # an axis that goes backwards speeds up with what ruckig calls braking
            one if way > 0 else Limits(one.speed, one.braking, one.acceleration)
            for way, one in zip(ways, limits, strict=True)
        ]
        assert slowest == pytest.approx(by_ruckig(ways, towards), rel=1e-3)


def test_transition_to_the_approach_as_ruckig():
    rng, rolling = random.Random(3), 0
    for _ in range(MOVES):
        limits, way = some_limits(rng), rng.uniform(5, 2000)
        approach = LastStretch(rng.uniform(0.5, 60), rng.uniform(5, 600))
        main, last, between = joint(way, limits, approach)
        slow = Limits(min(approach.speed, limits.speed), limits.acceleration, limits.braking)
        whole = 0.0
        if main > 1e-9:
            # a hair less than the highest speed there, so that rounding leaves it in reach
            end = between * (1 - 1e-7)
            rolling += end > 0
            whole += by_ruckig([main], [limits], 0.0, end)
        whole += by_ruckig([last], [slow], between * (1 - 1e-7) if main > 1e-9 else 0.0, 0.0)
        assert seconds_to_rest(way, limits, approach) == pytest.approx(whole, rel=1e-3)
    assert rolling > 1000


def test_whole_moves_as_small_steps():
    rng = random.Random(4)
    for _ in range(150):
        limits, way = some_limits(rng), rng.uniform(5, 2000)
        approach = LastStretch(rng.uniform(0.5, 2500), rng.uniform(5, 4000))
        stepped = by_small_steps(way, limits, approach)
        assert seconds_to_rest(way, limits, approach) == pytest.approx(stepped, rel=5e-3)


# -- what always holds -------------------------------------------------------

positive = st.floats(0.1, 5000)
limits_of = st.builds(Limits, positive, positive, positive)
approaches = st.builds(LastStretch, st.floats(0, 3000), positive)


@given(positive, limits_of, approaches, st.floats(1, 3))
def test_longer_ways_and_slower_axes_take_no_less(way, limits, approach, more):
    slower = Limits(limits.speed / more, limits.acceleration, limits.braking)
    base = seconds_to_rest(way, limits, approach)
    assert seconds_to_rest(way * more, limits, approach) >= base * (1 - 1e-9)
    assert seconds_to_rest(way, slower, approach) >= base * (1 - 1e-9)
    slow = LastStretch(approach.length, approach.speed / more)
    assert seconds_to_rest(way, limits, slow) >= base * (1 - 1e-9)


@given(positive, limits_of, approaches, st.floats(0.01, 100))
def test_times_stay_when_ways_speeds_and_accelerations_grow_alike(way, limits, approach, k):
    grown = Limits(limits.speed * k, limits.acceleration * k, limits.braking * k)
    longer = LastStretch(approach.length * k, approach.speed * k)
    base = seconds_to_rest(way, limits, approach)
    assert seconds_to_rest(way * k, grown, longer) == pytest.approx(base, rel=1e-9)


@given(limits_of, st.floats(1, 120))
def test_a_path_as_a_share_has_the_same_times(limits, percent):
    share = Share.of(limits)
    assert share.seconds(percent) == pytest.approx(seconds(1.0, limits.at(percent)), rel=1e-9)
    assert share.top(percent) == pytest.approx(peak(1.0, limits.at(percent)), rel=1e-9)


@given(positive, limits_of, approaches)
def test_no_jump_and_no_limit_passed_at_the_approach(way, limits, approach):
    main, last, between = joint(way, limits, approach)
    assert main + last == pytest.approx(way)
    assert 0 <= between <= min(approach.speed, limits.speed)
    assert between**2 <= 2 * limits.acceleration * main * (1 + 1e-9) + 1e-9
    assert between**2 <= 2 * limits.braking * last * (1 + 1e-9) + 1e-9
    assert peak_to_rest(way, limits, approach) <= limits.speed
    # it costs time, and no more than creeping all the way
    assert seconds_to_rest(way, limits, approach) >= seconds(way, limits) * (1 - 1e-9)
    slow = Limits(min(approach.speed, limits.speed), limits.acceleration, limits.braking)
    assert seconds_to_rest(way, limits, approach) <= seconds(way, slow) * (1 + 1e-9)


@given(positive, limits_of, positive)
def test_a_move_shorter_than_its_approach_is_all_approach(way, limits, speed):
    slow = Limits(min(speed, limits.speed), limits.acceleration, limits.braking)
    found = seconds_to_rest(way, limits, LastStretch(way * 1.5, speed))
    assert found == pytest.approx(seconds(way, slow))


@given(positive, limits_of, st.floats(0.5, 3000))
def test_an_approach_faster_than_the_stage_changes_nothing_of_the_top_speed(way, limits, length):
    fast = LastStretch(length, limits.speed * 2)
    assert peak_to_rest(way, limits, fast) == pytest.approx(peak(way, limits))
    assert seconds_to_rest(way, limits, fast) == pytest.approx(seconds(way, limits), rel=1e-6)


def test_percent_scales_speed_and_not_acceleration():
    assert BOOK.at(30) == Limits(300, 2000, 2000)
    assert BOOK.at(130) == BOOK  # an axis is never faster than its full speed
    assert seconds(1000, BOOK.at(50)) == pytest.approx(1000 / 500 + 500 / 2000)


def test_nothing_takes_no_time():
    still = Limits(math.inf, math.inf, math.inf)
    assert (
        seconds_to_rest(0, still, LastStretch(5, 10))
        == peak_to_rest(0, still, LastStretch(5, 10))
        == 0
    )


def test_stopping_distance_by_hand():
    assert stopping_distance(100, 0.2, 500) == pytest.approx(30)
