"""A book from elsewhere runs nothing and shows no false past: refused, or without effect."""

import os
import shutil
import subprocess

import pytest

from engine.book import Book
from schemas.errors import BookError, UsageError
from tests.mini_book import SEAT, Stepping, plain_git, session_of


def whole_day(folder):
    """Everything that a person does with a book."""
    for who in ("mira", "ole"):
        book = Book.open(folder, login=who, clock=Stepping())
        book.list_records()
        (folder / "programs/seat.nc").write_bytes(f"O1 {who}\nM30\n".encode())
        book.document(SEAT).pencil.set("positions.seat.reach", "61" + str(len(who)))
        book.document(SEAT).ink("x")
        book.document(SEAT).past.trace("positions")
        book.document(SEAT).restore("ink-1", "", "back")
        book.document(SEAT).on_disk.found()
        book.document(SEAT).past.compare("ink-1", "now")
        book.close()


@pytest.fixture
def canary(tmp_path):
    made = tmp_path / "canary"
    yield made
    assert not made.exists(), "the book ran a command"


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("core.fsmonitor", "touch {0}"),
        ("core.hooksPath", "{1}"),
        ("core.pager", "touch {0}"),
        ("core.editor", "touch {0}"),
        ("core.sshCommand", "touch {0}"),
        ("diff.external", "touch {0}"),
        ("filter.x.clean", "touch {0}"),
        ("filter.x.smudge", "touch {0}"),
        ("filter.x.process", "touch {0}"),
        ("diff.x.textconv", "touch {0}"),
        ("diff.x.command", "touch {0}"),
        ("gpg.program", "{0}"),
        ("alias.cat-file", "!touch {0}"),
        ("alias.log", "!touch {0}"),
        ("include.path", "{1}"),
        ("includeIf.gitdir:/.path", "{1}"),
        ("core.worktree", "/"),
        ("core.attributesFile", "{1}"),
        ("credential.helper", "!touch {0}"),
        ("extensions.worktreeConfig", "true"),
        ("uploadpack.packObjectsHook", "touch {0}"),
        ("remote.x.uploadpack", "touch {0}"),
        ("remote.x.vcs", "ext"),
        ("core.gitProxy", "touch {0}"),
        ("sendemail.toCmd", "touch {0}"),
        ("core.alternateRefsCommand", "touch {0}"),
        ("core.askPass", "{0}"),
        ("extensions.partialClone", "x"),
        ("log.showSignature", "true"),
        ("merge.x.driver", "touch {0}"),
        ("url.ext::touch.insteadOf", "x"),
        ("protocol.ext.allow", "always"),
        ("core.bare", "true\n\tpager = x"),
    ],
)
def test_a_configuration_that_could_run_or_mislead_is_refused(folder, canary, key, value):
    plain_git(folder, "config", "--file", ".git/config", key, value.format(canary, folder))
    if key == "core.bare":
        (folder / ".git/config").write_text("[core]\n\tbare = false\n\tPager = touch x\n")
    with pytest.raises(BookError, match="configuration") as caught:
        Book.open(folder, login="mira")
    assert caught.value.hint


@pytest.mark.parametrize(
    "text", ["[", "[core", "[core]\n\x00", "\xff", "[include]\npath = /dev/zero\n"]
)
def test_a_broken_configuration_is_refused(folder, text):
    (folder / ".git/config").write_text(text)
    with pytest.raises(BookError):
        Book.open(folder, login="mira")


def test_hooks_and_attributes_have_no_effect(folder, canary):
    hooks = folder / ".git/hooks"
    hooks.mkdir(exist_ok=True)
    for name in (
        "pre-commit",
        "post-commit",
        "reference-transaction",
        "post-index-change",
        "pre-receive",
        "update",
        "post-update",
        "fsmonitor-watchman",
        "prepare-commit-msg",
        "post-checkout",
        "pre-auto-gc",
    ):
        (hooks / name).write_text(f"#!/bin/sh\ntouch {canary}\n")
        (hooks / name).chmod(0o755)
    attributes = "* filter=x diff=x text eol=crlf working-tree-encoding=UTF-16 ident export-subst\n"
    (folder / ".gitattributes").write_text(attributes)
    (folder / ".git/info").mkdir(exist_ok=True)
    (folder / ".git/info/attributes").write_text(attributes)
    whole_day(folder)
    assert b"\r" not in plain_git(folder, "show", "HEAD:programs/seat.nc").encode()


