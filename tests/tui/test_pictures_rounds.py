"""The bars of a round: every step of the engine's, to scale, machine and loader in parallel."""

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from engine.figures.groups.cycle import bars, cycle
from engine.figures.inputs import Facts
from engine.figures.pictures import round_bars, staged_round
from engine.views import CycleBar, Which
from tests.engine.figures.a_gantry import facts
from tui.pictures import rounds
from tui.pictures.rounds import Scale

WHICH: list[Which] = ["steady", "first", "last"]


def cycle_bars(
    facts: Facts, width: int, *, which: Which = "steady", percent: float = 100.0,
    ascii_only: bool = False,
) -> list[str]:  # fmt: skip
    """The bars of a round that the engine worked out."""
    return rounds.cycle_bars(round_bars(facts, which, percent), width, ascii_only=ascii_only)


def steps(lines: list[str]) -> dict[str, tuple[float, float, str]]:
    """Start, length and bar of every step, by name."""
    rows = (re.match(r"(\S.*?)\s+(\d+\.\d)\s+(\d+\.\d)  ( *)(\S+)$", line) for line in lines)
    return {row[1]: (float(row[2]), float(row[3]), row[4] + row[5]) for row in rows if row}


@pytest.mark.parametrize("which", WHICH)
def test_every_bar_of_the_engine_has_its_line(which):
    found = bars(facts(), 100.0, which)
    shown = steps(cycle_bars(facts(), 80, which=which))
    assert list(shown) == [bar.name for bar in found]
    for bar in found:
        start, long, _ = shown[bar.name]
        assert start == pytest.approx(bar.start, abs=0.051)
        assert long == pytest.approx(bar.length, abs=0.051)


def test_longer_bars_take_no_fewer_cells():
    shown = [one for name, one in steps(cycle_bars(facts(), 120)).items() if "waits" not in name]
    by_length = sorted((long, len(bar.strip())) for _, long, bar in shown[:-1] if "»" not in bar)
    cells = [cells for _, cells in by_length]
    assert cells == sorted(cells)


def test_bars_begin_where_the_one_before_ends():
    found = [bar for _, _, bar in steps(cycle_bars(facts(), 80, which="first")).values()]
    ends = [len(bar) for bar in found]
    starts = [len(bar) - len(bar.strip()) for bar in found]
    assert all(abs(end - start) <= 1 for end, start in zip(ends, starts[1:], strict=False))


def test_heading_has_the_engines_cycle_and_parts_an_hour():
    seconds = cycle(facts())
    heading = cycle_bars(facts(), 120)[0]
    assert heading.startswith(f"Every round at full speed: {seconds:.1f} s, ")
    assert f"{3600 / seconds:.1f} parts an hour" in heading


def test_whoever_waits_is_named():
    assert "loader waits" in cycle_bars(facts({"record:lot.machining_seconds": 400}), 120)[0]
    short = cycle_bars(facts({"record:lot.machining_seconds": 1}), 120)
    assert "machine waits" in short[0]
    machine, loader = short[1:3]
    assert machine.startswith("machine |")
    assert "waits" in machine
    assert "waits" not in loader


def test_a_percentage_makes_it_slower_and_says_so():
    slow = cycle_bars(facts({"record:lot.machining_seconds": 1}), 120, percent=10)[0]
    assert "at 10 % of full speed" in slow
    quick = cycle_bars(facts({"record:lot.machining_seconds": 1}), 120)[0]
    values = [float(re.search(r": ([\d.]+) s", line)[1]) for line in (slow, quick)]  # type: ignore[index]
    assert values[0] > values[1]


def test_the_first_and_the_last_round_say_what_they_lack():
    assert "no part comes out" in " ".join(cycle_bars(facts(), 80, which="first")[:2])
    last = " ".join(cycle_bars(facts(), 80, which="last")[:2])
    assert "nothing goes in" in last


def test_long_machining_does_not_crush_the_steps():
    lines = cycle_bars(facts({"record:lot.machining_seconds": 4000}), 80, ascii_only=True)
    shown = steps(lines)
    assert shown["machining"][2].endswith(">")
    assert max(len(bar.strip()) for name, (_, _, bar) in shown.items() if name != "machining") > 3
    (machine,) = [line for line in lines if line.startswith("machine |")]
    assert machine.count("=") > 40  # over all, machining is nearly everything


def test_what_cannot_be_told_is_named():
    bare = facts(drop=["cell:times.door", "record:lot.machining_seconds"])
    text = " ".join(cycle_bars(bare, 80))
    assert text.startswith("every round at full speed: cannot tell: ")
    assert "cell:times.door" in text
    assert "lot.machining_seconds" in text
    assert len(cycle_bars(bare, 80)) < 4


def test_signs_are_told_in_words():
    text = "\n".join(cycle_bars(facts(), 80))
    for words in ("machine stands", "machining", "loader meanwhile", "waits"):
        assert words in text


@given(st.floats(0, 500), st.floats(0, 500))
def test_the_scale_is_monotone(one: float, other: float):
    scale = Scale(0.0, 500.0, 60)
    low, high = sorted((one, other))
    assert scale.at(low) <= scale.at(high)
    assert 1 <= scale.long(low) <= scale.long(high)


@given(st.integers(40, 200), st.booleans(), st.sampled_from(WHICH), st.floats(0, 5000))
def test_widths_and_signs(width: int, plain: bool, which, seconds: float):
    job = facts({"record:lot.machining_seconds": round(seconds, 3)})
    lines = cycle_bars(job, width, which=which, ascii_only=plain)
    assert max(map(cell_len, lines)) <= width
    assert not plain or "".join(lines).isascii()


def test_long_names_of_stations_are_cut_not_the_seconds():
    found = [CycleBar("x" * 70, 0.0, 2.0), CycleBar("y", 2.0, 1.0)]
    from tui.pictures.rounds import _steps
    from tui.pictures.signs import RICH

    lines = list(_steps(found, 60, RICH))
    assert all(cell_len(line) <= 60 for line in lines)
    assert re.search(r"xx\.\.\s+0\.0\s+2\.0", lines[1])


def test_stages_come_one_after_the_other_and_full_speed_again():
    job = facts({"record:lot.stages": [10, 50, 100]})
    percents = [staged_round(job, "steady", stage).percent for stage in range(4)]
    assert percents == [100.0, 10.0, 50.0, 100.0]


def test_lanes_cover_the_whole_round_without_a_gap():
    found = round_bars(facts())
    end = max(bar.end for bar in found.bars)
    for lane in (found.machine, found.loader):
        assert lane[0].start == 0.0
        assert lane[-1].end == pytest.approx(end)
        for one, other in pairwise(lane):
            assert one.end == pytest.approx(other.start)
    busy = sum(bar.length for bar in found.bars if bar.kind == "loader")
    works = sum(bar.length for bar in found.loader if bar.name == "works")
    assert works == pytest.approx(busy)
