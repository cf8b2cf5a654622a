"""Git's own index never takes a save back: not by a held lock, a kill, or a failure, once or twice.

Each test ends with what a colleague does who knows only git: a plain `git commit` of
another file. What was inked before it stands afterwards.
"""

import json

import pytest

from engine.repo.git import Git
from engine.repo.git_index import GitIndex
from schemas.errors import BookError, FoundOnDisk
from tests.mini_book import BUSH, SEAT, picture, plain_git
from tests.shop_floor import edit, ink

PATH = f"records/{SEAT}.toml"
LOCK = "index.lock"


class Killed(BaseException):
    """As if the process had ended there."""


def held(folder):
    """Somebody's git holds the index."""
    (folder / ".git" / LOCK).write_bytes(b"")


def released(folder):
    (folder / ".git" / LOCK).unlink()


def quantity(book, name=SEAT):
    return book.document(name).values()["lot.quantity"]


def in_step(folder):
    """Index and files are the head's, nothing is left to do, and no lock stands."""
    assert plain_git(folder, "diff", "--cached", "HEAD", "--stat") == ""
    assert plain_git(folder, "status", "--porcelain") == ""
    assert not (folder / ".git/witnessmark/intent.json").exists()
    assert not (folder / ".git" / LOCK).exists()


def commit_by_hand(folder):
    """What a colleague does: add a file, commit, and nothing else goes with it."""
    (folder / "notes.md").write_text("oil the ways\n")
    plain_git(folder, "add", "notes.md")
    plain_git(folder, "commit", "-qm", "notes")
    changed = plain_git(folder, "show", "--name-only", "--format=", "HEAD").split()
    assert changed == ["notes.md"]


@pytest.mark.parametrize("times", [1, 2, 3])
def test_saves_of_one_value_while_the_index_is_held(at, folder, times):
    mira = at("mira")
    held(folder)
    for n in range(times):
        ink(mira, SEAT, lot__quantity=str(50 + n))
    released(folder)
    at("ole")
    in_step(folder)
    commit_by_hand(folder)
    assert quantity(at("ada")) == 50 + times - 1


def test_it_is_said_at_once_and_again_until_it_is_done(at, folder):
    mira = at("mira")
    held(folder)
    done = ink(mira, SEAT, lot__quantity="50")
    (said,) = [m for m in done.messages if "git's own index" in m]
    assert PATH in said
    assert ".git/index.lock" in said
    assert [w for w in at("ole").warnings() if "git's own index is behind" in w]
    released(folder)
    assert at("ole").warnings() == []
    assert ink(mira, SEAT, lot__quantity="51").messages == ()


def test_an_open_screen_mends_it_at_its_next_look(at, folder):
    mira, ole = at("mira"), at("ole")
    held(folder)
    ink(mira, SEAT, lot__quantity="50")
    ole.refresh()
    released(folder)
    ole.refresh()
    in_step(folder)


def test_a_look_in_vain_writes_nothing(at, folder, monkeypatch):
    """An open screen looks every few seconds, for as long as somebody types a message."""
    mira, ole = at("mira"), at("ole")
    held(folder)
    ink(mira, SEAT, lot__quantity="50")
    ole.refresh()
    monkeypatch.setattr("engine.book.mending.write_intent", lambda *_: pytest.fail("it wrote"))
    ole.refresh()
    at("ada")


def test_a_look_does_not_wait_for_somebody_who_is_saving(at, folder, monkeypatch):
    from engine.repo.lock import held as saving

    mira, ole = at("mira"), at("ole")
    held(folder)
    ink(mira, SEAT, lot__quantity="50")
    released(folder)
    monkeypatch.setattr("engine.repo.lock.time.sleep", lambda _: pytest.fail("it waited"))
    with saving(folder / ".git/witnessmark"):
        assert ole.refresh()
        assert ole.warnings() == []  # somebody is saving: nothing is wrong


def twice(act):
    def acts(mira, ole):
        act(mira, ole, 1)
        act(mira, ole, 2)

    return acts


