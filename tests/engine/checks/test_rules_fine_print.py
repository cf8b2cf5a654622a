"""The fine print of findings: counts, hints, whose they are, and what is not said.

Each case is worked by hand from what the rule promises in `docs/rules.md`.
"""

from __future__ import annotations

import re
import shutil

import pytest

from engine.checks.book_view import BookView
from engine.checks.photos import is_seen
from engine.checks.rule import RULES
from engine.views import Finding
from tests.shop_floor import plain_git

from .conftest import ONE, PROGRAM, TWO, Mini, picture, sha
from .faults import FAULTS, saved_by, set_program
from .faults_figures import with_program

FILE_ONE = f"records/{ONE}.toml"


def of(mini: Mini, *rules: str) -> list[Finding]:
    return [f for f in mini.findings() if f.rule in rules]


def said(mini: Mini, rule: str) -> list[str]:
    return [f.message for f in of(mini, rule)]


# what is added, and what is not where there is nothing to add


@pytest.mark.parametrize(
    ("saves", "more"), [(3, None), (4, "so is 1 earlier save"), (5, "so are 2 earlier saves")]
)
def test_of_many_stamps_that_run_backwards_the_last_are_named_and_the_rest_counted(
    mini: Mini, saves: int, more: str | None
) -> None:
    assert mini.book
    for n in range(saves):
        mini.go(days=3)
        for text, back in ((f"{n} as always", 2), (f"{n} as ever", 0)):
            mini.book.document(TWO).pencil.set("notes.text", text)
            mini.book.document(TWO).ink("words")
            mini.go(days=-back)
    found = of(mini, "stamps-run-backwards")
    assert len(found) == 3 + bool(more)
    assert {(f.record, f.line, f.address) for f in found} == {("book", 0, "")}
    assert [f.message for f in found][3:] == ([more] if more else [])


def test_a_book_without_its_own_file_is_told_of_all_the_same(mini: Mini) -> None:
    """What is said of the book has no file to point at then."""
    FAULTS["stamps-run-backwards"].break_it(mini)
    (mini.folder / "book.toml").unlink()
    mini.by_hand()
    mini.book.refresh()
    (found,) = of(mini, "stamps-run-backwards")
    assert (found.record, found.file, found.line) == ("book", "", 0)


def test_a_folder_that_is_open_to_all_has_no_line(mini: Mini) -> None:
    FAULTS["open-to-all"].break_it(mini)
    (found,) = mini.findings()
    assert (found.file, found.line, found.message) == (
        ".git/objects", 0, "every account can write to .git/objects",
    )  # fmt: skip


@pytest.mark.parametrize(("others", "more"), [(1, ""), (2, " (and 1 more record does)"),
                                              (3, " (and 2 more records do)")])  # fmt: skip
def test_records_with_other_positions_on_one_program_are_counted(
    mini: Mini, others: int, more: str
) -> None:
    for n in range(others):
        mini.trees[f"records/other-{n}.toml"] = {
            **mini.one,
            "record": {**mini.one["record"], "id": f"wm-other{n}"},
            "positions": {"seat": {"reach": n, "lift": 2}},
        }
    first = next(f for f in of(mini, "other-positions") if f.record == ONE)
    ends = "with other positions: fetch, seat" + more
    assert first.message == f"other-0 runs the same program, programs/cup_1.nc, {ends}"


def test_records_that_name_no_program_run_no_common_one(mini: Mini) -> None:
    for tree in (mini.one, mini.trees[f"records/{TWO}.toml"]):
        tree["program"] = {}
    mini.files = {path: data for path, data in mini.files.items() if "programs" not in path}
    assert [f.record for f in of(mini, "no-program", "other-positions")] == [ONE, TWO]


def test_positions_that_differ_in_spelling_only_are_the_same(mini: Mini) -> None:
    mini.trees[f"records/{TWO}.toml"]["program"] = dict(mini.one["program"])
    mini.trees[f"records/{TWO}.toml"]["positions"] = {
        station: {axis: round(value + 0, 1) for axis, value in axes.items()}
        for station, axes in {"fetch": {"reach": 120.5, "lift": 40}, "seat": {}}.items()
    }
    mini.trees[f"records/{TWO}.toml"]["positions"]["seat"] = dict(mini.one["positions"]["seat"])
    mini.files.pop("programs/cup_2.nc")
    assert of(mini, "other-positions") == []
    assert of(mini, "rule-failed") == []


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["N20 (half a comment"], re.compile(r"line 3: [^,]+$")),
        (["N20 (half a comment"] * 3, re.compile(r"line 3: .+, and 2 more$")),
    ],
)
def test_of_the_faults_of_a_program_the_first_is_told_and_the_rest_counted(
    mini: Mini, lines: list[str], words: re.Pattern[str]
) -> None:
    with_program(mini, *lines)
    (found,) = said(mini, "program-faults")
    assert words.search(found)


