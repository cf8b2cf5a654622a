"""What a save says of itself, on the screen and in history, and when it is refused."""

import pytest

from schemas.errors import Conflict, Refused, UsageError
from tests.mini_book import SEAT, plain_git


def ink(book, reason="measured", name=SEAT, **values):
    """Set values, `jaws__bite="8"`, and ink them; None takes a value out."""
    for address, text in values.items():
        where = address.replace("__", ".")
        book.document(name).pencil.clear(where) if text is None else book.document(name).pencil.set(
            where, text
        )
    return book.document(name).ink(reason)


def last(folder, form):
    return plain_git(folder, "log", "-1", f"--format={form}").strip()


def trailer(folder, key):
    return last(folder, f"%(trailers:key={key},valueonly)")


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (
            {"positions__seat__reach": "612.500"},
            "positions.seat.reach: 612.350 -> 612.500 mm (+0.150)",
        ),
        ({"positions__seat__swing": "87"}, "positions.seat.swing: 87.420 -> 87 deg (-0.420)"),
        ({"lot__quantity": "90"}, "lot.quantity: 110 -> 90 (-20)"),
        ({"jaws__kept_at": "rack 5"}, "jaws.kept_at: rack 4 -> rack 5"),
        ({"jaws__kept_at": None}, "jaws.kept_at: rack 4 -> nothing"),
        ({"tools__T09__what": "drill"}, "tools.T09.what: nothing -> drill"),
        (
            {"lot__quantity": "90", "jaws__kept_at": "rack 5"},
            "jaws.kept_at: rack 4 -> rack 5; lot.quantity: 110 -> 90 (-20)",
        ),
        (
            {"lot__quantity": "90", "positions__seat__lift": "149", "positions__fetch__lift": "90"},
            "3 values in positions.fetch, positions.seat, lot",
        ),
        ({"tools__T04__stick_out": "62.000"}, "1 value spelt otherwise"),
        ({"notes__text": "n" * 60}, f"notes.text: Wipe the jaws first. -> {'n' * 60}"),
        ({"notes__text": "n" * 61}, f"notes.text: Wipe the jaws first. -> {'n' * 59}…"),
    ],
)
def test_the_subject_says_what_changed_in_a_few_words(at, folder, values, said):
    done = ink(at("mira"), **values)
    assert done.subject == f"{SEAT}: {said}"
    assert plain_git(folder, "rev-parse", "HEAD").strip() == done.commit
    assert last(folder, "%s").startswith(done.subject[:60])


def test_the_body_has_every_change_and_the_trailers_say_who_and_why(at, folder):
    values = {"lot__quantity": "90", "jaws__kept_at": "rack 5", "notes__text": "Look."}
    done = ink(at("mira"), "  from the drawing ", **values)
    body = last(folder, "%b").splitlines()
    for line in (
        "lot.quantity: 110 -> 90 (-20)", "jaws.kept_at: rack 4 -> rack 5",
        "notes.text: Wipe the jaws first. -> Look.",
    ):  # fmt: skip
        assert line in body
    assert [change.address for change in done.changes] == [
        "jaws.kept_at", "lot.quantity", "notes.text",
    ]  # fmt: skip
    for key, said in (
        ("Kind", "ink"), ("Record", "wm-seat10"), ("Person", "mira"), ("Login", "mira"),
        ("Reason", "from the drawing"),
    ):  # fmt: skip
        assert trailer(folder, key) == said
    assert trailer(folder, "Draft")
    assert last(folder, "%an <%ae> %cn <%ce>") == " ".join(["Mira Falk <mira@witnessmark>"] * 2)


@pytest.mark.parametrize(
    ("reason", "refused"),
    [("r" * 2000, ""), ("r" * 2001, "more than 2000"), ("a\u202eb", "the reason has")],
)
def test_a_reason_is_one_that_can_be_read(at, folder, reason, refused):
    mira = at("mira")
    if not refused:
        ink(mira, reason, jaws__kept_at="rack 5")
        assert len("".join(trailer(folder, "Reason").split())) == len(reason)
        return
    head = last(folder, "%H")
    with pytest.raises(UsageError, match=refused):
        ink(mira, reason, jaws__kept_at="rack 5")
    assert last(folder, "%H") == head
    assert len(mira.document(SEAT).pencil.draft().marks) == 1


def test_a_refusal_says_where_and_what_to_do(at, folder):
    mira = at("mira")
    refusals = []
    mira.document(SEAT).pencil.set("positions.seat.lift", "149")
    for act in (lambda: mira.document(SEAT).ink(), lambda: mira.document(SEAT).ink("x\u202ey")):
        with pytest.raises((Refused, UsageError)) as caught:
            act()
        refusals.append(caught.value)
    assert (refusals[0].where, "--reason TEXT" in refusals[0].hint) == (SEAT, True)
    assert "plain words" in refusals[1].hint
    mira.document(SEAT).ink("taught")
    with pytest.raises(Refused) as caught:
        mira.document(SEAT).ink("again")
    assert (caught.value.where, "as inked" in caught.value.hint) == (SEAT, True)


