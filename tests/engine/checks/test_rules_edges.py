"""Where a rule begins to speak and where it is silent: people, pencil, cells and runs.

Each edge is worked by hand from what the rule promises in `docs/rules.md`.
"""

from __future__ import annotations

from datetime import date

import pytest

from .conftest import ONE, TWO, Mini, picture
from .faults_figures import with_program

TODAY = date(2026, 3, 2)


def said(mini: Mini, *rules: str) -> list[tuple[str, str, str]]:
    """(document, address, message) of these rules' findings."""
    return [(f.record, f.address, f.message) for f in mini.findings() if f.rule in rules]


# people


def test_everybody_of_one_name_is_told_beside_the_first(mini: Mini) -> None:
    for key, name in (("cy", "BO FERRER"), ("di", " Bo  Ferrer "), ("ed", "Ed Ohm")):
        mini.people[key] = {"name": name.strip(), "roles": ["setter"]}
    found = said(mini, "same-name")
    assert [(document, address) for document, address, _ in found] == [
        ("people", "people.cy.name"),
        ("people", "people.di.name"),
    ]
    assert found[0][2] == "bo and cy are both called BO FERRER"


def test_a_login_of_several_people_names_them_all_and_twice_is_not_several(mini: Mini) -> None:
    mini.people["bo"]["logins"] = ["bfer", "floor", "bfer"]
    mini.people["cy"] = {"name": "Cy Dahl", "roles": ["setter"], "logins": ["floor"]}
    assert said(mini, "shared-login") == [
        ("people", "people.cy.logins", "the login floor stands for Bo Ferrer and Cy Dahl")
    ]


def test_nobody_without_a_role_and_one_without_logins_is_no_fault(mini: Mini) -> None:
    mini.people["cy"] = {"name": "Cy Dahl", "roles": []}
    mini.people["di"] = {"name": "Di Eck", "roles": ["auditor"]}
    assert said(mini, "no-role", "shared-login", "no-lead") == [
        ("people", "people.cy.roles", "Cy Dahl has no role")
    ]


@pytest.mark.parametrize(("days", "missing"), [(0, False), (1, True)])
def test_a_lead_is_there_until_the_end_of_the_last_day(
    mini: Mini, days: int, missing: bool
) -> None:
    mini.people["ana"]["left_on"] = TODAY
    assert mini.book
    mini.go(days=days)
    assert bool(said(mini, "no-lead")) == missing


def test_a_setter_is_no_lead(mini: Mini) -> None:
    assert mini.book
    mini.people["ana"]["roles"] = ["setter", "auditor"]
    people = (mini.folder / "people.toml").read_text()
    mini.write("people.toml", people.replace('"lead"', '"auditor"').encode())
    mini.by_hand()
    mini.book.refresh()
    assert said(mini, "no-lead") == [("people", "people", "no lead is here who could sign off")]


@pytest.mark.parametrize(
    ("was", "now", "why"),
    [
        ("", "", ""),
        ('[\n    "setter",\n]', '[\n    "auditor",\n]', "Bo Ferrer, who only reads,"),
        ("[people.bo]", "[people.cy]", "bo, who is not in people.toml,"),
        ('name = "Bo Ferrer"', 'name = "Bo Ferrer"\nleft_on = 2026-03-01',
         "Bo Ferrer, who left on 2026-03-01,"),
        ('name = "Bo Ferrer"', 'name = "Bo Ferrer"\nleft_on = 2026-03-02', ""),
        ('name = "Bo Ferrer"', 'name = "Bo Ferrer"\nleft_on = 2026-03-03', ""),
    ],
)  # fmt: skip
def test_pencil_of_who_can_no_longer_ink_is_told_with_the_reason(
    mini: Mini, was: str, now: str, why: str
) -> None:
    bo = mini.as_bo()
    bo.document(ONE).pencil.set("jaws.bite", "8.0")
    bo.document(TWO).pencil.set("jaws.bite", "8.0")
    bo.document(TWO).pencil.set("jaws.id", "J-9")
    if was:
        mini.edit("people.toml", was, now)
        mini.by_hand()
    found = said(mini, "pencil-left-behind")
    assert found == (
        [
            (ONE, "jaws.bite", f"{why} has 1 value in pencil"),
            (TWO, "jaws.bite", f"{why} has 2 values in pencil"),
        ]
        if why
        else []
    )


# pencil


def test_pencil_is_stale_after_the_days_of_the_policy_and_not_at_them(mini: Mini) -> None:
    bo = mini.as_bo()
    bo.document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(hours=1)
    bo.document(ONE).pencil.set("jaws.id", "J-9")
    mini.go(days=3, hours=-1)
    assert said(mini, "stale-pencil") == []
    mini.go(seconds=1)
    assert said(mini, "stale-pencil") == [
        (ONE, "jaws.bite", "Bo Ferrer has had 2 values in pencil for 3 days")
    ]


