"""Real accounts of this machine: child processes that the kernel holds to be somebody else.

Numbers without an entry in the machine's list; where a test wants names, the list is a
stand-in. Only root may become somebody else, so these tests are skipped for others.
"""

from __future__ import annotations

import contextlib
import grp
import io
import json
import os
import pwd
import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from engine.book import Book
from schemas.errors import WitnessmarkError
from tests.mini_book import SEAT, files, found
from tests.shop_floor import Stepping, log_in, plain_git
from tui.commands.frame import run
from tui.main import _COMMANDS, witnessmark

ANNA, BEN, STRANGER = 61_001, 61_002, 61_003
SHOP = 61_000  # the group of Anna and Ben
NAMES = {ANNA: "ole", BEN: "mira", STRANGER: "stranger"}  # logins of the little book

_DAY = (
    f"set {SEAT} jaws.bite=8.1", f"ink {SEAT} --reason x", "list", "check", "pencil", "who",
    f"run start {SEAT}", f"copy {SEAT} fresh-op10", "rename fresh-op10 fresher-op10", "trust .",
    f"trace {SEAT} jaws.bite", f"show {SEAT}", f"restore {SEAT} ink-1 lot --reason x",
    f"sign-off {SEAT}", "event lathe crash --reason x", "sync --with BARE", "nothing-like-it",
)  # fmt: skip


@pytest.fixture(scope="session")
def _rehearsed(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Everything that is imported late is here before a child needs it.

    A child could not read it, where Python or the checkout are closed to other accounts.
    """
    for place in _COMMANDS.values():
        import_module(f"tui.commands.{place.partition(':')[0]}")
    folder = tmp_path_factory.mktemp("rehearsal")
    b"".decode("utf-8-sig")
    found(folder / "book")
    plain_git(folder, "init", "-q", "--bare", "--initial-branch=main", "bare")
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()):
        log_in(patch, "ole")
        patch.setenv("XDG_CONFIG_HOME", str(folder / "config"))
        with contextlib.redirect_stderr(io.StringIO()):
            for words in _DAY:
                given = words.replace("BARE", str(folder / "bare")).split()
                run(witnessmark, ["--book", str(folder / "book"), *given])
                run(witnessmark, ["--book", str(folder / "book"), *given, "--format", "json"])
            run(witnessmark, ["share", str(folder / "book")])


def _stand_in(names: dict[int, str]) -> None:
    """Let the machine's lists of accounts and groups have these, and nobody else."""

    def account(number: int) -> pwd.struct_passwd:
        if number not in names:
            raise KeyError(number)
        return pwd.struct_passwd((names[number], "x", number, SHOP, "", "/", "/bin/sh"))

    def group(number: int) -> grp.struct_group:
        if number != SHOP:
            raise KeyError(number)
        return grp.struct_group(("shop", "x", SHOP, []))

    pwd.getpwuid, grp.getgrgid = account, group


@dataclass
class Accounts:
    """`accounts.by(BEN, work)`: what `work` answers when Ben's process does it."""

    place: Path
    mask: int = 0o022
    names: dict[int, str] = field(default_factory=lambda: dict(NAMES))
    shop: tuple[int, ...] = (ANNA, BEN)

    @property
    def book(self) -> Path:
        return self.place / "line" / "book"

    def home(self, number: int) -> Path:
        """The home of an account, closed to others."""
        folder = self.place / f"home-{number}"
        if not folder.exists():
            folder.mkdir(mode=0o700)
            os.chown(folder, number, number)
        return folder

    def by(self, number: int, work: Callable[[], Any], mask: int | None = None) -> Any:
        """The answer of a child that is this account; it must be plain."""
        home, (reader, writer) = self.home(number), os.pipe()
        child = os.fork()
        if not child:
            os.close(reader)
            answer: dict[str, Any] = {}
            try:
                self._become(number, home, self.mask if mask is None else mask)
                answer = {"is": work()}
            except BaseException:
                answer = {"failed": traceback.format_exc()}
            os.write(writer, json.dumps(answer).encode())
            os._exit(0)
        os.close(writer)
        with os.fdopen(reader, "rb") as pipe:
            said = json.loads(pipe.read() or b'{"failed": "nothing came back"}')
        os.waitpid(child, 0)
        assert "failed" not in said, said["failed"]
        return said["is"]

    def _become(self, number: int, home: Path, mask: int) -> None:
        os.setgroups([SHOP] if number in self.shop else [])
        os.setgid(number)
        os.setuid(number)
        os.umask(mask)
        os.chdir(home)
        for name in ("XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"):
            os.environ[name] = str(home / name.lower())
        os.environ["HOME"] = str(home)
        _stand_in(self.names)

    def ask(self, number: int, *words: str, mask: int | None = None) -> tuple[int, str, str]:
        """A command by an account: exit status, standard output, standard error."""

        def work() -> tuple[int, str, str]:
            out, err = io.StringIO(), io.StringIO()
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                status = run(witnessmark, list(words))
            return status, out.getvalue(), err.getvalue()

        status, out, err = self.by(number, work, mask)
        assert "Traceback" not in err
        assert "unexpected" not in err, err
        return status, out, err

    def on(self, number: int, *words: str, mask: int | None = None) -> tuple[int, str, str]:
        """A command on the book."""
        return self.ask(number, "--book", str(self.book), *words, mask=mask)

    def done(self, number: int, *words: str, mask: int | None = None) -> str:
        """A command on the book that must succeed; what it said on both outputs."""
        status, out, err = self.on(number, *words, mask=mask)
        assert status in (0, 1), err
        return out + err

    def found(self, *, shared: str = "group", mask: int | None = None) -> Path:
        """Anna starts the little book in a folder of the group; Ben trusts it."""

        def work() -> None:
            for path, data in files().items():
                target = self.book / path
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(data)
            group = str(SHOP) if shared else ""
            Book.start(self.book, shared=shared, group=group, clock=Stepping()).close()

        self.by(ANNA, work, mask)
        assert self.ask(BEN, "trust", str(self.book))[0] == 0
        return self.book


@pytest.fixture
def accounts(_rehearsed: None) -> Iterator[Accounts]:
    """A folder that every account can reach, with a folder of the group in it."""
    if os.geteuid() != 0:
        pytest.skip("only root may become another account")
    place = Path(tempfile.mkdtemp(prefix="accounts-"))
    place.chmod(0o755)
    line = place / "line"
    line.mkdir()
    os.chown(line, ANNA, SHOP)
    line.chmod(0o2775)
    yield Accounts(place)
    shutil.rmtree(place)


__all__ = ["ANNA", "BEN", "SHOP", "STRANGER", "Accounts", "WitnessmarkError", "plain_git"]
