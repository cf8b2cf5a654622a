"""The rewritten past: what is lost of it, and a lead's word that this is known.

What the box knew as its head is in the past of the head for ever. Where it is not, that
is an error of the book until it is there again, or until a lead has acknowledged it with a
reason: a file in the book, written once, which goes to every box.
"""

from __future__ import annotations

from engine.book.saving import Save, inked, save
from engine.book.session import Session
from engine.log.known_tip import LostTip
from engine.views import Finding, Inked
from engine.views.wording import count
from schemas.document import FORMATS, check_tree
from schemas.errors import ReadError, Refused, UsageError
from schemas.log import Acknowledgement
from schemas.people import People

RULE = "past-rewritten"
HINT = (
    "Ask who did it, and compare with another copy of the book. A lead says that it is known: "
    "`witnessmark acknowledge COMMIT --reason TEXT`."
)
_FOLDER = "acknowledged/past"
_MOST_NAMED = 5  # people in one sentence


def lost(session: Session) -> list[LostTip]:
    """Tips that are not in the past of the head and that no lead has acknowledged."""
    session.past.notice()
    for tip, book in session.past.lost.items():
        if not _of_another_book(session, book):
            session.known.lose(tip, session.head, session.clock())
    found = session.known.lost(session.head)
    known = _acknowledged(session) if found else set()
    return [item for item in found if item.tip not in known]


def another_book(session: Session) -> bool:
    """Whether another book than this one lay here when the index looked last."""
    return any(_of_another_book(session, book) for book in session.past.lost.values())


def _of_another_book(session: Session, book: str) -> bool:
    try:
        return bool(book) and session.book_file().book.id != book
    except (ReadError, UsageError):
        return False


def findings(session: Session) -> list[Finding]:
    """The same as the checks say it, without looking at anything else of the book."""
    return [
        Finding(RULE, "error", "book", "", in_words(item), hint(item), "book.toml")
        for item in lost(session)
    ]


def in_words(item: LostTip) -> str:
    """What is lost, and whose it is."""
    words = f"the past was rewritten: {item.tip[:10]}, which was the book's head, is not in it"
    if not item.count:
        return f"{words}; its saves are not in this repository any more"
    verb = "is" if item.count == 1 else "are"
    words += f"; {count(item.count, 'save')} {verb} in it no longer"
    by = [f"{number} by {name}" for name, number in item.whose.items()]
    if len(by) > _MOST_NAMED:
        by = [*by[:_MOST_NAMED], f"and of {len(by) - _MOST_NAMED} more people"]
    return f"{words} ({', '.join(by)}), the last of them {item.last!r}"


def hint(item: LostTip) -> str:
    """How to get it back, and who may say that it is known."""
    short = item.tip[:10]
    if item.count:
        back = f"`git branch lost-{short} {item.tip}` shows it, `git merge lost-{short}` joins it."
    else:
        back = f"Look for commit {item.tip} on another box or in a backup, and sync with that."
    return f"{back} {HINT.replace('COMMIT', short)}"


def acknowledge(session: Session, commit: str, reason: str) -> Inked:
    """A lead's word that a part of the past is lost. UsageError where none is, or which is open."""
    found = [item for item in lost(session) if item.tip.startswith(commit.strip().lower())]
    if not found:
        raise UsageError(
            f"nothing of the past is lost with {commit}" if commit else "nothing is lost",
            hint="`witnessmark check` lists what can be acknowledged.",
        )
    if len(found) > 1:
        raise UsageError(
            f"{count(len(found), 'tip')} of the past are lost: which one is meant?",
            hint="One of: " + ", ".join(item.tip[:10] for item in found),
        )
    if not reason.strip():
        raise Refused("to acknowledge needs a reason", hint="Say it with --reason TEXT.")
    item = found[0]

    def plan() -> Save:
        at = session.clock().replace(microsecond=0)
        who, why = session.identity.key, " ".join(reason.split())
        entry = {"commit": item.tip, "at": at, "who": who, "reason": why, "saves": [*item.saves]}
        tree = {"format": FORMATS["acknowledgement"], "acknowledged": entry}
        written = check_tree(tree, f"{_FOLDER}/{item.tip}.toml")
        subject = f"the rewritten past is acknowledged: {item.tip[:10]}"
        files = {written.path: written.bytes}
        return Save(session.find("book"), "acknowledge", subject, files, reason)

    return inked(save(session, plan, what="acknowledge a rewritten past", lead=True))


def _acknowledged(session: Session) -> set[str]:
    """Commits that leads acknowledged as lost: tips, and what was lost with them."""
    found: set[str] = set()
    for path, blob in session.entries.under(_FOLDER):
        try:
            model = session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, Acknowledgement) and _by_a_lead(session, path):
            found |= {model.acknowledged.commit, *(model.acknowledged.saves or [])}
    return found


def _by_a_lead(session: Session, path: str) -> bool:
    """Whether the program wrote a file, for somebody who was a lead then."""
    steps = session.past.life(path.removesuffix(".toml"))
    return bool(steps) and all(
        step.saved.whole
        and step.saved.kind == "acknowledge"
        and _led(session, step.saved.id, step.saved.who.key)
        for step in steps
    )


def _led(session: Session, commit: str, person: str) -> bool:
    blob = session.git.blob_at(commit, "people.toml")
    try:
        model = session.past.document("people.toml", blob).model if blob else None
    except ReadError:
        return False
    known = model.people.get(person) if isinstance(model, People) else None
    return known is not None and "lead" in known.roles
