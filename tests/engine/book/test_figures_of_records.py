"""Figures through the book: at marks, what changes do to them, what a sign-off makes of them."""

from __future__ import annotations

import pytest

from engine.book import Book
from engine.views import Figure
from engine.views.wording.figures import change_in_words
from schemas.errors import Refused, UsageError
from tests.demo_book import CARRIER, FOOT, RING, SEAT, SETTER, Desk


def free(book: Book, name: str, at: str = "now", of: str = "blank") -> Figure:
    found = [
        f for f in book.document(name).figures.all(at) if (f.name, f.at) == ("free height", of)
    ]
    assert len(found) == 1
    return found[0]


def test_figures_at_a_mark_go_with_the_record_as_it_stood(desk: Desk) -> None:
    desk.ink(CARRIER, jaws__bite="4.0")
    desk.lead.document(CARRIER).pencil.set("jaws.bite", "3.5")
    book = desk.lead
    assert free(book, CARRIER, "ink-1").value == pytest.approx(2.5)  # 22 - 4.5 - 15
    assert free(book, CARRIER).value == pytest.approx(3.0)
    assert free(book, CARRIER, "pencil").value == pytest.approx(3.5)
    assert free(book, CARRIER, "pencil").verdict == "tight"
    assert free(desk.by(SETTER), CARRIER, "pencil").value == pytest.approx(3.0)  # not my pencil


def test_figures_at_a_mark_go_with_the_policy_and_the_cell_as_they_stood(desk: Desk) -> None:
    desk.ink("book", policy__free_height_least="2.0")
    desk.ink("cells/west-mill", cell__payload_most="5.0")
    desk.ink(CARRIER, lot__quantity="310")
    book = desk.lead
    assert (free(book, CARRIER, "ink-1").limit, free(book, CARRIER).limit) == (3.0, 2.0)
    limits = [
        next(f.limit for f in book.document(CARRIER).figures.all(at) if f.name == "payload")
        for at in ("ink-1", "ink-2", "now")
    ]
    assert limits == [8.0, 5.0, 5.0]


def test_a_record_that_was_not_there_has_no_figures_then(desk: Desk) -> None:
    start = desk.lead.head
    desk.lead.document(CARRIER).copy("carrier-long", "longer sister")
    assert desk.lead.document("carrier-long").figures.all()
    with pytest.raises(UsageError, match="did not exist"):
        desk.lead.document("carrier-long").figures.all(start)
    with pytest.raises(UsageError, match="no record"):
        desk.lead.document("cells/west-mill").figures.all()


def test_a_cell_that_is_gone_is_missing_and_never_guessed(desk: Desk) -> None:
    desk.replace("cells/west-mill.toml", "format = 1", "format = ")
    desk.lead.document(CARRIER).pencil.set("lot.quantity", "310")
    assert free(desk.lead, CARRIER).verdict == "does not fit"  # the head has the cell
    assert {f.verdict for f in desk.lead.document(CARRIER).figures.all()} >= {
        "fits",
        "for information",
    }


# consequences


def test_a_change_in_pencil_is_told_by_its_consequences(desk: Desk) -> None:
    desk.lead.document(FOOT).pencil.set("jaws.bite", "20.5")
    found = desk.lead.document(FOOT).figures.consequences()
    lines = [change_in_words(change) for change in found]
    assert lines[0] == "free height (part) 18.50 -> 3.00 mm: tight"
    assert (found[0].old_verdict, found[0].new_verdict, found[0].limit) == ("fits", "tight", 3.0)
    assert desk.lead.document(FOOT).figures.consequences("pencil", "now")[0].new_verdict == "fits"


def test_fingers_that_bite_deeper_no_longer_agree_with_what_was_taught(desk: Desk) -> None:
    desk.lead.document(FOOT).pencil.set("fingers.blank.bite", "28.0")
    lines = [change_in_words(change) for change in desk.lead.document(FOOT).figures.consequences()]
    assert "agreement (lift-out - set-in: z) 0.01 -> 16.01 mm: does not fit" in lines[:2]