def test_the_oldest_value_counts_and_one_is_said_as_one(mini: Mini) -> None:
    bo = mini.as_bo()
    bo.document(ONE).pencil.set("jaws.id", "J-9")
    mini.go(days=2)
    bo.document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=2)
    assert [address for _, address, _ in said(mini, "stale-pencil")] == ["jaws.id"]
    bo.document(ONE).pencil.rub_out(["jaws.id"])
    mini.go(days=3)
    assert said(mini, "stale-pencil") == [
        (ONE, "jaws.bite", "Bo Ferrer has had 1 value in pencil for 5 days")
    ]


def test_a_policy_without_days_calls_no_pencil_stale(mini: Mini) -> None:
    del mini.trees["book.toml"]["policy"]
    mini.as_bo().document(ONE).pencil.set("jaws.bite", "8.0")
    mini.go(days=900)
    assert said(mini, "stale-pencil") == []


def test_of_contested_pencil_each_value_is_told_with_who_inked_it(mini: Mini) -> None:
    bo = mini.as_bo()
    for address, text in (("jaws.bite", "8.0"), ("positions.seat.lift", "90"), ("notes.text", "x")):
        bo.document(ONE).pencil.set(address, text)
    mini.book.document(ONE).pencil.set("jaws.bite", "9.0")
    mini.book.document(ONE).ink("bored anew")
    found = said(mini, "contested-pencil")
    assert {address for _, address, _ in found} == {"jaws.bite", "positions.seat.lift"}
    assert all("Bo Ferrer has it in pencil, and Ana Lind inked it" in words for *_, words in found)


# cells


@pytest.mark.parametrize(
    ("table", "key", "value", "rule", "address", "words"),
    [
        (("legs", "out"), "start", "bay", "leg-unknown", "legs.out.start", "no station 'bay'"),
        (("legs", "out"), "end", "bay", "leg-unknown", "legs.out.end", "no station 'bay'"),
        (("legs", "out"), "moves", ["lift", "reach + arm"], "leg-unknown", "legs.out.moves",
         "no axis 'arm'"),
        (("legs", "out"), "moves", [" lift ", "reach + lift"], "", "", ""),
        (("cell",), "round", ["fetch", "bay"], "round-unknown", "cell.round", "no station 'bay'"),
        (("cell",), "axes", ["reach", "arm"], "axis-unknown", "cell.axes", "no axis 'arm'"),
        (("stations", "seat"), "axes", ["reach", "lift", "arm"], "axis-unknown",
         "stations.seat.axes", "no axis 'arm'"),
        (("stations", "seat"), "gripper", "two", "gripper-unknown", "stations.seat.gripper",
         "no gripper 'two'"),
        (("grippers", "one"), "turned_by", "arm", "axis-unknown", "grippers.one.turned_by",
         "no axis 'arm'"),
        (("bed",), "across_axis", "arm", "axis-unknown", "bed.across_axis", "no axis 'arm'"),
        (("bed",), "along_axis", "arm", "axis-unknown", "bed.along_axis", "no axis 'arm'"),
        (("bed",), "up_axis", "arm", "axis-unknown", "bed.up_axis", "no axis 'arm'"),
        (("axes", "lift"), "least", 501, "travel-reversed", "axes.lift.least",
         "begins at 501 and ends at 500"),
        (("cell",), "codes", ["M71", "M 072"], "", "", ""),
        (("cell",), "codes", ["MM71"], "code-unreadable", "cell.codes", "'MM71' is no code"),
        (("cell",), "ends_tended", ["M30", "?"], "code-unreadable", "cell.ends_tended", "'?'"),
        (("cell",), "ends_attended", ["?"], "code-unreadable", "cell.ends_attended", "'?'"),
        (("cell",), "ends_attended", ["M2", "M030"], "ends-unclear", "cell.ends_attended",
         "M30 cannot both"),
    ],
)  # fmt: skip
def test_a_name_in_a_cell_that_names_nothing(
    mini: Mini, table: tuple[str, ...], key: str, value: object, rule: str, address: str, words: str
) -> None:
    place = mini.cell
    for step in table:
        place = place[step]
    place[key] = value
    wanted = ("leg-unknown", "round-unknown", "axis-unknown", "gripper-unknown",
              "travel-reversed", "code-unreadable", "ends-unclear")  # fmt: skip
    found = [f for f in mini.findings() if f.rule in wanted]
    assert [(f.rule, f.record, f.address) for f in found] == (
        [(rule, "cells/north", address)] if rule else []
    )
    assert not rule or words in found[0].message


