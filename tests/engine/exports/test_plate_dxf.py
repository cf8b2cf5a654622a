"""Tray plates as DXF, read by a reader of our own: units, layers, closed lines, sizes.

`$INSUNITS` 1 inch and 4 mm, LWPOLYLINE flag 1 for closed, `%%` control codes:
DXF reference (AC1015: HEADER, LWPOLYLINE, TEXT). Half a kerf to each side: common
practice, no source.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from math import hypot, pi

import ezdxf
import pytest
from ezdxf.lldxf.encoding import decode_dxf_unicode
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.book import Book
from engine.exports.dxf import to_dxf
from engine.exports.plan import Spot, TrayPlan
from engine.exports.plate import draw
from engine.exports.shapes import PlateOptions
from tests.engine.exports import readers
from tests.engine.exports.conftest import BLOCKS
from tests.mini_book import SEAT

Inked = Callable[..., Book]


def a_plan(wide: float, deep: float, *, is_round: bool = False) -> TrayPlan:
    spots = tuple(Spot(f"r1c{n + 1}", 60 + n * 100, 60, wide, deep, n + 1) for n in range(2))
    return TrayPlan(220, 120, is_round, spots)


def test_units_layers_and_closed_outside(inked: Inked) -> None:
    data = inked().document(SEAT).papers.plate("dxf").data
    assert readers.header(data)["$INSUNITS"] == "4"
    assert readers.header(data)["$MEASUREMENT"] == "1"
    assert readers.layers(data) >= {"POCKETS", "HOLES", "OUTSIDE", "ENGRAVE", "NOTES"}
    (outside,) = readers.of(data, "LWPOLYLINE", "OUTSIDE")
    assert readers.box([v[:2] for v in readers.outline(outside)]) == (0, 0, 408, 291)


def test_inches(inked: Inked) -> None:
    sizes = {"record.units": "in", "tray.plate_across": "16.25", "tray.plate_along": "11.5",
             "tray.pitch_across": "3.80", "tray.pitch_along": "3.55", "tray.pocket_size": "2.9",
             "tray.first_across": "2.35", "tray.first_along": "2.125"}  # fmt: skip
    data = inked(record=sizes).document(SEAT).papers.plate("dxf").data
    assert (readers.header(data)["$INSUNITS"], readers.header(data)["$MEASUREMENT"]) == ("1", "0")
    found = readers.circles(data, "POCKETS")
    assert found[1] == pytest.approx((6.15, 2.125, 1.45), abs=1e-9)
    (outside,) = readers.of(data, "LWPOLYLINE", "OUTSIDE")
    assert readers.box([v[:2] for v in readers.outline(outside)]) == (0, 0, 16.25, 11.5)


def test_pockets_stand_where_pitches_say_and_bear_their_names(inked: Inked) -> None:
    data = inked().document(SEAT).papers.plate("dxf").data
    found = readers.circles(data, "POCKETS")
    wanted = [(60 + c * 96, 55 + r * 90.5, 37) for r in range(3) for c in range(4)]
    assert found == [pytest.approx(spot) for spot in wanted]
    labels = readers.texts(data, "ENGRAVE")
    for row in range(3):
        for column in range(4):
            x, y = labels[f"r{row + 1}c{column + 1}"]
            assert x == pytest.approx(60 + column * 96)
            assert 37 < y - (55 + row * 90.5) < 90.5 - 37  # in the web behind it
    assert any(SEAT not in text and "TP-72" in text and "ink-2" in text for text in labels)


@pytest.mark.parametrize(
    ("corner", "first"),
    [
        ("near left", (60, 55)),
        ("near right", (408 - 60, 55)),
        ("far left", (60, 291 - 55)),
        ("far right", (408 - 60, 291 - 55)),
    ],
)
def test_the_corner_of_the_first_pocket(
    inked: Inked, corner: str, first: tuple[float, float]
) -> None:
    data = inked(cell={"bed.corner": corner}).document(SEAT).papers.plate("dxf").data
    assert readers.circles(data, "POCKETS")[0][:2] == pytest.approx(first)
    assert readers.texts(data, "ENGRAVE")["r1c1"][0] == pytest.approx(first[0])


def test_rows_that_run_from_near_to_far(inked: Inked) -> None:
    turned = {"axes.reach.along": "y", "axes.lift.along": "x"}
    data = inked(cell=turned).document(SEAT).papers.plate("dxf").data
    found = readers.circles(data, "POCKETS")
    assert found[0][:2] == pytest.approx((55, 60))
    assert found[1][:2] == pytest.approx((55, 156))  # r1c2 lies behind r1c1
    (outside,) = readers.of(data, "LWPOLYLINE", "OUTSIDE")
    assert readers.box([v[:2] for v in readers.outline(outside)]) == (0, 0, 291, 408)


def test_a_pocket_that_is_not_loaded_is_cut_and_crossed_in_the_notes(inked: Inked) -> None:
    data = inked().document(SEAT).papers.plate("dxf").data
    assert len(readers.circles(data, "POCKETS")) == 12
    assert len(readers.of(data, "LINE", "NOTES")) == 2
    x, y = readers.texts(data, "NOTES")["not loaded"]
    assert hypot(x - 348, y - 236) < 37


def test_kerf_makes_pockets_and_holes_smaller_and_the_outside_larger(inked: Inked) -> None:
    paper = inked().document(SEAT).papers.plate("dxf", kerf="0.3", holes="6.6@12")
    assert {c[2] for c in readers.circles(paper.data, "POCKETS")} == {36.85}
    holes = readers.circles(paper.data, "HOLES")
    assert sorted(holes) == [(12, 12, 3.15), (12, 279, 3.15), (396, 12, 3.15), (396, 279, 3.15)]
    (outside,) = readers.of(paper.data, "LWPOLYLINE", "OUTSIDE")
    points = [v[:2] for v in readers.outline(outside)]
    assert readers.box(points) == pytest.approx((-0.15, -0.15, 408.15, 291.15))
    assert "kerf 0.3 mm taken off" in paper.notes[0]


def test_rectangles_are_closed_and_sharp_without_relief(inked: Inked) -> None:
    data = inked(record=BLOCKS).document(SEAT).papers.plate("dxf").data
    found = [readers.outline(e) for e in readers.of(data, "LWPOLYLINE", "POCKETS")]
    assert len(found) == 12
    assert readers.box([v[:2] for v in found[0]]) == pytest.approx((30, 20, 90, 90))
    assert all(bulge == 0 for _, _, bulge in found[0])


@given(
    wide=st.floats(10, 90), deep=st.floats(10, 90), relief=st.floats(0.4, 3.0),
)  # fmt: skip
def test_relief_lets_a_sharp_corner_in_and_adds_half_circles(
    wide: float, deep: float, relief: float
) -> None:
    """Each corner is a half circle over the chord of the corner triangle: + r²(π/2 − 1)."""
    data = to_dxf(draw(a_plan(wide, deep), "mm", PlateOptions(relief=relief), "x"))
    points = readers.sampled(readers.outline(readers.of(data, "LWPOLYLINE", "POCKETS")[0]), 0.02)
    assert readers.area(points) == pytest.approx(
        wide * deep + 4 * relief**2 * (pi / 2 - 1), rel=2e-4
    )
    for x in (60 - wide / 2, 60 + wide / 2):
        for y in (60 - deep / 2, 60 + deep / 2):
            assert min(hypot(px - x, py - y) for px, py in points) < 0.02  # through the corner


@settings(max_examples=15)
@given(relief=st.floats(0.5, 3.0), kerf=st.floats(0.2, 0.9))
def test_the_path_of_a_relieved_pocket_keeps_half_a_kerf_everywhere(
    relief: float, kerf: float
) -> None:
    nominal = to_dxf(draw(a_plan(20, 30), "mm", PlateOptions(relief=relief), "x"))
    cut = to_dxf(draw(a_plan(20, 30), "mm", PlateOptions(relief=relief, kerf=kerf), "x"))
    wall, path = (
        readers.sampled(readers.outline(readers.of(d, "LWPOLYLINE", "POCKETS")[0]), 0.04)
        for d in (nominal, cut)
    )
    for x, y in path[::17]:
        assert min(hypot(x - a, y - b) for a, b in wall) == pytest.approx(kerf / 2, abs=0.004)
    assert 0 < readers.area(path) < readers.area(wall)


def test_foreign_text_is_no_control_code_and_no_new_group(inked: Inked) -> None:
    named = {"tray.plate": "50%% %%c <b> ^J \\P \\U+0041 漢 é", "record.drawing": 'A&"1'}
    data = inked(record=named).document(SEAT).papers.plate("dxf").data
    (title,) = [t for t in readers.texts(data, "ENGRAVE") if "ink-2" in t]
    assert title.startswith('50%%%%%% %%%%%%c <b> ^ J \\P \\U+005CU+0041 \\U+6f22 é A&"1')
    document = ezdxf.read(io.StringIO(data.decode("cp1252")))  # and as the library reads it
    said = {decode_dxf_unicode(t.plain_text()) for t in document.modelspace().query("TEXT")}
    assert any(text.startswith("50%% %%c <b> ^J \\P \\U+0041 漢 é") for text in said)
    assert not document.audit().errors


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ({"kerf": "80"}, "as wide as the pocket"),
        ({"kerf": "-1"}, "no size"),
        ({"kerf": "1,5"}, "comma"),
        ({"relief": "3"}, "round pockets"),
        ({"holes": "6.6"}, "--holes 6.6@12"),
        ({"holes": "30@12"}, "over the edge"),
        ({"holes": "6.6@40"}, "into the pocket r1c1"),
    ],
)
def test_wishes_that_cannot_be_had(inked: Inked, wish: dict[str, str], said: str) -> None:
    from schemas.errors import WitnessmarkError

    with pytest.raises(WitnessmarkError) as refused:
        inked().document(SEAT).papers.plate("dxf", **wish)
    assert said in f"{refused.value} {refused.value.hint}"


@pytest.mark.parametrize(
    ("record", "said"),
    [
        ({"tray.pitch_across": "74.0"}, "into each other"),
        ({"tray.first_along": "36"}, "over the edge"),
        ({"tray.plate_across": "380"}, "over the edge"),
        ({**BLOCKS, "tray.pitch_along": "69"}, "into each other"),
    ],
)
def test_cuts_that_would_meet_are_refused(inked: Inked, record: dict[str, str], said: str) -> None:
    from schemas.errors import Refused

    with pytest.raises(Refused, match=said):
        inked(record=record).document(SEAT).papers.plate("dxf")


def test_missing_values_are_named_all_at_once(at: Callable[[str], Book]) -> None:
    from schemas.errors import Refused

    with pytest.raises(Refused) as refused:
        at("mira").document(SEAT).papers.plate("dxf")
    for address in ("tray.plate_across", "tray.plate_along", "tray.pocket_shape", "cell:bed.corner",
                    "tray.first_across", "tray.first_along", "tray.pitch_along",
                    "cell:bed.across_axis"):  # fmt: skip
        assert address in str(refused.value)
    assert refused.value.exit_code == 3


def test_metal_is_cut_from_ink_only(inked: Inked) -> None:
    from schemas.errors import Refused

    book = inked()
    book.document(SEAT).pencil.set("tray.pitch_across", "97")
    with pytest.raises(Refused, match="from ink only"):
        book.document(SEAT).papers.plate("dxf")
