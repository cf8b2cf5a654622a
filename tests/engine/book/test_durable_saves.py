"""A confirmed save has reached the disk: counted at the system calls, not believed."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.mini_book import plain_git

ONE_SAVE = """
import sys
from pathlib import Path
from pathlib import Path
from engine.book import Book
record = Book.open(Path(sys.argv[1]), login="mira").document("seat-op10")
record.pencil.set("positions.seat.reach", "612.500")
print("PENCILLED", file=sys.stderr, flush=True)
done = record.ink("rubbed")
print("SAVED", file=sys.stderr, flush=True)
"""


@pytest.mark.skipif(not shutil.which("strace"), reason="counting needs strace")
def test_everything_of_a_save_is_flushed_before_it_is_confirmed(folder, tmp_path):
    log = tmp_path / "calls"
    calls = "fsync,fdatasync,rename,renameat,renameat2,link,write"
    subprocess.run(
        [
            "strace",
            "-f",
            "-y",
            "-s",
            "24",
            "-o",
            str(log),
            "-e",
            f"trace={calls}",
            sys.executable,
            "-c",
            ONE_SAVE,
            str(folder),
        ],
        check=True,
        capture_output=True,
    )
    text = log.read_text()
    pencil, rest = text.split("PENCILLED", 1)
    save = rest.split("SAVED", 1)[0]
    assert len(re.findall(r"fdatasync\(\d+<[^>]*/pencil/mira/wm-seat10\.jsonl>", pencil)) == 1
    for above in ("pencil/mira", "pencil", "witnessmark"):
        assert re.search(rf"fsync\(\d+<[^>]*/{above}>", pencil), above

    flushed = re.findall(r"f(?:data)?sync\(\d+<([^>]*)>", save)
    objects = [p for p in flushed if "/objects/" in p]
    new = plain_git(folder, "rev-list", "--objects", "HEAD", "^HEAD~").split("\n")
    assert len(objects) >= len([line for line in new if line]) == 4  # commit, two trees, one blob
    branch_file = next(n for n, p in enumerate(flushed) if p.endswith("refs/heads/main.lock"))
    branch_names = next(n for n, p in enumerate(flushed) if p.endswith("refs/heads"))
    last_object = max(n for n, p in enumerate(flushed) if "/objects/" in p)
    intent = next(n for n, p in enumerate(flushed) if ".intent.json." in p)
    record = next(n for n, p in enumerate(flushed) if "/records/.seat-op10.toml." in p)
    assert last_object < intent < branch_file < branch_names < record
    assert any(p.endswith("/records") for p in flushed[record:])
    assert any(p.endswith("wm-seat10.jsonl") for p in flushed[record:])


@pytest.mark.skipif(not shutil.which("strace"), reason="counting needs strace")
def test_a_new_book_is_flushed_as_a_whole(tmp_path):
    log = tmp_path / "calls"
    code = (
        "import sys; from pathlib import Path; from engine.book import Book\n"
        "Book.start(Path(sys.argv[1]), login='ole')"
    )
    subprocess.run(
        [
            "strace",
            "-f",
            "-y",
            "-o",
            str(log),
            "-e",
            "trace=fsync",
            sys.executable,
            "-c",
            code,
            str(tmp_path / "fresh"),
        ],
        check=True,
        capture_output=True,
    )
    flushed = re.findall(r"fsync\(\d+<([^>]*)>", log.read_text())
    for end in (".git/HEAD", ".git/config", ".git/refs/heads", ".git", "fresh", "book.toml"):
        assert any(p.endswith(end) or f".{end}." in p for p in flushed), end


def test_this_program_flushes_what_it_writes_itself_and_in_order(at, monkeypatch):
    """The same order without strace: only git's own flush of the branch is not seen here."""
    mira = at("mira")
    mira.document("seat-op10").pencil.set("positions.seat.reach", "612.500")
    flushed: list[str] = []
    for name in ("fsync", "fdatasync"):
        real = getattr(os, name)

        def seen(handle, real=real):
            number = handle if isinstance(handle, int) else handle.fileno()
            flushed.append(str(Path(f"/proc/self/fd/{number}").readlink()))
            real(handle)

        monkeypatch.setattr(os, name, seen)
    mira.document("seat-op10").ink("rubbed")

    def first(part: str) -> int:
        return next(n for n, path in enumerate(flushed) if part in path)

    assert sum("/objects/" in path for path in flushed) >= 4  # commit, two trees, one blob
    last_object = max(n for n, path in enumerate(flushed) if "/objects/" in path)
    branch = next(n for n, path in enumerate(flushed) if path.endswith("refs/heads"))
    record = first("/records/.seat-op10.toml.")
    assert last_object < first(".intent.json.") < branch < record < first("wm-seat10.jsonl")