@pytest.mark.parametrize(("lines", "left"), [(2, 0), (4, 0), (7, 3)])
def test_what_changed_since_a_program_was_proved_out_is_told_and_the_rest_counted(
    mini: Mini, lines: int, left: int
) -> None:
    tools = [f"N{n}5 T{n} M6" for n in range(10, 10 + lines)]
    set_program(mini, "\n".join(["%", "N10 G21 G90", *tools, "N40 M30", "%", ""]).encode())
    mini.one["tools"] = {f"T{n}": {"what": "drill"} for n in range(10, 10 + lines)}
    assert mini.book
    moved = [line.replace("T", "T3") for line in tools]
    text = "\n".join(["%", "N10 G21 G90", *moved, "N40 M30", "%", ""]).encode()
    mini.write("programs/cup_1.nc", text)
    (found,) = said(mini, "program-changed")
    assert f"begins with {sha(text)[:10]}, the proved one with " in found
    _, _, changes = found.partition("; changed since: ")
    assert changes.endswith(f"; and {left} more") == bool(left)
    assert "more" not in changes or left


def test_what_a_cell_lacks_is_told_for_its_own_records_only(mini: Mini) -> None:
    mini.trees["cells/south.toml"] = {**mini.cell, "cell": {**mini.cell["cell"], "name": "South"}}
    mini.also_incomplete = True
    assert {f.record for f in of(mini, "cell-incomplete")} == {"cells/north"}
    whole = said(mini, "cell-incomplete")
    mini.book.document(TWO).pencil.set("record.cell", "south")
    mini.book.document(TWO).ink("over there")
    assert {f.record for f in of(mini, "cell-incomplete")} == {"cells/north", "cells/south"}
    north, south = said(mini, "cell-incomplete")
    assert int(north.split()[0]) + int(south.split()[0]) == int(whole[0].split()[0])


# hints


def test_a_broken_record_says_how_to_go_back(mini: Mini) -> None:
    assert mini.book
    mini.edit(FILE_ONE, "bite = 7.5", 'bite = "deep"')
    mini.by_hand()
    (found,) = of(mini, "unreadable")
    assert f"`witnessmark restore {ONE} MARK --reason TEXT`" in found.hint
    assert not found.message.endswith(")")
    mini.edit(FILE_ONE, 'bite = "deep"', 'bite = "shallow"')
    found, on_disk = of(mini, "unreadable")
    assert (found.line, on_disk.line > 0) == (0, True)
    assert (found.message[-11:], on_disk.message[-10:]) == (" (as inked)", " (on disk)")


@pytest.mark.parametrize("kind", ["program", "photo"])
def test_a_missing_file_that_is_inked_can_be_had_from_history_and_another_cannot(
    mini: Mini, kind: str
) -> None:
    path = {"program": "programs/cup_1.nc", "photo": "photos/jaws_1.jpg"}[kind]
    gone = {"program": "programs/cup_9.nc", "photo": "photos/jaws_9.jpg"}[kind]
    assert mini.book
    (mini.folder / path).unlink()
    (found,) = of(mini, f"{kind}-missing")
    assert (
        found.hint == f"It is inked, so history has it: put it back at {path}, or correct the path."
    )
    mini.edit(FILE_ONE, path, gone)
    mini.by_hand()
    mini.book.refresh()
    (found,) = of(mini, f"{kind}-missing")
    assert found.hint == RULES[f"{kind}-missing"].hint


@pytest.mark.parametrize(
    ("table", "rule", "folders"),
    [("program", "program-outside", "programs and nc"), ("photos", "photo-outside", "shots")],
)
def test_a_file_outside_names_the_folders_that_are_meant_for_it(
    mini: Mini, table: str, rule: str, folders: str
) -> None:
    mini.trees["book.toml"]["roots"] = {"programs": ["programs", "nc"], "photos": ["shots"]}
    place = mini.one["program"] if table == "program" else mini.one["photos"]["jaws"]
    place["file"] = "elsewhere/x.nc"
    found = next(f for f in of(mini, rule) if f.record == ONE)
    assert found.message == (
        f"elsewhere/x.nc lies outside {folders}, so it is not inked with the record"
    )
    assert found.hint == RULES[rule].hint
    place["file"] = "../x.nc"


