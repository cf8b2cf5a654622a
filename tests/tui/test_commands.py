"""The command line as a pipe sees it: answers, forms, exit statuses, hints."""

import csv
import io
import json
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.mini_book import BUSH, SEAT, plain_git
from tests.shop_floor import edit
from tests.tui.conftest import Command

REACH = "positions.seat.reach"
Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ask(little: Path, command: Command) -> Ask:
    """`ask("mira", "list")`: exit status, standard output, standard error."""
    return partial(command, little)


@pytest.fixture
def items(ask: Ask) -> Callable[..., list[dict[str, Any]]]:
    """The items of a command's JSON."""

    def call(login: str, *words: str) -> list[dict[str, Any]]:
        data = json.loads(ask(login, *words, "--format", "json")[1])
        assert data["format"] == 1
        return list(data["items"])

    return call


def test_a_value_goes_its_whole_way(ask: Ask, items: Any) -> None:
    assert ask("mira", "run", "start", SEAT)[0] == 0
    assert ask("mira", "run", "stop", SEAT, "--good", "120", "--scrap", "3")[0] == 0
    assert items("mira", "set", SEAT, f"{REACH}=612.500")[0] == {
        "record": SEAT, "address": REACH, "old": "612.350", "new": "612.500", "unit": "mm",
        "delta": "0.150", "who": {"person": "mira", "name": "Mira Falk", "login": None},
        "at": items("mira", "pencil", SEAT)[0]["at"], "note": None, "contested": None,
    }  # fmt: skip
    status, _, said = ask("mira", "ink", SEAT)
    assert status == 3
    assert "needs a reason" in said
    assert "--reason" in said
    status, out, said = ask("mira", "ink", SEAT, "--reason", "rubbed on the way in")
    assert (status, "612.350" in out, "prove out again" in said) == (0, True, True)
    status, out, _ = ask("ole", "diff", SEAT, "--since-run")
    assert status == 1
    assert "position seat moved 0.150 mm: reach +0.150 mm" in out
    (change,) = items("ole", "diff", SEAT, "--since-run", "1")
    assert (change["address"], change["old"], change["new"]) == (REACH, "612.350", "612.500")
    last = items("ada", "trace", SEAT, REACH)[-1]
    assert last["who"] == {"person": "mira", "name": "Mira Falk", "login": "mira"}
    assert (last["reason"], last["verified"], last["runs"]) == ("rubbed on the way in", True, [])
    assert len(items("ada", "trace", SEAT, "positions.seat")) == 4  # three axes taught, one moved


def test_the_number_of_a_run_may_be_left_out_before_the_record(ask: Ask) -> None:
    ask("mira", "run", "start", SEAT)
    ask("mira", "run", "stop", SEAT, "--good", "1", "--scrap", "0")
    assert ask("ole", "diff", "--since-run", SEAT)[0] == 0
    assert ask("ole", "diff", "--since-run", "1", SEAT)[0] == 0
    status, _, said = ask("ole", "diff", SEAT, "--since-run", "7")
    assert status == 2
    assert "Its runs: 1." in said


def test_since_a_moment_is_echoed_or_refused(ask: Ask) -> None:
    status, _, said = ask("ole", "diff", "--all", "--since", "3 weeks")
    assert status in (0, 1)
    assert "since 20" in said
    for unclear in ("03/11", "banana", "last tuesday", "2999-01-01"):
        status, out, said = ask("ole", "diff", "--all", "--since", unclear)
        assert (status, out) == (2, "")
        assert unclear in said
        assert "2026-03-02" in said  # how it is written


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["show", "seat-op11"], 2, f"Did you mean {SEAT}"),
        (["set", SEAT, "jaws.byte=3"], 2, "Did you mean jaws.bite?"),
        (["set", SEAT, "positions.seet.reach=3"], 2, "Did you mean 'seat'?"),
        (["set", SEAT, f"{REACH}=1,5"], 2, "comma"),
        (["set", SEAT, REACH], 2, "is not ADDRESS=VALUE"),
        (["set", SEAT, "record.id=wm-aaaaaa"], 2, "never changed by hand"),
        (["set", "cells/lathe", "cell.name=x"], 3, "Ask a lead"),
        (["sign-off", SEAT], 3, "Ask a lead"),
        (["ink", SEAT], 3, "nothing to ink"),
        (["pencil", SEAT, "--bring-back"], 3, "nothing was rubbed out"),
        (["run", "stop", SEAT, "--good", "1", "--scrap", "0"], 3, "no run"),
        (["restore", SEAT, "ink-9", "--reason", "x"], 2, "no mark 'ink-9'"),
        (["copy", SEAT, BUSH], 2, "already"),
        (["new", "x", "--part", "p", "--cell", "nowhere", "--units", "mm"], 2, "One of: lathe"),
        (["show", SEAT, "--as", "ole"], 3, "not ole"),
        (["show", SEAT, "--as", "nobody"], 2, "One of:"),
        (["frobnicate"], 2, "No such command"),
        (["tracee"], 2, "Did you mean 'trace'?"),
        (["event", "lathe", "earthquake", "--reason", "x"], 2, "One of: crash"),
    ],
)
def test_what_is_wrong_is_said_with_a_way_out(
    ask: Ask, capsys: pytest.CaptureFixture[str], words: list[str], status: int, said: str
) -> None:
    found, out, err = ask("mira", *words)
    assert (found, out) == (status, "")
    assert said in err
    assert "Traceback" not in err


