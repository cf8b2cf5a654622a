"""Each save of the past against people.toml as it stood then: a login, a role, a last day."""

from __future__ import annotations

from datetime import date

import pytest

from engine.book import Book
from engine.checks import check
from engine.log.past import Past
from engine.people import saves
from engine.people.saves import NOT_ALLOWED, NOT_THEIRS, doubts
from engine.repo.commit_object import EMAIL_HOST, Signature
from engine.repo.message import compose
from engine.views import Finding
from tests.mini_book import SEAT, Stepping, plain_git, session_of
from tests.shop_floor import ink


@pytest.fixture
def ole(at):
    return at("ole")


def save(book: Book, person: str, login: str, kind: str = "ink", parents: tuple[str, ...] = ()):
    """A save with a check sum that says whatever it likes."""
    git = session_of(book).git
    head = git.head()
    who = Signature(person.title(), f"{person}@{EMAIL_HOST}", session_of(book).clock())
    said = {"Kind": kind, "Person": person, "Login": login}
    made = git.commit(head, {}, compose("saved", [], said), who, parents)
    assert git.move(git.branch(), made, head)
    book.refresh()
    return made


def told(book: Book) -> list[tuple[str, str, str, str]]:
    cells = [held.key for held in session_of(book).places("cell")]
    return [(d.commit, d.sort, d.person, d.why) for d in doubts(session_of(book).past, cells)]


def findings(book: Book) -> list[Finding]:
    return [f for f in check(session_of(book)) if f.rule.startswith("save-")]


@pytest.mark.parametrize(
    ("person", "login", "kind", "sort", "why"),
    [
        ("mira", "mira", "ink", "", ""),
        ("ole", "ole", "sign-off", "", ""),
        ("mira", "ole", "ink", NOT_THEIRS, "under the login ole, which was ole"),
        ("mira", "floor", "ink", NOT_THEIRS, "under the login floor, which was nobody's"),
        ("mira", "", "ink", NOT_THEIRS, "under the login that is not told, which was nobody's"),
        ("mira", "number 12", "run", NOT_THEIRS, "under the login number 12, which was nobody's"),
        ("mira", "mira", "sign-off", NOT_ALLOWED, "was no lead, and this was a lead's to save"),
        ("mira", "mira", "upgrade", NOT_ALLOWED, "was no lead, and this was a lead's to save"),
        ("mira", "mira", "merge", "", ""),
        ("ada", "ada", "run", NOT_ALLOWED, "had no role to save anything"),
        ("zoe", "zoe", "ink", NOT_ALLOWED, "was nobody in people.toml"),
    ],
)  # fmt: skip
def test_one_save(ole, person, login, kind, sort, why):
    made = save(ole, person, login, kind)
    assert told(ole) == ([(made, sort, person, why)] if sort else [])
    levels = {NOT_ALLOWED: ["error"], NOT_THEIRS: ["warning"]}
    assert [f.level for f in findings(ole)] == levels.get(sort, [])


def test_it_is_people_toml_as_it_stood_then(ole):
    fine = save(ole, "mira", "mira")
    ink(ole, "people", people__mira__logins="falk")
    late = save(ole, "mira", "mira")
    save(ole, "mira", "falk")
    ink(ole, "people", people__mira__logins="mira")
    assert [one[0] for one in told(ole)] == [late] != [fine]


def test_a_save_does_not_speak_for_itself(at, folder):
    """What a setter writes into people.toml counts from the next save on."""
    ole = at("ole")
    git = session_of(ole).git
    text = git.blob(git.tree(ole.head)["people.toml"]).replace(b'"setter"', b'"setter", "lead"', 1)
    blob, head = git.write_blob(text), ole.head
    who = Signature("Mira", f"mira@{EMAIL_HOST}", session_of(ole).clock())
    said = {"Kind": "ink", "Person": "mira", "Login": "mira"}
    made = git.commit(head, {"people.toml": blob}, compose("x", [], said), who)
    assert git.move(git.branch(), made, head)
    ole.refresh()
    assert told(ole) == [(made, NOT_ALLOWED, "mira", "was no lead, and this was a lead's to save")]


def test_who_has_left(ole):
    before = save(ole, "mira", "mira")
    day = session_of(ole).clock().date()
    ink(ole, "people", people__mira__left_on=f"{day:%Y-%m-%d}")
    save(ole, "mira", "mira")
    assert told(ole) == []
    session_of(ole).clock.go(days=1)
    after = save(ole, "mira", "mira")
    assert told(ole) == [(after, NOT_ALLOWED, "mira", f"had left on {day:%Y-%m-%d}")]
    assert before != after