@pytest.mark.parametrize("path", ["../x.nc", "/etc/passwd", ".git/config"])
def test_a_path_that_leads_outside_the_book_says_why(mini: Mini, path: str) -> None:
    mini.one["program"]["file"] = path
    (found,) = of(mini, "program-outside")
    assert "lies outside programs" not in found.message
    assert found.hint != RULES["program-outside"].hint


# history


def test_a_position_by_hand_names_the_commit_in_ten_digits(mini: Mini) -> None:
    FAULTS["position-by-hand"].break_it(mini)
    commit = plain_git(mini.folder, "rev-parse", "HEAD").strip()
    (words,) = said(mini, "position-by-hand")
    assert words.endswith(f" by commit {commit[:10]} (By Hand, 2026-03-02), made by hand")


def test_a_sign_off_that_cannot_be_read_does_not_undo_another(mini: Mini) -> None:
    FAULTS["position-by-hand"].break_it(mini)
    mini.book.refresh()
    mini.book.document(ONE).sign_off()
    mini.write("signoffs/wm-aaaaa1/00000000-0000-aaaa.toml", b"=")
    mini.by_hand()
    mini.book.refresh()
    assert said(mini, "position-by-hand") == []


def test_of_a_merge_by_hand_only_its_own_positions_are_told(mini: Mini) -> None:
    """What was inked by the program on either side is not the merge's."""
    base = mini.book.head
    book = mini.book
    book.document(ONE).pencil.set("positions.seat.lift", "88.5")
    book.document(ONE).ink("taught")
    plain_git(mini.folder, "branch", "one")
    plain_git(mini.folder, "switch", "-q", "-c", "two", base)
    book.refresh()
    book.document(ONE).pencil.set("positions.fetch.reach", "121")
    book.document(ONE).ink("taught")
    plain_git(mini.folder, "merge", "-q", "--no-commit", "-s", "ours", "one")
    mini.edit(FILE_ONE, "lift = 89.000", "lift = 88.5")
    mini.edit(FILE_ONE, "reach = 310.250", "reach = 311.250")
    mini.by_hand()
    book.refresh()
    found = of(mini, "position-by-hand")
    assert [f.address for f in found] == ["positions.seat.reach"]


def test_what_stands_by_a_sync_is_not_told_of_the_side_that_lost(mini: Mini) -> None:
    """A position changed by hand here, another one inked there: a sync kept what was inked."""
    book = mini.book
    hub = mini.folder.parent / "hub.git"
    plain_git(mini.folder.parent, "clone", "-q", "--bare", str(mini.folder), str(hub))
    book.sync(str(hub))
    other = mini.folder.parent / "other"
    plain_git(mini.folder.parent, "clone", "-q", str(hub), str(other))
    there = mini.opener("bfer", other)
    there.document(ONE).pencil.set("positions.seat.lift", "88.5")
    there.document(ONE).ink("taught")
    there.sync(str(hub))
    mini.go(minutes=1)
    mini.edit(FILE_ONE, "lift = 89.000", "lift = 89.500")
    mini.edit(FILE_ONE, "reach = 120.500", "reach = 121.500")
    mini.by_hand()
    book.refresh()
    assert len(of(mini, "position-by-hand")) == 2
    book.sync()
    stands = book.document(ONE).values()
    assert [str(stands[f"positions.{a}"]) for a in ("seat.lift", "fetch.reach")] == [
        "88.5", "120.500",
    ]  # fmt: skip
    assert of(mini, "position-by-hand") == []


@pytest.mark.parametrize(
    ("path", "owner"),
    [
        ("runs/wm-aaaaa1", ONE),
        ("signoffs/wm-aaaaa1", ONE),
        ("events/north", "cells/north"),
        ("cells/north.toml", "cells/north"),
    ],
)
def test_what_was_taken_out_is_said_of_whom_it_belonged_to(
    mini: Mini, path: str, owner: str
) -> None:
    mini.book.document(ONE).runs.start(20)
    mini.book.document(ONE).sign_off()
    mini.book.event("north", "crash", "bang")
    target = mini.folder / path
    if target.is_dir():
        shutil.rmtree(target)
    else:
        target.unlink()
    mini.by_hand()
    mini.book.refresh()
    commit = plain_git(mini.folder, "rev-parse", "HEAD").strip()
    (found,) = of(mini, "taken-out")
    assert found.record == owner
    assert found.message.endswith(
        f"was taken out of the book by commit {commit[:10]} (By Hand, 2026-03-02)"
    )


