"""Two whole books in memory become one: each fate of a document and of a file, by its name.

The cases are worked by hand from what each side did; no published source.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from decimal import Decimal

import pytest

from engine.log.document_cache import DocumentCache
from engine.merge.books import Aside, Contest, merge_books
from schemas.document import check_tree, read_document
from tests.mini_book import cell_tree

SEAT, BUSH = "records/seat.toml", "records/bush.toml"


class Blobs:
    """Stands for the repository: texts by an id, kept while a test runs."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def blob(self, name: str) -> bytes:
        return self.kept[name]

    def put(self, data: bytes) -> str:
        name = hashlib.sha1(data).hexdigest()
        self.kept[name] = data
        return name


class Texts(DocumentCache):
    """Stands for the past of a book, of which a merge asks for texts only."""

    def __init__(self, blobs: Blobs) -> None:
        super().__init__(blobs)
        self.git = blobs


class Desk:
    """Makes trees, and merges them."""

    def __init__(self) -> None:
        self.blobs = Blobs()

    def record(self, identity: str = "wm-seat01", comment: str = "", **values: object) -> str:
        """A record's blob: `lot__quantity=5`."""
        tree: dict[str, dict[str, object]] = {
            "record": {"id": identity, "part": "Seat", "cell": "lathe", "units": "mm"},
            "jaws": {"id": "C-31", "bite": Decimal("7.5")},
            "photos": {"jaws": {"file": "photos/a.jpg", "shows": "jaws"}},
            "lot": {"quantity": 130},
            "notes": {"text": "Wipe the jaws."},
        }
        for address, value in values.items():
            keys = address.split("__")
            table = tree
            for key in keys[:-1]:
                table = table.setdefault(key, {})  # type: ignore[assignment]
            if value is None:
                del table[keys[-1]]
            else:
                table[keys[-1]] = value  # type: ignore[assignment]
        text = check_tree({"format": 2, **tree}, SEAT).bytes
        return self.blobs.put(text + comment.encode())

    def text(self, words: str) -> str:
        return self.blobs.put(words.encode())

    def merge(self, base, ours, shared):
        bases = base if isinstance(base, list) else [base]
        return merge_books(Texts(self.blobs), bases, ours, shared)  # type: ignore[arg-type]

    def result(self, ours, done):
        """The tree that comes of it: blobs as they are, merged texts read."""
        tree = dict(ours)
        for path, blob in done.blobs.items():
            tree[path] = blob
        return {path: blob for path, blob in tree.items() if blob is not None} | {
            path: read_document(text, path).values for path, text in done.texts.items()
        }


@pytest.fixture
def desk() -> Desk:
    return Desk()


# one side only


def test_what_only_one_side_changed_is_taken_and_nothing_is_said(desk):
    old, new = desk.record(), desk.record(lot__quantity=5)
    for ours, shared in ((old, new), (new, old), (new, new), (old, old)):
        mine = {SEAT: ours, BUSH: desk.record("wm-bush01")}
        done = desk.merge({**mine, SEAT: old}, mine, {**mine, SEAT: shared})
        wanted = new if new in (ours, shared) else old
        assert desk.result(mine, done) == {**mine, SEAT: wanted}
        assert (done.contests, done.joined, done.said, done.texts) == ([], [], [], {})
        assert done.blobs == ({} if ours == wanted else {SEAT: new})


@pytest.mark.parametrize("kind", ["records/new.toml", "programs/new.nc", "notes.md"])
def test_what_is_new_on_one_side_is_there(desk, kind):
    new = desk.record("wm-new001") if kind.endswith("toml") else desk.text("x")
    for ours, shared in (({}, {kind: new}), ({kind: new}, {}), ({kind: new}, {kind: new})):
        done = desk.merge({}, ours, shared)
        assert desk.result(ours, done) == {kind: new}
        assert (done.contests, done.asides) == ([], [])


