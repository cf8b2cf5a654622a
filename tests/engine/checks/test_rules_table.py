"""Each rule finds its fault, in the right place, and nothing else has anything to say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from engine.checks import RULES
from engine.checks.rule import Say, Says
from tests.demo_book import begun
from tests.shop_floor import Clock

from .conftest import ONE, Mini
from .faults_figures import FAULTS

PLAIN = sorted(set(FAULTS) - {"rule-failed"})


def test_a_book_with_nothing_wrong_has_no_findings(mini: Mini) -> None:
    assert mini.findings() == []


def test_every_rule_has_a_fault() -> None:
    assert set(FAULTS) == set(RULES), "give each new rule its fault in faults.py"


def test_every_rule_says_what_it_looks_for_and_what_to_do() -> None:
    for known in RULES.values():
        assert known.meaning.endswith("."), known.name
        assert known.hint.endswith("."), known.name
        assert known.hint.format(record="R", address="A")


@pytest.mark.parametrize("name", PLAIN)
def test_a_rule_finds_its_fault(mini: Mini, name: str) -> None:
    fault = FAULTS[name]
    fault.break_it(mini)
    found = mini.findings()
    places = [(f.record, f.address, f.file) for f in found if f.rule == name]
    assert (fault.record, fault.address, fault.file) in places
    if fault.only:
        assert {f.rule for f in found} == {name}
    for finding in found:
        assert finding.level == RULES[finding.rule].level
        assert finding.message
        assert finding.hint
        assert "{" not in finding.hint


@pytest.mark.parametrize("name", PLAIN)
def test_a_finding_points_at_the_line_of_its_address(mini: Mini, name: str) -> None:
    fault = FAULTS[name]
    fault.break_it(mini)
    for finding in (f for f in mini.findings() if f.rule == name and f.line):
        lines = (mini.folder / finding.file).read_text().split("\n")
        key = finding.address.rpartition(".")[2]
        line = lines[finding.line - 1]
        above = ".".join(finding.address.split(".")[:2]), finding.address.partition(".")[0]
        tables = {f"[{table}]" for table in above}
        assert line.startswith(f"{key} =") or line in tables or line == f"[{finding.address}]"


@pytest.mark.parametrize("name", PLAIN)
def test_naming_documents_gives_their_findings_and_no_others(mini: Mini, name: str) -> None:
    FAULTS[name].break_it(mini)
    everything = mini.findings()
    of_all = ("past-rewritten", "meeting-point-rewritten")  # every answer leans on the past
    assert mini.findings(ONE) == [f for f in everything if f.record == ONE or f.rule in of_all]


def test_a_rule_that_fails_is_a_finding_and_hides_nothing(
    mini: Mini, monkeypatch: pytest.MonkeyPatch
) -> None:
    mini.may_fail = True

    def look(_: Any) -> Says:
        yield Say("jaws", "said before it failed")
        raise RuntimeError("broken")

    FAULTS["program-changed"].break_it(mini)
    monkeypatch.setitem(RULES, "stages", replace(RULES["stages"], looks={"record": look}))
    found = mini.findings(ONE)
    assert [f.rule for f in found] == ["program-changed", "rule-failed", "stages"]
    assert "the rule stages failed on" in next(f for f in found if f.rule == "rule-failed").message
    assert found[1].file == f"records/{ONE}.toml"
    assert "stages" in found[1].message


def test_findings_come_by_record_level_and_rule(mini: Mini) -> None:
    for name in ("program-end", "no-role", "photo-of-nothing", "outside-travel", "ends-unclear"):
        FAULTS[name].break_it(mini)
    (mini.folder / "programs").mkdir(parents=True)
    mini.write("programs/old.nc", b"")
    assert [(f.record, f.level, f.rule) for f in mini.findings()] == [
        ("book", "note", "file-unlinked"),
        ("cells/north", "warning", "ends-unclear"),
        (ONE, "error", "outside-travel"),
        (ONE, "error", "program-end"),
        (ONE, "note", "photo-of-nothing"),
        ("people", "warning", "no-role"),
    ]


def test_a_retired_record_is_left_in_peace_and_still_links(mini: Mini) -> None:
    for name in ("program-end", "outside-travel"):
        FAULTS[name].break_it(mini)
    mini.one["record"]["retired"] = True
    assert mini.findings() == []


def test_the_demo_book_has_three_figures_that_do_not_fit_and_a_note(tmp_path: Path) -> None:
    book = begun(tmp_path / "demo", Clock())
    found = [(f.rule, f.file) for f in book.check() if f.rule in FAULTS]
    book.close()
    bad = [item for item in found if item[0] != "figure-tight"]
    assert bad == [
        ("file-unlinked", "programs/q316_trial_feeds.nc"),
        ("figure-does-not-fit", "records/terminal-carrier-op10.toml"),
        ("figure-does-not-fit", "records/terminal-carrier-op10.toml"),
        ("figure-does-not-fit", "records/wear-ring-op20.toml"),
    ]
    assert len(found) - len(bad) < 12
