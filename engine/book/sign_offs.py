"""Sign-offs: short files that are written once and never changed.

A sign-off covers one exact revision of record, program, photos, cell and policy
(`accepting.py` says how); when any of them changes it is void, by itself.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from engine.book.accepting import accepted_now, covers
from engine.book.linked_files import changed_links, links_of
from engine.book.revisions import Revisions
from engine.book.saving import Save, inked, save
from engine.book.session import Held
from engine.views import Inked
from engine.views.wording import count
from engine.views.wording import figures as wording
from schemas.address import Tree
from schemas.document import FORMATS, Document, check_tree
from schemas.errors import Refused, UsageError
from schemas.record import Record

if TYPE_CHECKING:
    from engine.figures.kinds import Figure

SignOffState = Literal["yes", "void", "no"]
MOST_SAID = 4  # figures or values named in one sentence


def state(held: Held, document: Document) -> SignOffState:
    """Whether the last sign-off of a record still covers it."""
    done = Revisions(held).sign_offs()
    if not done:
        return "no"
    return "yes" if covers(held, done[-1], document) else "void"


def sign_off(held: Held, note: str) -> Inked:
    """Accept a record as it is inked now, as a lead; with a reason where figures do not fit."""
    session = held.session

    def plan() -> Save:
        now = held.again()
        if now.blob != held.blob:
            raise Refused(
                f"{now.name} was inked by somebody else at this moment",
                hint="Look at it again, then sign off.",
            )
        document = _with_its_files(now)
        from engine.book import figures  # most commands compute none

        looked = figures.of_document(session, document)
        _stop_if_unfit(now, looked, note)
        written = _written(now, document, note, looked)
        files, said = {written.path: written.bytes}, tuple(_untold(looked))
        return Save(now, "sign-off", f"{now.name}: signed off", files, note, messages=said)

    return inked(save(session, plan, what="sign off", lead=True))


def _with_its_files(held: Held) -> Document:
    """The record as inked. Refused where a file that it links to is not in the book like that."""
    session, document = held.session, held.read()
    if not isinstance(document.model, Record):
        raise UsageError(f"{held.name} is no record and cannot be signed off")
    changed = changed_links(session, document)
    missing = [p for p in links_of(document).values() if p not in session.entries]
    if changed or missing:
        raise Refused(
            f"{', '.join(sorted({*changed, *missing}))} is not in the book as linked",
            where=held.name,
            hint="Ink the record with its files first.",
        )
    return document


def _written(held: Held, document: Document, note: str, looked: Sequence[Figure]) -> Document:
    """The sign-off's own file."""
    session = held.session
    at = session.clock().replace(microsecond=0)
    made = f"{at:%Y%m%d-%H%M}-{secrets.token_hex(2)}"
    head = {
        "id": made,
        "record": held.key,
        "at": at,
        "who": session.identity.key,
        "commit": session.head,
        "note": note or None,
        "not_fitting": sum(figure.verdict == "does not fit" for figure in looked) or None,
        "cannot_tell": sum(figure.verdict == "cannot tell" for figure in looked) or None,
    }
    tree: Tree = {
        "format": FORMATS["sign-off"],
        "sign_off": {k: v for k, v in head.items() if v is not None},
        "accepted": accepted_now(session, document),
    }
    return check_tree(tree, f"signoffs/{held.key}/{made}.toml")


def _stop_if_unfit(held: Held, looked: Sequence[Figure], note: str) -> None:
    """Refused where a figure does not fit and nobody says why it is accepted all the same."""
    unfit = [figure for figure in wording.worst_first(looked) if figure.verdict == "does not fit"]
    if not unfit or note.strip():
        return
    named = ", ".join(wording.figure_in_words(figure) for figure in unfit[:MOST_SAID])
    more = f", and {len(unfit) - MOST_SAID} more" if len(unfit) > MOST_SAID else ""
    raise Refused(
        f"{count(len(unfit), 'figure does', 'figures do')} not fit: {named}{more}",
        where=held.name,
        hint="Put them right, or say with --note TEXT why they are accepted; it stays for ever.",
    )


def _untold(looked: Sequence[Figure]) -> list[str]:
    """Figures that the sign-off accepts unseen, by the values they wait for."""
    number = sum(figure.verdict == "cannot tell" for figure in looked)
    if not number:
        return []
    waiting = wording.waiting(looked)
    named = ", ".join(list(waiting)[:MOST_SAID])
    more = f" and {len(waiting) - MOST_SAID} more" if len(waiting) > MOST_SAID else ""
    untold = count(number, "figure")
    return [f"{untold} cannot be told for want of {named}{more}; the sign-off counts them"]