def test_a_book_from_which_both_started_anew_has_both_new_records(desk):
    one, other = desk.record("wm-one001"), desk.record("wm-two001")
    ours, shared = {SEAT: one}, {BUSH: other}
    done = desk.merge([], ours, shared)
    assert desk.result(ours, done) == {SEAT: one, BUSH: other}
    assert done.said == []


# deleted


def test_deleted_there_and_unchanged_here_it_goes_and_that_is_said(desk):
    ours = {SEAT: desk.record()}
    done = desk.merge(ours, ours, {})
    assert desk.result(ours, done) == {}
    assert done.said == ["seat was deleted at the meeting point, unchanged since"]


def test_deleted_here_and_unchanged_there_it_stays_away_and_that_is_said(desk):
    base = {SEAT: desk.record()}
    done = desk.merge(base, {}, base)
    assert desk.result({}, done) == {}
    assert done.said == ["seat was deleted here, unchanged since"]


def test_deleted_on_one_side_and_changed_on_the_other_the_change_stays(desk):
    base, new = {SEAT: desk.record()}, {SEAT: desk.record(lot__quantity=5)}
    done = desk.merge(base, new, {})
    assert desk.result(new, done) == new
    assert done.said == ["seat was deleted at the meeting point and changed here: the change stays"]
    done = desk.merge(base, {}, new)
    assert desk.result({}, done) == new
    assert done.said == ["seat was deleted here and changed there: the change stays"]


def test_deleted_on_both_sides_it_is_gone(desk):
    done = desk.merge({SEAT: desk.record()}, {}, {})
    assert (done.blobs, done.said) == ({}, [])


def test_deleted_against_the_text_of_any_base_is_unchanged(desk):
    """Where merges crossed there are two bases; either one's text is no change."""
    one, other = desk.record(), desk.record(lot__quantity=5)
    for ours in ({SEAT: one}, {SEAT: other}):
        done = desk.merge([{SEAT: one}, {SEAT: other}], ours, {})
        assert desk.result(ours, done) == {}


# names


def test_renamed_on_one_side_and_changed_on_the_other_it_is_one_record(desk):
    old, new = desk.record(), desk.record(lot__quantity=5)
    moved = "records/moved.toml"
    for ours, shared in (({SEAT: new}, {moved: old}), ({moved: old}, {SEAT: new})):
        done = desk.merge({SEAT: old}, ours, shared)
        assert desk.result(ours, done) == {moved: new}
        assert done.said == []


def test_renamed_alike_on_both_sides_nothing_is_said(desk):
    old, new = desk.record(), desk.record(lot__quantity=5)
    both = {"records/moved.toml": old}
    done = desk.merge({SEAT: old}, both, {"records/moved.toml": new})
    assert desk.result(both, done) == {"records/moved.toml": new}
    assert done.said == []


def test_renamed_to_two_names_the_shared_one_stays_and_both_are_said(desk):
    old = desk.record()
    ours = {"records/mine.toml": old}
    done = desk.merge({SEAT: old}, ours, {"records/theirs.toml": old})
    assert desk.result(ours, done) == {"records/theirs.toml": old}
    (said,) = done.said
    assert said.startswith("theirs was renamed on both sides")
    assert "mine here" in said


def test_two_records_of_one_name_the_shared_one_keeps_it(desk):
    mine, theirs = desk.record("wm-mine01"), desk.record("wm-theirs")
    ours = {SEAT: mine}
    done = desk.merge({}, ours, {SEAT: theirs})
    assert desk.result(ours, done) == {SEAT: theirs, "records/seat-wm-mine01.toml": mine}
    assert done.said == [
        "two records took the name seat; the one of this box is seat-wm-mine01 now"
    ]


def test_a_name_in_other_letters_is_the_same_name(desk):
    mine, theirs, third = (desk.record(f"wm-{n}") for n in ("mine01", "theirs", "third1"))
    ours = {"records/Seat.toml": mine, BUSH: third}
    done = desk.merge({BUSH: third}, ours, {"records/seat.toml": theirs, BUSH: third})
    assert sorted(desk.result(ours, done)) == [
        "records/Seat-wm-mine01.toml", BUSH, "records/seat.toml",
    ]  # fmt: skip


