"""Who may do what: the login tells; a choice only where it does not."""

import hashlib
import os
import pwd
import re
from datetime import date, timedelta

import pytest

from engine.book import Book
from engine.log.document_cache import DocumentCache
from engine.log.walk import WalkedPast
from engine.people.identity import hints, identify
from engine.views import Hint
from schemas.errors import Refused, UsageError
from schemas.people import People
from tests.mini_book import SEAT, Stepping, plain_git, session_of
from tests.shop_floor import log_in

DAY = date(2026, 3, 2)
PEOPLE = People.model_validate(
    {
        "format": 1,
        "people": {
            "mira": {"name": "Mira", "roles": ["setter"], "logins": ["mira", "floor"]},
            "jon": {"name": "Jon", "roles": ["setter"], "logins": ["floor"]},
            "ole": {"name": "Ole", "roles": ["setter", "lead"], "logins": ["ole"]},
            "ada": {"name": "Ada", "roles": ["auditor"], "logins": ["ada"]},
            "tess": {"name": "Tess", "roles": ["lead"], "logins": ["tess"], "left_on": DAY},
            "bo": {"name": "Bo", "roles": ["setter"]},
            "none": {"name": "None", "roles": []},
        },
    }
)


@pytest.mark.parametrize(
    ("login", "chosen", "key"),
    [
        ("mira", "", "mira"),
        ("mira", "mira", "mira"),
        ("floor", "", ""),
        ("floor", "jon", "jon"),
        ("unknown", "", ""),
        ("unknown", "bo", "bo"),
        ("unknown", "none", "none"),
        ("floor", "bo", "bo"),
        ("floor", "mira", "mira"),
        ("", "", ""),
        ("MIRA", "", ""),
    ],
)
def test_the_login_tells_or_leaves_a_choice(login, chosen, key):
    who = identify(PEOPLE, login, chosen, DAY)
    assert (who.key, who.login) == (key, login)
    if not key:
        assert not who.may_ink
        without = {"bo", "none"}
        assert set(who.candidates) == ({"mira", "jon"} | without if login == "floor" else without)


@pytest.mark.parametrize(
    ("login", "chosen", "error"),
    [
        ("mira", "ole", Refused),
        ("floor", "ole", Refused),
        ("ada", "mira", Refused),
        ("mira", "bo", Refused),
        ("unknown", "ole", Refused),
        ("unknown", "tess", Refused),
        ("", "ole", Refused),
        ("OLE", "ole", Refused),
        ("floor2", "jon", Refused),
        ("mira", "who", UsageError),
    ],
)
def test_a_choice_never_overrules_a_login(login, chosen, error):
    with pytest.raises(error) as caught:
        identify(PEOPLE, login, chosen, DAY)
    assert caught.value.hint


@pytest.mark.parametrize(
    ("key", "day", "ink", "lead"),
    [
        ("mira", DAY, True, False),
        ("ole", DAY, True, True),
        ("ada", DAY, False, False),
        ("tess", DAY, True, True),
        ("tess", DAY + timedelta(days=1), False, False),
        ("none", DAY, False, False),
    ],
)
def test_roles_and_the_last_day(key, day, ink, lead):
    login = (PEOPLE.people[key].logins or ["unknown"])[0]
    who = identify(PEOPLE, login, key, day)
    assert (who.may_ink, who.may_lead) == (ink, lead)


ACTS = {
    "set": lambda b: b.document(SEAT).pencil.set("lot.quantity", "5"),
    "clear": lambda b: b.document(SEAT).pencil.clear("lot.quantity"),
    "ink": lambda b: b.document(SEAT).ink("x"),
    "new": lambda b: b.new("fresh", part="x", cell="lathe", units="mm"),
    "copy": lambda b: b.document(SEAT).copy("fresh"),
    "rename": lambda b: b.document(SEAT).rename("fresh"),
    "retire": lambda b: b.document(SEAT).retire(),
    "restore": lambda b: b.document(SEAT).restore("ink-1", "", "x"),
    "run": lambda b: b.document(SEAT).runs.start(),
    "stop": lambda b: b.document(SEAT).runs.stop(1, 0),
    "event": lambda b: b.event("lathe", "crash", "x"),
    "sign-off": lambda b: b.document(SEAT).sign_off(),
    "put back": lambda b: b.document(SEAT).on_disk.put_back(),
    "take": lambda b: b.document(SEAT).on_disk.take(),
    "undo": lambda b: b.document(SEAT).pencil.undo(),
    "bring back": lambda b: b.document(SEAT).pencil.bring_back(),
    "keep": lambda b: b.document(SEAT).pencil.keep(),
    "rub out": lambda b: b.document(SEAT).pencil.rub_out(),
}


