"""Whatever a commit of another program names, the book stays readable and leads nobody astray."""

import os
import shutil
import subprocess

import pytest

from engine.book import Book
from engine.views import Finding
from schemas.errors import WitnessmarkError
from tests.mini_book import SEAT, Stepping, plain_git

LATIN = b"sp\xe4nn"
PATHS = {
    "Latin-1": [b"records/" + LATIN + b".toml", b"photos/" + LATIN + b".jpg", LATIN],
    "line end": [b"records/a\nb.toml", b"programs/a\nb.nc"],
    "escapes": [b"records/\x1b[2J.toml", "records/\u202e\u200b.toml".encode()],
    "case": [b"records/SEAT-OP10.toml", b"Records/seat-op10.toml"],
    "long": [b"records/" + b"x" * 240 + b".toml", b"/".join([b"deep"] * 60) + b"/x"],
    "odd": [b"records/ .toml", b"records/-x.toml", b"records/a\\b.toml", b"records/x y.toml"],
    "dots": [b"records/...toml", b"records/x..toml", b"runs/wm-seat10/" + LATIN + b".toml"],
    "folder": [b"records/seat.toml/x.toml", b"people.toml/x"],
}


def commit(folder, entries, message=b"by hand\n", who=b"By Hand <hand@shop>"):
    """A commit of the present tree with more entries, bytes as they are, no name looked at."""
    index = folder.parent / "index"
    index.unlink(missing_ok=True)
    environment = {**os.environ, "GIT_INDEX_FILE": str(index)}

    def git(*words, data=b""):
        done = subprocess.run(
            ["git", *words],
            cwd=folder,
            input=data,
            env=environment,
            capture_output=True,
            check=True,
        )
        return done.stdout.strip()

    git("read-tree", "HEAD")
    for path in entries:
        blob = git("hash-object", "-w", "--stdin", data=b"format = 1\nx = 1\n# " + path)
        line = b"100644 " + blob + b"\t" + path + b"\0"
        git("update-index", "-z", "--add", "--replace", "--index-info", data=line)
    tree = git("write-tree")
    return finish(git, folder, tree, message, who)


def finish(git, folder, tree, message, who):
    head = git("rev-parse", "HEAD")
    stamp = b" 1772431200 +0100\n"
    text = b"tree " + tree + b"\nparent " + head + b"\nauthor " + who + stamp
    text += b"committer " + who + stamp + b"\n" + message
    new = git("hash-object", "-t", "commit", "-w", "--stdin", "--literally", data=text).decode()
    git("update-ref", "refs/heads/main", new)
    return new


def looked_through(folder, login="mira") -> list[Finding]:
    """All that a person looks at, and a save."""
    book = Book.open(folder, login=login, clock=Stepping())
    try:
        book.list_records(retired=True)
        found = book.check()
        list(book.every_change())
        book.history(per_page=10_000)
        book.moved()
        book.warnings()
        book.document(SEAT).past.trace("positions")
        book.document(SEAT).past.marks()
        book.document(SEAT).past.compare("ink-1", "now")
        book.document(SEAT).pencil.set("lot.quantity", "7")
        book.document(SEAT).ink()
        book.list_records()
        return found
    finally:
        book.close()


@pytest.mark.parametrize("way", ["index", "walk"])
@pytest.mark.parametrize("names", PATHS)
def test_names_in_a_commit_end_nothing(folder, monkeypatch, names, way):
    if way == "walk":
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", "1")
    commit(folder, PATHS[names])
    found = looked_through(folder)
    assert not [f.message for f in found if f.rule == "rule-failed"]


@pytest.mark.parametrize("way", ["index", "walk"])
@pytest.mark.parametrize(
    ("who", "message"),
    [
        (b"J\xfcrgen <j\xfcrgen@shop>", b"gef\xe4hrlich\n\nKind: ink\nReason: \xfcber\n"),
        (b"<>", b""),
        (b"A\x1b[2J <x@witnessmark>", b"\x1b]0;x\x07\n\nPerson: mira\n"),
        (b"A" * 5000 + b" <x>", b"x" * 200_000),
        ("\u202eevil <mira@witnessmark>".encode(), "\u200b\n".encode()),
    ],
)
def test_people_and_messages_of_a_commit_end_nothing(folder, monkeypatch, who, message, way):
    if way == "walk":
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", "1")
    path = folder / f"records/{SEAT}.toml"
    path.write_text(path.read_text().replace("148.900", "150.000"))
    plain_git(folder, "commit", "-qam", "by hand")
    commit(folder, [b"x"], message, who)
    found = looked_through(folder)
    assert not [f.message for f in found if f.rule == "rule-failed"]


def raw_tree(folder, entries):
    data = b"".join(mode + b" " + name + b"\0" + bytes.fromhex(oid) for mode, name, oid in entries)
    words = ("hash-object", "-t", "tree", "-w", "--stdin", "--literally")
    return plain_git(folder, *words, data=data).strip()


