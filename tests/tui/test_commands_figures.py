"""figures, expected, tray-fit, program, and the consequences in diff, as a pipe sees them."""

from __future__ import annotations

import csv
import io
import json
import shutil
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.demo_book import CARRIER, FOOT, NOON, RING, SEAT, begun
from tests.shop_floor import Clock
from tests.tui.conftest import Command

Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "book"
    begun(folder, Clock(NOON)).close()
    return folder


@pytest.fixture
def ask(founded: Path, tmp_path: Path, command: Command) -> Ask:
    """`ask("figures", SEAT)`: exit status, standard output, standard error; as a lead."""
    folder = tmp_path / "book"
    shutil.copytree(founded, folder)
    return partial(command, folder, "itob")


def test_text_says_what_does_not_fit_first(ask: Ask) -> None:
    status, out, said = ask("figures", CARRIER)
    lines = out.split("\n")
    assert status == 0
    assert lines[0].startswith(f"{CARRIER} at now: ")
    assert ": 2 do not fit, " in lines[0]
    assert lines[1] == "does not fit: bite: free height (part) 2.20 mm, at least 3.00 mm"
    for group in ("mass", "hold", "bite", "tray", "agreement", "motion", "cycle", "lot"):
        assert group in lines
    assert "certify nothing" in said


def test_json_has_formula_and_source_once_for_each_kind(ask: Ask) -> None:
    status, out, _ = ask("figures", CARRIER, "--format", "json")
    data = json.loads(out)
    assert (status, data["format"], data["record"], data["mark"]) == (0, 1, CARRIER, "now")
    free = next(i for i in data["items"] if i["name"] == "free height" and i["at"] == "blank")
    assert free == {
        "name": "free height",
        "group": "bite",
        "at": "blank",
        "value": 2.5,
        "unit": "mm",
        "limit": 3.0,
        "margin": -0.5,
        "verdict": "does not fit",
        "kind": "free height",
        "missing": [],
        "note": "",
    }
    assert {item["kind"] for item in data["items"]} == set(data["kinds"])
    for kind in data["kinds"].values():
        assert kind["formula"]
        assert kind["source"]


def test_one_group_at_a_mark_as_csv(ask: Ask) -> None:
    ask("set", CARRIER, "jaws.bite=3.0")
    ask("ink", CARRIER, "--reason", "longer pads")
    for mark, verdict in (("ink-1", "does not fit"), ("now", "fits")):
        _, out, _ = ask("figures", CARRIER, "--at", mark, "--group", "bite", "--format", "csv")
        rows = list(csv.DictReader(io.StringIO(out)))
        assert {row["group"] for row in rows} == {"bite"}
        assert rows[0]["verdict"] == verdict


def test_what_is_missing_is_told_by_its_address(ask: Ask) -> None:
    ask("set", CARRIER, "fingers.blank.friction=")
    _, out, _ = ask("figures", CARRIER, "--at", "pencil", "--group", "hold")
    assert "cannot tell: fingers.blank.friction is missing for " in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["figures", CARRIER, "--group", "weight"], "One of: mass"),
        (["figures", "people"], "no record"),
        (["figures", CARRIER, "--at", "ink-9"], "no mark"),
        (["expected", CARRIER, "positions.set-in.hoist", "--pencil"], "nothing is expected"),
        (["program", "people"], "no record"),
    ],
)
def test_what_is_wrong_is_said(ask: Ask, words: list[str], said: str) -> None:
    status, out, err = ask(*words)
    assert (status, out) == (2, "")
    assert said in err


def test_diff_says_what_a_change_does_to_the_figures(ask: Ask) -> None:
    ask("set", FOOT, "jaws.bite=20.5")
    status, out, _ = ask("diff", FOOT)
    assert status == 1
    assert "figure free height (part) 18.50 -> 3.00 mm: tight" in out
    data = json.loads(ask("diff", FOOT, "--format", "json")[1])
    first = data["figures"][0]
    assert (first["record"], first["name"], first["at"]) == (FOOT, "free height", "part")
    assert (first["old"], first["new"], first["limit"]) == (18.5, 3.0, 3.0)
    assert (first["old_verdict"], first["new_verdict"]) == ("fits", "tight")
    assert "free height" in ask("ink", FOOT, "--reason", "deeper")[2]
    status, out, _ = ask("diff", FOOT, "ink-1")
    assert "figure free height (part) 18.50 -> 3.00 mm: tight" in out