def test_no_change_has_no_consequences(desk: Desk) -> None:
    assert desk.lead.document(FOOT).figures.consequences() == []
    desk.lead.document(FOOT).pencil.set("notes.text", "wipe the stop")
    assert desk.lead.document(FOOT).figures.consequences() == []
    desk.lead.document("people").pencil.set("people.jun.name", "June")
    assert desk.lead.document("people").figures.consequences() == []


def test_a_changed_policy_is_a_consequence_between_marks(desk: Desk) -> None:
    before = desk.lead.head
    desk.ink("book", policy__free_height_least="2.0")
    verdicts = {
        (c.at, c.new_verdict)
        for c in desk.lead.document(CARRIER).figures.consequences(before, "now")
    }
    assert ("blank", "fits") in verdicts or ("blank", "tight") in verdicts


def test_a_value_taken_out_can_no_longer_be_told(desk: Desk) -> None:
    desk.lead.document(FOOT).pencil.clear("fingers.blank.friction")
    found = desk.lead.document(FOOT).figures.consequences()
    assert {c.new_verdict for c in found} == {"cannot tell"}
    assert all(c.new is None or c.name == "" for c in found if c.name == "friction")


def test_inking_says_what_got_worse_and_only_that(desk: Desk) -> None:
    worse = desk.ink(FOOT, jaws__bite="20.5")
    assert worse[0] == "free height (part) 18.50 -> 3.00 mm: tight"
    better = desk.ink(FOOT, jaws__bite="5.0")
    assert not [line for line in better if "free height" in line]


