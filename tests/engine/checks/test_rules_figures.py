"""What the rules on figures and on programs say, and what they leave to others."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from engine.book import Book
from engine.views import Finding
from tests.demo_book import begun
from tests.shop_floor import Clock

from .conftest import ONE, TWO, Mini
from .faults_figures import hold_of, with_program


def of(mini: Mini, rule: str, *names: str) -> list[Finding]:
    return [f for f in mini.findings(*names, also_incomplete=True) if f.rule == rule]


def test_what_does_not_fit_is_told_with_value_and_limit(mini: Mini) -> None:
    mini.trees["book.toml"]["policy"]["free_height_least"] = 3
    hold_of(mini, "2.5")
    (found,) = of(mini, "figure-does-not-fit")
    assert found.message == "does not fit: free height (blank) 2.50 mm, at least 3.00 mm"
    assert f"figures {ONE}" in found.hint


def test_beyond_travel_is_left_to_its_own_rule(mini: Mini) -> None:
    mini.trees["book.toml"]["policy"]["travel_margin"] = 5
    mini.one["positions"]["seat"]["lift"] = Decimal("500.001")
    assert of(mini, "figure-does-not-fit") == []
    assert len(of(mini, "outside-travel")) == 1


def test_within_travel_and_within_its_margin_does_not_fit(mini: Mini) -> None:
    mini.trees["book.toml"]["policy"]["travel_margin"] = 5
    mini.one["positions"]["seat"]["lift"] = Decimal("497.000")
    (found,) = of(mini, "figure-does-not-fit")
    assert found.address == "positions.seat.lift"


def test_what_is_missing_is_said_once_for_a_record_and_once_for_its_cell(mini: Mini) -> None:
    found = mini.findings(also_incomplete=True)
    assert sorted((f.rule, f.record) for f in found) == [
        ("cell-incomplete", "cells/north"),
        ("figure-cannot-tell", ONE),
        ("figure-cannot-tell", TWO),
        ("policy-incomplete", "book"),
    ]
    assert {f.level for f in found} == {"note"}
    (one,) = of(mini, "figure-cannot-tell", ONE)
    assert "figures cannot be told: tray lacks across, along" in one.message
    assert "more values" in one.message


def test_naming_a_record_leaves_cell_and_policy_alone(mini: Mini) -> None:
    assert {f.rule for f in mini.findings(ONE, also_incomplete=True)} == {"figure-cannot-tell"}


def test_without_a_cell_only_its_absence_is_told(mini: Mini) -> None:
    for name in (ONE, TWO):
        mini.trees[f"records/{name}.toml"]["record"]["cell"] = "south"
    rules = [f.rule for f in mini.findings(also_incomplete=True)]
    assert set(rules) == {"unknown-cell"}


# programs


def test_a_program_that_says_no_unit_is_told(mini: Mini) -> None:
    with_program(mini, "N30 G1 X10. F200")
    text = mini.files["programs/cup_1.nc"].replace(b"G21 ", b"")
    mini.files["programs/cup_1.nc"] = text
    del mini.one["program"]["sha256"]
    (found,) = of(mini, "program-units")
    assert "neither G20 nor G21" in found.message


def test_listed_tools_and_offsets_are_found_by_any_spelling(mini: Mini) -> None:
    mini.one["tools"] = {"T04": {"what": "drill"}, "5": {"what": "tap"}}
    mini.one["offsets"] = {"G55": {"z": 3}, "G54_1_P4": {"z": 3}}
    with_program(mini, "N20 T4 M6", "N22 G55", "N24 T05 M6", "N26 G54.1 P4", "N30 S900 M3")
    assert mini.findings() == []


def test_a_program_that_calls_others_says_nothing_of_unused_tools(mini: Mini) -> None:
    mini.one["tools"] = {"T07": {"what": "drill 5"}}
    with_program(mini, "N20 M98 P1234", "N30 S900 M3")
    assert of(mini, "tool-unused") == []


def _head(mini: Mini, letter: str, unit: str, most: object) -> None:
    mini.cell["axes"]["head"] = {
        **{"of": "machine", "kind": "linear", "unit": unit, "least": 0, "most": most},
        "letter": letter,
    }


def test_travel_counts_in_the_units_of_program_and_axis(mini: Mini) -> None:
    _head(mini, "Z", "in", 10)
    with_program(mini, "N20 G53 G0 Z254.")
    assert of(mini, "program-travel") == []
    mini.edit("programs/cup_1.nc", "Z254.", "Z255.")
    (found,) = of(mini, "program-travel")
    assert "moves head to 10.039 in (line 3); its travel ends at 10" in found.message


@pytest.mark.parametrize(
    ("cuts", "offset", "expected"),
    [
        ("milling", {"G54": {"x": -20}}, 1),  # -20 + 10 lies below 0
        ("milling", {"G54": {"x": 20}}, 0),
        ("milling", {"G54": {"y": 20}}, 0),  # not noted for this axis: nothing is guessed
        ("turning", {"G54": {"x": -20}}, 0),  # tools have a share in it there
        (None, {"G54": {"x": -20}}, 0),
    ],
)
def test_a_noted_offset_counts_on_a_mill(
    mini: Mini, cuts: str | None, offset: dict[str, Any], expected: int
) -> None:
    _head(mini, "X", "mm", 400)
    if cuts:
        mini.cell["cell"]["cuts"] = cuts
    mini.one["offsets"] = offset
    with_program(mini, "N20 G54", "N30 G1 X10. F200")
    assert len(of(mini, "program-travel")) == expected


def test_an_axis_without_a_letter_is_left_alone(mini: Mini) -> None:
    _head(mini, "Z", "mm", 400)
    del mini.cell["axes"]["head"]["letter"]
    with_program(mini, "N20 G53 G0 Z999.")
    assert of(mini, "program-travel") == []


def test_a_changed_program_is_told_with_what_changed(mini: Mini) -> None:
    assert mini.book
    mini.edit("programs/cup_1.nc", "S1200", "S1100")
    (found,) = of(mini, "program-changed")
    assert "changed since: line 3: speed S1200 -> S1100" in found.message


def test_a_proved_text_that_history_has_not_is_told_without_words(mini: Mini) -> None:
    mini.one["program"]["sha256"] = "0" * 64
    (found,) = of(mini, "program-changed")
    assert "changed since" not in found.message


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Book]:
    book = begun(tmp_path / "demo", Clock())
    yield book
    book.close()


def test_the_demo_tells_every_figure_and_reads_every_program(demo: Book) -> None:
    for item in demo.list_records(findings=False):
        figures = demo.document(item.record).figures.all()
        assert [f for f in figures if f.verdict == "cannot tell"] == []
        facts = demo.document(item.record).program.facts()
        assert facts.problems.count == 0
        assert facts.unit == demo.document(item.record).values()["record.units"]