def test_an_auditor_reads_and_does_not_ink(ask: Ask) -> None:
    assert ask("ada", "list")[0] == 0
    for words in (["set", SEAT, "lot.quantity=1"], ["run", "start", SEAT],
                  ["retire", SEAT], ["event", "lathe", "crash", "--reason", "x"]):  # fmt: skip
        status, _, said = ask("ada", *words)
        assert status == 3
        assert "reads here" in said


def test_leads_change_cells_people_and_policy_like_records(ask: Ask, items: Any) -> None:
    assert ask("ole", "set", "cells/lathe", "axes.lift.most=900", "--ink")[0] == 0
    assert ask("ole", "set", "people", "people.ada.left_on=2026-01-31", "--ink")[0] == 0
    assert ask("ole", "set", "book", "policy.reason_for=positions.*, lot", "--ink")[0] == 0
    assert items("ada", "trace", "cells/lathe", "axes.lift.most")[-1]["new"] == "900"
    assert ask("mira", "set", SEAT, "lot.quantity=7", "--ink")[0] == 3  # the policy wants a reason
    assert ask("mira", "ink", SEAT, "--reason", "order grew")[0] == 0


def test_several_values_are_set_together_or_not_at_all(ask: Ask, items: Any) -> None:
    status, _, _ = ask("mira", "set", SEAT, "lot.quantity=7", "lot.samples=many")
    assert status == 2
    assert items("mira", "pencil", SEAT) == []


def test_an_empty_value_takes_the_value_out(ask: Ask, items: Any) -> None:
    assert ask("mira", "set", SEAT, "jaws.kept_at=")[0] == 0
    assert items("mira", "pencil", SEAT)[0]["new"] is None
    assert ask("mira", "ink", SEAT)[0] == 0
    assert "jaws.kept_at" not in ask("mira", "show", SEAT)[1]


def test_list_and_show_have_what_scripts_need(items: Any, ask: Ask) -> None:
    ask("mira", "set", SEAT, "lot.quantity=7")
    seat = next(item for item in items("ole", "list") if item["record"] == SEAT)
    assert seat["pencil"][0]["person"] == "mira"
    assert (seat["part"], seat["cell"], seat["signed_off"]) == ("Seat", "lathe", "no")
    assert len(seat["last_ink"]["commit"]) == 40
    shown = json.loads(ask("ole", "show", SEAT, "--format", "json")[1])
    assert shown["values"]["positions"]["seat"]["reach"] == "612.350"
    assert shown["values"]["lot"]["quantity"] == "110"


def test_csv_cells_are_no_formulas(ask: Ask) -> None:
    ask("mira", "set", SEAT, "jaws.kept_at==HYPERLINK(1)", "jaws.id=-12", "offsets.G54.z=-3.5")
    _, out, _ = ask("mira", "pencil", SEAT, "--format", "csv")
    rows = {row["address"]: row["new"] for row in csv.DictReader(io.StringIO(out))}
    assert rows["jaws.kept_at"] == "'=HYPERLINK(1)"
    assert rows["offsets.G54.z"] == "-3.5"


def test_a_book_that_is_none_is_told(tmp_path: Path, command: Command) -> None:
    status, _, said = command(tmp_path, "mira", "list")
    assert status == 2
    assert "witnessmark init" in said


def test_foreign_text_does_not_reach_the_terminal_raw(little: Path, ask: Ask) -> None:
    path = little / "records" / f"{SEAT}.toml"
    path.write_text(path.read_text().replace('"Seat"', '"\\u001b[2Jboo"'))
    for words in (["list"], ["check"], ["pencil"]):
        _, out, err = ask("mira", *words)
        assert "\x1b" not in out + err


