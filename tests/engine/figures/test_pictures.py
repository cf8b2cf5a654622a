"""What pictures show of tray, round and bites, beside sums worked by hand on the two cases."""

from __future__ import annotations

import pytest

from engine.figures.groups import cycle
from engine.figures.pictures import bites, round_bars, staged_round, tray_plan
from engine.views.pictures import CannotTell
from tests.engine.figures.a_gantry import facts
from tests.engine.figures.mill_case import case

ALL = [(column, row) for row in range(4) for column in range(7)]


def test_the_tray_as_it_was_written_down():
    plan = tray_plan(case({"tray.plate": "TP-31", "cell:bed.keep_empty": 2}))
    assert (plan.unit, plan.plate, plan.columns, plan.rows) == ("mm", "TP-31", 7, 4)
    assert (plan.path, plan.corner, plan.keep_empty, plan.round) == (
        "row by row", "near left", 2, True,
    )  # fmt: skip
    assert plan.order == {pocket: n for n, pocket in enumerate(ALL[:-1], 1)}  # r4c7 is unused
    assert (plan.scale.pitch, plan.scale.pocket, plan.scale.missing) == (
        (112.5, 98.3), (62, 62), (),
    )  # fmt: skip
    assert {(f.name, f.at): round(f.value, 6) for f in plan.rooms} == {
        ("web", "across"): 50.5,
        ("web", "along"): 36.3,
        ("finger room", "across"): 52.1,  # less the largest blank, 60.4
        ("finger room", "along"): 37.9,
    }


def test_reach_is_the_worst_pocket_at_each_station():
    plan = tray_plan(case({"policy:travel_margin": 5}))
    assert [(r.station, r.axis, r.least, r.worst) for r in plan.reach] == [
        ("fetch", "slide", 100, (0, 0)), ("fetch", "bridge", 50, (0, 0)),
        ("drop", "slide", 110, (0, 0)), ("drop", "bridge", 50, (0, 0)),
    ]  # fmt: skip
    assert (plan.out, plan.travel_margin) == (frozenset(), 5)


@pytest.mark.parametrize(("margin", "out"), [(50, set()), (51, {0}), (149, {0, 1})])
def test_pockets_out_of_reach_are_those_with_less_left_than_the_policy_wants(margin, out):
    """The bridge stands at 50 mm over the first row, and its rows are 98.3 mm apart."""
    plan = tray_plan(case({"policy:travel_margin": margin}))
    bridge = next(r for r in plan.reach if (r.station, r.axis) == ("fetch", "bridge"))
    assert {row for _, row in bridge.out} == out
    assert plan.out >= bridge.out
    beside = [case(without=["policy:travel_margin"]), case({"positions.fetch.bridge": -1})]
    assert [bool(tray_plan(f).out) for f in beside] == [False, True]


def test_a_rectangle_is_no_circle_and_what_nobody_measured_is_as_usual():
    rectangle = {"tray.pocket_shape": "rectangle", "tray.pocket_size": 40, "tray.pocket_length": 30}
    plan = tray_plan(case(rectangle))
    assert (plan.round, plan.scale.pocket) == (False, (40, 30))
    unknown = tray_plan(case(without=["tray.pocket_size"])).scale
    assert unknown.pocket == pytest.approx((0.8 * 112.5, 0.8 * 98.3))
    one_way = tray_plan(case(without=["tray.pitch_along", "tray.pocket_size"])).scale
    assert one_way.pitch == (112.5, 112.5)
    assert one_way.pocket == pytest.approx((90, 90))
    assert one_way.missing == ("tray.pitch_along",)
    neither = tray_plan(case(without=["tray.pitch_along", "tray.pitch_across"])).scale
    assert (neither.pitch, neither.missing) == ((1, 1), ("tray.pitch_across", "tray.pitch_along"))
    row = tray_plan(case({"tray.along": 1, "tray.unused": []}, without=["tray.pitch_along"])).scale
    assert (row.pitch, row.missing) == ((112.5, 112.5), ())


