"""Legs of a cell: straight and free moves, pockets, units, speed of the fingers, stopping.

The straight-line case is worked; the teaching speed is that of ISO 10218-1:2011, 5.6.2,
manual reduced speed (from memory). Times of single stretches are held in test_profile_figures.
"""

from __future__ import annotations

import math

import pytest

from engine.figures.geometry.axes import TipShare, resultant
from engine.figures.groups import motion
from engine.figures.inputs import Facts, Missing
from engine.figures.mechanics.legs import way_of
from engine.figures.mechanics.profile import (
    LastStretch,
    Limits,
    seconds,
    seconds_to_rest,
    stopping_distance,
)
from engine.figures.mechanics.travel import mover, seconds_by_pocket, tip_speed
from tests.engine.figures.a_gantry import facts, named

# -- worked ------------------------------------------------------------------


def two_axes(path, moves=("carriage+reach",)):
    """800 and 600 mm at 1000 and 500 mm/s, 1000 and 4000 mm/s²; nothing else moves."""
    changes = {f"record:positions.fetch.{axis}": 0 for axis in ("carriage", "reach")}
    changes |= {"record:positions.collect.carriage": 800, "record:positions.collect.reach": 600}
    changes |= {"record:positions.collect.lift": 110, "record:positions.collect.wrist": 0}
    changes |= {"record:approach.collect.length": 0, "cell:stations.fetch.over_tray": False}
    changes |= {"cell:axes.carriage.acceleration": 1000, "cell:axes.reach.acceleration": 4000}
    changes |= {"cell:axes.reach.speed": 500, "cell:axes.reach.braking": 4000}
    changes |= {"cell:legs.fetch_collect.path": path}
    return facts(changes | {"cell:legs.fetch_collect.moves": list(moves)})


@pytest.mark.parametrize(("path", "t"), [("straight", 1.867), ("free", 1.789)])
def test_straight_line_move_as_worked(path, t):
    assert seconds_by_pocket(two_axes(path), "fetch_collect") == pytest.approx((t,), abs=5e-4)


def test_one_axis_after_another_is_the_sum():
    free = seconds(800, Limits(1000, 1000, 1000)) + seconds(600, Limits(500, 4000, 4000))
    one_by_one = two_axes(None, ["carriage", "reach"])
    assert seconds_by_pocket(one_by_one, "fetch_collect") == pytest.approx((free,))


# -- legs of a cell ----------------------------------------------------------


def gantry_leg(base: Facts, column: int, row: int, percent: float = 100.0) -> float:
    """fetch_collect from one pocket, worked by hand: lift, carriage with reach, wrist, lift."""
    share = percent / 100
    up = seconds(290, Limits(500 * share, 1200, 1200))
    across, along = 1500 - 50 - 88 * column, 200 - 40 - 91.5 * row
    path = [
        (Limits(1000 * share, 2000, 2000), across),
        (Limits(600 * share, 1500, 1000), abs(along)),
    ]
    kept = Limits(
        min(one.speed / way for one, way in path),
        min(one.acceleration / way for one, way in path),
        min(one.braking / way for one, way in path),
    )
    turn = seconds(180, Limits(180 * share, 720, 720))
    down = seconds_to_rest(400 - 146.5, Limits(500 * share, 1200, 1200), LastStretch(18, 55))
    return up + seconds(1.0, kept) + turn + down


@pytest.mark.parametrize("percent", [100.0, 10.0])
def test_mean_and_worst_pocket_as_one_by_one(percent):
    base = facts()
    every = {(c, r): gantry_leg(base, c, r, percent) for r in range(6) for c in range(13)}
    found = seconds_by_pocket(base, "fetch_collect", percent)
    assert sum(found) / 78 == pytest.approx(sum(every.values()) / 78)
    assert max(found) == pytest.approx(max(every.values()))
    if percent == 100.0:
        worst = named(motion.figures(base), "leg time, worst pocket", "fetch_collect")
        c, r = max(every, key=every.get)
        assert worst.note == f"r{r + 1}c{c + 1}"


def test_unused_pockets_are_not_gone_to():
    unused = [f"r{r}c{c}" for r in range(1, 7) for c in range(1, 13)]
    corner = facts({"record:tray.unused": unused})
    assert len(seconds_by_pocket(corner, "fetch_collect")) == 6