def test_without_a_terminal_the_screen_is_a_list(ask: Ask) -> None:
    status, out, _ = ask("mira")
    assert status == 0
    assert SEAT in out
    assert REACH in ask("mira", "open", SEAT)[1]


def test_whole_records(ask: Ask, items: Any) -> None:
    assert ask("mira", "copy", SEAT, "seat-long", "--reason", "longer sister")[0] == 0
    assert ask("mira", "rename", "seat-long", "seat-xl")[0] == 0
    assert ask("mira", "retire", "seat-xl", "--reason", "never ordered")[0] == 0
    assert "seat-xl" not in {item["record"] for item in items("ole", "list")}
    assert "seat-xl" in {item["record"] for item in items("ole", "list", "--retired")}
    assert [m["mark"] for m in items("ole", "marks", "seat-xl")] == ["ink-3", "ink-2", "ink-1"]
    assert ask("mira", "restore", "seat-xl", "ink-1", "--reason", "ordered after all")[0] == 0
    assert "seat-xl" in {item["record"] for item in items("ole", "list")}


def test_set_with_ink_takes_what_was_named_and_lists_what_stays(ask: Ask) -> None:
    assert ask("mira", "set", SEAT, "notes.text=turn it", "jaws.bite=8.1")[0] == 0
    status, out, _ = ask("mira", "set", SEAT, "lot.quantity=50", "--ink")
    assert status == 0
    assert "still in pencil: 2 values" in out
    assert "notes.text" in out.partition("still in pencil")[2]
    words = ("set", SEAT, f"{REACH}=612.500", "--ink", "--reason", "taught")
    status, _, said = ask("mira", *words)
    assert status == 3
    assert "jaws.bite 7.5 -> 8.1" in said
    assert "--with-group" in said
    assert "--only-this" in said
    assert "what you set is in pencil" in said
    status, out, _ = ask("mira", *words, "--only-this", "--format", "json")
    data = json.loads(out)
    assert (status, [c["address"] for c in data["changes"]]) == (0, [REACH])
    assert {item["address"] for item in data["left"]} == {"notes.text", "jaws.bite"}
    status, out, _ = ask("mira", "ink", SEAT, "notes.text")
    assert (status, "jaws.bite" in out) == (0, True)
    status, out, _ = ask("mira", "set", SEAT, "part.height=29.9", "--ink", "--with-group",
                         "--reason", "measured")  # fmt: skip
    assert (status, "jaws.bite" in out, "still in pencil" in out) == (0, True, False)


def test_what_is_set_to_the_inked_value_inks_nothing_else(ask: Ask) -> None:
    assert ask("mira", "set", SEAT, "notes.text=turn it")[0] == 0
    words = ("set", SEAT, f"{REACH}=612.350", "--ink", "--reason", "taught anew")
    status, _, said = ask("mira", *words)
    assert status == 3
    assert f"{REACH} is 612.350 in ink" in said
    assert "your reason 'taught anew' was not used" in said
    assert "what you set is in pencil" not in said
    assert "turn it" in ask("mira", "pencil", SEAT)[1]


def test_the_group_options_go_with_something_that_is_inked(ask: Ask) -> None:
    assert ask("mira", "set", SEAT, "lot.quantity=50", "--only-this")[0] == 2
    assert ask("mira", "ink", SEAT, "--with-group")[0] == 2
    assert ask("mira", "set", SEAT, "lot.quantity=", "--ink")[0] == 0


def test_a_side_that_cannot_be_read_is_told_in_every_form(ask: Ask, little: Path) -> None:
    edit(little, f"records/{SEAT}.toml", "quantity = 110", "<<<<<<< HEAD")
    plain_git(little, "commit", "-qam", "a merge by hand")
    status, out, _ = ask("ole", "diff", SEAT, "ink-1")
    assert status == 1
    assert "cannot be compared" in out
    assert out.count("the text at now is unreadable there, line ") == 1
    assert "no value" not in out
    status, out, _ = ask("ole", "diff", "--all", "ink-1", "now", "--format", "json")
    data = json.loads(out)
    assert (status, data["items"]) == (1, [])
    assert [c["record"] for c in data["compared"] if c["unreadable"]] == [SEAT]
    assert ask("ole", "diff", "--all")[0] == 1  # against pencil: the other records are told, too