def test_a_new_record_does_not_take_the_name_of_one_that_nobody_touched(desk):
    """Ours was renamed away from the name, theirs into it, while a third stands there."""
    third, theirs = desk.record("wm-third1"), desk.record("wm-theirs")
    ours = {"records/Bush.toml": third}
    done = desk.merge(ours, ours, {**ours, BUSH: theirs})
    assert desk.result(ours, done) == {**ours, "records/bush-wm-theirs.toml": theirs}
    ours = {"records/seat.toml": third}  # the same where the new name sorts before the old
    done = desk.merge(ours, ours, {**ours, "records/SEAT.toml": theirs})
    assert desk.result(ours, done) == {**ours, "records/SEAT-wm-theirs.toml": theirs}


def test_the_name_is_for_the_record_that_has_it_on_the_shared_side(desk):
    """Renamed here into a name that a new record took there."""
    mine, theirs = desk.record("wm-mine01"), desk.record("wm-theirs")
    ours, base = {"records/new.toml": mine}, {"records/a.toml": mine}
    done = desk.merge(base, ours, {**base, "records/new.toml": theirs})
    assert desk.result(ours, done) == {
        "records/new.toml": theirs, "records/new-wm-mine01.toml": mine,
    }  # fmt: skip


def test_where_the_name_with_the_id_is_taken_too_a_number_is_put_on(desk):
    mine, theirs, third = (desk.record(f"wm-{n}") for n in ("mine01", "theirs", "third1"))
    base = {"records/seat-wm-mine01.toml": third}
    ours = {**base, SEAT: mine}
    done = desk.merge(base, ours, {**base, SEAT: theirs})
    assert desk.result(ours, done) == {**base, SEAT: theirs, "records/seat-2.toml": mine}
    more = {**base, "records/SEAT-2.toml": desk.record("wm-fourth")}
    done = desk.merge(more, {**more, SEAT: mine}, {**more, SEAT: theirs})
    assert desk.result({**more, SEAT: mine}, done) == {
        **more, SEAT: theirs, "records/seat-3.toml": mine,
    }  # fmt: skip


def test_a_long_name_stays_one_that_can_be_typed(desk):
    path = f"records/{'n' * 60}.toml"
    ours = {path: desk.record("wm-mine01")}
    done = desk.merge({}, ours, {path: desk.record("wm-theirs")})
    (moved,) = set(desk.result(ours, done)) - {path}
    assert moved.endswith("n-wm-mine01.toml")
    assert len(moved) <= len("records/") + 60 + len(".toml")


def test_a_second_file_of_one_identity_is_kept_beside_the_first(desk):
    """A copy by hand carries the id of its source; the one that was there before is the record."""
    old, copy = desk.record(), desk.record(notes__text="a copy")
    new = desk.record(lot__quantity=5)
    for name in ("records/a.toml", "records/z.toml"):
        ours, shared = {SEAT: old, name: copy}, {SEAT: new}
        done = desk.merge({SEAT: old}, ours, shared)
        assert desk.result(ours, done) == {SEAT: new, name: copy}
        done = desk.merge({SEAT: old}, shared, ours)
        assert desk.result(shared, done) == {SEAT: new, name: copy}
        assert done.contests == []


# both changed one document


def test_values_of_both_sides_stand_in_one_text(desk):
    ours = {SEAT: desk.record(lot__quantity=5)}
    done = desk.merge({SEAT: desk.record()}, ours, {SEAT: desk.record(notes__text="x")})
    assert (done.joined, done.contests, done.said, done.blobs) == (["wm-seat01"], [], [], {})
    values = desk.result(ours, done)[SEAT]
    assert (values["lot.quantity"], values["notes.text"]) == (5, "x")