def test_from_the_pocket_given_back_to_the_next_one_to_fetch():
    way = way_of(facts(), "return_fetch")
    assert way.pairs[0] == ((0, 0), (1, 0))
    assert way.pairs[12] == ((12, 0), (0, 1))
    back = way_of(facts({"cell:bed.path": "rows back and forth"}), "return_fetch")
    assert back.pairs[12] == ((12, 0), (12, 1))
    columns = way_of(facts({"cell:bed.path": "columns back and forth"}), "return_fetch")
    assert columns.pairs[5] == ((0, 5), (1, 5))


@pytest.mark.parametrize(
    ("corner", "sign", "first"),
    [
        ("near left", 1, 1450.0),
        ("near right", 1, 1450.0),
        ("near left", -1, 1450.0),
    ],
)
def test_which_way_the_grid_runs(corner, sign, first):
    way = way_of(
        facts({"cell:bed.corner": corner, "cell:axes.carriage.sign": sign}), "fetch_collect"
    )
    step = 88 if (corner, sign) != ("near left", 1) else -88
    across = [ways[0] for ways in way.lengths[1].distinct]
    assert across[:2] == pytest.approx([first, first + step])


def test_axes_in_inches_move_as_in_mm():
    inch = {
        f"cell:axes.lift.{n}": v / 25.4
        for n, v in {"least": 0, "most": 500, "speed": 500, "acceleration": 1200}.items()
    }
    inch |= {
        f"record:positions.{s}.lift": v / 25.4
        for s, v in {"fetch": 110, "collect": 146.5, "seat": 150, "return": 108.5}.items()
    }
    inch |= {
        f"cell:legs.{leg}.via.lift": 400 / 25.4
        for leg in ("fetch_collect", "collect_seat", "seat_return", "return_fetch")
    }
    other = facts({k: round(v, 12) for k, v in inch.items()} | {"cell:axes.lift.unit": "in"})
    for leg in ("fetch_collect", "collect_seat"):
        assert seconds_by_pocket(other, leg) == pytest.approx(seconds_by_pocket(facts(), leg))


def test_a_record_in_inches_has_the_same_approach():
    base, inch = (
        facts(),
        facts(
            {
                "record:record.units": "in",
                "record:approach.seat.length": 18 / 25.4,
                "record:tray.pitch_across": 88 / 25.4,
                "record:tray.pitch_along": 91.5 / 25.4,
            }
        ),
    )  # speeds of approaches stay mm/s
    assert seconds_by_pocket(inch, "collect_seat") == pytest.approx(
        seconds_by_pocket(base, "collect_seat")
    )


def test_an_axis_that_a_station_does_not_name_stands_where_it_was():
    short = facts({"cell:stations.seat.axes": ["carriage", "reach", "lift", "bed"]})
    moved = {s.axis for move in way_of(short, "collect_seat").moves for s in move}
    assert "wrist" not in moved
    later = way_of(short, "seat_return").moves
    assert all(s.axis != "wrist" for move in later for s in move)  # 180 from collect on


def test_a_loader_axis_in_no_move_is_told():
    forgot = facts({"cell:legs.fetch_collect.moves": ["lift", "carriage+reach", "lift"]})
    with pytest.raises(Missing) as error:
        seconds_by_pocket(forgot, "fetch_collect")
    assert error.value.addresses == ("cell:legs.fetch_collect.moves",)


def test_an_approach_of_a_slant_is_slow_at_the_fingers():
    slant = facts(
        {
            "cell:legs.fetch_collect.moves": ["lift", "wrist", "carriage+reach+lift"],
            "cell:legs.fetch_collect.path": "straight",
        }
    )
    way = way_of(slant, "fetch_collect")
    last = mover(slant, way, 2, tip=True)
    able = last.along_tip(0)
    tip = math.hypot(1450, 160, 253.5)
    assert last.tips[0] == pytest.approx(tip)
    assert able.speed == pytest.approx(tip * min(1000 / 1450, 600 / 160, 500 / 253.5))
    slow = seconds_to_rest(tip, able, LastStretch(18, 55))
    assert last.seconds(100.0)[0] == pytest.approx(slow)


