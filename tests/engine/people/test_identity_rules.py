"""Who may do what: the login tells; a choice only where it does not."""

from datetime import date, timedelta

import pytest

from engine.book import Book
from engine.people.identity import identify
from schemas.errors import Refused, UsageError
from schemas.people import People
from tests.mini_book import SEAT, Stepping

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
        ("unknown", "ole", "ole"),
        ("", "", ""),
        ("MIRA", "", ""),
    ],
)
def test_the_login_tells_or_leaves_a_choice(login, chosen, key):
    who = identify(PEOPLE, login, chosen, DAY)
    assert (who.key, who.login) == (key, login)
    if not key:
        assert not who.may_ink
        assert set(who.candidates) == ({"mira", "jon"} if login == "floor" else set(PEOPLE.people))


@pytest.mark.parametrize(
    ("login", "chosen", "error"),
    [
        ("mira", "ole", Refused),
        ("floor", "ole", Refused),
        ("ada", "mira", Refused),
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
    who = identify(PEOPLE, "unknown", key, day)
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
    from tests.mini_book import plain_git

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