def test_after_a_sign_off_the_next_change_says_that_it_is_void(at):
    ole = at("ole")
    assert not any("sign-off" in said for said in ink(ole, lot__quantity="90").messages)
    ole.document(SEAT).sign_off("all seen")
    assert "the last sign-off does not cover this revision" in ink(ole, lot__quantity="91").messages
    ole.document(SEAT).sign_off("all seen")
    spelt = ink(ole, tools__T04__stick_out="62.000")  # no value changed, so nothing to say
    assert not any("sign-off" in said for said in spelt.messages)


def test_what_belongs_together_physically_starts_the_prove_out_again(at):
    mira = at("mira")
    words = "prove out again from the first stage, 15 % of full speed, without a blank"
    done = ink(mira, lot__quantity="90", jaws__bite="8", positions__seat__lift="149")
    assert f"jaws.bite changed: {words}" in done.messages
    assert not any("prove out" in said for said in ink(mira, lot__quantity="91").messages)
    ink(mira, lot__stages=None)
    assert not any("prove out" in said for said in ink(mira, jaws__bite="9").messages)


def test_nothing_to_ink_is_refused_and_a_program_alone_is_something(at, folder):
    mira = at("mira")
    with pytest.raises(Refused, match="nothing to ink"):
        mira.document(SEAT).ink("x")
    (folder / "programs/seat.nc").write_bytes(b"O1\nG0 X5\nM30\n")
    done = mira.document(SEAT).ink("x")
    assert (done.subject, done.changes) == (f"{SEAT}: programs/seat.nc", ())
    assert plain_git(folder, "show", "HEAD:programs/seat.nc") == "O1\nG0 X5\nM30\n"
    with pytest.raises(Refused, match="nothing to ink"):
        mira.document(SEAT).ink("x")


def test_program_and_photos_go_along_in_one_commit_and_a_gone_one_stops_nobody(at, folder):
    mira = at("mira")
    (folder / "programs/seat.nc").write_bytes(b"O1\nM30\n")
    (folder / "photos/seat-jaws.jpg").write_bytes(b"another picture")
    (folder / "programs/bush.nc").write_bytes(b"another record's")
    done = ink(mira, lot__quantity="90")
    changed = plain_git(folder, "show", "--name-only", "--format=", "HEAD").split()
    assert changed == ["photos/seat-jaws.jpg", "programs/seat.nc", f"records/{SEAT}.toml"]
    assert done.subject.endswith("(-20); photos/seat-jaws.jpg; programs/seat.nc")
    (folder / "programs/seat.nc").unlink()
    ink(mira, lot__quantity="91")
    assert plain_git(folder, "show", "HEAD:programs/seat.nc") == "O1\nM30\n"


def test_a_link_out_of_the_folders_for_programs_brings_nothing_into_the_book(at, folder):
    text = (folder / f"records/{SEAT}.toml").read_text()
    for n, path in enumerate(("secret/key.nc", "programs2/x.nc", "photos/x.nc")):
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_bytes(b"not to be published")
        linked = text.replace("programs/seat.nc", path).replace("= 110", f"= 11{n}")
        (folder / f"records/{SEAT}.toml").write_text(linked)
        plain_git(folder, "commit", "-qam", "linked by hand")
        ink(at("mira"), notes__text=f"inked {n}")
        assert path not in plain_git(folder, "ls-tree", "-r", "--name-only", "HEAD").split()


def test_a_program_behind_a_link_is_left_out_and_the_record_is_inked(at, folder, tmp_path):
    (tmp_path / "secret").write_text("secret")
    (folder / "programs/seat.nc").unlink()
    (folder / "programs/seat.nc").symlink_to(tmp_path / "secret")
    ink(at("mira"), lot__quantity="90")
    assert plain_git(folder, "show", "HEAD:programs/seat.nc") == "O0\nG0 X0\nM30\n"


def test_a_conflict_names_both_values_and_both_people(at):
    mira, ole = at("mira"), at("ole")
    mira.document(SEAT).pencil.set("jaws.kept_at", "rack 9")
    mira.document(SEAT).pencil.set("lot.quantity", "5")
    ink(ole, jaws__kept_at="rack 7")
    with pytest.raises(Conflict) as caught:
        mira.document(SEAT).ink()
    assert "jaws.kept_at: Mira Falk has rack 9, inked is rack 7 (changed by Ole Brandt)" in str(
        caught.value
    )
    assert "lot.quantity" not in str(caught.value)
    assert f"`pencil {SEAT} --keep`" in caught.value.hint
    mira.document(SEAT).pencil.rub_out()
    mira.document(SEAT).pencil.set("jaws.kept_at", "rack 9")
    ink(ole, jaws__kept_at=None)
    with pytest.raises(Conflict, match="has rack 9, inked is nothing"):
        mira.document(SEAT).ink()


def test_who_may_ink_what(at):
    """A setter inks records, a lead all, an auditor nothing."""
    mira, ole, ada = at("mira"), at("ole"), at("ada")
    with pytest.raises(Refused):
        ada.document(SEAT).pencil.set("lot.quantity", "5")
    with pytest.raises(Refused):
        ink(mira, name="cells/lathe", axes__lift__speed="500")
    done = ink(ole, name="cells/lathe", axes__lift__speed="500")
    assert "axes.lift.speed: 600 -> 500 mm/s (-100)" in done.subject
    assert not any("prove out" in said for said in done.messages)
