"""The trace against plain git: what nobody but git was asked must come out the same."""

import random
import tomllib
from decimal import Decimal

import pytest
from hypothesis import given

from engine.book import Book
from engine.log.diff import changes_between, position_changes
from engine.views import Change
from schemas.address import flatten, grow, same_value
from schemas.document import check_tree, read_document
from schemas.errors import BookError, WitnessmarkError
from tests.mini_book import BUSH, SEAT, Stepping, plain_git, session_of
from tests.schemas.any_document import trees

ADDRESSES = (
    "positions.seat.reach",
    "lot.quantity",
    "jaws.kept_at",
    "tools.T04.stick_out",
    "notes.text",
)


@given(trees("record"), trees("record"))
def test_the_differences_applied_to_the_old_give_the_new(one, other):
    old, new = (check_tree(tree, "records/a.toml").values for tree in (one, other))
    changes, respelt = changes_between(old, new, lambda _: "mm")
    after = {a: v for a, v in (old | {c.address: c.new for c in changes}).items() if v is not None}
    assert after.keys() == new.keys()
    assert all(same_value(after[address], new[address]) for address in new)
    assert check_tree(grow(after), "records/a.toml").tree.keys() == grow(new).keys()
    assert (changes_between(new, after, lambda _: "")[0]) == []
    assert changes_between(old, old, lambda _: "") == ([], 0)
    exact = [c for c in changes if c.delta is not None]
    assert all(Decimal(c.old) + c.delta == Decimal(c.new) for c in exact)
    assert respelt == sum(
        same_value(old[a], new[a]) and str(old[a]) != str(new[a]) for a in old.keys() & new.keys()
    )


def test_a_position_that_moved_is_one_vector():
    def moved(axis, delta, unit):
        return Change(f"positions.seat.{axis}", Decimal(0), Decimal(delta), unit, Decimal(delta))

    (vector,) = position_changes(
        [moved("x", "3", "mm"), moved("y", "4", "mm"), moved("w", "-2", "deg")]
    )
    assert (vector.distance, vector.turn) == (5.0, 2.0)
    (vector,) = position_changes([moved("x", "1", "in"), moved("y", "0", "mm")])
    assert vector.distance == pytest.approx(25.4)