def test_a_figure_that_fails_never_keeps_an_ink_back(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> list[Figure]:
        raise ZeroDivisionError

    monkeypatch.setattr("engine.book.figures.all_figures", broken)
    messages = desk.ink(FOOT, fingers__blank__bite="12.7")
    assert "figures failed" in messages[0]
    assert str(desk.lead.document(FOOT).values()["fingers.blank.bite"]) == "12.7"


# sign-off


def test_a_sign_off_is_refused_where_a_figure_does_not_fit(desk: Desk) -> None:
    with pytest.raises(Refused, match=r"2 figures do not fit: free height \(part\) 2.20 mm"):
        desk.lead.document(CARRIER).sign_off()
    with pytest.raises(Refused, match="1 figure does not fit: agreement"):
        desk.lead.document(RING).sign_off("  ")
    desk.lead.document(CARRIER).sign_off("the pads are thin, tried by hand")
    (path,) = (desk.folder / "signoffs").glob("*/*.toml")
    text = path.read_text()
    assert "not_fitting = 2" in text
    assert "cannot_tell" not in text
    assert desk.lead.check([CARRIER])  # the finding stays: a sign-off makes nothing fit


def test_a_sign_off_counts_and_names_what_cannot_be_told(desk: Desk) -> None:
    desk.lead.document(SEAT).pencil.clear("fingers.part.friction")
    desk.lead.document(SEAT).ink("to be measured wet")
    done = desk.lead.document(SEAT).sign_off()
    (said,) = done.messages
    assert said.endswith("for want of fingers.part.friction; the sign-off counts them")
    (path,) = (desk.folder / "signoffs").glob("*/*.toml")
    count = sum(f.verdict == "cannot tell" for f in desk.lead.document(SEAT).figures.all())
    assert f"cannot_tell = {count}" in path.read_text()
    assert desk.lead.list_records(findings=False)
    state = {item.record: item.signed_off for item in desk.lead.list_records(findings=False)}
    assert state[SEAT] == "yes"


# what follows from taught values


def test_expected_positions_stand_beside_the_taught_ones(desk: Desk) -> None:
    items = {item.address: item for item in desk.lead.document(RING).derived.expected()}
    lift = items["positions.collect.lift"]
    # heights -1.397, bites -1.016, release height 0.254: 297.310 - 1.397 + 1.016 - 0.254
    assert str(lift.value) == "296.675"
    assert (str(lift.taught), lift.unit) == ("297.460", "mm")


def test_expected_positions_go_into_pencil_and_never_over_taught_ones(desk: Desk) -> None:
    book = desk.lead
    with pytest.raises(Refused, match="taught already"):
        book.document(RING).derived.pencil_expected()
    book.document(RING).pencil.clear("positions.collect.lift")
    draft = book.document(RING).derived.pencil_expected()
    assert draft is not None
    (mark,) = draft.marks
    assert (mark.address, str(mark.value), mark.note) == (
        "positions.collect.lift",
        "296.675",
        "derived",
    )
    named = book.document(RING).derived.pencil_expected(["positions.return.lift"])
    assert named is not None
    assert {m.address for m in named.marks} == {"positions.collect.lift", "positions.return.lift"}
    with pytest.raises(UsageError, match="nothing is expected"):
        book.document(RING).derived.pencil_expected(["positions.seat.turret_z"])


def test_the_tray_fit_gives_pitches_as_a_person_would_type_them(desk: Desk) -> None:
    fit = desk.lead.document(FOOT).derived.tray_fit()
    assert (fit.verdict, str(fit.pitch_across), str(fit.pitch_along)) == (
        "fits",
        "93.517",
        "101.489",
    )
    draft = desk.lead.document(FOOT).derived.pencil_tray_fit()
    assert draft is not None
    assert {(m.address, str(m.value), m.note) for m in draft.marks} == {
        ("tray.pitch_across", "93.517", "derived"),
        ("tray.pitch_along", "101.489", "derived"),
    }


def test_a_mistaught_pocket_is_named_and_gives_no_pitch(desk: Desk) -> None:
    desk.lead.document(FOOT).pencil.set("tray.taught.r3c5.traverse", "520.800")
    fit = desk.lead.document(FOOT).derived.tray_fit()
    assert (fit.verdict, fit.suspects) == ("does not fit", ("r3c5",))
    with pytest.raises(Refused, match="r3c5 is off"):
        desk.lead.document(FOOT).derived.pencil_tray_fit()


def test_without_taught_pockets_no_pitch_follows(desk: Desk) -> None:
    assert desk.lead.document(SEAT).derived.tray_fit().verdict == "cannot tell"
    with pytest.raises(Refused, match="too few pockets"):
        desk.lead.document(SEAT).derived.pencil_tray_fit()


# programs


def test_a_turning_cell_reads_diameters_and_its_own_feed_codes(desk: Desk) -> None:
    facts = desk.lead.document(SEAT).program.facts()
    assert facts.problems.count == 0  # arcs close only with X as a diameter
    assert (facts.unit, facts.tool_numbers) == ("mm", (1, 4, 6, 7, 9))
    desk.ink("cells/east-lathe", cell__cuts="milling")
    assert desk.lead.document(SEAT).program.facts().problems.count > 0


def test_what_changed_since_a_program_was_proved_out(desk: Desk) -> None:
    assert desk.lead.document(SEAT).program.changes() == []
    path = str(desk.lead.document(SEAT).values()["program.file"])
    desk.replace(path, "S1400", "S1350")
    desk.lead.document(SEAT).ink("chatter")  # the proved text stands in history only
    changes = desk.lead.document(SEAT).program.changes()
    assert changes
    assert {change.kind for change in changes} == {"speed"}
    desk.ink(SEAT, program__sha256="now")
    assert desk.lead.document(SEAT).program.changes() == []
    desk.ink(SEAT, program__sha256="0" * 64)
    assert desk.lead.document(SEAT).program.changes() is None


def test_a_record_without_a_program_says_so(desk: Desk) -> None:
    desk.lead.document(SEAT).pencil.clear("program.file")
    desk.lead.document(SEAT).ink("no program yet")
    with pytest.raises(UsageError, match="names no part program"):
        desk.lead.document(SEAT).program.facts()
    with pytest.raises(UsageError, match="no record"):
        desk.lead.document("people").program.facts()
    assert desk.lead.document("people").program.changes() is None
