"""Values of two sides: laws that hold for any three texts, and the cases that have a name.

The laws are the design's (issue "Between boxes"); no published source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.merge.run_logs import join_runs
from engine.merge.three_way import group_in_record, join
from schemas.address import same_value

ADDRESSES = [
    "notes.text", "lot.quantity", "jaws.bite", "jaws.kept_at", "positions.seat.lift",
    "blank.height", "positions.seat.reach", "tools.T1.what", "tools.T1.length", "tools.T2.what",
    "program.file", "program.sha256", "photos.jaws.file", "photos.jaws.sha256", "photos.jaws.note",
]  # fmt: skip
NUMBERS = st.sampled_from([1, Decimal("1.0"), 2, 3])
TEXTS = st.dictionaries(st.sampled_from(ADDRESSES), NUMBERS, max_size=15)
ANY = given(st.lists(TEXTS, min_size=1, max_size=2), TEXTS, TEXTS)


@ANY
def test_every_value_is_one_of_the_two_sides(bases, ours, shared):
    done = join(bases, ours, shared, group_in_record)
    for address in {*done.values, *ours, *shared}:
        found = done.values.get(address)
        assert found in (ours.get(address), shared.get(address))


@ANY
def test_nothing_that_one_side_changed_is_dropped_without_a_word(bases, ours, shared):
    done = join(bases, ours, shared, group_in_record)
    for address in {*ours, *shared}:
        mine, theirs = ours.get(address), shared.get(address)
        stands = done.values.get(address)
        told = address in done.contested or address in done.kept
        if not any(same_value(mine, base.get(address)) for base in bases) and not told:
            assert same_value(stands, mine)
        if not any(same_value(theirs, base.get(address)) for base in bases) and not told:
            assert same_value(stands, theirs) or same_value(stands, mine)


TOGETHER = [  # written by hand, not asked of what is tested
    ["jaws.bite", "positions.seat.lift", "positions.seat.reach", "blank.height"],
    ["program.file", "program.sha256"],
    ["photos.jaws.file", "photos.jaws.sha256"],
]
ALONE = ["notes.text", "lot.quantity", "jaws.kept_at", "tools.T1.what", "photos.jaws.note"]


@ANY
def test_what_fits_together_comes_from_one_side(bases, ours, shared):
    done = join(bases, ours, shared, group_in_record)
    for inside in TOGETHER:
        sides = [[side.get(a) for a in inside] for side in (ours, shared)]
        assert [done.values.get(a) for a in inside] in sides


@pytest.mark.parametrize("inside", TOGETHER)
def test_half_of_what_belongs_together_changed_on_each_side_is_never_mixed(inside):
    base = dict.fromkeys(inside, 1)
    ours, shared = {**base, inside[0]: 2}, {**base, inside[1]: 3}
    done = join([base], ours, shared, group_in_record)
    assert (done.values, done.contested) == (shared, [inside[0]])


@pytest.mark.parametrize("address", ALONE)
@pytest.mark.parametrize("inside", TOGETHER)
def test_what_stands_alone_goes_its_own_way(inside, address):
    base = {**dict.fromkeys(inside, 1), address: 1}
    done = join([base], {**base, address: 2}, {**base, inside[0]: 3}, group_in_record)
    assert (done.values, done.contested) == ({**base, address: 2, inside[0]: 3}, [])


@given(TEXTS, TEXTS)
def test_where_one_side_stands_still_the_other_counts(base, changed):
    for bases in ([base], [base, base]):
        ours = join(bases, changed, base, group_in_record)
        shared = join(bases, base, changed, group_in_record)
        for done in (ours, shared):
            assert not done.contested
            assert all(same_value(done.values.get(a), changed.get(a)) for a in {*base, *changed})
    assert join([base], changed, changed, group_in_record).values == changed


def test_a_side_that_only_respells_gives_way_to_none():
    base, ours = {"lot.quantity": Decimal("28")}, {"lot.quantity": Decimal("28.0")}
    assert str(join([base], ours, base).values["lot.quantity"]) == "28.0"
    assert str(join([base], base, ours).values["lot.quantity"]) == "28.0"
    assert join([base], ours, {"lot.quantity": 29}).values == {"lot.quantity": 29}
    other = {"lot.quantity": Decimal("28.00")}  # both respell it: the shared side stays
    assert str(join([base], ours, other).values["lot.quantity"]) == "28.00"


@pytest.mark.parametrize("out", ["here", "there"])
def test_an_entry_taken_out_on_one_side_and_changed_on_the_other_stays_whole(out):
    base = {"tools.T1.what": 1, "tools.T1.length": 2, "lot.quantity": 3}
    gone, changed = {"lot.quantity": 3}, {**base, "tools.T1.what": 9}
    sides = (gone, changed) if out == "here" else (changed, gone)
    done = join([base], *sides, group_in_record)
    assert (done.values, done.contested) == (changed, [])
    assert sorted(done.kept) == ["tools.T1.length", "tools.T1.what"]
    unchanged = (gone, base) if out == "here" else (base, gone)
    done = join([base], *unchanged, group_in_record)
    assert (done.values, done.kept, done.contested) == (gone, [], [])


def test_taking_out_against_changing_is_contested_and_the_change_stands():
    base = {"lot.quantity": 1}
    assert join([base], {}, {"lot.quantity": 2}).contested == ["lot.quantity"]
    done = join([base], {"lot.quantity": 2}, {})
    assert (done.values, done.contested) == ({"lot.quantity": 2}, ["lot.quantity"])
    assert done.yielded == ["lot.quantity"]


def test_where_merges_crossed_and_nobody_can_tell_it_is_contested():
    done = join(
        [{"lot.quantity": 1}, {"lot.quantity": 2}], {"lot.quantity": 1}, {"lot.quantity": 2}
    )
    assert (done.values, done.contested) == ({"lot.quantity": 2}, ["lot.quantity"])


def step(n, what, who="mira"):
    return {f"steps.{n}.what": what, f"steps.{n}.who": who}


def test_an_entry_of_this_box_with_a_number_that_is_taken_stays_as_it_was():
    start = {"run.id": "r", **step("001", "start")}
    mine = {**start, **step("002", "confirm"), "steps.002.note": "checked twice"}
    theirs = {**start, **step("002", "piece", "ole")}
    done = join_runs([start], mine, theirs)
    assert done.values == {
        **theirs, **step("002a", "confirm"), "steps.002a.note": "checked twice",
    }  # fmt: skip
    assert join_runs([start], mine, start).values == mine
    assert join_runs([start], mine, mine).values == mine


def test_how_a_run_ended_is_taken_whole_from_one_side():
    start = {"run.id": "r", **step("001", "start")}
    mine = {**start, "end.good": 5, "end.scrap": 1}
    theirs = {**start, "end.good": 7, "end.commit": "c"}
    done = join_runs([start], mine, theirs)
    assert (done.values, done.contested) == (theirs, [])
    assert join_runs([start], mine, start).values == mine


def test_letters_for_a_number_that_many_boxes_gave_are_those_that_are_free():
    theirs = {**step("002", "piece"), **step("002a", "piece", "ole")}
    done = join_runs([{}], step("002", "confirm", "tove"), theirs)
    assert done.values == {**theirs, **step("002b", "confirm", "tove")}


def test_after_twenty_six_letters_no_entry_takes_the_place_of_another():
    theirs = {}
    for who in range(40):
        theirs = join_runs([{}], step("002", "confirm", f"w{who}"), theirs).values
    assert len({a.split(".")[1] for a in theirs}) == 40
    assert {theirs[a] for a in theirs if a.endswith(".who")} == {f"w{n}" for n in range(40)}
    assert {"steps.002.who", "steps.002a.who", "steps.002z.who", "steps.002z2.who"} <= set(theirs)


def test_the_same_entry_twice_on_one_side_is_two_entries():
    mine = {**step("001", "refill"), **step("002", "refill")}
    done = join_runs([{}], mine, step("001", "refill"))
    assert done.values == mine


def test_a_run_that_ended_here_and_was_corrected_there_is_both():
    start = {"run.id": "r", "run.quantity": 100, **step("001", "start")}
    done = join_runs([start], {**start, "end.good": 5}, {**start, "run.quantity": 90})
    assert (done.values, done.contested) == ({**start, "end.good": 5, "run.quantity": 90}, [])


def test_what_each_side_corrected_by_hand_in_a_log_stands():
    start = {"run.id": "r", "run.quantity": 100, "run.number": 1}
    done = join_runs([start], {**start, "run.number": 2}, {**start, "run.quantity": 90})
    assert done.values == {"run.id": "r", "run.quantity": 90, "run.number": 2}


def test_an_entry_that_is_none_breaks_nothing():
    odd = {"steps.002": 5, "steps.003.what.more": 6, **step("001", "start")}
    assert join_runs([{}], odd, step("001", "start")).values == step("001", "start")


def test_entries_that_stay_are_all_named_and_what_fits_together_is_contested_instead():
    base = {"tools.T1.what": 1, "tools.T2.what": 1, "positions.seat.lift": 1}
    done = join([base], {}, dict.fromkeys(base, 2), group_in_record)
    assert sorted(done.kept) == ["tools.T1.what", "tools.T2.what"]
    assert done.contested == ["positions.seat.lift"]
    assert done.values == dict.fromkeys(base, 2)


STEPS = st.dictionaries(
    st.sampled_from(["002", "003", "004"]), st.sampled_from(["confirm", "piece", "refill"])
)


@given(STEPS, STEPS)
def test_logs_of_one_run_keep_every_entry(mine, theirs):
    start = {"run.id": "r", **step("001", "start")}
    sides = []
    for who, side in (("mira", mine), ("ole", theirs)):
        values = dict(start)
        for n, what in side.items():
            values |= step(n, what, who)
        sides.append(values)
    done = join_runs([start], *sides)
    entries = sorted(
        (done.values[a], done.values[a.replace(".what", ".who")])
        for a in done.values
        if a.endswith(".what")
    )
    wanted = [("start", "mira")]
    wanted += [(w, "mira") for w in mine.values()] + [(w, "ole") for w in theirs.values()]
    assert entries == sorted(wanted)
    assert all(done.values[a] == v for a, v in sides[1].items())  # the shared numbers stand
