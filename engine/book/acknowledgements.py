"""Acknowledgements: a person's word that something about the past is known and stays so.

Each is a file of the book, written once by the program, so that it goes to every box and says
for ever who, when and why. One that came by a commit by hand is nobody's word.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.book.saving import Save, inked, save
from engine.book.session import Held, Session
from engine.log.past import DocumentChange
from engine.views import Inked
from schemas.document import FORMATS, check_tree
from schemas.errors import ReadError, Refused
from schemas.log import Acknowledged, Acknowledgement
from schemas.people import People

KIND = "acknowledge"


def acknowledgements(
    session: Session, folder: str
) -> Iterator[tuple[Acknowledged, list[DocumentChange]]]:
    """What was acknowledged, each with the commits that wrote its file."""
    for path, blob in session.entries.under(folder):
        try:
            model = session.past.document(path, blob).model
        except ReadError:
            continue
        if isinstance(model, Acknowledgement):
            yield model.acknowledged, session.past.life(path.removesuffix(".toml"))


def of_leads(session: Session, folder: str) -> Iterator[tuple[Acknowledged, list[DocumentChange]]]:
    """Those that were a lead's word when they were given, with the saves that wrote them."""
    for told, steps in acknowledgements(session, folder):
        if steps and all(
            is_word(step) and _led(session, step.saved.id, step.saved.who.key) for step in steps
        ):
            yield told, steps


def _led(session: Session, commit: str, person: str) -> bool:
    blob = session.git.blob_at(commit, "people.toml")
    try:
        model = session.past.document("people.toml", blob).model if blob else None
    except ReadError:
        return False
    known = model.people.get(person) if isinstance(model, People) else None
    return known is not None and "lead" in known.roles


def is_word(step: DocumentChange) -> bool:
    """Whether the program wrote a file, for a person who acknowledged."""
    return step.saved.whole and step.saved.kind == KIND


def acknowledge(
    held: Held, folder: str, commit: str, reason: str, subject: str, saves: Sequence[str] = (),
    *, lead: bool,
) -> Inked:  # fmt: skip
    """Write it down. Refused without a reason, and where the person may not say it."""
    session = held.session
    if not reason.strip():
        raise Refused("to acknowledge needs a reason", hint="Say it with --reason TEXT.")

    def plan() -> Save:
        at = session.clock().replace(microsecond=0)
        who, why = session.identity.key, " ".join(reason.split())
        entry = {"commit": commit, "at": at, "who": who, "reason": why}
        entry |= {"saves": [*saves]} if saves else {}
        tree = {"format": FORMATS["acknowledgement"], "acknowledged": entry}
        written = check_tree(tree, f"{folder}/{commit}.toml")
        return Save(held, KIND, subject, {written.path: written.bytes}, reason)

    return inked(save(session, plan, what="acknowledge this", lead=lead))