def test_axes_along_one_line_add_up_at_the_fingers():
    both = facts({"cell:axes.reach.along": "x"})
    way = way_of(both, "fetch_collect")
    assert mover(both, way, 1, tip=True).tips[0] == pytest.approx(1450 + 160)
    against = facts({"cell:axes.reach.along": "x", "cell:axes.reach.sign": -1})
    way = way_of(against, "fetch_collect")
    assert mover(against, way, 1, tip=True).tips[0] == pytest.approx(1450 - 160)


def test_an_approach_is_the_loaders_even_where_the_machine_moves_last():
    """The bed comes after the fingers: nobody waits for it at 55 mm/s."""
    bed = {
        "cell:legs.collect_seat.moves": ["lift", "wrist", "lift", "bed"],
        "record:positions.seat.bed": 320,
        "cell:axes.bed.speed": 100,
        "cell:axes.bed.acceleration": 1000,
    }
    late = seconds_by_pocket(facts(bed), "collect_seat")[0]
    bed["cell:legs.collect_seat.moves"] = ["bed", "lift", "wrist", "lift"]
    early = seconds_by_pocket(facts(bed), "collect_seat")[0]
    assert late == pytest.approx(early)


def test_an_approach_may_be_as_short_and_slow_as_a_person_likes():
    base = {"record:approach.seat.length": 0.4, "record:approach.seat.speed": 0.5}
    slow = seconds_by_pocket(facts(base), "collect_seat")[0]
    base["record:approach.seat.speed"] = 5
    assert slow - seconds_by_pocket(facts(base), "collect_seat")[0] == pytest.approx(0.72, abs=0.02)
    none = facts({"record:approach.seat.length": 0, "record:approach.seat.speed": 0.5})
    assert seconds_by_pocket(none, "collect_seat")[0] < slow - 0.7


# -- the speed of the fingers ------------------------------------------------


def test_teaching_speed_is_the_resultant():
    # 150 and 200 mm/s together are exactly the 250 mm/s of ISO 10218-1:2011
    level = [(TipShare("x", 1), 150.0), (TipShare("y", 1), 200.0)]
    assert resultant(level) == pytest.approx(250)
    turning = [(TipShare("arm", math.radians(1)), 180.0)]  # 180 deg/s at 1 mm is pi mm/s
    assert resultant(turning) == pytest.approx(math.pi)
    assert resultant([*level, *turning]) == pytest.approx(250 + math.pi)
    opposed = [(TipShare("x", 1), 150.0), (TipShare("x", -1), 150.0)]
    assert resultant(opposed) == pytest.approx(0)
    swing = [(TipShare("arm", 2.0), 30.0), (TipShare("reach", 1.0), 80.0)]
    assert resultant(swing) == pytest.approx(100)  # an arm and its reach are square


@pytest.mark.parametrize(
    ("percent", "verdict"), [(10, "fits"), (22, "tight"), (24, "does not fit")]
)
def test_teaching_speed_against_the_policy(percent, verdict):
    taught = facts({"cell:cell.teaching_percent": percent})
    found = named(motion.figures(taught), "tip speed at teaching", "return_fetch")
    assert found.limit == 250
    assert found.verdict == verdict
    assert (found.margin < 0) == (verdict == "does not fit")


def test_teaching_at_the_lowest_stage_where_the_cell_names_no_percent():
    found = named(motion.figures(facts()), "tip speed at teaching", "collect_seat")
    assert found.value == pytest.approx(60)  # lift, 500 mm/s at 12 %
    assert "lowest stage" in found.note


def test_percent_for_teaching_holds_the_limit_on_every_leg():
    base = facts()
    percent = named(motion.figures(base), "percent for teaching").value
    assert percent == pytest.approx(100 * 250 / math.hypot(1000, 600))
    for leg in base.cell.legs:
        assert tip_speed(base, leg, percent) <= 250 + 1e-9


def test_turning_alone_has_a_speed_at_its_radius():
    wrist = facts({"cell:legs.collect_seat.moves": ["wrist", "lift"]})
    # 180 deg/s at 60 mm; the lift goes up 3.5 mm only, all of it approach
    assert tip_speed(wrist, "collect_seat") == pytest.approx(math.radians(180) * 60)


# -- stopping ----------------------------------------------------------------


def test_stopping_distance():
    found = named(motion.figures(facts()), "stopping distance", "collect_seat")
    assert found.value == pytest.approx(55 * 0.1 + 55**2 / 2400)
    assert (found.limit, found.verdict) == (18, "fits")