@pytest.mark.parametrize("login", ["ada", "unknown"])
@pytest.mark.parametrize("act", ACTS)
def test_who_only_reads_changes_nothing(folder, login, act):
    book = Book.open(folder, login=login, clock=Stepping())
    head = book.head
    with pytest.raises(Refused) as caught:
        ACTS[act](book)
    assert caught.value.hint
    book.refresh()
    assert book.head == head
    assert book.drafts() == []
    assert book.list_records()
    book.close()


@pytest.mark.parametrize(
    ("document", "address", "value"),
    [
        ("cells/lathe", "axes.reach.speed", "5"),
        ("people", "people.mira.roles", "lead"),
        ("book", "policy.hold_safety", "1"),
    ],
)
def test_cells_people_and_policy_are_a_leads(at, document, address, value):
    mira, ole = at("mira"), at("ole")
    with pytest.raises(Refused, match="no lead"):
        mira.document(document).pencil.set(address, value)
    ole.document(document).pencil.set(address, value)
    with pytest.raises(Refused, match="no lead"):
        mira.document(document).restore("ink-1", "", "x")
    with pytest.raises(Refused, match="no lead"):
        mira.document(SEAT).sign_off()
    ole.document(document).ink()
    assert at("ada").document(document).past.trace(address)[-1].who.key == "ole"


def test_a_shared_login_stands_in_history_beside_the_person(folder):
    ole = Book.open(folder, login="ole", clock=Stepping())
    ole.document("people").pencil.set_all(
        {"people.mira.logins": "mira, floor", "people.ole.logins": "ole, floor"}
    )
    ole.document("people").ink()
    box = Book.open(folder, login="floor", clock=Stepping())
    assert box.identity.key == ""
    assert set(box.persons()) == {"mira", "ole"}
    box.choose("mira")
    box.document(SEAT).pencil.set("lot.quantity", "5")
    box.document(SEAT).ink()
    last = box.document(SEAT).past.trace("lot.quantity")[-1]
    assert (last.who.key, last.who.login, last.verified) == ("mira", "floor", True)
    with pytest.raises(Refused):
        box.choose("ada")


def test_a_forged_name_is_not_verified(at, folder):
    path = folder / f"records/{SEAT}.toml"
    path.write_text(path.read_text().replace("quantity = 110", "quantity = 1"))
    plain_git(folder, "commit", "-qam", "x\n\nKind: ink\nPerson: mira\n")
    path.write_text(path.read_text().replace("quantity = 1", "quantity = 2"))
    plain_git(
        folder,
        "-c",
        "user.email=mira@witnessmark",
        "commit",
        "-qam",
        "x\n\nKind: ink\nPerson: ole\n",
    )
    assert [i.verified for i in at("ada").document(SEAT).past.trace("lot.quantity")] == [
        True,
        False,
        False,
    ]


# who it is comes from the kernel


@pytest.mark.parametrize("name", ["LOGNAME", "USER", "LNAME", "USERNAME", "SUDO_USER"])
def test_a_variable_makes_nobody_of_anybody(folder, monkeypatch, name):
    log_in(monkeypatch, "mira")
    monkeypatch.setenv(name, "ole")
    book = Book.open(folder, clock=Stepping())
    me = book.identity
    assert (me.key, me.login) == ("mira", "mira")
    assert Hint(name, "ole") in me.hints
    with pytest.raises(Refused):
        book.choose("ole")
    with pytest.raises(Refused, match="no lead"):
        book.document(SEAT).sign_off()
    book.document(SEAT).pencil.set("lot.quantity", "5")
    book.document(SEAT).ink()
    last = book.document(SEAT).past.trace("lot.quantity")[-1]
    assert (last.who.key, last.who.login, last.verified) == ("mira", "mira", True)
    assert Hint(name, "ole") in book.identity.hints
    book.close()


def test_what_agrees_with_the_kernel_is_no_hint(monkeypatch):
    log_in(monkeypatch, "mira")
    for name in ("LOGNAME", "USER", "LNAME", "USERNAME", "SUDO_USER"):
        monkeypatch.setenv(name, "mira")
    assert not [hint for hint in hints() if hint.source.isupper()]


def test_an_account_without_a_name_is_called_by_its_number(folder, monkeypatch):
    def nobody(number):
        raise KeyError(number)

    monkeypatch.setattr(pwd, "getpwuid", nobody)
    book = Book.open(folder, clock=Stepping())
    assert book.identity.login == f"number {os.getuid()}"
    assert book.identity.key == ""
    book.close()
    ole = Book.open(folder, login="ole", clock=Stepping())
    ole.document("people").pencil.set("people.mira.logins", f"mira, number {os.getuid()}")
    ole.document("people").ink()
    ole.close()
    assert Book.open(folder, clock=Stepping()).identity.key == "mira"


# what verified says


def _quantity(folder, number):
    path = folder / f"records/{SEAT}.toml"
    text = path.read_text()
    path.write_text(re.sub("quantity = [0-9]+", f"quantity = {number}", text))


