"""Who may act on a book. A key stands for one person for ever and is never reused."""

from __future__ import annotations

from datetime import date
from typing import Literal

from schemas.fields import Key, Section, Text, field, needed, table
from schemas.record import Notes

Role = Literal["setter", "lead", "auditor"]


class Person(Section):
    """One person: what they may do, and by which logins they are known."""

    name: Text = needed("name as it stands in history")
    roles: list[Role] = needed("setter edits and inks, lead also signs off, auditor reads")
    logins: list[Text] | None = field("login names on the shop's machines")
    keys: list[Text] | None = field("public keys, one to a line")
    left_on: date | None = field("last day; from the day after, reads only")

    def may_ink(self, today: date) -> bool:
        """Whether this person may ink a record on a day."""
        here = self.left_on is None or today <= self.left_on
        return here and bool({"setter", "lead"} & set(self.roles))

    def may_lead(self, today: date) -> bool:
        """Whether this person may ink cells, people and policy, and sign off."""
        return self.may_ink(today) and "lead" in self.roles


class People(Section):
    """Everybody who may act on this book."""

    format: Literal[1] = needed("version of this file's format")
    looked_through: Text | None = field(
        "commit up to which a lead has looked who saved, and under which login"
    )
    people: dict[Key, Person] = table("people, by key")
    notes: Notes = table("words for the next person")

    def by_login(self, login: str) -> list[str]:
        """Keys of all who are known by a login; more than one where it is shared."""
        return [key for key, person in self.people.items() if login in (person.logins or [])]

    def without_login(self) -> list[str]:
        """Keys of all who have no login of their own."""
        return [key for key, person in self.people.items() if not person.logins]