def test_whoever_has_no_login_may_come_from_a_shared_or_an_unknown_one(ole):
    ole.document("people").pencil.set_all(
        {
            "people.jon.name": "Jon", "people.jon.roles": "setter", "people.mira.logins": "m, box",
            "people.ole.logins": "ole, box",
        }
    )  # fmt: skip
    ole.document("people").ink()
    for login in ("box", "unknown", ""):
        save(ole, "jon", login)
    save(ole, "mira", "box")
    assert told(ole) == []
    bad = save(ole, "jon", "m")
    assert told(ole) == [(bad, NOT_THEIRS, "jon", "under the login m, which was mira")]


def test_a_commit_by_hand_is_no_save(ole, folder):
    plain_git(folder, "commit", "-q", "--allow-empty", "-m", "x\n\nKind: ink\nPerson: mira")
    ole.refresh()
    assert told(ole) == []


def test_on_two_sides_of_a_merge_each_side_has_its_own(ole, folder):
    """A side on which the login was taken away, and one on which it still stood."""
    base = ole.head
    ink(ole, "people", people__mira__logins="falk")
    bad, ours = save(ole, "mira", "mira"), session_of(ole).git.head()
    git = session_of(ole).git
    who = Signature("Mira", f"mira@{EMAIL_HOST}", session_of(ole).clock())
    said = {"Kind": "ink", "Person": "mira", "Login": "mira"}
    side = git.commit(base, {}, compose("there", [], said), who)
    merge = save(ole, "ole", "ole", "merge", (side,))
    assert session_of(ole).git.raw_commit(merge).parents == (ours, side)
    assert [one[0] for one in told(ole)] == [bad]
    later = save(ole, "mira", "mira")
    assert [one[0] for one in told(ole)] == [bad, later]


@pytest.mark.parametrize("index", [True, False])
def test_only_what_is_new_is_looked_at(ole, monkeypatch, index):
    if not index:
        monkeypatch.setenv("WITNESSMARK_NO_INDEX", "1")
    book = Book.open(ole.folder, login="ole", clock=Stepping())
    first = save(book, "mira", "ole")
    assert [one[0] for one in told(book)] == [first]
    looked: list[str] = []
    real = Past.saved
    monkeypatch.setattr(
        Past, "saved", lambda past, commit: looked.append(commit) or real(past, commit)
    )
    assert [one[0] for one in told(book)] == [first]
    assert looked == []
    second = save(book, "mira", "ole")
    assert [one[0] for one in told(book)] == [first, second]
    assert looked == [second]
    book.close()


def test_a_rewritten_past_is_looked_at_anew(ole, folder):
    bad = save(ole, "mira", "ole")
    assert [one[0] for one in told(ole)] == [bad]
    plain_git(folder, "reset", "-q", "--hard", "HEAD~1")
    ole.refresh()
    assert told(ole) == []
    other = save(ole, "mira", "floor")
    assert [one[0] for one in told(ole)] == [other]


def test_many_saves_are_one_finding_and_a_lead_who_has_looked_says_so(ole):
    made = [save(ole, "mira", "floor") for _ in range(3)]
    (found,) = findings(ole)
    assert (found.rule, found.record, found.address) == (
        "save-under-other-login", "people", "people.mira.logins",
    )  # fmt: skip
    assert found.message.startswith("3 saves by Mira Falk under the login floor")
    assert made[0][:10] in found.message
    assert made[-1][:10] in found.message
    assert f"looked_through={ole.head[:12]}" in found.hint
    ole.document("people").pencil.set("looked_through", ole.head[:12])
    ole.document("people").ink("asked her: the box was new")
    assert findings(ole) == []
    again = save(ole, "mira", "floor")
    (found,) = findings(ole)
    assert found.message.startswith("1 save by Mira Falk")
    assert again[:10] in found.message
    ole.document("people").pencil.set("looked_through", "no commit")
    ole.document("people").ink("x")
    assert findings(ole)[0].message.startswith("4 saves")


def test_people_that_cannot_be_read_judge_nobody(ole, folder):
    (folder / "people.toml").write_text("not TOML [")
    plain_git(folder, "commit", "-qam", "broken")
    ole.refresh()
    save(ole, "mira", "floor")
    assert told(ole) == []


def test_a_day_of_work_is_without_doubt(at):
    mira, ole = at("mira"), at("ole")
    ink(mira, SEAT, lot__quantity="5")
    mira.document(SEAT).runs.start()
    mira.document(SEAT).runs.stop(5, 0)
    mira.event("lathe", "crash", "x")
    ole.document(SEAT).sign_off()
    ink(ole, "cells/lathe", axes__reach__speed="500")
    ink(ole, "book", policy__hold_safety="3")
    mira.document(SEAT).rename("seat-op11")
    assert told(ole) == []
    assert saves.PATH in session_of(ole).entries
    assert date(2026, 3, 2) <= session_of(ole).clock().date()
