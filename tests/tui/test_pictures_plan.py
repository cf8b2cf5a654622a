"""The tray's plan shows every pocket, the engine's order, and what is out of reach, by signs."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from engine.figures import pictures
from engine.figures.geometry import grid
from engine.figures.inputs import Facts
from tests.demo_book import DEMO, demo_facts
from tests.engine.figures.mill_case import case
from tui.pictures import plan
from tui.pictures.grids import kept

JOBS = sorted(path.stem for path in (DEMO / "records").glob("*.toml"))
CORNERS = ["near left", "near right", "far left", "far right"]
PATHS = [
    "row by row",
    "rows back and forth",
    "column by column",
    "columns back and forth",
]
WIDE = {"cell:axes.slide.most": 99_999, "cell:axes.bridge.most": 99_999}


def tray(across: int, along: int, **changes: object) -> Facts:
    return case({"tray.across": across, "tray.along": along, **WIDE, **changes})


def tray_plan(
    facts: Facts, width: int = 80, *, ascii_only: bool = False, height: int = 20
) -> list[str]:
    """The plan of a tray that the engine worked out."""
    worked_out = pictures.tray_plan(facts)
    return plan.tray_plan(worked_out, width, ascii_only=ascii_only, height=height)


def on_plate(lines: list[str]) -> list[str]:
    """What stands within the plate's edges, line by line."""
    return [match[1] for line in lines if (match := re.search(r"[│|] (.*) [│|]", line))]


def prose(facts: Facts) -> str:
    """The plan's words as one line; it is too narrow here for them to stand beside the tray."""
    return re.sub(r"\s+", " ", " ".join(tray_plan(facts, 40)))


def numbers(lines: list[str]) -> list[list[str]]:
    """Numbers and signs of pockets, row by row from the top."""
    rows = [re.findall(r"\d+|--", line) for line in on_plate(lines)]
    return [row for row in rows if any(text.isdigit() for text in row)]


@pytest.mark.parametrize("job", JOBS)
def test_numbers_are_the_engines_order(job: str):
    facts = demo_facts(job)
    across, along = grid.size(facts)
    order = {pocket: str(n) for n, pocket in enumerate(grid.in_order(facts), 1)}
    corner = facts.cell.bed.corner  # type: ignore[union-attr]
    columns = range(across) if "left" in corner else range(across)[::-1]
    rows = range(along)[::-1] if "near" in corner else range(along)
    expected = [[order.get((c, r), "--") for c in columns] for r in rows]
    assert numbers(tray_plan(facts, 80)) == expected


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("path", PATHS)
def test_each_corner_and_path(corner: str, path: str):
    facts = tray(3, 2, **{"cell:bed.corner": corner, "cell:bed.path": path, "tray.unused": []})
    lines = tray_plan(facts, 80)
    shown = numbers(lines)
    first = shown[-1 if "near" in corner else 0][0 if "left" in corner else -1]
    assert first == "1"
    assert f"first: r1c1, {corner}" in prose(facts)
    assert f"order of fetching, {path} " in prose(facts)
    (labels,) = [line for line in lines if re.search(r"c1 .*c3|c3 .*c1", line)]
    assert (lines.index(labels) > 2) == ("near" in corner)  # they meet at r1c1
    assert (labels.index("c1") < labels.index("c3")) == ("left" in corner)


def test_arrows_lead_from_pocket_to_pocket():
    rows = on_plate(tray_plan(tray(3, 2, **{"tray.unused": []}), 80, ascii_only=True))
    assert sum(row.count(">") for row in rows) == 4
    assert not any(sign in row for row in rows for sign in "<^")
    facts = tray(3, 2, **{"tray.unused": [], "cell:bed.path": "rows back and forth"})
    rows = on_plate(tray_plan(facts, 80, ascii_only=True))
    assert [sum(row.count(sign) for row in rows) for sign in "><^"] == [2, 2, 1]


def test_unused_pockets_are_signs_and_names():
    lines = tray_plan(case(), 80)
    assert sum(row.count("--") for row in numbers(lines)) == 1
    assert "-- leave empty: r4c7" in lines


def test_pockets_kept_empty_for_what_comes_back_are_told():
    text = prose(case({"cell:bed.keep_empty": 2}))
    assert "load 25: 2 more stay empty" in text


def test_what_is_out_of_reach_has_a_sign_and_words():
    facts = case({"cell:axes.slide.most": 670})  # c7 at fetch, c6 and c7 at drop
    lines = tray_plan(facts, 100)
    marked = re.findall(r"!\s*(\d+)\s*!", "\n".join(on_plate(lines)))
    order = {pocket: n for n, pocket in enumerate(grid.in_order(facts), 1)}
    assert sorted(map(int, marked)) == sorted(n for (c, _), n in order.items() if c >= 5)
    text = prose(facts)
    assert "out of reach at fetch: all of c7; slide would be 105.0 mm past its end" in text
    assert "out of reach at drop: all of c6 to c7; slide would be 115.0 mm past" in text
    assert "within reach" not in text