def test_a_contest_says_all_three_values(desk):
    ours = {SEAT: desk.record(lot__quantity=5, notes__text="mine")}
    shared = {SEAT: desk.record(lot__quantity=6)}
    done = desk.merge({SEAT: desk.record()}, ours, shared)
    assert done.contests == [Contest("wm-seat01", "lot.quantity", 130, 5, 6)]
    values = desk.result(ours, done)[SEAT]
    assert (values["lot.quantity"], values["notes.text"]) == (6, "mine")


def test_what_belongs_together_physically_is_taken_from_one_side(desk):
    ours = {SEAT: desk.record(jaws__bite=Decimal("8.0"))}
    shared = {SEAT: desk.record(blank__height=Decimal("31.5"))}
    done = desk.merge({SEAT: desk.record()}, ours, shared)
    assert done.contests == [
        Contest("wm-seat01", "jaws.bite", Decimal("7.5"), Decimal("8.0"), Decimal("7.5"))
    ]
    values = desk.result(ours, done)[SEAT]
    assert (values["jaws.bite"], values["blank.height"]) == (Decimal("7.5"), Decimal("31.5"))


def test_contests_of_several_records_are_all_there(desk):
    def sides(number):
        return {
            SEAT: desk.record(lot__quantity=number),
            BUSH: desk.record("wm-bush01", lot__quantity=number),
        }

    done = desk.merge(sides(1), sides(2), sides(3))
    assert {(c.key, c.base, c.ours, c.shared) for c in done.contests} == {
        ("wm-seat01", 1, 2, 3), ("wm-bush01", 1, 2, 3),
    }  # fmt: skip
    assert sorted(done.joined) == ["wm-bush01", "wm-seat01"]


def test_two_logs_of_one_run_keep_the_entries_of_both(desk):
    path, at = "runs/wm-seat01/r1.toml", datetime.fromisoformat("2026-03-02T07:00:00+01:00")

    def log(*steps):
        head = {"id": "r1", "record": "wm-seat01", "number": 1, "commit": "c" * 40}
        entries = {
            f"{n:03}": {"what": what, "at": at, "who": who}
            for n, (what, who) in enumerate(steps, 1)
        }
        return check_tree({"format": 1, "run": head, "steps": entries}, path).bytes

    base, mine, theirs = (
        {path: desk.blobs.put(log(("start", "mira"), *more))}
        for more in ((), [("confirm", "mira")], [("piece", "ole")])
    )
    done = desk.merge(base, mine, theirs)
    values = desk.result(mine, done)[path]
    assert {n: values[f"steps.{n}.what"] for n in ("001", "002", "002a")} == {
        "001": "start", "002": "piece", "002a": "confirm",
    }  # fmt: skip
    assert done.contests == []


def test_without_a_common_beginning_every_difference_is_contested(desk):
    ours = {SEAT: desk.record(lot__quantity=5)}
    done = desk.merge([], ours, {SEAT: desk.record(lot__quantity=6)})
    assert done.contests == [Contest("wm-seat01", "lot.quantity", None, 5, 6)]


def test_an_entry_that_stays_because_it_was_changed_is_said_once(desk):
    base = {SEAT: desk.record()}
    ours = {SEAT: desk.record(photos__jaws__note="left", photos__jaws__shows="fingers")}
    done = desk.merge(base, ours, {SEAT: desk.record(photos__jaws=None)})
    assert done.said == [
        "seat: photos.jaws was taken out on one side and changed on the other: it stays, changed"
    ]
    assert desk.result(ours, done)[SEAT]["photos.jaws.note"] == "left"


def test_comments_of_either_side_are_told_with_where_to_find_them(desk):
    base = {SEAT: desk.record()}
    ours = {SEAT: desk.record(comment="# one\n# two\n", lot__quantity=5)}
    shared = {SEAT: desk.record(comment="# three\n", notes__text="x")}
    done = desk.merge(base, ours, shared)
    assert len(done.said) == 2
    for said, side, count in zip(done.said, (ours, shared), (2, 1), strict=True):
        assert f"seat: {count} comment" in said
        assert f"git cat-file -p {side[SEAT][:12]}`" in said


