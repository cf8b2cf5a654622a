"""The round by hand, its bars, and its first and last time; all sums worked here anew."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.groups import cycle
from engine.figures.mechanics.rounds import order_of
from engine.figures.mechanics.travel import seconds_by_pocket
from tests.engine.figures.a_gantry import facts, named

LEGS = ("fetch_collect", "collect_seat", "seat_return", "return_fetch")
REST = 2 * 1.5 + (0.3 + 0.5 + 0.8) + (1.8 + 0.8 + 0.3 + 0.6)  # doors, collect, seat
WORK = (0.3 + 0.5) + (0.3 + 0.6)  # return, fetch


def legs(base, percent=100.0):
    return {leg: seconds_by_pocket(base, leg, percent) for leg in LEGS}


def mean(times):
    return sum(times) / len(times)


@pytest.mark.parametrize("percent", [100.0, 10.0])
@pytest.mark.parametrize("machining", [60, 4, 6])
def test_cycle_is_exchange_and_the_longer_of_two(machining, percent):
    base = facts({"record:lot.machining_seconds": machining})
    each, by_pocket = legs(base, percent), []
    for n in range(78):
        exchange = REST + each["fetch_collect"][n] + each["collect_seat"][0]
        exchange += each["seat_return"][n]
        by_pocket.append(exchange + max(machining, WORK + each["return_fetch"][n]))
    assert cycle.cycle(base, percent) == pytest.approx(mean(by_pocket))


def test_figures_of_the_round():
    base = facts()
    each, found = legs(base), cycle.figures(base)
    exchange = REST + sum(mean(each[leg]) for leg in LEGS[:3])
    assert named(found, "exchange").value == pytest.approx(exchange)
    assert named(found, "loader's work meanwhile").value == pytest.approx(
        WORK + mean(each["return_fetch"])
    )
    seconds = named(found, "cycle", "full speed").value
    assert seconds == pytest.approx(exchange + 60)
    assert named(found, "parts an hour", "full speed").value == pytest.approx(3600 / seconds)
    at = [f.at for f in found if f.name == "cycle"]
    assert at == ["full speed", "stage 12 %", "stage 45 %", "stage 100 %"]
    slow = named(found, "cycle", "stage 12 %").value
    assert slow > named(found, "cycle", "stage 45 %").value > seconds
    assert named(found, "cycle", "stage 100 %").value == pytest.approx(seconds)


def test_a_loader_slower_than_the_machine_is_told():
    fast = facts({"record:lot.machining_seconds": 2})
    waits = WORK + mean(legs(fast)["return_fetch"]) - 2
    assert waits > 3
    note = named(cycle.figures(fast), "loader's work meanwhile").note
    assert f"the machine waits {waits:.1f} s" in note


def test_first_and_last_round_apart():
    base = facts()
    each = {leg: mean(times) for leg, times in legs(base).items()}
    ways = sum(each[leg] for leg in LEGS[:3])
    # fetch, past the collect position, blow off, seat, out; no part
    first = 0.3 + 0.6 + 2 * 1.5 + ways + 1.8 + 0.8 + 0.3 + 0.6
    assert cycle.first(base) == pytest.approx(first)
    # machining, in, collect, past the seat position, out, return; no blank
    last = 60 + 2 * 1.5 + ways + 0.3 + 0.5 + 0.8 + 0.3 + 0.5
    assert cycle.last(base) == pytest.approx(last)
    assert cycle.bars(base, which="last")[0] == cycle.CycleBar("machining", 0.0, 60.0, "machining")


@pytest.mark.parametrize(
    ("which", "start", "end"), [("first", "fetch", "seat"), ("last", "collect", "return")]
)
def test_first_and_last_round_take_the_short_way_where_there_is_one(which, start, end):
    moves = ["lift", "carriage+reach+wrist", "lift"]
    leg = {"start": start, "end": end, "moves": moves, "path": "free", "via": {"lift": 400}}
    names = [bar.name for bar in cycle.bars(facts({"cell:legs.short": leg}), which=which)]
    assert "short" in names
    assert "collect_seat" not in names


def test_bars_of_the_steady_round():
    base = facts()
    bars = cycle.bars(base)
    by_name = {bar.name: bar for bar in bars}
    names = [bar.name for bar in bars]
    assert names[0] == "door opens"
    assert names.index("seat: blow-off") < names.index("seat: jaws") < names.index("seat: fingers")
    assert by_name["machining"].start == pytest.approx(
        by_name["door closes"].start + by_name["door closes"].length
    )
    assert by_name["return: fingers"].start == pytest.approx(by_name["machining"].start)
    end = max(bar.start + bar.length for bar in bars)
    assert end == pytest.approx(cycle.cycle(base))
    assert by_name["loader waits"].start + by_name["loader waits"].length == pytest.approx(end)


def test_fingers_let_go_first_where_the_record_says_so():
    bars = cycle.bars(facts({"record:jaws.release": "fingers_open_then_jaws_close"}))
    names = [bar.name for bar in bars]
    assert names.index("seat: fingers") < names.index("seat: jaws")


def test_the_machine_waits_where_the_loader_is_slower():
    bars = cycle.bars(facts({"record:lot.machining_seconds": 2}))
    wait = bars[-1]
    assert wait.name == "machine waits"
    machining = next(bar for bar in bars if bar.name == "machining")
    assert wait.start == pytest.approx(machining.start + 2)


def test_two_visits_have_the_tray_within_the_exchange():
    single = facts(
        {
            "cell:cell.round": ["collect", "return", "fetch", "seat", "aside"],
            "cell:stations.aside": {"place": "wait", "does": "wait", "axes": ["lift"]},
            "record:positions.aside.lift": 400,
            "cell:legs": {
                f"{a}_{b}": {
                    "start": a,
                    "end": b,
                    "moves": moves,
                    "path": "free",
                    "via": {"lift": 400},
                }
                for a, b, moves in (
                    ("collect", "return", ["lift", "carriage+reach", "lift"]),
                    ("return", "fetch", ["lift", "carriage+reach+wrist", "lift"]),
                    ("fetch", "seat", ["lift", "carriage+reach", "lift"]),
                    ("seat", "aside", ["lift"]),
                    ("aside", "collect", ["wrist", "lift"]),
                )
            },
        }
    )
    order = order_of(single)
    assert order.exchange == ("collect", "return", "fetch", "seat")
    assert order.meanwhile == ("aside",)
    found = named(cycle.figures(single), "loader's work meanwhile")
    assert found.value == 0
    names = [bar.name for bar in cycle.bars(single)]
    assert names.index("door opens") < names.index("return_fetch") < names.index("door closes")
    first = [bar.name for bar in cycle.bars(single, which="first")]
    assert first[0] == "fetch: fingers"
    assert "collect: fingers" not in first
    last = [bar.name for bar in cycle.bars(single, which="last")]
    assert last[-1] == "return: settle"
    assert "door closes" in last


def test_a_loader_that_stays_with_the_machine():
    stays = facts(
        {
            "cell:cell.round": ["collect", "return", "fetch", "seat"],
            "cell:legs.collect_return": {
                "start": "collect",
                "end": "return",
                "path": "free",
                "moves": ["lift", "carriage+reach", "lift"],
                "via": {"lift": 400},
            },
            "cell:legs.fetch_seat": {
                "start": "fetch",
                "end": "seat",
                "path": "free",
                "moves": ["lift", "carriage+reach", "lift"],
                "via": {"lift": 400},
            },
            "cell:legs.seat_collect": {
                "start": "seat",
                "end": "collect",
                "moves": ["wrist", "lift"],
            },
        }
    )
    assert order_of(stays).meanwhile == ()
    names = [bar.name for bar in cycle.bars(stays)]
    assert names.count("collect: fingers") == 1
    assert names.index("collect: fingers") < names.index("collect_return")
    assert cycle.bars(stays, which="last")[1].name == "door opens"


@given(st.integers(0, 500), st.integers(1, 100))
def test_more_machining_never_makes_a_shorter_cycle(machining, percent):
    base = cycle.cycle(facts({"record:lot.machining_seconds": machining}), float(percent))
    more = cycle.cycle(facts({"record:lot.machining_seconds": machining + 1}), float(percent))
    assert base <= more <= base + 1 + 1e-9


INPUTS = [
    "record:lot.machining_seconds",
    "cell:times.door",
    "cell:times.clamp",
    "cell:times.grip",
    "record:fingers.blank.settle",
    "record:fingers.part.settle",
    "record:blow_off.seconds",
    "cell:legs.collect_seat",
    "cell:cell.round",
    "record:approach.seat.speed",
]


@pytest.mark.parametrize("address", INPUTS)
def test_cycle_names_what_is_missing(address):
    found = named(cycle.figures(facts(drop=[address])), "cycle", "full speed")
    assert found.verdict == "cannot tell"
    assert found.missing == (address.removeprefix("record:"),)


def test_stages_that_are_missing_are_told():
    found = cycle.figures(facts(drop=["record:lot.stages"]))
    assert named(found, "cycle", "stages").missing == ("lot.stages",)
    assert named(found, "cycle", "full speed").verdict == "for information"


@pytest.mark.parametrize(
    ("stages", "told"), [([0, 50], False), ([-5, 50], False), ([50, 101], False), ([1, 100], True)]
)
def test_a_stage_of_nothing_or_beyond_full_speed_gives_no_time(stages, told):
    found = cycle.figures(facts({"record:lot.stages": stages}))
    at = [f.at for f in found if f.name == "cycle" and f.at.startswith("stage")]
    assert at == ([f"stage {n} %" for n in stages] if told else ["stages"])
    assert told or named(found, "cycle", "stages").missing == ("lot.stages",)


def test_a_round_without_jaws_cannot_be_told():
    found = cycle.figures(facts({"cell:cell.round": ["fetch", "return"]}))
    assert named(found, "cycle", "full speed").missing == ("cell:cell.round",)
    assert cycle.figures(facts(cell=None))[0].missing[0] == "record.cell"