def test_a_travel_of_nothing_is_not_reversed(mini: Mini) -> None:
    mini.cell["axes"]["lift"].update(least=500, most=500)
    assert said(mini, "travel-reversed") == []


# runs


@pytest.mark.parametrize(("seconds", "told"), [(0, False), (1, True)])
def test_a_run_is_left_open_after_a_week_and_not_at_it(
    mini: Mini, seconds: int, told: bool
) -> None:
    mini.book.document(ONE).runs.start(20)
    mini.book.document(ONE).runs.stop(20, 0)
    mini.book.document(ONE).runs.start(20)
    mini.go(days=7, seconds=seconds)
    found = said(mini, "run-left-open")
    assert found == ([(ONE, "", "run 2 has been open for 7 days")] if told else [])


def test_two_open_runs_on_one_cell_name_each_other_and_other_cells_do_not_count(
    mini: Mini,
) -> None:
    mini.trees["cells/south.toml"] = {**mini.cell, "cell": {**mini.cell["cell"], "name": "South"}}
    mini.trees[f"records/{TWO}.toml"]["record"]["cell"] = "south"
    book = mini.book
    for name, number in ((ONE, 1), (TWO, 1)):
        book.document(name).runs.start(20)
        assert book.document(name).runs.all()[-1].number == number
    assert said(mini, "two-runs-open") == []
    book.document(ONE).copy("cup-op30")
    book.document("cup-op30").runs.start(5)
    assert said(mini, "two-runs-open") == [
        (ONE, "record.cell", "run 1 is open on north, and so is one of cup-op30"),
        ("cup-op30", "record.cell", f"run 1 is open on north, and so is one of {ONE}"),
    ]
    book.document(ONE).copy("cup-op40")
    book.document("cup-op40").runs.start(5)
    assert f"so is one of {ONE} and cup-op40" in said(mini, "two-runs-open")[1][2]
    book.document(ONE).runs.stop(20, 0)
    book.document("cup-op40").runs.stop(5, 0)
    assert said(mini, "two-runs-open") == []


# on disk


def test_a_value_that_is_gone_or_new_on_disk_is_said_in_words(mini: Mini) -> None:
    assert mini.book
    mini.edit(f"records/{ONE}.toml", "bite = 7.5\n", "")
    mini.edit(f"records/{ONE}.toml", "[jaws]", f'[tools.T1]\nwhat = "{"d" * 70}"\n\n[jaws]')
    assert said(mini, "found-on-disk") == [
        (ONE, "tools.T1.what", f"{'d' * 59}… on disk, nothing inked"),
        (ONE, "jaws.bite", "nothing on disk, 7.5 inked"),
    ]


def test_a_text_of_sixty_signs_is_said_whole(mini: Mini) -> None:
    assert mini.book
    mini.edit(f"records/{ONE}.toml", 'id = "J-1"', f'id = "{"j" * 60}"')
    assert said(mini, "found-on-disk") == [(ONE, "jaws.id", f"{'j' * 60} on disk, J-1 inked")]


def test_a_photo_that_was_linked_anew_is_new_though_its_bytes_are_old(mini: Mini) -> None:
    mini.one["photos"]["jaws"] = {"file": "photos/jaws_1.jpg", "shows": "jaws"}
    mini.trees[f"records/{TWO}.toml"]["photos"]["more"] = {"file": "photos/more.jpg"}
    mini.files["photos/more.jpg"] = picture(33)
    book = mini.book
    book.document(ONE).pencil.set("jaws.bite", "8.0")
    book.document(ONE).ink("bored anew")
    assert [f.rule for f in mini.findings()] == ["photo-older"]
    book.document(ONE).pencil.set("photos.jaws.file", "photos/more.jpg")
    book.document(ONE).ink("this one shows them")
    assert "photo-older" not in [f.rule for f in mini.findings()]


# the program's moves


@pytest.mark.parametrize(
    ("axis", "block", "message"),
    [
        ({"kind": "rotary", "unit": "deg", "letter": "C", "most": 360}, "G53 G0 C360.", ""),
        ({"kind": "rotary", "unit": "deg", "letter": "C", "most": 360}, "G53 G0 C400.",
         "moves head to 400.000 deg (line 3); its travel ends at 360"),
        ({"kind": "rotary", "unit": "deg", "letter": "C", "most": 360}, "G53 G0 C-1.",
         "moves head to -1.000 deg (line 3); its travel ends at 0"),
        ({"kind": "linear", "unit": "mm", "letter": "Z", "most": 360}, "G53 G0 Z360.", ""),
        ({"kind": "linear", "unit": "mm", "letter": "Z", "most": 360}, "G53 G0 Z360.001",
         "moves head to 360.001 mm (line 3); its travel ends at 360"),
        ({"kind": "linear", "unit": "mm", "letter": "Z"}, "G53 G0 Z900.", ""),
        ({"kind": "linear", "unit": "mm", "letter": "Z", "most": 360, "of": "loader"},
         "G53 G0 Z900.", ""),
    ],
)  # fmt: skip
def test_a_move_in_the_machines_own_coordinates(
    mini: Mini, axis: dict[str, object], block: str, message: str
) -> None:
    mini.cell["axes"]["head"] = {"of": "machine", "least": 0, **axis}
    with_program(mini, f"N20 {block}")
    found = said(mini, "program-travel")
    assert [words for *_, words in found] == [f"programs/cup_1.nc {message}"] * bool(message)