def other(path: str, name: str, number: int) -> dict[str, object]:
    """The tree of a document that is no record, with two values."""
    if path == "people.toml":
        mira = {"name": name, "roles": ["setter"], "logins": [f"m{number}"]}
        return {"format": 1, "people": {"mira": mira}}
    if path == "book.toml":
        policy = {"stale_pencil_days": number}
        return {"format": 1, "book": {"name": name, "id": "little"}, "policy": policy}
    return {**cell_tree(name), "notes": {"text": f"checked {number} times"}}


@pytest.mark.parametrize("path", ["cells/lathe.toml", "people.toml", "book.toml"])
def test_cells_people_and_the_book_are_merged_value_by_value(desk, path):
    base, mine, theirs, both = (
        check_tree(other(path, name, number), path).bytes
        for name, number in (("A", 1), ("B", 1), ("A", 2), ("B", 2))
    )
    base, mine, theirs = ({path: desk.blobs.put(text)} for text in (base, mine, theirs))
    done = desk.merge(base, mine, theirs)
    assert (done.joined, done.said) == ([path.removesuffix(".toml")], [])
    assert done.texts == {path: both}


# texts that cannot be merged


CELL = "cells/lathe.toml"
BROKEN = "= no toml"


def cell(name: str) -> str:
    return check_tree(cell_tree(name), CELL).bytes.decode()


@pytest.mark.parametrize(
    ("ours", "shared", "stays"),
    [
        (cell("B"), BROKEN, "ours"),
        (BROKEN, cell("B"), "shared"),
        (BROKEN, f"{BROKEN}!", "shared"),
    ],
)
def test_of_a_text_that_cannot_be_read_the_other_one_stays(desk, ours, shared, stays):
    mine, theirs = {CELL: desk.text(ours)}, {CELL: desk.text(shared)}
    done = desk.merge({CELL: desk.text(cell("A"))}, mine, theirs)
    kept, other = (mine, theirs) if stays == "ours" else (theirs, mine)
    assert desk.result(mine, done) == kept
    (said,) = done.said
    assert said.startswith("cells/lathe cannot be read on one side")
    assert ("this box's text stays" if stays == "ours" else "the shared text stays") in said
    assert f"git cat-file -p {other[CELL][:12]}`" in said


ODD = cell("A").replace("[cell]", '[cell]\ncolour = "red"')
FLAT = "legs = 5\n" + cell("A").partition("[legs")[0]


@pytest.mark.parametrize(
    ("ours", "shared", "stays"),
    [
        (ODD, cell("B"), "shared"),
        (cell("B"), ODD, "ours"),
        (ODD, FLAT, "shared"),
        (FLAT, cell("B"), "shared"),
        (cell("B"), FLAT, "ours"),
    ],
)
def test_where_the_merge_breaks_a_rule_the_text_that_breaks_none_stays(desk, ours, shared, stays):
    """A hand edit left a field that no cell has, or a number where a table stands."""
    mine, theirs = {CELL: desk.text(ours)}, {CELL: desk.text(shared)}
    done = desk.merge({CELL: desk.text(cell("A"))}, mine, theirs)
    assert desk.result(mine, done) == (mine if stays == "ours" else theirs)
    (said,) = done.said
    assert "cannot be merged value by value" in said
    assert (done.joined, done.contests) == ([], [])


def test_comments_are_told_though_the_other_text_breaks_a_rule(desk):
    good = desk.record()
    odd = desk.blobs.blob(good).replace(b"quantity = 130", b'quantity = "lots"')
    ours = {SEAT: desk.blobs.put(odd)}
    shared = {SEAT: desk.record(comment="# seen\n", lot__quantity=6)}
    done = desk.merge({SEAT: good}, ours, shared)
    assert desk.result(ours, done)[SEAT]["lot.quantity"] == 6
    assert [said for said in done.said if "1 comment of" in said]


