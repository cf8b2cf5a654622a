"""Who is at the terminal: the login decides, a choice only where it does not.

`--as` never overrules a login that stands for one person. A login that stands
for nobody, or for several, leaves a choice; the login itself goes into every
commit beside the person, so that an auditor sees under which account it was.
This is a statement, not a proof: `seal` is the one place where keys and
signatures will come in.
"""

from __future__ import annotations

import getpass
from collections.abc import Mapping
from datetime import date, datetime

from engine.repo.commit_object import EMAIL_HOST, Signature
from engine.views import Identity
from schemas.errors import Refused, UsageError
from schemas.people import People, Person


def current_login() -> str:
    """The login of this process."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""


def identify(people: People, login: str, as_person: str, today: date) -> Identity:
    """The identity of a login, with a choice where it leaves one.

    UsageError for a choice that is nobody; Refused for one that the login rules out.
    """
    known = people.by_login(login)
    candidates = known or list(people.people)
    if as_person:
        if as_person not in people.people:
            raise UsageError(
                f"{as_person!r} is nobody in people.toml",
                hint="One of: " + ", ".join(people.people),
            )
        if as_person not in candidates:
            raise Refused(
                f"the login {login!r} is {' or '.join(known)}, not {as_person}",
                hint="Work under your own login, or ask a lead to correct people.toml.",
            )
        return _identity(people.people, as_person, login, today)
    if len(known) == 1:
        return _identity(people.people, known[0], login, today)
    return Identity("", login, login, candidates=tuple(candidates))


def again(people: People, identity: Identity, today: date) -> Identity:
    """The same person as people.toml knows them now; nobody where it knows them no more."""
    try:
        return identify(people, identity.login, identity.key, today)
    except (UsageError, Refused):
        return Identity("", identity.login, identity.login)


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
            hint="Say who you are with --as PERSON, or ask a lead to add your login "
            "to people.toml.",
        )
    if not identity.may_ink:
        raise Refused(
            f"{identity.name} reads here and cannot {what}",
            hint="Only a setter or a lead who is still here can.",
        )
    if lead and not identity.may_lead:
        raise Refused(f"{identity.name} is no lead and cannot {what}", hint="Ask a lead.")


def seal(identity: Identity, when: datetime) -> Signature:
    """Author and committer of a commit by this person."""
    return Signature(identity.name, f"{identity.key}@{EMAIL_HOST}", when)