def _as_mira(folder, *words, **more):
    name = ("-c", "user.name=Mira Falk", "-c", "user.email=mira@witnessmark")
    return plain_git(folder, *name, *words, **more)


def _verified(book):
    return [item.verified for item in book.document(SEAT).past.trace("lot.quantity")]


@pytest.fixture
def inked(at):
    """Mira's save of a quantity, as the program makes it; the book."""
    mira = at("mira")
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    mira.document(SEAT).ink("worn")
    return mira


def _copied(folder):
    return plain_git(folder, "log", "-1", "--format=%B")


def _without_sum(message):
    return "".join(n for n in message.splitlines(keepends=True) if not n.startswith("Check: "))


FORGED = {
    "copied trailers": lambda message: message,
    "trailers without the sum": _without_sum,
    "the sum twice": lambda message: message.rstrip("\n") + "\n" + message.split("\n")[-2] + "\n",
    "another sum": lambda message: re.sub("Check: .", "Check: f", message),
    "an empty sum": lambda message: re.sub("Check: .*", "Check:", message),
}


@pytest.mark.parametrize("how", FORGED)
def test_copied_trailers_are_no_save(inked, folder, how):
    message = FORGED[how](_copied(folder))
    when = session_of(inked).past.saved(inked.head).when
    _quantity(folder, 6)
    _as_mira(folder, "commit", "-qam", message, when=when)
    assert _verified(inked) == [True, True, False]
    walked = WalkedPast(session_of(inked).git, DocumentCache(session_of(inked).git))
    walked.refresh(session_of(inked).git.head())
    raw = walked.saved(plain_git(folder, "rev-parse", "HEAD").strip())
    assert raw is not None
    assert not raw.whole


REMADE = {
    "amended file": ["commit", "-qa", "--amend", "--no-edit"],
    "amended reason": ["commit", "-q", "--amend", "-m", "x\n\nKind: ink\nPerson: mira"],
    "amended author": ["commit", "-q", "--amend", "--no-edit", "--author", "A <ole@witnessmark>"],
    "amended moment": ["commit", "-q", "--amend", "--no-edit"],
}


@pytest.mark.parametrize("how", REMADE)
def test_a_save_that_was_made_over_is_none(inked, folder, how):
    if how == "amended file":
        _quantity(folder, 6)
    _as_mira(folder, *REMADE[how])
    assert _verified(inked) == [True, False]


def test_a_save_that_was_put_on_another_commit_is_none(at, inked, folder):
    plain_git(folder, "branch", "side")
    ole = at("ole")
    ole.document(SEAT).pencil.set("jaws.bite", "8")
    ole.document(SEAT).ink("worn")
    plain_git(folder, "checkout", "-q", "side")
    _as_mira(folder, "commit", "-q", "--allow-empty", "-m", "between")
    _as_mira(folder, "cherry-pick", "main")
    found = at("ada").document(SEAT).past.trace("jaws.bite")[-1]
    assert (found.who.key, found.verified) == ("ole", False)


def test_plain_tools_work_the_sum_out(inked, folder):
    text = plain_git(folder, "cat-file", "commit", "HEAD")
    rest, _, said = text.rstrip("\n").rpartition("\nCheck: ")
    assert hashlib.sha256((rest + "\n").encode()).hexdigest() == said
    assert plain_git(folder, "fsck", "--strict") == ""


def test_commits_of_earlier_programs_stay_as_they_were_understood(old_book):
    ada = Book.open(old_book, login="", clock=Stepping())
    past = session_of(ada).past
    told = [past.saved(commit) for commit in session_of(ada).git.commits(ada.head)]
    by_hand = {saved.who.key for saved in told if saved and not saved.whole}
    assert not any(saved.summed for saved in told if saved)
    assert (len(told) > 10, by_hand) == (True, {"somebody@yard"})
    ada.close()


def test_what_has_no_sum_after_one_that_has_is_by_hand(old_book):
    before = plain_git(old_book, "log", "-1", "--format=%B")
    name = plain_git(old_book, "log", "-1", "--format=%an").strip()
    mail = plain_git(old_book, "log", "-1", "--format=%ae").strip()
    people = Book.open(old_book, login="", clock=Stepping())._session.people().people
    key = next(key for key, one in people.items() if one.may_lead(DAY) and one.logins)
    book = Book.open(old_book, login=people[key].logins[0], clock=Stepping())
    old_head = book.head
    book.document("book").pencil.set("policy.hold_safety", "3")
    new = book.document("book").ink("x").commit
    who = ("-c", f"user.name={name}", "-c", f"user.email={mail}")
    plain_git(old_book, *who, "commit", "-q", "--allow-empty", "-m", before)
    past = session_of(book).past
    book.refresh()
    told = {commit: past.saved(commit) for commit in (old_head, new, book.head)}
    assert [(s.whole, s.summed) for s in told.values()] == [
        (True, False), (True, True), (False, True),
    ]  # fmt: skip
    book.close()
