"""Masses against published tables, against each other, and with each input taken out.

Callister is Materials Science and Engineering: An Introduction, 7th ed., App. B.1; Gere
is Mechanics of Materials, 5th ed., App. H. Both were seen quoted, not in the original.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.figures.geometry.sizes import volumes
from engine.figures.groups import mass
from engine.figures.inputs import Missing
from engine.figures.mechanics.payload import carriers, moments, on_leg
from engine.figures.tables import friction_of, material, materials, pairs, plain_name
from tests.engine.figures.mill_case import by_name, case, in_inches, one

BLOCK = {"blank.shape": "block", "blank.width": [50, 50], "blank.length": [100, 100]}


def blank_mass(changes: dict[str, object]) -> float:
    found = one(mass.figures(case(changes)), "blank mass").value
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("grade", "expected"), [("6061", 0.3375), ("4140", 0.98125), ("C360", 1.0625)]
)
def test_block_of_100_by_50_by_25(grade: str, expected: float) -> None:
    # densities: Callister, Gere; products worked
    found = blank_mass({**BLOCK, "blank.height": 25, "blank.material": grade})
    assert found == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("designation", "density"),
    [
        ("6061", 2.70),
        ("1040", 7.85),
        ("4140", 7.85),
        ("304", 8.00),
        ("316", 8.00),
        ("7075", 2.80),
        ("C36000", 8.50),  # so far: Callister, Gere
        ("1018", 7.87),
        ("1045", 7.85),
        ("Ti-6Al-4V", 4.43),
        ("POM", 1.41),
        ("PEEK", 1.31),  # these five: from memory
    ],
)
def test_densities(designation: str, density: float) -> None:
    found = material(designation)
    assert found is not None
    assert found.density == density


def test_bars_by_the_metre() -> None:
    # worked, 7.85 g/cm3: round kg/m = pi/4·0.00785·d² = 0.006165·d², 100 mm -> 61.65;
    # hexagon kg/m = 0.006798·s², 50 mm -> 17.0; square kg/m = 0.00785·a², 20 mm -> 3.14
    metre = {"blank.height": 1000, "blank.density": 7.85}
    bar = {**metre, "blank.shape": "bar"}
    assert blank_mass({**bar, "blank.diameter": [100, 100]}) == pytest.approx(61.65, rel=1e-3)
    flats = {**metre, "blank.shape": "hexagon", "blank.across_flats": [50, 50]}
    assert blank_mass(flats) == pytest.approx(17.0, rel=1e-3)
    square = {**bar, "blank.width": [20, 20], "blank.length": [20, 20]}
    facts = case(square, without=["blank.diameter"])
    assert one(mass.figures(facts), "blank mass").value == pytest.approx(3.14, rel=1e-3)


def test_a_tube_loses_its_bore_and_a_hole_in_a_round_part_does_not() -> None:
    tube = blank_mass({"blank.shape": "tube", "blank.bore": 30, "blank.density": 7.85})
    assert tube == pytest.approx(math.pi / 4 * (60.4**2 - 30**2) * 31.5 * 7.85e-6)
    facts = case({"part.bore": 30}, without=["part.mass"])
    part = one(mass.figures(facts), "part mass")
    assert part.value == pytest.approx(math.pi / 4 * 58**2 * 29.8 * 7.85e-6)
    assert "not taken off" in part.note


def test_a_bar_is_what_its_sizes_say() -> None:
    facts = case({"blank.shape": "bar", "blank.across_flats": [20, 24]}, without=["blank.diameter"])
    small, large = volumes(facts, "blank")
    assert large == pytest.approx(math.sqrt(3) / 2 * 24**2 * 31.5)
    assert small / large == pytest.approx((20 / 24) ** 2)
    with pytest.raises(Missing, match=r"blank\.diameter"):
        volumes(case({"blank.shape": "bar"}, without=["blank.diameter"]), "blank")


def test_the_largest_blank_counts_and_the_scales_go_first() -> None:
    assert blank_mass({}) == pytest.approx(math.pi / 4 * 60.4**2 * 31.5 * 7.85e-6)
    weighed = one(mass.figures(case({"blank.mass": 0.7})), "blank mass")
    assert weighed.value == 0.7
    assert "0.690 to 0.709" in weighed.note


def test_inches_give_the_same_kilograms() -> None:
    mm, inch = by_name(mass.figures(case())), by_name(mass.figures(in_inches()))
    for key, figure in mm.items():
        assert inch[key].value == pytest.approx(figure.value, rel=1e-12)


def test_payload_has_both_pieces_in_a_swap_of_one_visit() -> None:
    payload = one(mass.figures(case()), "payload")
    blank = one(mass.figures(case()), "blank mass").value or 0.0
    assert payload.at == "collect"
    assert payload.value == pytest.approx(2.5 + 2.6 + 0.4 + 0.5 + blank + 0.55)
    assert payload.verdict == "fits"
    assert one(mass.figures(case({"cell:cell.payload_most": 7})), "payload").verdict == (
        "does not fit"
    )
    free = case(without=["cell:cell.payload_most"])
    assert one(mass.figures(free), "payload").verdict == "for information"


def test_payload_has_the_heavier_piece_in_two_visits() -> None:
    two = {"cell:cell.round": ["collect", "drop", "fetch", "seat"]}
    payload = one(mass.figures(case(two)), "payload")
    blank = one(mass.figures(case()), "blank mass").value or 0.0
    assert payload.at == "fetch"
    assert payload.value == pytest.approx(2.5 + 2.6 + 0.4 + 0.5 + blank)


def test_a_part_that_comes_back_in_the_next_round_is_carried_there() -> None:
    late = {"cell:cell.round": ["drop", "fetch", "collect", "seat"]}
    walked = moments(case(late))
    assert walked[0].held == ()
    seat = [m for m in walked if m.station == "seat"]
    assert all(m.held == (("b", "part"),) for m in seat)
    assert on_leg(case(late), "back") == (("b", "part"),)


def test_a_blank_fetched_for_the_next_round_is_carried_beside_the_part() -> None:
    # by hand: the blank taken last is still held when the loader comes for the part
    ahead = {"cell:cell.round": ["collect", "seat", "drop", "fetch"]}
    payload = one(mass.figures(case(ahead)), "payload")
    blank = one(mass.figures(case()), "blank mass").value or 0.0
    assert payload.at == "collect"
    assert payload.value == pytest.approx(2.5 + 2.6 + 0.4 + 0.5 + blank + 0.55)


def test_one_gripper_for_both_and_a_turn_over() -> None:
    changes = {
        "cell:grippers.a.carries": "both",
        "cell:cell.round": ["fetch", "turn", "turn_back", "seat", "collect", "drop"],
    }
    for name, does in (("turn", "give"), ("turn_back", "take")):
        changes |= {f"cell:stations.{name}.place": "turn-over", f"cell:stations.{name}.does": does}
        changes |= {f"cell:stations.{name}.axes": ["lift"]}
    changes |= {"cell:stations.collect.gripper": "a", "cell:stations.drop.gripper": "a"}
    facts = case(changes, without=["cell:grippers.b", "cell:stations.fetch.gripper"])
    held = {m.station: tuple(what for _, what in m.held) for m in moments(facts)}
    assert held == {
        "fetch": ("blank",),
        "turn": (),
        "turn_back": ("blank",),
        "seat": (),
        "collect": ("part",),
        "drop": (),
    }
    assert carriers(facts, "part") == ("a",)
    blank = one(mass.figures(facts), "blank mass").value or 0.0
    assert one(mass.figures(facts), "payload").value == pytest.approx(2.5 + 0.4 + 0.5 + blank)
    same = case(
        {**changes, "fingers.blank.id": "F-1", "fingers.part.id": "F-1"},
        without=["cell:grippers.b"],
    )
    assert one(mass.figures(same), "payload").value == pytest.approx(2.5 + 0.5 + blank)


def test_a_part_whose_blank_has_no_known_mass_has_no_limit() -> None:
    found = one(mass.figures(case(without=["blank.material"])), "part mass")
    assert (found.value, found.limit, found.verdict) == (0.55, None, "for information")


def test_a_part_heavier_than_its_blank_does_not_fit() -> None:
    assert one(mass.figures(case({"part.mass": 5.5})), "part mass").verdict == "does not fit"


MISSING = {
    "blank mass": ["blank.shape", "blank.diameter", "blank.height", "blank.material"],
    "part mass": ["part.mass"],
    "payload": [
        "blank.diameter",
        "blank.height",
        "blank.material",
        "part.mass",
        "fingers.blank.mass",
        "fingers.part.mass",
        "cell:grippers.a.mass",
        "cell:grippers.b.mass",
        "cell:cell.round",
    ],
}


@pytest.mark.parametrize(
    ("name", "address"), [(name, address) for name, all_of in MISSING.items() for address in all_of]
)
def test_cannot_tell_names_what_is_missing(name: str, address: str) -> None:
    dropped = [address, "part.shape"] if address == "part.mass" else [address]
    figure = one(mass.figures(case(without=dropped)), name)
    assert figure.verdict == "cannot tell"
    assert address in figure.missing


def test_everything_missing_is_named_at_once_and_no_material_is_guessed() -> None:
    facts = case(without=["blank.diameter", "blank.height", "blank.material"])
    figure = one(mass.figures(facts), "blank mass")
    assert figure.missing == ("blank.diameter", "blank.height", "blank.material")
    unknown = one(mass.figures(case({"blank.material": "hard stuff"})), "blank mass")
    assert unknown.missing == ("blank.density",)
    no_cell = one(mass.figures(case(no_cell=True)), "payload")
    assert no_cell.missing == ("record.cell",)


@given(
    st.floats(1, 500), st.floats(1, 500), st.floats(0.5, 20), st.sampled_from(["round", "hexagon"])
)
def test_mass_grows_with_the_cube_of_all_sizes(d: float, h: float, rho: float, shape: str) -> None:
    size = "blank.diameter" if shape == "round" else "blank.across_flats"
    d, h, rho = round(d, 3), round(h, 3), round(rho, 3)
    base = {"blank.shape": shape, "blank.density": rho}
    one_size = blank_mass({**base, size: [d, d], "blank.height": h})
    twice = blank_mass({**base, size: [2 * d, 2 * d], "blank.height": 2 * h})
    assert twice == pytest.approx(8 * one_size)


def test_tables_are_sound() -> None:
    names = [plain_name(name) for grade in set(materials().values()) for name in grade.names]
    assert len(names) == len(set(names))
    assert all(0.8 < grade.density < 20 and grade.source for grade in materials().values())
    spellings = ("EN AW-6061 T6", "6061-t6", "AISI 4140", "42CrMo4", "42 crmo 4", "ti6al4v")
    assert all(material(spelling) for spelling in spellings)
    assert all(material(near) is None for near in ("", "606", "41400", "steel", "SAE"))


def test_friction_table() -> None:
    # tables of static friction, seen quoted without the name of their handbook: Al on mild
    # steel dry 0.61; brass on steel 0.51, greasy 0.19; steel on steel 0.74, lubricated 0.10
    printed = {f: (p.dry, p.greasy) for p in pairs() for f in p.families}
    assert printed["aluminium"] == (0.61, None)
    assert printed["brass"] == (0.51, 0.19)
    assert printed["steel"] == (0.74, 0.10)
    assert friction_of("wood") is None