@pytest.mark.parametrize(
    ("speed", "verdict"), [(55, "fits"), (110, "tight"), (160, "does not fit")]
)
def test_stopping_margin_changes_sign_with_the_verdict(speed, verdict):
    found = named(
        motion.figures(facts({"record:approach.seat.speed": speed})),
        "stopping distance",
        "collect_seat",
    )
    assert found.verdict == verdict
    assert (found.margin < 0) == (verdict == "does not fit")


def test_an_approach_above_the_stage_stops_from_the_stage():
    fast = facts({"record:approach.seat.speed": 9000})
    found = named(motion.figures(fast), "stopping distance", "collect_seat")
    assert found.value == pytest.approx(stopping_distance(500, 0.1, 1200))


# -- cannot tell -------------------------------------------------------------

LEG_INPUTS = [
    *(f"record:positions.{s}.{a}" for s in ("fetch", "collect") for a in ("carriage", "reach")),
    *(f"record:positions.{s}.{a}" for s in ("fetch", "collect") for a in ("lift", "wrist")),
    *(
        f"cell:axes.{a}.{w}"
        for a in ("carriage", "reach", "lift", "wrist")
        for w in ("speed", "acceleration")
    ),
    *(f"record:tray.{n}" for n in ("pitch_across", "pitch_along", "across", "along")),
    "cell:axes.carriage.sign",
    "cell:axes.carriage.along",
    "record:approach.collect.length",
    "record:approach.collect.speed",
    "cell:bed.corner",
    "cell:bed.across_axis",
    "cell:bed.along_axis",
    "cell:legs.fetch_collect.moves",
    "cell:legs.fetch_collect.path",
    "cell:legs.fetch_collect.via.lift",
]


@pytest.mark.parametrize("address", LEG_INPUTS)
def test_leg_time_names_what_is_missing(address):
    found = named(motion.figures(facts(drop=[address])), "leg time", "fetch_collect")
    assert found.verdict == "cannot tell"
    assert found.missing == (address.removeprefix("record:"),)
    assert found.value is None


def test_everything_that_is_missing_is_named_at_once():
    gone = ["record:positions.fetch.lift", "cell:axes.wrist.speed", "record:approach.collect.speed"]
    found = named(motion.figures(facts(drop=gone)), "leg time", "fetch_collect")
    assert set(found.missing) >= {"positions.fetch.lift"}
    found = named(motion.figures(facts(drop=gone[1:])), "leg time", "fetch_collect")
    assert set(found.missing) == {"cell:axes.wrist.speed", "approach.collect.speed"}


@pytest.mark.parametrize(
    ("name", "address"),
    [
        ("stopping distance", "cell:times.reaction"),
        ("stopping distance", "record:approach.collect.length"),
        ("stopping distance", "record:approach.collect.speed"),
        ("tip speed", "cell:axes.wrist.radius"),
        ("tip speed at teaching", "cell:axes.wrist.radius"),
        ("tip speed at teaching", "record:lot.stages"),
        ("tip speed at teaching", "policy:teaching_speed_most"),
    ],
)
def test_other_figures_name_what_is_missing(name, address):
    found = named(motion.figures(facts(drop=[address])), name, "fetch_collect")
    assert found.verdict == "cannot tell"
    assert address.removeprefix("record:") in found.missing


@pytest.mark.parametrize(
    ("address", "value"),
    [
        ("cell:axes.lift.speed", 0),
        ("cell:axes.lift.acceleration", -1),
        ("cell:axes.lift.braking", 0),
        ("record:approach.collect.speed", 0),
        ("record:approach.collect.length", -1),
    ],
)
def test_what_nothing_can_move_with_counts_as_missing(address, value):
    found = named(motion.figures(facts({address: value})), "leg time", "fetch_collect")
    assert found.missing == (address.removeprefix("record:"),)


def test_a_record_without_its_cell():
    found = motion.figures(facts(cell=None))
    assert found
    assert all(f.missing == ("record.cell",) for f in found)


def test_a_stage_out_of_reason_is_no_stage():
    found = named(
        motion.figures(facts({"record:lot.stages": [0, 50]})),
        "tip speed at teaching",
        "collect_seat",
    )
    assert found.missing == ("lot.stages",)