def test_diff_of_what_is_no_record_has_no_figures(ask: Ask) -> None:
    ask("set", "people", "people.jun.name=June")
    data: dict[str, Any] = json.loads(ask("diff", "people", "--format", "json")[1])
    assert data["figures"] == []


def test_expected_positions(ask: Ask) -> None:
    status, out, _ = ask("expected", RING)
    assert status == 0
    assert "positions.collect.lift    296.675   297.460  mm    +0.785" in out
    assert ask("expected", RING, "--pencil")[0] == 3
    status, out, said = ask("expected", RING, "positions.collect.lift", "--pencil")
    assert (status, "derived" in said) == (0, True)
    data = json.loads(ask("pencil", RING, "--format", "json")[1])
    (mark,) = data["items"]
    assert (mark["address"], mark["new"], mark["note"]) == (
        "positions.collect.lift",
        "296.675",
        "derived",
    )


def test_tray_fit(ask: Ask) -> None:
    status, out, _ = ask("tray-fit", FOOT)
    assert status == 0
    assert f"{FOOT}: fits" in out
    assert "pitch across 93.517 mm" in out
    data = json.loads(ask("tray-fit", FOOT, "--pencil", "--format", "json")[1])
    assert (data["verdict"], data["pitch_along"], data["unit"]) == ("fits", "101.489", "mm")
    assert "derived" in ask("pencil", FOOT)[1]
    assert ask("tray-fit", SEAT, "--pencil")[0] == 3


def test_a_program_in_words_and_as_json(ask: Ask) -> None:
    status, out, _ = ask("program", SEAT)
    assert status == 0
    for words in ("M30 in line", "G55", "T1, T4, T6, T7, T9", "1400 1/min", "as it was proved out"):
        assert words in out
    data = json.loads(ask("program", SEAT, "--format", "json")[1])
    assert (data["unit"], data["offsets"], data["tools"]) == ("mm", ["G55"], [1, 4, 6, 7, 9])
    assert data["ending"]["code"] == "M30"
    assert data["machine_extents"]["Z"]["high_mm"] == 398.0
    assert (data["problems"], data["since_proved"]) == ([], [])


def test_a_sign_off_that_is_refused_says_with_what_words_it_goes(ask: Ask) -> None:
    status, _, said = ask("sign-off", CARRIER)
    assert status == 3
    assert "2 figures do not fit" in said
    assert "--note TEXT" in said
    assert ask("sign-off", CARRIER, "--note", "tried by hand, pads are thin")[0] == 0


def test_refills_by_the_clock_over_a_clock_change(
    ask: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The night of 2026-10-25 has the hour from two to three twice in Berlin."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        words = ("refills", SEAT, "--start", "2026-10-24T22:00", "--minutes", "4")
        fills = json.loads(ask(*words, "--format", "json")[1])["items"]
        text = ask(*words)[1]
    finally:
        monkeypatch.undo()
        time.tzset()
    assert [fill["blanks"] for fill in fills][:2] == [27, 27]
    moments = {key: [datetime.fromisoformat(f[key]) for f in fills] for key in fills[0] if key in
               ("begins", "empty", "done")}  # fmt: skip
    gaps = {b - a for a, b in zip(moments["done"], moments["begins"][1:], strict=False)}
    assert gaps == {timedelta(minutes=4)}  # no hour is lost or gained in the sums
    full = [e - b for b, e in zip(moments["begins"], moments["empty"], strict=True)][:4]
    assert max(full) - min(full) <= timedelta(seconds=1)
    assert {f["begins"][-6:] for f in fills} == {"+02:00", "+01:00"}
    assert " +02:00" in text
    assert " +01:00" in text


def test_refills_say_what_is_missing(ask: Ask) -> None:
    ask("set", SEAT, "lot.quantity=", "--ink")
    status, _, said = ask("refills", SEAT)
    assert status == 2
    assert "lot.quantity" in said
    assert ask("refills", SEAT, "--start", "tonight")[0] == 2