def renames(mira, ole, n):
    name = next(d for d in ole.documents() if d.startswith("seat"))
    ole.document(name).rename(f"seat-no{n}", "another name")


def there_and_back(mira, ole, n):
    ole.document(SEAT).rename("other", "a slip")
    ole.document("other").rename(SEAT, "back")


def retires(mira, ole, n):
    ole.document(SEAT).retire("worn out", back=n == 2)


def begins(mira, ole, n):
    ole.document(SEAT).copy(f"fresh-{n}", "a variant")


def runs(mira, ole, n):
    mira.document(SEAT).runs.start()
    mira.document(SEAT).runs.stop(3, 0)


def signs(mira, ole, n):
    ole.document(SEAT).sign_off(f"fine {n}")


def notes_event(mira, ole, n):
    mira.event("lathe", "crash", f"bump {n}")


def links_photo(mira, ole, n):
    (mira.folder / "photos/seat-jaws.jpg").write_bytes(picture(7 * n))
    mira.document(SEAT).pencil.set("photos.jaws.sha256", "now")
    mira.document(SEAT).ink("a new picture")


def two_people(mira, ole, n):
    ink(mira, SEAT, jaws__bite=str(7 + n / 10))
    ink(ole, SEAT, jaws__bite=str(8 + n / 10))
    ink(ole, BUSH, lot__quantity=str(60 + n))


def goes_back(mira, ole, n):
    ink(mira, SEAT, lot__quantity=str(60 + n))
    mira.document(SEAT).restore("ink-1", "", "as it was")


@pytest.mark.parametrize(
    "act",
    [
        renames, there_and_back, retires, begins, runs, signs, notes_event, links_photo, two_people,
        goes_back,
    ],
)  # fmt: skip
@pytest.mark.parametrize("when", ["all", "first", "last"])
def test_every_kind_of_save_is_brought_up_later(at, folder, act, when):
    mira, ole = at("mira"), at("ole")
    if when != "last":
        held(folder)
    act(mira, ole, 1)
    if when == "first":
        released(folder)
    if when == "last":
        held(folder)
    act(mira, ole, 2)
    if when != "first":
        released(folder)
    at("ada")
    in_step(folder)
    tree = plain_git(folder, "rev-parse", "HEAD:records", "HEAD:programs", "HEAD:photos")
    commit_by_hand(folder)
    assert plain_git(folder, "rev-parse", "HEAD:records", "HEAD:programs", "HEAD:photos") == tree


@pytest.mark.parametrize("where", ["bring", "_write", "_run"])
@pytest.mark.parametrize("lock_stays", [True, False])
def test_a_kill_in_the_index_write_and_a_second_save(at, folder, monkeypatch, where, lock_stays):
    """The killed save's lock keeps gits by hand away until the next of us comes."""

    def kill(*_, **__):
        raise Killed

    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    with monkeypatch.context() as dying:
        dying.setattr(GitIndex, "let_go", lambda _: None)
        dying.setattr(GitIndex, "prepare", lambda *_: None)  # the kill is to meet the save itself
        dying.setattr(GitIndex, where, kill)
        with pytest.raises(Killed):
            mira.document(SEAT).ink()
    assert (folder / ".git" / LOCK).exists()
    before = plain_git(folder, "rev-parse", "HEAD")
    plain_git(folder, "commit", "-aqm", "x", fails=True)
    assert plain_git(folder, "rev-parse", "HEAD") == before
    if not lock_stays:
        released(folder)  # a colleague did what git advises
    ole = at("ole")
    in_step(folder)
    ink(ole, SEAT, lot__quantity="51")
    in_step(folder)
    commit_by_hand(folder)
    assert quantity(at("ada")) == 51


