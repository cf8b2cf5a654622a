"""Who is at the terminal: the login decides, a choice only where it does not.

The login is the kernel's word (`engine.repo.accounts`), never that of a variable. `--as`
never overrules one that stands for one person, and never makes anybody of a person who
has logins of their own: who has one works under it. A choice is left to those whom a
shared login stands for, and to persons without logins. The login goes into every
commit beside the person, so that an auditor sees under which account it was. This is
a statement, not a proof: `seal` is the one place where keys and signatures will come in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

from engine.repo.accounts import pointers
from engine.repo.commit_object import EMAIL_HOST, Signature
from engine.views import Hint, Identity
from schemas.errors import Refused, UsageError
from schemas.people import People, Person


def hints() -> tuple[Hint, ...]:
    """What points to another login than the kernel's; nothing follows from it."""
    return tuple(Hint(source, says) for source, says in pointers())


def identify(people: People, login: str, as_person: str, today: date) -> Identity:
    """The identity of a login, with a choice where it leaves one.

    UsageError for a choice that is nobody; Refused for one that the login rules out.
    """
    known = people.by_login(login)
    candidates = known if len(known) == 1 else [*known, *people.without_login()]
    if as_person:
        if as_person not in people.people:
            raise UsageError(
                f"{as_person!r} is nobody in people.toml",
                hint="One of: " + ", ".join(people.people),
            )
        if as_person not in candidates:
            raise _ruled_out(people.people[as_person], as_person, login, known)
        return _identity(people.people, as_person, login, today)
    if len(known) == 1:
        return _identity(people.people, known[0], login, today)
    return Identity("", login, login, candidates=tuple(candidates))


def _ruled_out(person: Person, key: str, login: str, known: list[str]) -> Refused:
    """Why a login cannot be a person."""
    if known:
        return Refused(
            f"the login {login!r} is {' or '.join(known)}, not {key}",
            hint="Work under your own login, or ask a lead to correct people.toml.",
        )
    own = " or ".join(person.logins or [])
    return Refused(
        f"the login {login!r} is nobody's in people.toml, and {key} has a login of their own: "
        f"{own}",
        hint="Work under that login, or ask a lead to add this one to "
        f"people.{key}.logins. Without a name the book can be read.",
    )


def again(people: People, identity: Identity, today: date) -> Identity:
    """The same person as people.toml knows them now; nobody where it knows them no more."""
    try:
        now = identify(people, identity.login, identity.key, today)
    except (UsageError, Refused):
        now = Identity("", identity.login, identity.login)
    return replace(now, hints=identity.hints)


def _identity(people: Mapping[str, Person], key: str, login: str, today: date) -> Identity:
    person = people[key]
    return Identity(
        key, person.name, login, tuple(person.roles), person.may_ink(today), person.may_lead(today)
    )


def require(identity: Identity, *, lead: bool, what: str) -> None:
    """Refused, with the reason, where this identity may not do `what`."""
    if not identity.key:
        raise Refused(
            f"nobody is known to be at the terminal, so nobody can {what}",
            hint=_how_to_be_somebody(identity),
        )
    if not identity.may_ink:
        raise Refused(
            f"{identity.name} reads here and cannot {what}",
            hint="Only a setter or a lead who is still here can.",
        )
    if lead and not identity.may_lead:
        raise Refused(f"{identity.name} is no lead and cannot {what}", hint="Ask a lead.")


def _how_to_be_somebody(identity: Identity) -> str:
    """What somebody can do whom the login does not tell."""
    login = f"The login {identity.login!r} (from the kernel)"
    ask = "Ask a lead to add it to your logins in people.toml."
    if not identity.candidates:
        return f"{login} is nobody's here. {ask}"
    return f"{login} does not tell who you are. Say it: --as {' or '.join(identity.candidates)}."


def seal(identity: Identity, when: datetime) -> Signature:
    """Author and committer of a commit by this person."""
    return Signature(identity.name, f"{identity.key}@{EMAIL_HOST}", when)