class Shop:
    """A random history: by the program, by hand, on branches, with merges that join or decide."""

    def __init__(self, folder, seed):
        self.folder = folder
        self.chance = random.Random(seed)
        self.clock = Stepping()
        self.branches = 0

    def live(self):
        names = plain_git(self.folder, "ls-files", "records").split()
        return [name.removeprefix("records/").removesuffix(".toml") for name in names]

    def act(self):
        acts = [
            self.ink,
            self.ink,
            self.ink,
            self.hand,
            self.hand,
            self.rename,
            self.copy,
            self.restore,
            self.hand_rename,
            self.fork,
            self.fork,
            self.switch,
            self.switch,
            self.merge,
            self.merge,
            self.delete,
            self.revive,
        ]
        with_what = self.chance.choice(acts)
        try:
            with_what()
        except WitnessmarkError:
            plain_git(self.folder, "checkout", "-qf", "HEAD")

    def book(self):
        return Book.open(self.folder, login=self.chance.choice(["mira", "ole"]), clock=self.clock)

    def value(self, address):
        n = self.chance.randrange(4)
        return {
            "jaws.kept_at": f"rack {n}",
            "notes.text": f"words {n}",
            "lot.quantity": f"{n}",
        }.get(address, self.chance.choice([f"{n}.5", f"{n}.50", f"{n}"]))

    def ink(self):
        book = self.book()
        name = self.chance.choice(self.live())
        for address in self.chance.sample(ADDRESSES, 2):
            if self.chance.random() < 0.2:
                book.document(name).pencil.clear(address)
            else:
                book.document(name).pencil.set(address, self.value(address))
        book.document(name).ink("inked")
        book.close()

    def rename(self):
        book = self.book()
        book.document(self.chance.choice(self.live())).rename(
            f"name-{self.chance.randrange(10**6)}"
        )
        book.close()

    def copy(self):
        if len(self.live()) < 5:
            book = self.book()
            book.document(self.chance.choice(self.live())).copy(
                f"copy-{self.chance.randrange(10**6)}"
            )
            book.close()

    def restore(self):
        book = self.book()
        name = self.chance.choice(self.live())
        inks = [m.name for m in book.document(name).past.marks() if m.kind == "ink"]
        book.document(name).restore(
            self.chance.choice(inks), self.chance.choice(["", *ADDRESSES]), "back"
        )
        book.close()

    def changed(self, data, path):
        """The bytes of a record with one or two values changed, as an editor would leave them."""
        values = dict(read_document(data, path).values)
        for address in self.chance.sample(ADDRESSES, self.chance.randint(1, 2)):
            if self.chance.random() < 0.2:
                values.pop(address, None)
            else:
                text = self.value(address)
                number = address not in ("jaws.kept_at", "notes.text")
                whole = address == "lot.quantity"
                values[address] = (int(text) if whole else Decimal(text)) if number else text
        return check_tree(grow(values), path).bytes

    def hand(self):
        path = f"records/{self.chance.choice(self.live())}.toml"
        data = (self.folder / path).read_bytes()
        fresh = self.changed(data, path)
        if self.chance.random() < 0.3:
            fresh = b"# by hand\n" + fresh.replace(b" = ", b"  =  ")
        (self.folder / path).write_bytes(fresh)
        plain_git(self.folder, "commit", "-qam", "by hand", fails=True)

    def hand_rename(self):
        old = f"records/{self.chance.choice(self.live())}.toml"
        new = f"records/moved-{self.chance.randrange(10**6)}.toml"
        plain_git(self.folder, "mv", old, new)
        if self.chance.random() < 0.5:
            (self.folder / new).write_bytes(self.changed((self.folder / new).read_bytes(), new))
        plain_git(self.folder, "commit", "-qam", "moved by hand")

    def delete(self):
        if len(self.live()) > 2:
            plain_git(self.folder, "rm", "-q", f"records/{self.chance.choice(self.live())}.toml")
            plain_git(self.folder, "commit", "-qm", "deleted by hand")

    def revive(self):
        """A record that was deleted comes back from an older commit."""
        here = self.identities("HEAD")
        for commit in plain_git(self.folder, "rev-list", "HEAD").split():
            for identity, (path, _) in self.identities(commit).items():
                if identity not in here and not (self.folder / path).exists():
                    plain_git(self.folder, "checkout", "-q", commit, "--", path)
                    plain_git(self.folder, "commit", "-qm", "brought back by hand")
                    return

    def fork(self):
        if self.branches < 2:
            self.branches += 1
            plain_git(self.folder, "branch", f"side{self.chance.randrange(10**6)}")

    def others(self):
        """Branches that hold something this one has not."""
        names = plain_git(
            self.folder, "for-each-ref", "--format=%(refname:short)", "refs/heads"
        ).split()
        here = plain_git(self.folder, "symbolic-ref", "--short", "HEAD").strip()
        return [name for name in names if name != here]

    def switch(self):
        if self.others():
            plain_git(self.folder, "checkout", "-q", self.chance.choice(self.others()))

    def merge(self):
        apart = [
            b for b in self.others() if plain_git(self.folder, "rev-list", f"HEAD..{b}").strip()
        ]
        apart = [b for b in apart if plain_git(self.folder, "rev-list", f"{b}..HEAD").strip()]
        if not apart:
            return
        other = self.chance.choice(apart)
        plain_git(self.folder, "merge", "-q", "--no-ff", "--no-commit", "-s", "ours", other)
        ours, theirs = self.identities("HEAD"), self.identities(other)
        for identity, (path, data) in ours.items():
            mode = self.chance.choice(["ours", "theirs", "third", "joined"])
            if mode != "ours" and identity in theirs and path.startswith("records/"):
                _, wanted = theirs[identity]
                if mode == "third":
                    wanted = self.changed(data, path)
                if mode == "joined":
                    mine, yours = (read_document(d, path).values for d in (data, wanted))
                    picked = {
                        a: self.chance.choice([mine, yours]).get(a) for a in {**mine, **yours}
                    }
                    kept = {a: v for a, v in picked.items() if v is not None}
                    wanted = check_tree(grow(kept), path).bytes
                (self.folder / path).write_bytes(wanted)
                plain_git(self.folder, "add", path)
        plain_git(self.folder, "commit", "-qm", "merged by hand")
        plain_git(self.folder, "branch", "-qD", other)
        self.branches -= 1

    def identities(self, commit):
        """Records of a commit by their id: path and bytes; nothing but git and tomllib."""
        found = {}
        for path in plain_git(
            self.folder, "ls-tree", "-r", "--name-only", commit, "records/"
        ).split():
            data = plain_git(self.folder, "show", f"{commit}:{path}").encode()
            found[tomllib.loads(data.decode())["record"]["id"]] = (path, data)
        return found


def oracle(shop):
    """(record, address, commit, value) for each commit that differs from all its parents."""
    found, states = set(), {}
    order = plain_git(shop.folder, "rev-list", "--topo-order", "--reverse", "--parents", "HEAD")
    for line in order.splitlines():
        commit, *parents = line.split()
        states[commit] = {
            identity: flatten(tomllib.loads(data.decode(), parse_float=Decimal))
            for identity, (_, data) in shop.identities(commit).items()
        }
        before = [states[parent] for parent in parents] or [{}]
        for identity in {i for state in (*before, states[commit]) for i in state}:
            new = states[commit].get(identity, {})
            olds = [state.get(identity, {}) for state in before]
            for address in ADDRESSES:
                if all(new.get(address) != old.get(address) for old in olds):
                    found.add((identity, address, commit, new.get(address)))
    return found, [line.split()[0] for line in order.splitlines()]