def test_a_failure_to_set_it_again_and_again_is_made_good_at_last(at, folder, monkeypatch):
    mira, run = at("mira"), Git.run

    def refuses(self, *words, **named):
        if words[0] == "update-index":
            raise BookError("git update-index failed: no space")
        return run(self, *words, **named)

    with monkeypatch.context() as failing:
        failing.setattr(Git, "run", refuses)
        ink(mira, SEAT, lot__quantity="50")
        at("ole").refresh()
        said = ink(mira, SEAT, lot__quantity="51").messages
        assert [m for m in said if "git's own index" in m]
        assert not (folder / ".git" / LOCK).exists()  # what cannot be written is not kept locked
    at("ole")
    in_step(folder)
    commit_by_hand(folder)
    assert quantity(at("ada")) == 51


@pytest.mark.parametrize("which", ["ls-files", "update-index"])
def test_a_git_that_is_ended_once_is_started_once_more(at, folder, monkeypatch, which):
    """The lock is still ours then: no commit by hand comes before the second try."""
    mira, run, ended = at("mira"), Git.run, []

    def ends_once(self, *words, **named):
        if words[0] == which and not ended:
            ended.append(words)
            raise BookError(f"git {which} ended by signal 9")
        return run(self, *words, **named)

    monkeypatch.setattr(Git, "run", ends_once)
    said = ink(mira, SEAT, lot__quantity="50").messages
    assert ended
    assert not [m for m in said if "git's own index" in m]
    in_step(folder)
    commit_by_hand(folder)
    assert quantity(at("ada")) == 50


def test_a_save_that_never_came_does_not_hide_what_earlier_ones_left(at, folder, monkeypatch):
    """Held index, then a kill before the branch moves: the first save is brought up even so."""
    mira = at("mira")
    held(folder)
    ink(mira, SEAT, lot__quantity="50")
    released(folder)
    monkeypatch.setattr("engine.book.mending.Mender.mend", lambda _: mended)
    from engine.book.mending import Mended

    mended = Mended()

    def kill(*_):
        raise Killed

    monkeypatch.setattr(Git, "move", kill)
    mira.document(BUSH).pencil.set("lot.quantity", "60")
    with pytest.raises(Killed):
        mira.document(BUSH).ink()
    monkeypatch.undo()
    at("ole")
    in_step(folder)
    commit_by_hand(folder)
    assert quantity(at("ada")) == 50


def test_a_note_of_the_program_before_is_understood(at, folder):
    """It had one text a path: the newest, or the oldest, of those that saves left."""
    mira = at("mira")
    old = plain_git(folder, "rev-parse", f"HEAD:{PATH}").strip()
    held(folder)
    ink(mira, SEAT, lot__quantity="50")
    released(folder)
    file = folder / ".git/witnessmark/intent.json"
    note = json.loads(file.read_text())
    note = {key: note[key] for key in ("commit", "parent", "pencil", "paths", "aside")}
    file.write_text(json.dumps({**note, "behind": {PATH: old}}))
    at("ole")
    in_step(folder)


def test_a_file_system_without_second_names_has_a_lock_too(at, folder, monkeypatch):
    def refuses(*_):
        raise OSError(1, "Operation not permitted")

    mira = at("mira")
    monkeypatch.setattr("engine.repo.git_index.os.link", refuses)
    ink(mira, SEAT, lot__quantity="50")
    in_step(folder)
    held(folder)
    ink(mira, SEAT, lot__quantity="51")
    assert (folder / ".git" / LOCK).exists()
    released(folder)
    ink(mira, SEAT, lot__quantity="52")
    in_step(folder)


def test_a_kill_before_the_pencil_is_closed_leaves_what_was_not_inked(at, folder, monkeypatch):
    def kill(*_):
        raise Killed

    mira = at("mira")
    mira.document(SEAT).pencil.set_all({"lot.quantity": "50", "notes.text": "turn it"})
    with monkeypatch.context() as dying:
        dying.setattr("engine.drafts.pencil.Pencil.inked", kill)
        dying.setattr(GitIndex, "let_go", lambda _: None)
        with pytest.raises(Killed):
            mira.document(SEAT).ink("", ["lot.quantity"])
    at("ole")
    in_step(folder)
    (mark,) = at("mira").document(SEAT).pencil.draft().marks
    assert (mark.address, mark.value) == ("notes.text", "turn it")


