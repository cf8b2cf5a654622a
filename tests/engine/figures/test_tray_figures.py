"""The tray: where its pockets are, what is between them, and whether they are reached."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.geometry import pockets
from engine.figures.geometry.capacity import along_one, what_fits
from engine.figures.groups import tray
from engine.figures.inputs import Missing
from tests.engine.figures.mill_case import by_name, case, in_inches, one


def test_pockets_on_the_plate_and_in_the_axes() -> None:
    found = {p.name: p for p in pockets.places(case())}
    assert len(found) == 27
    assert "r4c7" not in found
    assert (found["r1c1"].across, found["r1c1"].along) == (50, 55)
    assert found["r3c5"].across == pytest.approx(50 + 4 * 112.5)
    assert found["r3c5"].along == pytest.approx(55 + 2 * 98.3)
    assert found["r3c5"].loader == {
        "fetch": {"slide": 100 + 4 * 112.5, "bridge": 50 + 2 * 98.3},
        "drop": {"slide": 110 + 4 * 112.5, "bridge": 50 + 2 * 98.3},
    }


@pytest.mark.parametrize(
    ("corner", "slide", "bridge"),
    [
        ("near left", 1, 1),
        ("near right", -1, 1),
        ("far left", 1, -1),
        ("far right", -1, -1),
    ],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_corner_and_sign_decide_the_way(corner: str, slide: int, bridge: int, sign: int) -> None:
    facts = case({"cell:bed.corner": corner, "cell:axes.slide.sign": sign})
    last = {p.name: p for p in pockets.places(facts)}["r4c6"].loader["fetch"]
    assert last["slide"] == pytest.approx(100 + slide * sign * 5 * 112.5)
    assert last["bridge"] == pytest.approx(50 + bridge * 3 * 98.3)


@pytest.mark.parametrize(
    ("path", "order"),
    [
        ("row by row", "r1c1 r1c2 r1c3 r2c1 r2c2 r2c3"),
        ("rows back and forth", "r1c1 r1c2 r1c3 r2c3 r2c2 r2c1"),
        ("column by column", "r1c1 r2c1 r1c2 r2c2 r1c3 r2c3"),
        ("columns back and forth", "r1c1 r2c1 r2c2 r1c2 r1c3 r2c3"),
    ],
)
def test_order_of_fetching(path: str, order: str) -> None:
    facts = case({"tray.across": 3, "tray.along": 2, "cell:bed.path": path, "tray.unused": []})
    assert " ".join(p.name for p in pockets.places(facts)) == order
    without = case(
        {"tray.across": 3, "tray.along": 2, "cell:bed.path": path, "tray.unused": ["r2c3"]}
    )
    assert (
        " ".join(p.name for p in pockets.places(without))
        == order.replace("r2c3", "").replace("  ", " ").strip()
    )


def test_an_inch_axis_counts_in_inches_and_a_rotary_one_in_no_grid() -> None:
    facts = case({"cell:axes.slide.unit": "in"})
    assert pockets.value_in(facts, "fetch", "slide", (1, 0)) == pytest.approx(100 + 112.5 / 25.4)
    with pytest.raises(Missing, match=r"bed\.across_axis"):
        pockets.places(case({"cell:axes.slide.kind": "rotary"}))


@pytest.mark.parametrize(("single", "other"), [("across", "along"), ("along", "across")])
def test_one_pocket_that_way_needs_no_pitch_and_has_no_web(single: str, other: str) -> None:
    facts = case({f"tray.{single}": 1, "tray.unused": []}, without=[f"tray.pitch_{single}"])
    assert len(pockets.places(facts)) == {"across": 4, "along": 7}[single]
    assert pockets.pitch_of(facts, single) == 0
    mover = {"across": "slide", "along": "bridge"}
    assert pockets.in_axes(facts, "fetch", (0, 0)).keys() == {mover[other]}
    start = {"slide": 100, "bridge": 50}[mover[single]]
    assert pockets.value_in(facts, "fetch", mover[single], (0, 0)) == start
    with pytest.raises(Missing, match=rf"tray\.pitch_{other}"):
        pockets.pitch_of(case({f"tray.{single}": 1}, without=[f"tray.pitch_{other}"]), other)


@pytest.mark.parametrize(
    ("plate", "body", "room", "edge", "wanted"),
    [
        (100, 20, 0, 0, 5),
        (100, 20, 5, 0, 4),  # 4·20 + 3·5 = 95; a fifth needs 120
        (120, 20, 5, 0, 5),
        (119.99, 20, 5, 0, 4),
        (120, 20, 5, 0.1, 4),
        (120.2, 20, 5, 0.1, 5),
        (19, 20, 5, 0, 0),
        (20, 20, 5, 0, 1),
        (100, 0, 5, 0, 0),
        (100, -1, 5, 0, 0),
        (100, 20, -20, 0, 0),
        (-50, 20, 5, 0, 0),
    ],
)
def test_bodies_in_a_line_by_hand(
    plate: float, body: float, room: float, edge: float, wanted: int
) -> None:
    assert along_one(plate, body, room, edge) == wanted


@pytest.mark.parametrize("way", ["across", "along"])
def test_a_bed_that_does_not_say_which_axis_goes_that_way_names_just_that(way: str) -> None:
    with pytest.raises(Missing) as caught:
        pockets.in_axes(case(without=[f"cell:bed.{way}_axis"]), "fetch", (1, 1))
    assert caught.value.addresses == (f"cell:bed.{way}_axis",)


def test_play_is_that_of_the_tighter_way() -> None:
    block = {
        "blank.shape": "block", "blank.width": [50, 50], "blank.length": [80, 80],
        "tray.pocket_shape": "rectangle",
    }  # fmt: skip
    for across, along, wanted in ((52, 90, 1.0), (60, 81, 0.5), (49, 90, -0.5)):
        facts = case(
            {**block, "tray.pocket_size": across, "tray.pocket_length": along},
            without=["part.shape"],
        )
        found = one(tray.figures(facts), "play in the pocket", "blank")
        assert found.value == pytest.approx(wanted)


def test_capacity_and_pockets_that_are_not_there() -> None:
    assert one(tray.figures(case()), "capacity").value == 27
    stray = case({"tray.unused": ["r4c7", "r4c7", "r5c1"]})
    figure = one(tray.figures(stray), "capacity")
    assert figure.value == 27
    assert figure.note == "not on the tray: r5c1"


def test_web_edge_room_and_extent() -> None:
    table = by_name(tray.figures(case()))
    values = {key: figure.value for key, figure in table.items()}
    assert values["web", "across"] == pytest.approx(112.5 - 62)
    assert values["web", "along"] == pytest.approx(98.3 - 62)
    assert values["finger room", "across"] == pytest.approx(112.5 - 60.4)
    assert values["edge", "across"] == pytest.approx(50 - 31)
    assert values["edge", "along"] == pytest.approx(55 - 31)
    assert values["room on the bed", "across"] == 30
    assert values["play in the pocket", "blank"] == pytest.approx(0.8)
    far = one(tray.figures(case({"tray.plate_across": 765})), "edge", "across")
    assert far.value == pytest.approx(765 - 50 - 6 * 112.5 - 31)


def test_a_block_lies_with_its_width_across() -> None:
    block = {
        "blank.shape": "block",
        "blank.width": [50, 50.5],
        "blank.length": [80, 80.5],
        "tray.pocket_shape": "rectangle",
        "tray.pocket_size": 51,
        "tray.pocket_length": 82,
    }
    table = by_name(tray.figures(case(block, without=["part.shape"])))
    assert table["web", "along"].value == pytest.approx(98.3 - 82)
    assert table["finger room", "across"].value == pytest.approx(112.5 - 50.5)
    assert table["finger room", "along"].value == pytest.approx(98.3 - 80.5)
    assert table["play in the pocket", "blank"].value == pytest.approx(0.25)
    round_pocket = case({**block, "tray.pocket_shape": "round", "tray.pocket_size": 96})
    over_corners = (96 - (50.5**2 + 80.5**2) ** 0.5) / 2
    found = one(tray.figures(round_pocket), "play in the pocket", "blank")
    assert found.value == pytest.approx(over_corners)
    hexagon = case(
        {"blank.shape": "hexagon", "blank.across_flats": [50, 50]}, without=["part.shape"]
    )
    assert one(tray.figures(hexagon), "finger room", "across").value == pytest.approx(
        112.5 - 50 * 2 / 3**0.5
    )


def test_open_fingers_and_their_neighbours() -> None:
    table = by_name(tray.figures(case()))
    # gripper a closes along x: the next pocket of the row; b along y: that of the next row
    at = "open finger to its neighbour"
    assert table[at, "blank"].value == pytest.approx(112.5 - 30.2 - 34 - 8)
    assert table[at, "part"].value == pytest.approx(98.3 - 30.2 - 32 - 8)
    # turned in the round it may close either way: the nearer neighbour counts
    turned = by_name(tray.figures(case({"cell:grippers.b.turned_by": "lift"})))
    assert turned[at, "part"].value == pytest.approx(98.3 - 30.2 - 32 - 8)
    row = by_name(tray.figures(case({"tray.along": 1, "tray.unused": []})))
    assert (at, "part") not in row
    assert ("web", "along") not in row
    inside = by_name(tray.figures(case({"fingers.part.hold": "inside"})))
    assert (at, "part") not in inside


def test_standing_height_and_tips_over_the_plate() -> None:
    table = by_name(tray.figures(case({"tray.pocket_depth": 25})))
    assert table["standing height", "blank"].value == pytest.approx(6.5)
    assert table["finger tip over the plate", "blank"].value == pytest.approx(-2.5)
    assert table["finger tip over the plate", "blank"].verdict == "does not fit"


def test_every_pocket_within_travel_for_both_grippers() -> None:
    table = by_name(tray.figures(case({"cell:axes.slide.most": 780})))
    left = "travel left over the tray"
    assert table[left, "fetch, slide"].value == pytest.approx(780 - 100 - 6 * 112.5)
    assert table[left, "fetch, slide"].verdict == "tight" or table[left, "fetch, slide"].margin == 0
    assert table[left, "drop, slide"].verdict == "does not fit"
    assert table[left, "drop, slide"].note == "at r1c7"
    clear = table["travel left at clear height", "fetch"]
    assert clear.value == pytest.approx(400 - (200 + 31.5 + 10))
    down = case({"cell:axes.lift.sign": -1})
    hung = one(tray.figures(down), "travel left at clear height", "fetch")
    assert hung.value == pytest.approx(200 - 41.5)


def test_unused_corner_pockets_need_no_travel() -> None:
    corners = {"tray.unused": [f"r{r}c7" for r in range(1, 5)], "cell:axes.slide.most": 680.5}
    table = by_name(tray.figures(case(corners)))
    assert table["travel left over the tray", "fetch, slide"].value == pytest.approx(18)


def test_what_fits() -> None:
    assert along_one(310, 10, 5) == 21
    assert along_one(100, 10, 0) == 10
    assert along_one(0.3, 0.1, 0) == 3  # three times 0.1 is more than 0.3 in floats
    assert along_one(9, 10, 5) == 0
    most = what_fits((780, 405), (62, 62), (18.4, 18.4), 4)
    assert (most.across, most.along) == (9, 5)
    turned = what_fits((100, 60), (60, 45), (0, 0))
    assert (turned.across, turned.along, turned.turned) == (2, 1, True)
    figure = one(tray.figures(case()), "pockets that would fit")
    assert (figure.value, figure.note) == (45, "9 across x 5 along")
    thick = one(tray.figures(case({"fingers.blank.thickness": 40})), "pockets that would fit")
    # open fingers take 34 + 40 - 30.2 = 43.8 along x, of which the pocket has 1.6: 42.2 between
    # 7 of 62 + 42.2 in 772 and 5 of 62 + 18.4 in 397 are 35; turned, 9 and 4 are 36
    assert (thick.value, thick.note) == (36, "9 across x 4 along, turned by 90°")


@given(
    st.integers(1, 3000),
    st.integers(1, 3000),
    st.integers(1, 400),
    st.integers(1, 400),
    st.integers(0, 200),
    st.integers(0, 100),
)
def test_what_fits_is_the_most_there_is(
    a: int, b: int, w: int, d: int, room: int, edge: int
) -> None:
    most = what_fits((a / 10, b / 10), (w / 10, d / 10), (room / 10, room / 10), edge / 10)
    counts = []
    for x, y in ((w, d), (d, w)):
        n = [
            next(k for k in range(3001) if (k + 1) * s + k * room > p - 2 * edge)
            for p, s in ((a, x), (b, y))
        ]
        counts.append(n[0] * n[1])
    assert most.pockets == max(counts)


def test_inches() -> None:
    mm, inch = by_name(tray.figures(case())), by_name(tray.figures(in_inches()))
    for key, figure in mm.items():
        assert inch[key].value == pytest.approx(figure.value, abs=1e-9)


@given(st.integers(5000, 12000))
def test_margin_changes_sign_with_the_verdict(pitch: int) -> None:
    table = by_name(tray.figures(case({"tray.pitch_across": pitch / 100})))
    for name, margin in (("web", pitch / 100 - 62 - 4), ("finger room", pitch / 100 - 80.4)):
        figure = table[name, "across"]
        assert figure.margin == pytest.approx(margin, abs=1e-9)
        assert (margin < -1e-9) == (figure.verdict == "does not fit")


PLATE = ["tray.pocket_size", "tray.pocket_shape"]
MISSING = {
    ("capacity", "tray"): ["tray.across", "tray.along"],
    ("pockets that would fit", "plate"): [
        *PLATE,
        "tray.plate_across",
        "tray.plate_along",
        "blank.diameter",
        "policy:web_least",
        "policy:finger_room_least",
    ],
    ("web", "across"): [*PLATE, "tray.pitch_across", "tray.across", "policy:web_least"],
    ("finger room", "along"): [
        "tray.pitch_along",
        "blank.diameter",
        "part.diameter",
        "policy:finger_room_least",
    ],
    ("edge", "across"): [
        *PLATE,
        "tray.first_across",
        "tray.plate_across",
        "tray.pitch_across",
        "policy:web_least",
    ],
    ("room on the bed", "along"): ["tray.plate_along", "cell:bed.along"],
    ("play in the pocket", "blank"): [*PLATE, "blank.diameter"],
    ("standing height", "part"): ["part.height", "tray.pocket_depth"],
    ("finger tip over the plate", "blank"): [
        "blank.height",
        "tray.pocket_depth",
        "fingers.blank.bite",
    ],
    ("open finger to its neighbour", "blank"): [
        "tray.pitch_across",
        "fingers.blank.opening",
        "fingers.blank.thickness",
        "cell:grippers.a.closing",
        "cell:cell.round",
    ],
    ("travel left over the tray", "fetch, slide"): [
        "positions.fetch.slide",
        "tray.pitch_across",
        "tray.across",
        "cell:axes.slide.least",
        "cell:axes.slide.most",
        "cell:axes.slide.sign",
        "cell:axes.slide.along",
        "cell:bed.corner",
        "policy:travel_margin",
    ],
    ("travel left at clear height", "drop"): [
        "positions.drop.lift",
        "blank.height",
        "part.height",
        "cell:bed.clear_height",
        "cell:bed.up_axis",
        "cell:axes.lift.sign",
        "cell:axes.lift.along",
        "cell:axes.lift.most",
        "policy:travel_margin",
    ],
}


@pytest.mark.parametrize(("key", "address"), [(k, a) for k, many in MISSING.items() for a in many])
def test_cannot_tell(key: tuple[str, str], address: str) -> None:
    figure = one(tray.figures(case(without=[address])), *key)
    assert figure.verdict == "cannot tell"
    assert address in figure.missing


@pytest.mark.parametrize("address", ["cell:bed.across_axis", "cell:bed.along_axis"])
def test_cannot_tell_reach_without_the_axes_of_the_bed(address: str) -> None:
    figure = one(tray.figures(case(without=[address])), "travel left over the tray")
    assert figure.missing == (address,)


def test_places_name_everything_that_is_missing() -> None:
    gone = ["cell:bed.path", "tray.first_across"]
    with pytest.raises(Missing) as missing:
        pockets.places(case(without=gone))
    assert set(missing.value.addresses) == set(gone)


def test_a_cell_without_a_tray_has_no_tray_figures() -> None:
    changes = {
        f"cell:stations.{s}.{k}": v
        for s, (k, v) in product(("fetch", "drop"), (("place", "chute"), ("over_tray", False)))
    }
    assert tray.figures(case(changes, without=["tray"])) == []
    assert tray.figures(case(changes))
    assert tray.figures(case(without=["tray"], no_cell=True))