@pytest.mark.parametrize(
    ("offsets", "blocks", "told"),
    [
        ({"G54": {"x": -20}}, ["G54", "G1 X10. F200"], True),
        ({"G54": {"X": -20}}, ["G54", "G1 X10. F200"], True),
        ({"G54": {"x": -20}}, ["G54", "G1 Y10. F200"], False),  # X is noted, and not moved
        ({"G54": {"x": -20}}, ["G54", "G1 Z10. F200"], False),
        ({"G54": {"x": -20}, "G55": {"x": 0}}, ["G54", "G1 X10. F200", "G55"], False),  # which one
        ({"G55": {"x": -20}}, ["G54", "G1 X10. F200"], False),
        ({"G54": {"x": -20}}, ["G54", "G10 L2 P1 X0", "G1 X10. F200"], False),  # written meanwhile
    ],
)
def test_a_move_in_a_noted_offset_counts_where_one_is_used_and_nothing_is_guessed(
    mini: Mini, offsets: dict[str, dict[str, int]], blocks: list[str], told: bool
) -> None:
    mini.cell["axes"]["head"] = {
        "of": "machine", "kind": "linear", "unit": "mm", "least": 0, "most": 400, "letter": "X",
    }  # fmt: skip
    mini.cell["cell"]["cuts"] = "milling"
    mini.one["offsets"] = offsets
    with_program(mini, *blocks)
    assert bool(said(mini, "program-travel")) == told


# files and records beside each other


def test_three_records_on_one_program_are_counted(mini: Mini) -> None:
    mini.trees[f"records/{TWO}.toml"]["program"] = dict(mini.one["program"])
    mini.files.pop("programs/cup_2.nc")
    mini.trees["records/cup-op30.toml"] = {
        **mini.one,
        "record": {**mini.one["record"], "id": "wm-aaaaa3"},
        "positions": {"seat": {"reach": 1, "lift": 2}},
    }
    found = said(mini, "other-positions")
    assert [document for document, *_ in found] == [ONE, TWO, "cup-op30"]
    assert all(words.endswith("(and 1 more record does)") for *_, words in found)
    assert "positions: seat" in found[0][2]
    assert "positions: seat, fetch" in found[2][2]


def test_of_two_files_with_one_identity_each_has_the_line_where_it_stands(mini: Mini) -> None:
    assert mini.book
    path = f"records/{ONE}.toml"
    mini.write("records/cup-op11.toml", (mini.folder / path).read_bytes())
    mini.by_hand()
    mini.book.refresh()
    found = [f for f in mini.findings() if f.rule == "duplicate-id"]
    lines = (mini.folder / path).read_text().split("\n")
    assert [(f.record, f.message, lines[f.line - 1]) for f in found] == [
        (ONE, "cup-op11 has the identity wm-aaaaa1 too", 'id = "wm-aaaaa1"'),
        ("cup-op11", f"{ONE} has the identity wm-aaaaa1 too", 'id = "wm-aaaaa1"'),
    ]


def test_faults_of_a_program_are_counted(mini: Mini) -> None:
    with_program(mini, "N20 G1 X1..5", "N30 G1 X2..5", "N32 G1 X3..5")
    (found,) = said(mini, "program-faults")
    assert found[2].startswith("programs/cup_1.nc, line 3: ")
    assert found[2].endswith(", and 2 more")
    mini.edit("programs/cup_1.nc", "N30 G1 X2..5", "N30 G1 X2.5")
    mini.edit("programs/cup_1.nc", "N32 G1 X3..5", "N32 G1 X3.5")
    (found,) = said(mini, "program-faults")
    assert ", and" not in found[2]


def test_a_picture_that_is_cut_off_is_told_in_the_decoders_words(mini: Mini) -> None:
    mini.files["photos/jaws_1.jpg"] = picture(50)[:-40]
    (found,) = said(mini, "photo-unreadable")
    assert "photos/jaws_1.jpg cannot be read as a picture (" in found[2]
    assert not found[2].endswith("(OSError)")