# what was staged by hand


def test_another_file_that_was_staged_stays_as_it_was_staged(at, folder):
    mira = at("mira")
    edit(folder, f"records/{BUSH}.toml", "quantity = 110", "quantity = 111")
    plain_git(folder, "add", f"records/{BUSH}.toml")
    (folder / "draft.txt").write_text("mine")
    plain_git(folder, "add", "draft.txt")
    staged = plain_git(folder, "diff", "--cached")
    held(folder)
    for value in ("50", "51"):
        ink(mira, SEAT, lot__quantity=value)
    released(folder)
    at("ole")
    assert plain_git(folder, "diff", "--cached") == staged
    plain_git(folder, "commit", "-qm", "mine")
    assert quantity(at("ada")) == 51
    assert quantity(at("ada"), BUSH) == 111


@pytest.mark.parametrize("locked", [True, False])
def test_a_staged_text_of_the_same_record_stays_and_is_told(at, folder, locked):
    mira, inked = at("mira"), (folder / PATH).read_text()
    edit(folder, PATH, "boring bar 16", "boring bar 20")
    edited = (folder / PATH).read_text()
    plain_git(folder, "add", PATH)
    (folder / PATH).write_text(inked)
    if locked:
        held(folder)
    done = ink(mira, SEAT, lot__quantity="50")
    if locked:
        released(folder)
        at("ole")
    assert plain_git(folder, "show", f":{PATH}") == edited
    assert [m for m in done.messages if "staged by hand" in m and "git restore --staged" in m]


@pytest.mark.parametrize("decide", ["put_back", "take"])
@pytest.mark.parametrize("locked", [True, False])
def test_a_staged_hand_edit_on_which_was_decided_is_staged_no_more(at, folder, decide, locked):
    mira = at("mira")
    edit(folder, PATH, "boring bar 16", "boring bar 20")
    plain_git(folder, "add", PATH)
    if locked:
        held(folder)
    getattr(mira.document(SEAT).on_disk, decide)()
    if locked:
        assert [w for w in at("ole").warnings() if "git's own index is behind" in w]
        released(folder)
        at("ole")
    in_step(folder)
    copies = list((folder / ".git/witnessmark/found").iterdir())
    assert ["boring bar 20" in copy.read_text() for copy in copies] == [True]
    ink(mira, SEAT, lot__quantity="50")
    commit_by_hand(folder)


def test_what_is_staged_is_not_dropped_with_another_text_on_disk(at, folder):
    """Two hand edits, one staged: putting back the file does not take the other one away."""
    mira = at("mira")
    edit(folder, PATH, "boring bar 16", "boring bar 20")
    edited = (folder / PATH).read_text()
    plain_git(folder, "add", PATH)
    edit(folder, PATH, "boring bar 20", "boring bar 25")
    mira.document(SEAT).on_disk.put_back()
    assert plain_git(folder, "show", f":{PATH}") == edited


def test_a_merge_of_somebodys_own_is_left_alone(at, folder):
    """Entries in conflict are nobody's left-over."""
    mira = at("mira")
    blob = plain_git(folder, "rev-parse", f"HEAD:{PATH}").strip()
    zero = "0" * 40
    lines = [f"0 {zero}\t{PATH}", *(f"100644 {blob} {n}\t{PATH}" for n in (1, 2, 3))]
    plain_git(folder, "update-index", "--index-info", data="\n".join(lines).encode() + b"\n")
    ink(mira, SEAT, lot__quantity="50")
    assert plain_git(folder, "ls-files", "-u").count(PATH) == 3


# an index that is not there, or is none


def test_an_index_that_was_taken_away_comes_back_whole(at, folder):
    mira = at("mira")
    (folder / ".git/index").unlink()
    ink(mira, SEAT, lot__quantity="50")
    in_step(folder)
    commit_by_hand(folder)