def test_an_entry_that_was_taken_out_and_changed_says_both_ways_on(mini: Mini) -> None:
    FAULTS["taken-out-and-changed"].break_it(mini)
    (found,) = of(mini, "taken-out-and-changed")
    removal = plain_git(mini.folder, "rev-parse", "HEAD^1").strip()
    assert f" by Ana Lind ({removal[:10]}: not any more) and changed by Ana Lind (" in found.message
    assert f"`witnessmark set {ONE} notes.text=` takes it out again" in found.hint
    assert f"`witnessmark acknowledge {removal[:10]} --reason TEXT`" in found.hint


def test_what_was_taken_out_of_a_cell_and_changed_is_told_of_the_cell(mini: Mini) -> None:
    mini.cell["cell"]["codes"] = ["M71"]
    file, base = "cells/north.toml", mini.book.head
    mini.edit(file, '"M71"', '"M72"')
    mini.by_hand()
    changed = plain_git(mini.folder, "rev-parse", "HEAD").strip()
    plain_git(mini.folder, "switch", "-q", "-c", "other", base)
    text = (mini.folder / file).read_text()
    mini.write(file, re.sub(r"codes = \[[^]]*\]\n", "", text).encode())
    mini.by_hand()
    removal = plain_git(mini.folder, "rev-parse", "HEAD").strip()
    plain_git(mini.folder, "merge", "-q", "--no-commit", "-s", "ours", changed)
    plain_git(mini.folder, "checkout", "-q", changed, "--", file)
    mini.by_hand()
    mini.book.refresh()
    (found,) = of(mini, "taken-out-and-changed")
    assert (found.record, found.address, found.file) == ("cells/north", "cell.codes", file)
    assert f" by By Hand ({removal[:10]})" in found.message


# saves that were not their person's


@pytest.mark.parametrize(("digits", "told"), [(40, 0), (7, 0), (6, 1), (0, 1)])
def test_a_lead_says_how_far_was_looked_through_by_seven_digits_at_least(
    mini: Mini, digits: int, told: int
) -> None:
    assert mini.book
    doubtful = saved_by(mini, "bo", "alin")
    text = (mini.folder / "people.toml").read_text()
    if digits:
        text = text.replace("[people", f'looked_through = "{doubtful[:digits]}"\n\n[people', 1)
        mini.write("people.toml", text.encode())
        mini.by_hand()
    mini.book.refresh()
    assert len(of(mini, "save-under-other-login")) == told
    saved_by(mini, "bo", "alin")
    mini.book.refresh()
    (found,) = of(mini, "save-under-other-login")
    assert found.message.startswith(f"{1 + told} save")


# programs and photos


def test_a_program_that_calls_others_uses_tools_that_nobody_sees(mini: Mini) -> None:
    mini.one["tools"] = {"T07": {"what": "drill 5"}, "T4": {"what": "mill 8"}}
    with_program(mini, "N20 T4 M6", "N30 S900 M3")
    assert [f.address for f in of(mini, "tool-unused")] == ["tools.T07"]
    mini.write("programs/cup_1.nc", PROGRAM.replace(b"N30", b"N20 T4 M6\nN25 M98 P200\nN30"))
    assert of(mini, "tool-unused") == []


@pytest.mark.parametrize(
    ("code", "name", "known"),
    [
        ("G54", "G54", True), ("G54", "g54", True), ("G54.1 P4", "G54_1_P4", True),
        ("G54", "G55", False), ("G54.1 P4", "G54", False), ("G54.1 P4", "G54_1_P14", False),
        ("G54", "H54", False), ("G54", "54", False),
    ],
)  # fmt: skip
def test_an_offset_is_noted_by_any_spelling_of_its_code(
    mini: Mini, code: str, name: str, known: bool
) -> None:
    mini.one["offsets"] = {name: {"z": 1}}
    with_program(mini, f"N20 {code}", "N30 S900 M3")
    assert bool(of(mini, "offset-unlisted")) != known


def test_a_picture_that_is_cut_off_says_what_is_wrong_with_it(mini: Mini) -> None:
    FAULTS["photo-unreadable"].break_it(mini)
    (words,) = said(mini, "photo-unreadable")
    assert words.startswith("photos/jaws_1.jpg cannot be read as a picture (")
    assert "truncated" in words


@pytest.mark.parametrize(
    ("address", "seen"),
    [
        ("jaws.id", True), ("jaws.bite", True), ("positions.seat.lift", True),
        ("fingers.blank.bite", True), ("tray.unused", True), ("jaws.kept_at", False),
        ("jaws.clamp_pressure", False), ("fingers.blank.force", False), ("jaws.nothing", False),
        ("approach.seat.speed", False), ("lot.machining_seconds", False),
    ],
)  # fmt: skip
def test_what_can_be_seen_in_a_photo(address: str, seen: bool) -> None:
    """Sizes, places and marks; no forces, times or pressures, nor where a thing is kept."""
    assert is_seen(address) == seen


