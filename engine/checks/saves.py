"""Rules on saves: was each its person's to make, by people.toml as it stood then."""

from __future__ import annotations

from collections.abc import Iterator

from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, rule
from engine.people.saves import NOT_ALLOWED, NOT_THEIRS, Doubt
from engine.views.wording import count, day

_HINT = (
    "Ask them, and compare with another copy of the book. A lead who has looked writes down how "
    "far, with a reason: `witnessmark set people looked_through=COMMIT --ink --reason TEXT`."
)


@rule("save-without-right", "error", _HINT, "book")
def save_without_right(view: BookView) -> Says:
    """Somebody saved what people.toml, as it stood then, gave them no right to."""
    yield from _told(view, NOT_ALLOWED)


@rule("save-under-other-login", "warning", _HINT, "book")
def save_under_other_login(view: BookView) -> Says:
    """A save came under a login that was not its person's by people.toml as it stood then."""
    yield from _told(view, NOT_THEIRS)


def _told(view: BookView, sort: str) -> Says:
    """One finding for each person and reason, however many saves there are."""
    groups: dict[tuple[str, str], list[Doubt]] = {}
    for doubt in _not_looked_at(view):
        if doubt.sort == sort:
            groups.setdefault((doubt.person, doubt.why), []).append(doubt)
    for (person, why), found in groups.items():
        known = person in view.people.people
        times = count(len(found), "save")
        where = _where(view, found)
        message = f"{times} by {view.name_of(person)}, who {why}: {where}"
        if sort == NOT_THEIRS:
            message = f"{times} by {view.name_of(person)} {why}: {where}"
        hint = _HINT.replace("COMMIT", view.session.head[:12])
        address = f"people.{person}.logins" if known else "people"
        yield Say(address, message, hint, document="people")


def _not_looked_at(view: BookView) -> Iterator[Doubt]:
    """What is doubtful and lies after the commit up to which a lead has looked."""
    found, past = view.doubts, view.session.past
    until = view.people.looked_through or ""
    named = past.commits_beginning(until) if found and len(until) >= 7 else []
    after = past.after(named[0]) if len(named) == 1 else None
    return (doubt for doubt in found if after is None or doubt.commit in after)


def _where(view: BookView, found: list[Doubt]) -> str:
    ends = [view.session.past.saved(doubt.commit) for doubt in (found[0], found[-1])]
    told = [f"{saved.id[:10]} on {day(saved.when)}" for saved in ends if saved]
    return " to ".join(dict.fromkeys(told))