def test_the_callers_environment_does_not_steer(folder, canary, monkeypatch, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    plain_git(other, "init", "-q", ".")
    (tmp_path / "config").write_text(
        f"[core]\n\tfsmonitor = touch {canary}\n\tpager = touch {canary}\n"
    )
    for name, value in {
        "GIT_DIR": str(other / ".git"),
        "GIT_INDEX_FILE": str(other / "index"),
        "GIT_WORK_TREE": str(other),
        "GIT_CONFIG_GLOBAL": str(tmp_path / "config"),
        "GIT_CONFIG_COUNT": "1",
        "GIT_CONFIG_KEY_0": "core.pager",
        "GIT_CONFIG_VALUE_0": f"touch {canary}",
        "GIT_EXTERNAL_DIFF": f"touch {canary}",
        "GIT_OBJECT_DIRECTORY": str(other),
        "GIT_NAMESPACE": "x",
        "GIT_AUTHOR_NAME": "Somebody Else",
        "GIT_AUTHOR_DATE": "2001-01-01T00:00:00",
        "GIT_TRACE": str(canary),
        "GIT_SSH_COMMAND": f"touch {canary}",
    }.items():
        monkeypatch.setenv(name, value)
    whole_day(folder)
    for name in [name for name in os.environ if name.startswith("GIT_")]:
        monkeypatch.delenv(name)
    assert "Somebody Else" not in plain_git(folder, "log", "--format=%an %cn")
    assert "2001" not in plain_git(folder, "log", "--format=%ad")


def alternates(folder):
    (folder / ".git/objects/info").mkdir(exist_ok=True)
    (folder / ".git/objects/info/alternates").write_text("/nowhere\n")


def replaced(folder):
    ids = plain_git(folder, "rev-list", "HEAD").split()
    plain_git(folder, "commit", "--allow-empty", "-qm", "another past")
    plain_git(folder, "replace", plain_git(folder, "rev-parse", "HEAD").strip(), ids[0])


def replaced_and_packed(folder):
    replaced(folder)
    plain_git(folder, "pack-refs", "--all")


def shallow(folder):
    (folder / ".git/shallow").write_text(plain_git(folder, "rev-parse", "HEAD"))


def grafted(folder):
    (folder / ".git/info").mkdir(exist_ok=True)
    (folder / ".git/info/grafts").write_text(plain_git(folder, "rev-parse", "HEAD"))


def common(folder):
    (folder / ".git/commondir").write_text("/elsewhere\n")


def git_as_file(folder):
    shutil.move(folder / ".git", folder.parent / "elsewhere")
    (folder / ".git").write_text(f"gitdir: {folder.parent}/elsewhere\n")


def git_as_link(folder):
    shutil.move(folder / ".git", folder.parent / "elsewhere")
    (folder / ".git").symlink_to(folder.parent / "elsewhere")


def private_as_link(folder):
    shutil.move(folder / ".git/witnessmark", folder.parent / "elsewhere")
    (folder / ".git/witnessmark").symlink_to(folder.parent / "elsewhere")


def detached(folder):
    plain_git(folder, "checkout", "-q", "--detach")


@pytest.mark.parametrize(
    "spoil",
    [
        alternates,
        replaced,
        replaced_and_packed,
        shallow,
        grafted,
        common,
        git_as_file,
        git_as_link,
        private_as_link,
        detached,
    ],
)
def test_a_past_that_may_not_be_whole_is_refused(folder, spoil):
    spoil(folder)
    with pytest.raises(BookError) as caught:
        Book.open(folder, login="mira")
    assert caught.value.hint


def test_a_book_of_another_account_is_trusted_by_name(folder, monkeypatch, tmp_path):
    from engine.repo import safety

    monkeypatch.setattr(safety, "_trust_file", lambda: tmp_path / "settings" / "trusted")
    monkeypatch.setattr(os, "getuid", lambda: 12345)
    with pytest.raises(BookError, match="another account"):
        Book.open(folder, login="mira")
    safety.trust(folder)
    Book.open(folder, login="mira").close()


def test_what_is_no_book_says_so(tmp_path):
    for folder in (tmp_path / "none", tmp_path):
        with pytest.raises(BookError) as caught:
            Book.open(folder, login="mira")
        assert caught.value.hint


def test_a_book_in_another_checkout_is_that_book(tmp_path, small_book):
    plain_git(tmp_path, "init", "-q", ".")
    inner = tmp_path / "inside"
    inner.mkdir()
    (inner / "book.toml").write_text("format = 1\n")
    with pytest.raises(BookError, match="no history of its own"):
        Book.open(inner, login="mira")


@pytest.mark.parametrize(
    "path",
    [
        "../x",
        "/etc/passwd",
        "programs/../../x",
        ".git/config",
        "programs/.GIT/config",
        "programs//x",
        "c:/x",
        "programs\\x",
        "programs/./x",
        "",
    ],
)
def test_links_lead_nowhere_else(at, folder, path):
    mira = at("mira")
    mira.document(SEAT).pencil.set("program.file", path)
    mira.document(SEAT).ink()
    tree = plain_git(folder, "ls-tree", "-r", "--name-only", "HEAD")
    assert tree.count("\n") == 10
    with pytest.raises(UsageError):
        mira.document(SEAT).pencil.set("program.sha256", "now")


@pytest.mark.parametrize("how", ["file", "folder", "fifo"])
def test_a_program_that_is_a_link_or_no_file_is_not_inked(at, folder, tmp_path, how):
    secret = tmp_path / "secret"
    secret.mkdir()
    (secret / "seat.nc").write_text("secret")
    target = folder / "programs/seat.nc"
    target.unlink()
    if how == "file":
        target.symlink_to(secret / "seat.nc")
    elif how == "fifo":
        os.mkfifo(target)
    else:
        shutil.rmtree(folder / "programs")
        (folder / "programs").symlink_to(secret)
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    mira.document(SEAT).ink()
    assert "secret" not in plain_git(folder, "show", "HEAD:programs/seat.nc")
    with pytest.raises(UsageError):
        mira.document(SEAT).restore("ink-1", "", "back")


def test_a_damaged_object_is_named_and_the_reader_goes_on(at, folder):
    mira = at("mira")
    blob = plain_git(folder, "rev-parse", f"HEAD:records/{SEAT}.toml").strip()
    file = folder / ".git/objects" / blob[:2] / blob[2:]
    whole = file.read_bytes()
    file.chmod(0o644)
    git = session_of(mira).git
    fresh = Book.open(folder, login="ole", clock=Stepping())
    his_git = session_of(fresh).git
    file.write_bytes(whole[:20])
    with pytest.raises(BookError):
        his_git.blob(blob)
    file.write_bytes(whole)
    assert his_git.blob(blob)
    fresh.close()
    file.unlink()
    with pytest.raises(BookError):
        git.blob(blob)
    assert git.head()


def test_a_reader_that_was_killed_is_started_anew(at):
    mira = at("mira")
    mira.document(SEAT).values()
    reader = session_of(mira).git._pipe._running.proc
    reader.kill()
    reader.wait()
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    mira.document(SEAT).ink()


def test_a_book_with_longer_hashes_works(tmp_path, monkeypatch):
    from engine.repo import git as gate
    from tests.mini_book import found

    real = gate.Door.execute

    def longer(self, command, **named):
        if "init" in command:
            command = [*command[:-1], "--object-format=sha256", command[-1]]
        return real(self, command, **named)

    monkeypatch.setattr(gate.Door, "execute", longer)
    folder = found(tmp_path / "long")
    assert len(plain_git(folder, "rev-parse", "HEAD").strip()) == 64
    whole_day(folder)
    book = Book.open(folder, login="mira", clock=Stepping())
    book.document(SEAT).rename("other-name")
    assert (
        subprocess.run(
            ["git", "status", "--porcelain"], cwd=folder, capture_output=True, check=True
        ).stdout
        == b""
    )


@pytest.mark.parametrize(
    "head", [b"\0\xff\xfe garbage \x1b[31m\n" * 9, b"ref: refs/heads/ma\0in\n"]
)
def test_a_head_that_names_nothing_is_told(folder, head):
    (folder / ".git/HEAD").write_bytes(head)
    with pytest.raises(BookError, match="holds what is no name") as caught:
        Book.open(folder, login="mira")
    assert "git symbolic-ref HEAD refs/heads/main" in caught.value.hint
