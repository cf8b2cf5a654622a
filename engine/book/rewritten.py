"""The rewritten past: what is lost of it, and a lead's word that this is known.

What the box knew as its head is in the past of the head for ever. Where it is not, that
is an error of the book until it is there again, or until a lead has acknowledged it with a
reason: a file in the book, written once, which goes to every box.
"""

from __future__ import annotations

from engine.book import acknowledgements, clocks, overruled
from engine.book.session import Session
from engine.log.known_tip import LostTip
from engine.repo import meeting_point
from engine.views import Finding, Inked
from engine.views.wording import count
from schemas.errors import ReadError, UsageError

RULE = "past-rewritten"
HINT = (
    "Ask who did it, and compare with another copy of the book. A lead says that it is known: "
    "`witnessmark acknowledge COMMIT --reason TEXT`."
)
RULE_THERE = "meeting-point-rewritten"
HINT_THERE = (
    "This box still has every commit. Ask who did it; `witnessmark sync --accept-rewritten` joins "
    "both pasts, so that nothing of either is lost."
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
    """What the checks say of it, without looking at anything else of the book."""
    here = [(RULE, in_words(item), hint(item)) for item in lost(session)]
    there = [(RULE_THERE, words, HINT_THERE) for words in at_meeting_points(session)]
    return [
        Finding(rule, "error", "book", "", words, what_to_do, "book.toml")
        for rule, words, what_to_do in [*here, *there]
    ]


def at_meeting_points(session: Session) -> list[str]:
    """Where others meet, the past was rewritten too, and nobody has joined it: in words."""
    return [
        f"{words} ({address})" for address, words in meeting_point.rewritten(session.git).items()
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
    """A word that a part of the past is lost, or that clocks were wrong, a lead's; or that what
    was taken out stays.

    UsageError where there is no such thing, or several.
    """
    wanted = commit.strip().lower()
    tips = [item for item in lost(session) if item.tip.startswith(wanted)]
    removals = {item.removal.id: item for item in overruled.everywhere(session)}
    out = [item for oid, item in removals.items() if oid.startswith(wanted)]
    stamped = clocks.to_acknowledge(session, wanted) if wanted and not (tips or out) else []
    if len(tips) + len(out) + len(stamped) != 1:
        every = [item.tip[:10] for item in tips] + [item.removal.id[:10] for item in out]
        every += [oid[:10] for oid in stamped]
        raise UsageError(
            f"{count(len(every), 'thing')} can be acknowledged: which one is meant?"
            if every
            else "there is nothing to acknowledge" + (f" of {commit}" if commit else ""),
            hint=f"One of: {', '.join(every)}" if every else "`witnessmark check` lists what is.",
        )
    if out:
        held, removal = out[0].held, out[0].removal.id
        subject = f"{held.name}: {out[0].entry or 'it'} stays, taken out in {removal[:10]}"
        folder, lead = overruled.FOLDER, not held.is_record
        return acknowledgements.acknowledge(held, folder, removal, reason, subject, lead=lead)
    book = session.find("book")
    if stamped:
        subject = f"wrong stamps are acknowledged, up to {stamped[0][:10]}"
        folder = clocks.FOLDER
        return acknowledgements.acknowledge(book, folder, stamped[0], reason, subject, lead=True)
    tip = tips[0].tip
    subject = f"the rewritten past is acknowledged: {tip[:10]}"
    saves = tips[0].saves
    return acknowledgements.acknowledge(book, _FOLDER, tip, reason, subject, saves, lead=True)


def _acknowledged(session: Session) -> set[str]:
    """Commits that leads acknowledged as lost: tips, and what was lost with them."""
    words = acknowledgements.of_leads(session, _FOLDER)
    return {save for told, _ in words for save in (told.commit, *(told.saves or []))}