def test_an_index_that_cannot_be_read_holds_up_no_save(at, folder):
    mira = at("mira")
    (folder / ".git/index").write_bytes(b"DIRC rubbish")
    for value in ("50", "51"):
        said = ink(mira, SEAT, lot__quantity=value).messages
        assert [m for m in said if "git's own index" in m]
    assert quantity(at("ole")) == 51
    (folder / ".git/index").unlink()
    at("ole")
    in_step(folder)


def test_a_journal_that_cannot_be_closed_holds_up_no_save(at, folder, monkeypatch):
    """It is closed at the next chance; nobody else's save waits for that."""
    mira, ole = at("mira"), at("ole")
    with monkeypatch.context() as failing:

        def refuses(*_):
            raise BookError("the disk refused")

        failing.setattr("engine.drafts.pencil.Pencil.inked", refuses)
        said = ink(mira, SEAT, lot__quantity="50").messages
        assert [m for m in said if "journal of mira" in m]
        ink(ole, BUSH, lot__quantity="60")
    at("ada")
    in_step(folder)
    ink(ole, SEAT, lot__quantity="70")
    assert mira.document(SEAT).pencil.draft() is None


def test_a_file_that_cannot_be_written_holds_up_no_other(at, folder, monkeypatch):
    """Not even the next save of the same record: what lies there is no hand edit."""
    from engine.book import mending

    mira, write = at("mira"), mending.write_file

    def refuses(root, path, data):
        if path == PATH:
            raise OSError(13, "Permission denied")
        write(root, path, data)

    with monkeypatch.context() as failing:
        failing.setattr(mending, "write_file", refuses)
        for value in ("50", "51"):
            said = ink(mira, SEAT, lot__quantity=value).messages
            assert [m for m in said if PATH in m and "Permission denied" in m]
        ink(mira, BUSH, lot__quantity="60")
        assert plain_git(folder, "diff", "--cached", "HEAD", "--stat") == ""
    at("ole")
    in_step(folder)
    assert "quantity = 51" in (folder / PATH).read_text()


def test_a_hand_edit_of_a_file_that_could_not_be_written_stays(at, folder, monkeypatch):
    mira = at("mira")

    def refuses(*_):
        raise OSError(13, "Permission denied")

    with monkeypatch.context() as failing:
        failing.setattr("engine.book.mending.write_file", refuses)
        ink(mira, SEAT, lot__quantity="50")
    edit(folder, PATH, "boring bar 16", "boring bar 20")
    mira.document(SEAT).pencil.set("lot.quantity", "51")
    with pytest.raises(FoundOnDisk):
        mira.document(SEAT).ink()
    assert "boring bar 20" in (folder / PATH).read_text()


# what cannot be prevented


@pytest.mark.parametrize("times", [1, 2])
def test_commit_all_by_hand_before_anybody_opens_the_book_takes_nothing_back(at, folder, times):
    mira = at("mira")
    held(folder)
    for n in range(times):
        ink(mira, SEAT, lot__quantity=str(50 + n))
    released(folder)
    (folder / "notes.md").write_text("oil the ways\n")
    plain_git(folder, "add", "notes.md")
    plain_git(folder, "commit", "-qam", "notes")
    assert plain_git(folder, "show", "--name-only", "--format=", "HEAD").split() == ["notes.md"]
    assert quantity(at("ole")) == 50 + times - 1
    in_step(folder)


def test_what_a_commit_by_hand_took_back_is_found_on_disk_and_in_the_history(at, folder):
    """Between the end of the git that held the index and our next look."""
    mira = at("mira")
    held(folder)
    ink(mira, SEAT, "counted", lot__quantity="50")
    released(folder)
    plain_git(folder, "commit", "-qm", "by hand", "--allow-empty")
    ole = at("ole")
    assert [i.change.new for i in ole.document(SEAT).past.trace("lot.quantity")] == [110, 50, 110]
    (change,) = ole.document(SEAT).on_disk.found().changes
    assert (change.old, change.new) == (110, 50)
    ole.document(SEAT).on_disk.take()
    ole.document(SEAT).ink("taken back by a slip")
    in_step(folder)
