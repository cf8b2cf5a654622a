"""All groups together: in a setter's order, each with its formula and source, and little work."""

from __future__ import annotations

from engine.figures import all_figures
from tests.counting import steps
from tests.engine.figures.mill_case import case

ORDER = ["mass", "clamp", "bite", "fingers", "hold", "tray"]


def test_order_formulas_and_sources() -> None:
    found = all_figures(case())
    groups = list(dict.fromkeys(figure.group for figure in found))
    assert groups[: len(ORDER)] == ORDER
    for figure in found:
        assert figure.kind.formula
        assert figure.kind.source
        assert (figure.name, figure.group, figure.unit) == (
            figure.kind.name,
            figure.kind.group,
            figure.kind.unit,
        )
        assert (figure.verdict == "cannot tell") == bool(figure.missing)
        assert figure.margin is None or figure.limit is not None


UNITS = {  # written by hand from what each figure is: unit, and which side of its limit is good
    "mm, at least": "free height; rise before sideways; clearance a side; squeeze left; "
    "room to the end of travel; web; edge; room on the bed; finger room; "
    "open finger to its neighbour; play in the pocket; finger tip over the plate",
    "mm, at most": "agreement; stopping distance; taught pockets disagree; off the written grid",
    "mm": "stick-out; standing height; fitted pitch",
    "deg": "rotation; skew",
    "N": "jaw force, standing; jaw force, at top speed",
    "N, at least": "jaw force, least",
    "N, at most": "jaw force, most; finger force on the material",
    "N·m, at most": "tipping moment",
    "1": "friction",
    "kg": "blank mass",
    "kg, at most": "part mass; payload",
    "s": "cycle; exchange; loader's work meanwhile; first round; last round; leg time; "
    "leg time, worst pocket",
    "1/h": "parts an hour",
    "h": "unattended; tray empty after; lot time",
    "pieces": "blanks needed; last fill",
    "pieces, at least": "blanks in a fill",
    "fills": "fills",
    "refills": "refills",
    "pockets": "capacity; pockets that would fit",
    "mm/s": "tip speed",
    "mm/s, at most": "tip speed at teaching",
    "%": "percent for teaching",
}


def test_each_figure_has_its_unit_and_the_good_side_of_its_limit() -> None:
    wanted = {name: what for what, names in UNITS.items() for name in names.split("; ")}
    corners = {
        f"tray.taught.r1c9.{axis}": place for axis, place in (("slide", 868), ("bridge", 50))
    }
    found = {}
    for figure in all_figures(case(corners)):
        bound = figure.kind.bound
        found[figure.name] = figure.unit + (f", at {bound}" if bound != "none" else "")
    assert {name: found.get(name) for name in wanted if name in found} == {
        name: what for name, what in wanted.items() if name in found
    }
    assert len(set(wanted) & set(found)) > 40


def test_without_a_cell_every_figure_still_says_something() -> None:
    assert {f.verdict for f in all_figures(case(no_cell=True))} & {"cannot tell"}


def test_little_enough_work_for_a_key_press() -> None:
    all_figures(case())  # the tables are read once
    facts = case()
    assert steps(lambda: all_figures(facts)) < 60_000  # some 30,000 lines of Python