@pytest.mark.parametrize("way", ["index", "walk"])
@pytest.mark.parametrize("name", [b"..", b".", b".git", b"a/b", b"", b"../../x.toml", b"C:"])
def test_trees_that_no_git_would_make_lead_nowhere(folder, monkeypatch, name, way):
    if way == "walk":
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", "1")
    lines = plain_git(folder, "ls-tree", "HEAD").splitlines()
    known = [
        (line.split()[0].encode(), line.split("\t")[1].encode(), line.split()[2]) for line in lines
    ]
    blob = next(oid for mode, _, oid in known if mode == b"100644")
    inner = raw_tree(folder, [(b"100644", b"evil.toml", blob)])
    tree = raw_tree(
        folder, [(m.lstrip(b"0"), n, o) for m, n, o in known] + [(b"40000", name, inner)]
    )
    text = f"tree {tree}\nparent {plain_git(folder, 'rev-parse', 'HEAD').strip()}\n"
    text += "author x <x> 1772431200 +0100\ncommitter x <x> 1772431200 +0100\n\nx\n"
    words = ("hash-object", "-t", "commit", "-w", "--stdin", "--literally")
    new = plain_git(folder, *words, data=text.encode()).strip()
    plain_git(folder, "update-ref", "refs/heads/main", new)
    before = sorted(folder.parent.rglob("evil*"))
    book = Book.open(folder, login="mira", clock=Stepping())
    try:
        book.list_records()
        book.check()
        book.history()
    except WitnessmarkError:
        pass  # told in words
    book.close()
    assert sorted(folder.parent.rglob("evil*")) == before


def _linked(folder, outside):
    shutil.move(folder / "records", outside / "records")
    (folder / "records").symlink_to(outside / "records")


def _linked_elsewhere(folder, outside):
    shutil.move(folder / "records", outside / "moved")
    (outside / "other").mkdir()
    (outside / "other" / "secret-op10.toml").write_text("format = 2\n")
    (folder / "records").symlink_to(outside / "other")


def _fifo_beside(folder, _):
    os.mkfifo(folder / "records/pipe.toml")
    os.mkfifo(folder / "cells/pipe.toml")


def _fifo_instead(folder, _):
    for path in (f"records/{SEAT}.toml", "people.toml", "photos/seat-jaws.jpg", "programs/seat.nc"):
        (folder / path).unlink()
        os.mkfifo(folder / path)


def _links_instead(folder, outside):
    for path in (f"records/{SEAT}.toml", "book.toml", "photos/seat-jaws.jpg", "programs/seat.nc"):
        shutil.move(folder / path, outside / path.replace("/", "-"))
        (folder / path).symlink_to(outside / path.replace("/", "-"))


def _folders_instead(folder, _):
    for path in (f"records/{SEAT}.toml", "photos/seat-jaws.jpg", "programs/seat.nc"):
        (folder / path).unlink()
        (folder / path).mkdir()


def _file_instead(folder, _):
    shutil.rmtree(folder / "records")
    (folder / "records").write_text("x")


@pytest.mark.parametrize(
    "spoil",
    [_linked, _linked_elsewhere, _fifo_beside, _fifo_instead, _links_instead, _folders_instead,
     _file_instead],
)  # fmt: skip
def test_a_hostile_work_tree_ends_nothing_and_nothing_outside_changes(folder, tmp_path, spoil):
    outside = tmp_path / "outside"
    outside.mkdir()
    spoil(folder, outside)
    before = {p: p.read_bytes() for p in outside.rglob("*") if p.is_file()}
    book = Book.open(folder, login="mira", clock=Stepping())
    listed = book.list_records()
    assert "secret-op10" not in {item.record for item in listed}
    found = book.check()
    assert not [f.message for f in found if f.rule == "rule-failed"]
    for name in (SEAT, "bush-op20"):
        book.document(name).pencil.set("lot.quantity", "7")
        for act in (
            book.document(name).ink, book.document(name).on_disk.found,
            book.document(name).on_disk.put_back,
        ):  # fmt: skip
            refused = None
            try:
                act()
            except WitnessmarkError as error:
                refused = error
            assert refused is None or refused.hint
    book.close()
    assert {p: p.read_bytes() for p in outside.rglob("*") if p.is_file()} == before


@pytest.mark.parametrize(
    "path", ["HEAD", "config", "packed-refs", "index", "refs/heads/main", "refs", "objects"]
)
@pytest.mark.parametrize("kind", ["fifo", "link"])
def test_what_git_itself_reads_is_no_pipe_and_no_link(folder, tmp_path, path, kind):
    target = folder / ".git" / path
    if target.exists():
        shutil.move(target, tmp_path / "moved")
    if kind == "fifo":
        os.mkfifo(target)
    else:
        target.symlink_to(tmp_path / "moved")
    with pytest.raises(WitnessmarkError) as caught:
        Book.open(folder, login="mira", clock=Stepping())
    assert caught.value.hint