def test_travel_within_the_policys_margin_is_out_of_reach_too():
    text = prose(case({"cell:axes.slide.most": 789}))
    assert "out of reach at drop: all of c7; slide has 4.0 mm left at r1c7, at least 5.0" in text
    assert "within reach: every pocket in use, at fetch" in text


def test_everything_within_reach_is_said():
    text = prose(case())
    assert "within reach: every pocket in use, at fetch and drop" in text
    assert "!" not in text


@pytest.mark.parametrize(("across", "along"), [(14, 8), (40, 20), (1, 12), (12, 1), (1, 1)])
@pytest.mark.parametrize("path", PATHS)
def test_every_pocket_is_there(across: int, along: int, path: str):
    facts = tray(across, along, **{"tray.unused": [], "cell:bed.path": path})
    lines = tray_plan(facts, 80)
    inside = "\n".join(on_plate(lines))
    found = re.findall(r"\d+", inside)
    if not found:
        assert inside.count("o") == across * along
    else:
        assert sorted(map(int, found)) == list(range(1, across * along + 1))


def test_small_signs_have_their_numbers_beside_the_rows():
    lines = tray_plan(tray(40, 20, **{"tray.unused": ["r4c7"]}), 80, ascii_only=True)
    assert any(line.startswith("r4  > 121-159 | oooooo-ooooo") for line in lines)
    assert any("not to scale" in line for line in lines)
    facts = tray(40, 20, **{"cell:bed.path": "columns back and forth", "tray.unused": []})
    text = "\n".join(tray_plan(facts, 80))
    assert "c1 " in text
    assert "↓120" not in text
    assert "↓101" in text  # c6 comes down and has 101 to 120
    assert "↑201" in text


def test_a_huge_tray_is_cut_and_says_so():
    lines = tray_plan(tray(400, 20, **{"tray.unused": []}), 80)
    assert any(line.startswith("not drawn: c") for line in lines)
    assert max(map(cell_len, lines)) <= 80
    assert not any(line.endswith("..") for line in lines)


def test_proportions_are_roughly_true():
    for across, along in ((50, 50), (100, 50), (50, 80)):
        facts = tray(6, 4, **{"tray.pitch_across": across, "tray.pitch_along": along})
        lines = tray_plan(facts, 80)
        assert not any("not to scale" in line for line in lines)
        inside = on_plate(lines)
        true = (across * 5 + 62) / (along * 3 + 62)
        assert 1 / 1.8 < len(inside[0]) / (2 * len(inside)) / true < 1.8


def test_what_cannot_be_told_is_named():
    assert tray_plan(case(without=["tray.across", "cell:bed.path"]), 80) == [
        "tray: cannot tell: tray.across, cell:bed.path"
    ]
    assert "cannot tell: record.cell" in tray_plan(case(no_cell=True), 80)[0]
    facts = case(without=["positions.drop", "tray.pocket_size"])
    text = prose(facts)
    assert "reach: cannot tell: positions.drop.slide, positions.drop.bridge" in text
    assert "web: cannot tell: tray.pocket_size" in text
    assert len(numbers(tray_plan(facts, 80))) == 4
    text = prose(case(without=["tray.pitch_along"]))
    assert "not to scale: cannot tell: tray.pitch_along" in text


def test_inches_stay_inches():
    text = prose(demo_facts("wear-ring-op20"))
    assert "web in inches, at least 0.1575: across 1.77, along 1.05: fits" in text


@given(
    st.integers(40, 200),
    st.booleans(),
    st.sampled_from([(1, 1), (9, 4), (14, 8), (40, 20), (300, 3), (3, 300)]),
    st.sampled_from(CORNERS),
    st.sampled_from(PATHS),
    st.text(max_size=60),
)
def test_widths_and_signs(
    width: int, plain: bool, size: tuple[int, int], corner: str, path: str, plate: str
):
    facts = tray(*size, **{"cell:bed.corner": corner, "cell:bed.path": path})
    named = facts.record.tray.model_copy(update={"plate": f"板{plate}"})
    facts = replace(facts, record=facts.record.model_copy(update={"tray": named}))
    lines = tray_plan(facts, width, ascii_only=plain)
    assert max(map(cell_len, lines)) <= width
    assert not plain or "".join(lines).isascii()
    assert not set("".join(lines)) & set("\x1b\n\r\x07\u202e")


def test_a_gap_stands_for_what_is_left_out():
    assert kept(5, 5) == (0, 1, 2, 3, 4)
    assert kept(9, 5) == (0, 1, None, 7, 8)
    assert kept(9, 6) == (0, 1, 2, None, 7, 8)


def test_nothing_changes_with_what_has_been_run():
    """The plan is made of record, cell and policy alone: twice the same."""
    assert tray_plan(case(), 80) == tray_plan(case({"lot.quantity": 7}), 80)