def test_a_tray_that_cannot_be_told_names_all_that_is_missing():
    plan = tray_plan(case(without=["tray.across", "cell:bed.path", "cell:bed.corner"]))
    assert isinstance(plan, CannotTell)
    assert set(plan.missing) == {"tray.across", "cell:bed.path", "cell:bed.corner"}


# the round


def test_the_lanes_cover_the_round_and_add_up():
    found = round_bars(facts())
    seconds = cycle.cycle(facts())
    assert (found.which, found.percent, found.missing) == ("steady", 100, ())
    assert found.seconds == pytest.approx(seconds)
    assert found.hourly == pytest.approx(3600 / seconds)
    cuts = next(bar for bar in found.bars if bar.kind == "machining")
    assert [(bar.name, bar.start) for bar in found.machine] == [
        ("stands", 0), ("cuts", cuts.start), ("waits", cuts.end),
    ]  # fmt: skip
    assert sum(bar.length for bar in found.machine) == pytest.approx(seconds)
    # doors move without the loader's help, and are its steps; it waits at the end
    assert [bar.name for bar in found.loader] == ["works", "waits"]
    assert sum(bar.length for bar in found.loader) == pytest.approx(seconds)
    assert found.loader[0].length == pytest.approx(
        sum(bar.length for bar in found.bars if bar.kind == "loader")
    )


def test_a_machine_that_waits_for_its_loader():
    found = round_bars(facts({"record:lot.machining_seconds": 2}))
    assert [bar.name for bar in found.loader] == ["works"]
    assert found.machine[-1].name == "waits"
    assert found.machine[-1].length > 0


def test_first_and_last_round_have_no_pieces_an_hour():
    first, last = (round_bars(facts(), which) for which in ("first", "last"))
    assert (first.hourly, first.machine, first.loader) == (None, (), ())
    assert first.seconds == pytest.approx(cycle.first(facts()))
    assert last.hourly is None
    assert last.seconds == pytest.approx(cycle.last(facts()))
    # machining begins it, so that the loader waits first and the machine stands after
    assert [bar.name for bar in last.machine] == ["stands", "cuts", "stands"]
    assert [(bar.name, bar.start) for bar in last.loader] == [("waits", 0), ("works", 60)]


def test_the_stages_of_prove_out_in_turn_and_full_speed_first():
    percents = [staged_round(facts(), "steady", n).percent for n in range(4)]
    assert percents == [100, 12, 45, 100]
    slow = staged_round(facts(), "steady", 1)
    assert slow.seconds == pytest.approx(cycle.cycle(facts(), 12))


def test_a_round_that_cannot_be_told_names_all_that_is_missing():
    gone = {"record:lot.machining_seconds": None, "cell:times.door": None}
    found = round_bars(facts(gone))
    assert set(found.missing) == {"lot.machining_seconds", "cell:times.door"}
    assert (found.seconds, found.bars) == (0, ())


# bites


def test_bites_are_those_that_the_figures_count_with():
    found = bites(case({"blank.height": 31, "fingers.part.hold": "inside"}))
    blank, part = found.pieces
    assert (found.unit, blank.what, part.what) == ("mm", "blank", "part")
    assert (blank.height, blank.least_height, blank.jaws, blank.fingers) == (31, 31, 7.5, 9)
    assert blank.free.value == pytest.approx(31 - 7.5 - 9)
    assert blank.stick_out == pytest.approx(31 - 7.5)
    assert (blank.jaws_inside, blank.fingers_inside) == (False, False)
    assert (part.jaws_inside, part.fingers_inside) == (False, True)
    assert bites(case({"jaws.inside_or_outside": "inside"})).pieces[0].jaws_inside


def test_what_is_not_known_of_a_bite_is_none():
    blank, part = bites(case(without=["jaws.bite", "blank.height", "fingers.part.bite"])).pieces
    assert (blank.height, blank.least_height, blank.jaws, blank.fingers) == (None, None, None, 9)
    assert (part.height, part.jaws, part.fingers, part.stick_out) == (29.8, None, None, None)
    assert blank.free.verdict == "cannot tell"
