"""What was in the book once and is not now: who took it out, and where its past is found.

Invariant: what was ever inked stays answerable, by its last name, by any name that it
once had, and by its identity. A name that several documents had is never guessed. What
stands at the head comes first; a record that is retired stands there and is not taken out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.book.session import Held, Session
from engine.log.locations import is_record
from engine.log.past import Saved
from engine.views import Mark, TakenOut
from schemas.address import Value
from schemas.document import kind_of, name_of
from schemas.errors import Gone, UsageError


def find(session: Session, name: str) -> Held:
    """A document that is in the book or once was, by any name it had or by its identity.

    UsageError where there never was one, or where several that are not called so now had
    the name.
    """
    there = session.knows(name)
    if there is not None:
        return there
    keys = _keys_of(session, name)
    if not keys:
        return session.find(name)  # which says what is near
    if len(keys) > 1:
        named = ", ".join(_told(found) for found in _held_of_each(session, keys))
        raise UsageError(
            f"{len(keys)} records had the name {name!r}",
            hint=f"Name one by its identity: {named}.",
        )
    return held_of(session, keys[0])


def namesakes(held: Held) -> list[str]:
    """Other records that once had the present name of this one, each told with its identity."""
    keys = [key for key in held.session.past.keys_at(held.path) if key != held.key]
    return [_told(found) for found in _held_of_each(held.session, _with_identity(keys))]


def _keys_of(session: Session, name: str) -> list[str]:
    wanted = name.removesuffix(".toml")
    past, short = session.past, wanted.removeprefix("records/")
    if past.knows(short) and not is_record(short):
        return [short]
    if short.startswith("wm-") and past.knows(short):
        return [short]
    return _with_identity(past.keys_at(f"records/{short}.toml"))


def _with_identity(keys: Sequence[str]) -> list[str]:
    """Without texts that said no identity, where others had the name that did."""
    named = [key for key in keys if key.startswith("wm-")]
    return named or list(keys)


def _held_of_each(session: Session, keys: Sequence[str]) -> Iterator[Held]:
    for key in keys:
        yield session.with_key(key) or _last_of(session, key)


def _told(held: Held) -> str:
    return f"{held.key} ({f'taken out, {held.name} at last' if held.gone else f'now {held.name}'})"


def held_of(session: Session, key: str) -> Held:
    """A document by its identity, at the head or as it stood last. UsageError where it is twice."""
    there = [held for held in session.places() if held.key == key]
    if len(there) > 1:
        names = " and ".join(held.name for held in there)
        raise UsageError(f"{names} carry one identity, {key}", hint="Name one of them.")
    if there:
        return there[0]
    path = f"{key}.toml"
    if not is_record(key) and path in session.entries:  # a run, a sign-off, an event
        return Held(session, name_of(path), path, key, session.entries[path])
    return _last_of(session, key)


def _last_of(session: Session, key: str) -> Held:
    last = [step for step in session.past.life(key) if step.new][-1]
    return Held(session, name_of(last.path), last.path, key, last.new, gone=True)


def taken_out_by(held: Held) -> Saved | None:
    """The commit that took a document out; None where a merge left it out."""
    last = held.session.past.life(held.key)[-1]
    return None if last.new else last.saved


def identified(session: Session, name: str, key: str) -> Held:
    """The document with an identity, at the head or as it stood last; Gone where none ever was."""
    try:
        return session.identified(name, key)
    except Gone:
        if not session.past.knows(key):
            raise
        return held_of(session, key)


def is_gone(held: Held) -> Gone:
    """What to say where somebody wants to work on what is not in the book."""
    return held.session.gone(held.name, held.key)


def is_log(held: Held) -> bool:
    """Whether a document is a run, a sign-off or an event, which have a past and no acts."""
    return kind_of(held.path) in ("run", "sign-off", "event")


def written_once(held: Held) -> UsageError:
    """What to say where somebody wants to change a run, a sign-off or an event by its name."""
    hint = "`marks`, `diff` and `show` tell of it; what is added to a run is added to its record."
    return UsageError(f"{held.name} is written once and never changed", hint=hint)


def all_gone(session: Session) -> Iterator[Held]:
    """Every document that was in the book and is not now."""
    live = {held.key for held in session.places()}
    for key in session.past.documents():
        if key not in live and not _lies_there(session, key):
            held = _last_of(session, key)
            if kind_of(held.path) is not None:
                yield held


def _lies_there(session: Session, key: str) -> bool:
    """Whether the path of what has no other identity is there, whoever lies there now."""
    return not key.startswith("wm-") and f"{key}.toml" in session.entries


def list_gone(session: Session) -> list[TakenOut]:
    """The same as it is told, by name."""
    found = [_listed(held) for held in all_gone(session)]
    return sorted(found, key=lambda item: (item.document, item.id))


def _listed(held: Held) -> TakenOut:
    kind = kind_of(held.path)
    assert kind is not None
    life = held.session.past.life(held.key)
    texts = [step for step in life if step.new]
    ink, out = texts[-1].saved, life[-1].saved
    last = Mark(f"ink-{len(texts)}", "ink", ink.id, ink.when, ink.who, ink.subject)
    by = None
    if not life[-1].new:
        by = Mark("taken out", "taken out", out.id, out.when, out.who, out.subject)
    values = held.values() if held.is_record else {}
    part, cell = _text(values.get("record.part")), _text(values.get("record.cell"))
    return TakenOut(held.name, held.key, kind, part, cell, last, by)


def _text(value: Value | None) -> str:
    return value if isinstance(value, str) else ""
