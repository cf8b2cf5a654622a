"""`sheet` and `plate` on the command line: where files go, and what is never written over."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from engine.book import Book
from tests.engine.exports import readers
from tests.mini_book import SEAT
from tests.shop_floor import log_in
from tui.commands.frame import run
from tui.main import witnessmark

Ask = Callable[..., tuple[int, str, str]]


@pytest.fixture
def ask(
    inked: Callable[..., Book],
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> Ask:
    """`ask("sheet", SEAT)` as Mira, in an empty folder: exit status, output, messages."""
    inked()
    desk = tmp_path / "desk"
    desk.mkdir()
    monkeypatch.chdir(desk)
    log_in(monkeypatch, "mira")

    def call(*words: str) -> tuple[int, str, str]:
        status = run(witnessmark, ["--book", str(folder), *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return call


def test_a_name_is_made_and_no_file_written_over(ask: Ask) -> None:
    status, out, _ = ask("sheet", SEAT)
    assert status == 0
    made = Path(out.strip())
    assert made.name.startswith("seat-op10-")
    assert made.read_bytes().startswith(b"%PDF")
    made.write_bytes(b"mine")
    status, out, said = ask("sheet", SEAT)
    assert (status, out) == (3, "")
    assert "--force" in said
    assert made.read_bytes() == b"mine"
    assert ask("sheet", SEAT, "--force")[0] == 0
    assert made.read_bytes().startswith(b"%PDF")
    assert [p.name for p in Path.cwd().iterdir()] == [made.name]  # no drafts are left


def test_where_to(ask: Ask) -> None:
    Path("papers").mkdir()
    assert ask("plate", SEAT, "-o", "papers")[1].startswith("papers/seat-op10-plate-")
    assert ask("plate", SEAT, "--form", "svg", "-o", "p.svg")[1] == "p.svg\n"
    assert readers.svg(Path("p.svg").read_bytes()).tag == f"{readers.SVG}svg"
    status, _, said = ask("plate", SEAT, "-o", "nowhere/p.dxf")
    assert status == 2
    assert "cannot be written" in said
    assert ask("plate", SEAT, "-o", "/dev/null", "--force")[0] == 2


def test_json_tells_what_was_made(ask: Ask) -> None:
    data = json.loads(ask("plate", SEAT, "--kerf", "0.2", "-o", "p.dxf", "--format", "json")[1])
    assert (data["format"], data["record"], data["file"]) == (1, SEAT, "p.dxf")
    assert data["bytes"] == len(Path("p.dxf").read_bytes())
    assert data["superseded"] is None
    assert "kerf 0.2 mm taken off; unit mm" in data["notes"]


def test_pencil_stops_the_sheet_with_three(ask: Ask) -> None:
    ask("set", SEAT, "positions.seat.lift=149")
    status, _, said = ask("sheet", SEAT)
    assert status == 3
    assert "--pencil" in said
    assert ask("sheet", SEAT, "--pencil", "-o", "p.pdf")[0] == 0
    assert ask("plate", SEAT)[0] == 3


def test_a_dash_is_standard_output_and_nothing_else_goes_there(ask: Ask, folder: Path) -> None:
    words = ["--book", str(folder), "plate", SEAT, "--form", "svg", "-o", "-"]
    done = subprocess.run(
        [sys.executable, "-m", "tui.main", *words],
        capture_output=True, check=True,
        cwd=Path(__file__).parents[3],
    )  # fmt: skip
    assert readers.svg(done.stdout).tag == f"{readers.SVG}svg"
    assert b"nominal sizes" in done.stderr


def test_what_draws_is_imported_on_use_only() -> None:
    script = (
        "import sys, engine.book, tui.main, tui.commands.exports\n"
        "print([m for m in ('fpdf', 'ezdxf', 'segno', 'numpy', 'fontTools') if m in sys.modules])"
    )
    here = Path(__file__).parents[3]
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True, cwd=here
    )
    assert done.stdout.strip() == "[]"