@pytest.mark.parametrize("seed", range(4))
def test_the_trace_of_a_random_history_is_the_oracles(folder, seed):
    shop = Shop(folder, seed)
    read = Book.open(folder, login="ada", clock=Stepping())
    for n in range(45):
        shop.act()
        if n % 9 == 0:
            read.refresh()  # read step by step, as a long-lived screen does
    expected, order = oracle(shop)
    joined = any("merged" in line for line in plain_git(folder, "log", "--format=%s").split("\n"))
    for book in (read, Book.open(folder, login="ada", clock=Stepping())):
        book.refresh()
        names = {book.document(name).values()["record.id"]: name for name in shop.live()}
        assert names.keys() == shop.identities("HEAD").keys()
        for identity, name in names.items():
            for address in ADDRESSES:
                items = book.document(name).past.trace(address)
                stands = items[-1].change.new if items else None
                assert same_value(stands, book.document(name).values().get(address))
                items = [item for item in items if item.merged is None]
                traced = [(identity, address, i.commit, i.change.new) for i in items]
                assert len(traced) == len(set(traced))
                assert set(traced) == {row for row in expected if row[:2] == (identity, address)}
                places = [order.index(commit) for _, _, commit, _ in traced]
                assert joined or places == sorted(places)
        book.close()


def test_what_failed_half_way_is_not_taken_in_twice(at, monkeypatch):
    from engine.log import walk
    from engine.log.document_cache import DocumentCache

    ole = at("ole")
    for n in (5, 6):
        ole.document(SEAT).pencil.set("lot.quantity", str(n))
        last = ole.document(SEAT).ink().commit
    real, git = walk.read_saved, session_of(ole).git

    def fails(raw, *more):
        saved = real(raw, *more)
        if saved.id == last:
            raise BookError("git was killed")
        return saved

    past = walk.WalkedPast(git, DocumentCache(git))
    past.refresh(plain_git(ole.folder, "rev-parse", "HEAD~1").strip())
    monkeypatch.setattr(walk, "read_saved", fails)
    with pytest.raises(BookError):
        past.refresh(last)
    monkeypatch.undo()
    past.refresh(last)
    assert len(past.life("wm-seat10")) == past.count() == 3


def test_a_copy_can_be_traced_through_its_source(at):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    mira.document(SEAT).ink()
    mira.document(SEAT).copy("second")
    mira.document("second").pencil.set("lot.quantity", "60")
    mira.document("second").ink()
    mira.document(SEAT).pencil.set("lot.quantity", "70")
    mira.document(SEAT).ink()
    assert [i.change.new for i in mira.document("second").past.trace("lot.quantity")] == [50, 60]
    through = mira.document("second").past.trace("lot.quantity", through_copies=True)
    assert [(i.document, i.change.new) for i in through] == [
        (SEAT, 110),
        (SEAT, 50),
        ("second", 60),
    ]
    assert (
        mira.document("second").values()["record.id"] != mira.document(SEAT).values()["record.id"]
    )


def test_a_record_never_takes_the_identity_of_something_else(at, folder):
    """A text by hand may say anything; it is never taken for people.toml or another record."""
    text = (folder / f"records/{SEAT}.toml").read_text()
    (folder / "records/people.toml").write_text(text.replace('"wm-seat10"', '"people"'))
    notes = 'format = 1\nx = """\nid = "wm-bush20"\n"""\n'
    (folder / "records/sly.toml").write_text(text.replace("format = 1\n", notes))
    (folder / "records/jaws-first.toml").write_text(
        'format = 1\n[jaws]\nid = "wm-bush20"\n'
        '[record]\nid = "wm-jaws01"\npart = "x"\ncell = "mill"\n'
        'units = "mm"\n'
    )
    plain_git(folder, "add", "-A")
    plain_git(folder, "commit", "-qm", "sly")
    ole = at("ole")
    assert len(ole.document("people").past.marks()) == 1
    assert len(ole.document(BUSH).past.marks()) == 1
    assert ole.document("jaws-first").values()["record.id"] == "wm-jaws01"
    assert ole.document(SEAT).values()["lot.quantity"] == 110
    ole.document("people").pencil.set("people.mira.roles", "setter, lead")
    ole.document("people").ink()


def test_a_rewritten_past_is_said_so(at, folder):
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "50")
    mira.document(SEAT).ink()
    plain_git(folder, "reset", "-q", "--hard", "HEAD~1")
    plain_git(folder, "commit", "--allow-empty", "-qm", "as if nothing had been")
    mira.refresh()
    assert any("rewritten" in words for words in mira.warnings())
    assert mira.document(SEAT).values()["lot.quantity"] == 110
    assert len(mira.document(SEAT).past.trace("lot.quantity")) == 1
