"""Rules on who may act: can history tell people apart, and does anybody's work lie abandoned."""

from __future__ import annotations

from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, rule
from engine.views.wording import count, joined

DOCUMENT = "people"


@rule("same-name", "warning", "Write the names so that history can tell them apart.", "book")
def same_name(view: BookView) -> Says:
    """Two people have the same name."""
    by_name: dict[str, list[str]] = {}
    for key, person in view.people.people.items():
        by_name.setdefault(" ".join(person.name.split()).casefold(), []).append(key)
    for keys in by_name.values():
        for key in keys[1:]:
            name = view.name_of(key)
            yield Say(
                f"people.{key}.name",
                f"{keys[0]} and {key} are both called {name}",
                document=DOCUMENT,
            )


@rule(
    "shared-login",
    "note",
    "They must say who they are each time; take the login out of people who no longer use it.",
    "book",
)
def shared_login(view: BookView) -> Says:
    """One login stands for several people."""
    by_login: dict[str, list[str]] = {}
    for key, person in view.people.people.items():
        for login in dict.fromkeys(person.logins or []):
            by_login.setdefault(login, []).append(key)
    for login, keys in by_login.items():
        if len(keys) > 1:
            names = joined([view.name_of(key) for key in keys])
            yield Say(
                f"people.{keys[-1]}.logins",
                f"the login {login} stands for {names}",
                document=DOCUMENT,
            )


@rule("no-role", "warning", "Give at least one of setter, lead, auditor.", "book")
def no_role(view: BookView) -> Says:
    """A person has no role."""
    for key, person in view.people.people.items():
        if not person.roles:
            yield Say(f"people.{key}.roles", f"{person.name} has no role", document=DOCUMENT)


@rule("no-lead", "error", "Somebody who may write to the book's files adds a lead.", "book")
def no_lead(view: BookView) -> Says:
    """Nobody may sign off or change cells, people and policy."""
    people = view.people.people.values()
    if view.knows_people and not any(person.may_lead(view.today) for person in people):
        yield Say("people", "no lead is here who could sign off", document=DOCUMENT)


@rule(
    "pencil-left-behind",
    "warning",
    "Ask them what it was for; whoever goes on with the record enters it again.",
    "book",
)
def pencil_left_behind(view: BookView) -> Says:
    """Somebody who can no longer ink has pencil."""
    for draft in view.drafts if view.knows_people else ():
        person = view.people.people.get(draft.person)
        if person is not None and person.may_ink(view.today):
            continue
        if person is None:
            why = f"{draft.person}, who is not in people.toml,"
        elif person.left_on is not None and view.today > person.left_on:
            why = f"{person.name}, who left on {person.left_on:%Y-%m-%d},"
        else:
            why = f"{person.name}, who only reads,"
        first = draft.marks[0].address
        values = count(len(draft.marks), "value")
        yield Say(first, f"{why} has {values} in pencil", document=draft.held.name)
