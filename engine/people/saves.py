"""Whether each save of the past was its person's to make, by people.toml as it stood then.

"Then" is the first parent of the save: what it says of itself does not count. A commit
is judged once; what was found is kept with the history that is known, so that later
only what is new is looked at. Commits that the program did not make are no saves: they
are told of as such. Nothing here is a proof, for a login is only what a save says.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from engine.log.commits import Saved
from engine.log.past import Past
from schemas.errors import ReadError
from schemas.people import People

PATH, KEY = "people.toml", "people"
NOT_THEIRS, NOT_ALLOWED = "login", "role"
_KEPT = "saves-judged-1"  # another number where other things are found
_LEADS_ACTS = ("start", "sign-off", "upgrade")
_LEADS_DOCUMENTS = ("people", "book")


@dataclass(frozen=True, slots=True)
class Doubt:
    """One save that was not its person's to make: which sort of doubt, and in words."""

    commit: str
    sort: str  # NOT_THEIRS or NOT_ALLOWED
    person: str
    why: str


def doubts(past: Past, cells: Iterable[str]) -> list[Doubt]:
    """All of them up to the head of the past, oldest first; `cells` are names of cells."""
    kept = json.loads(past.recall(_KEPT).get(_KEPT, "{}"))
    known = kept.get("head", "")
    if known == past.head:
        return [Doubt(*one) for one in kept["doubts"]]
    fresh = past.order_of(known) < 0 if known else True
    found = [] if fresh else [Doubt(*one) for one in kept["doubts"]]
    found += _Judge(past, cells).look("" if fresh else known)
    text = {"head": past.head, "doubts": [[d.commit, d.sort, d.person, d.why] for d in found]}
    past.keep({_KEPT: json.dumps(text)})
    return found


class _Judge:
    """Looks at saves in the order of history, and carries people.toml along."""

    def __init__(self, past: Past, cells: Iterable[str]) -> None:
        self._past = past
        self._blobs = {step.saved.id: step.new for step in past.life(KEY)}
        self._at: dict[str, str] = {}  # people.toml after a commit, as a blob
        self._models: dict[str, People | None] = {"": None}
        self._leads = {
            step.saved.id for key in (*_LEADS_DOCUMENTS, *cells) for step in past.life(key)
        }

    def look(self, base: str) -> Iterator[Doubt]:
        """What is doubtful after `base`; in the whole past where that is empty."""
        for commit in reversed(self._past.git.commits(self._past.head, base)):
            saved = self._past.saved(commit)
            if saved is None:
                continue
            before = self._after(saved.parents[0]) if saved.parents else ""
            self._at[commit] = self._blob(saved, before)
            people = self._people(before if saved.parents else self._at[commit])
            if saved.whole and people is not None:
                yield from self._judged(saved, people)

    def _after(self, commit: str) -> str:
        if commit not in self._at:
            self._at[commit] = self._past.git.blob_at(commit, PATH)
        return self._at[commit]

    def _blob(self, saved: Saved, before: str) -> str:
        if saved.id in self._blobs:
            return self._blobs[saved.id]
        return before if len(saved.parents) < 2 else self._past.git.blob_at(saved.id, PATH)

    def _people(self, blob: str) -> People | None:
        if blob not in self._models:
            try:
                model = self._past.document(PATH, blob).model
            except ReadError:
                model = None
            self._models[blob] = model if isinstance(model, People) else None
        return self._models[blob]

    def _judged(self, saved: Saved, people: People) -> Iterator[Doubt]:
        key = saved.who.key
        no_right = self._no_right(saved, people)
        if no_right:
            yield Doubt(saved.id, NOT_ALLOWED, key, no_right)
        elif not_theirs := _not_theirs(key, saved.who.login, people):
            yield Doubt(saved.id, NOT_THEIRS, key, not_theirs)

    def _no_right(self, saved: Saved, people: People) -> str:
        person, day = people.people.get(saved.who.key), saved.when.date()
        if person is None:
            return "was nobody in people.toml"
        if person.left_on is not None and day > person.left_on:
            return f"had left on {person.left_on:%Y-%m-%d}"
        if not person.may_ink(day):
            return "had no role to save anything"
        of_leads = saved.kind in _LEADS_ACTS or saved.id in self._leads
        if of_leads and saved.kind != "merge" and not person.may_lead(day):
            return "was no lead, and this was a lead's to save"
        return ""


def _not_theirs(key: str, login: str, people: People) -> str:
    """Why a login does not tell that it was this person; empty where it may be."""
    known, own = people.by_login(login) if login else [], people.people[key].logins
    if key in known or (not own and len(known) != 1):
        return ""
    if known:
        return f"under the login {login}, which was {' and '.join(known)}"
    return f"under the login {login or 'that is not told'}, which was nobody's"
