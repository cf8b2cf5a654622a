"""One value's whole way, in the real program: edit, kill, resume, ink, diff, trace."""

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

RECORD, ADDRESS = "seal-carrier-op20", "positions.seat.lift"


def _ask(environment: dict[str, str], *arguments: str) -> tuple[int, dict[str, Any]]:
    """A command's exit status and its JSON."""
    done = subprocess.run(
        [sys.executable, "-m", "tui.main", *arguments, "--format", "json"],
        env=environment,
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, json.loads(done.stdout)


def test_a_killed_edit_is_found_again_and_inked(
    start: Callable[..., Any], environment: dict[str, str], tmp_path: Path
) -> None:
    book = str(tmp_path / "book")

    # Open the demo, go to the taught position, change one axis of it.
    first = start("demo", book, "--as", "mirela")
    first.wait_for(RECORD, "Enter")
    first.press("/", "seal-carrier-op20", "enter", "enter")
    first.wait_for(RECORD, "in ink", "in pencil")
    first.press("/", "seat.lift", "enter", "enter", "erase", "303.590", "enter")
    shown = first.wait_for("303.590", "+0.150")
    assert "303.440" in shown  # the inked value stays beside the pencilled one

    # The line drops in the hardest way; the next start finds the pencil.
    first.kill()
    second = start("--book", book, "--as", "mirela", "open", RECORD)
    second.wait_for("you, 1 value", "pencil:")
    second.press("/", "seat.lift", "enter")
    second.wait_for("303.440", "303.590", "+0.150")

    # Ink it, with the reason that a taught position needs.
    second.press("esc", "i")
    second.wait_for("Reason", "303.590")
    second.press("blank rocked on the seat", "enter")
    second.wait_for("In ink", "prove out again from the first stage")
    second.press("enter")
    second.wait_for("nothing in pencil")
    second.press("esc")
    second.wait_for("12 records")
    second.press("q")
    second.wait_for("union-body-op20", "positions.lift-out.hoist", "It stays")
    second.press("q")  # leaving told once of the pencil that is left on another record
    second.wait_for("Enter: leave; the pencil stays")
    second.press("enter")
    assert second.gone()

    # The lead sees exactly that since the last run, the auditor who and why.
    status, differs = _ask(environment, "--book", book, "diff", RECORD, "--since-run")
    assert status == 1
    by_address = {item["address"]: item for item in differs["items"]}
    assert by_address[ADDRESS]["old"] == "303.440"
    assert by_address[ADDRESS]["new"] == "303.590"
    assert by_address[ADDRESS]["delta"] == "0.150"
    status, traced = _ask(environment, "--book", book, "trace", RECORD, ADDRESS)
    last = traced["items"][-1]
    assert status == 0
    assert (last["who"]["person"], last["old"], last["new"]) == ("mirela", "303.440", "303.590")
    assert last["reason"] == "blank rocked on the seat"
    assert last["verified"] is True
    assert len(last["commit"]) == 40

    # And git itself agrees.
    text = subprocess.run(
        ["git", "show", f"{last['commit']}:records/{RECORD}.toml"],
        cwd=book,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "lift = 303.590" in text