@pytest.mark.parametrize("key", ["file", "sha256"])
def test_a_photo_is_new_once_it_was_named_or_hashed_anew(mini: Mini, key: str) -> None:
    mini.one["photos"]["jaws"] = {"file": "photos/jaws_1.jpg", "shows": "jaws"}
    mini.files["photos/again.jpg"] = mini.files["photos/jaws_1.jpg"]
    mini.trees[f"records/{TWO}.toml"]["photos"]["more"] = {"file": "photos/again.jpg"}
    book = mini.book
    book.document(ONE).pencil.set("jaws.bite", "8.0")
    book.document(ONE).ink("bored anew")
    assert len(of(mini, "photo-older")) == 1
    book.document(ONE).pencil.set(
        f"photos.jaws.{key}", {"file": "photos/again.jpg"}.get(key, "now")
    )
    book.document(ONE).ink("looked at it: it shows them")
    assert of(mini, "photo-older") == []


# texts of every spelling


@pytest.mark.parametrize("spelling", ["as it is", "with carriage returns", "behind a mark"])
def test_a_finding_has_the_line_whatever_ends_the_lines(mini: Mini, spelling: str) -> None:
    assert mini.book
    data = (mini.folder / FILE_ONE).read_bytes().replace(b"bite = 7.5", b"bite = 8.5")
    line = data.split(b"\n").index(b"bite = 8.5") + 1
    if spelling == "with carriage returns":
        data = data.replace(b"\n", b"\r\n")
    elif spelling == "behind a mark":
        data = b"\xef\xbb\xbf" + data
    mini.write(FILE_ONE, data)
    (found,) = of(mini, "found-on-disk")
    assert (found.address, found.line) == ("jaws.bite", line)


def test_of_two_files_with_one_identity_one_may_be_unreadable(mini: Mini) -> None:
    assert mini.book
    data = (mini.folder / FILE_ONE).read_bytes().replace(b"[jaws]", b"# \xff\n[jaws]")
    mini.write("records/cup-op11.toml", data)
    mini.by_hand()
    mini.book.refresh()
    found = of(mini, "duplicate-id")
    line = data.split(b"\n").index(b'id = "wm-aaaaa1"') + 1
    assert [(f.record, f.line) for f in found] == [(ONE, line), ("cup-op11", line)]


def test_a_value_that_stands_in_no_table_of_its_own_makes_a_photo_old_too(mini: Mini) -> None:
    """As a hand may write it: before the first table, with its whole address."""
    mini.one["photos"]["jaws"]["shows"] = "jaws"
    assert mini.book
    text = (mini.folder / FILE_ONE).read_text()
    lines = [line for line in text.split("\n") if line not in ("[jaws]", "bite = 7.5")]
    jaws = [line for line in lines if re.match(r"(id = \"J|kept_at|clamp_pressure)", line)]
    rest = [line for line in lines if line not in jaws]
    head = [f"jaws.{line}" for line in (*jaws, "bite = 7.5")]
    mini.write(FILE_ONE, "\n".join([rest[0], *head, *rest[1:]]).encode())
    mini.by_hand()
    mini.book.refresh()
    assert of(mini, "photo-older", "unreadable") == [], "only the spelling is another"
    mini.edit(FILE_ONE, "jaws.bite = 7.5", "jaws.bite = 8.0")
    mini.by_hand()
    mini.book.refresh()
    assert len(of(mini, "photo-older")) == 1


def test_a_picture_of_another_kind_is_one_too(mini: Mini) -> None:
    data = picture(kind="WEBP")
    mini.files["photos/jaws_1.jpg"] = data
    mini.one["photos"]["jaws"]["sha256"] = sha(data)
    assert mini.findings() == []


def test_what_cannot_be_looked_up_is_said_for_each_rule_that_wanted_it_and_hides_no_other(
    mini: Mini, monkeypatch: pytest.MonkeyPatch
) -> None:
    FAULTS["no-role"].break_it(mini)
    assert mini.book
    mini.may_fail = True

    def broken(*_: object) -> list[object]:
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr(BookView, "gathered", broken)
    found = mini.findings()
    assert "no-role" in {f.rule for f in found}
    failed = {f.message.split(" failed on ")[0].removeprefix("the rule ")
              for f in found if f.rule == "rule-failed"}  # fmt: skip
    assert {"two-runs-open", "run-left-open", "other-positions", "file-unlinked"} <= failed
    assert {(f.record, f.file, f.line) for f in found if f.rule == "rule-failed"} == {
        ("book", "book.toml", 0)
    }