def test_an_event_that_two_people_changed_by_hand_is_one_of_the_two(desk):
    path = "events/lathe/a.toml"

    def event(kind: str, reason: str) -> dict[str, str]:
        at = datetime.fromisoformat("2026-03-02T07:00:00+01:00")
        tree = {"cell": "lathe", "kind": kind, "at": at, "who": "mira", "reason": reason}
        return {path: desk.blobs.put(check_tree({"format": 1, "event": tree}, path).bytes)}

    ours, shared = event("crash", "the turret"), event("service", "a crash")
    done = desk.merge(event("crash", "a crash"), ours, shared)
    assert desk.result(ours, done) == shared
    assert "the shared text stays" in done.said[0]


@pytest.mark.parametrize("kind", ["signoffs/wm-seat01/a.toml", "events/lathe/a.toml"])
def test_what_is_written_once_is_never_mixed(desk, kind):
    ours, shared = {kind: desk.text("x = 1\n")}, {kind: desk.text("x = 2\n")}
    done = desk.merge({}, ours, shared)
    assert desk.result(ours, done) == shared
    assert "the shared text stays" in done.said[0]


# other files


NC = "programs/seat.nc"


@pytest.mark.parametrize(
    ("base", "ours", "shared", "stands", "said"),
    [
        ("a", "a", "b", "b", ""),
        ("a", "b", "a", "b", ""),
        ("a", "b", "b", "b", ""),
        ("a", "a", "", "", f"{NC} was deleted at the meeting point"),
        ("a", "", "a", "", ""),
        ("a", "", "", "", ""),
        ("a", "b", "", "b", f"{NC} was deleted at the meeting point, changed here: it stays"),
        ("a", "", "b", "b", f"{NC} was deleted here, changed at the meeting point: it stays"),
        ("", "a", "", "a", ""),
        ("", "", "a", "a", ""),
    ],
)
def test_each_fate_of_a_program(desk, base, ours, shared, stands, said):
    def tree(text: str) -> dict[str, str]:
        return {NC: desk.text(text)} if text else {}

    done = desk.merge(tree(base), tree(ours), tree(shared))
    assert desk.result(tree(ours), done) == tree(stands)
    assert done.said == [said] * bool(said)
    assert done.asides == []


@pytest.mark.parametrize(
    ("path", "stem", "suffix"),
    [(NC, "programs/seat", ".nc"), ("photos/a.b.jpg", "photos/a.b", ".jpg"), ("TODO", "TODO", "")],
)
def test_a_file_changed_on_both_sides_stands_twice(desk, path, stem, suffix):
    mine, theirs = desk.text("mine"), desk.text("theirs")
    for base in ({}, {path: desk.text("old")}):
        done = desk.merge(base, {path: mine}, {path: theirs})
        aside = f"{stem}-aside-{mine[:8]}{suffix}"
        assert desk.result({path: mine}, done) == {path: theirs, aside: mine}
        assert done.asides == [Aside(path, aside, mine)]
        (said,) = done.said
        assert said.startswith(f"{path} was changed on both sides: the shared one stays")
        assert said.endswith(aside)


def test_several_files_changed_on_both_sides_all_stand_twice(desk):
    paths = [NC, "programs/bush.nc", "photos/a.jpg"]
    ours = {path: desk.text(f"mine {path}") for path in paths}
    shared = {path: desk.text(f"theirs {path}") for path in paths}
    done = desk.merge({}, ours, shared)
    assert [aside.path for aside in done.asides] == paths
    result = desk.result(ours, done)
    assert {path: result[path] for path in paths} == shared
    assert {result[aside.aside] for aside in done.asides} == set(ours.values())


def test_with_two_bases_a_file_is_changed_where_it_is_neither(desk):
    one, other, new = ({NC: desk.text(text)} for text in ("one", "other", "new"))
    assert desk.result(one, desk.merge([one, other], one, new)) == new
    assert desk.result(new, desk.merge([one, other], new, other)) == new
