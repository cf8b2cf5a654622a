"""The past of a book, read from git once and then only what is new.

Identity goes by what a document is, not by its path: a record is its id, so a
rename changes nothing here. Of a merge, only what differs from all parents is
its own. Everything here can be thrown away and read again.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime

from engine.answers import Who
from engine.history.git import Git
from engine.history.message import subject_of, trailers_of
from schemas.address import Value, flatten, look_up
from schemas.document import Document, kind_of, name_of, read_document
from schemas.errors import ReadError
from schemas.toml import read_toml

_CANONICAL = re.compile(rb'format = 1\n\n\[record\]\nid = "(wm-[0-9a-z]{6,12})"\n')
_RECORD_ID = re.compile(r'^id *= *"(wm-[0-9a-z]{6,12})"', re.MULTILINE)
EMAIL_HOST = "witnessmark"


@dataclass(frozen=True, slots=True)
class Saved:
    """One commit: who, when, why. `whole` where its trailers, author and committer agree."""

    id: str
    parents: tuple[str, ...]
    who: Who
    when: datetime
    subject: str
    reason: str
    kind: str
    draft: str
    whole: bool


@dataclass(frozen=True, slots=True)
class Step:
    """One change of one document: its blob in each parent and afterwards ("" for none)."""

    saved: Saved
    path: str
    olds: tuple[str, ...]
    new: str


@dataclass
class Past:
    """All commits up to `head`, and the life of every document, oldest first."""

    git: Git
    head: str = ""
    rewritten: bool = False
    order: dict[str, int] = field(default_factory=dict)
    saves: list[Saved] = field(default_factory=list)
    lives: dict[str, list[Step]] = field(default_factory=dict)
    _documents: dict[tuple[str, str], Document | ReadError] = field(default_factory=dict)
    _values: dict[tuple[str, str], dict[str, Value] | None] = field(default_factory=dict)
    _keys: dict[tuple[str, str], str] = field(default_factory=dict)

    def refresh(self, head: str) -> None:
        """Take in what is new up to `head`; all of it if the past was rewritten."""
        if head == self.head:
            return
        if self.head and not self.git.is_ancestor(self.head, head):
            self.rewritten = True
            self.order, self.saves, self.lives, self.head = {}, [], {}, ""
        span = (head, f"^{self.head}") if self.head else (head,)
        for commit, files in reversed(list(self.git.raw_log(*span))):
            saved = self._saved(commit)
            self.order[commit] = len(self.saves)
            self.saves.append(saved)
            for key, step in self._steps(saved, files):
                self.lives.setdefault(key, []).append(step)
        self.head = head

    def _saved(self, commit: str) -> Saved:
        raw = self.git.raw_commit(commit)
        trailers = trailers_of(raw.message)
        email = raw.author[1]
        person = email.removesuffix(f"@{EMAIL_HOST}") if email.endswith(f"@{EMAIL_HOST}") else ""
        whole = bool(person) and person == trailers.get("Person") and raw.author == raw.committer
        who = Who(person or email, raw.author[0], trailers.get("Login", ""))
        return Saved(
            commit,
            raw.parents,
            who,
            raw.when,
            subject_of(raw.message),
            trailers.get("Reason", ""),
            trailers.get("Kind", ""),
            trailers.get("Draft", ""),
            whole and "Kind" in trailers,
        )

    def _steps(
        self, saved: Saved, files: list[tuple[list[str], str, str]]
    ) -> Iterator[tuple[str, Step]]:
        """What one commit did to each document, renames joined up."""
        before: dict[str, str] = {}
        after: dict[str, tuple[str, str]] = {}
        for olds, new, path in files:
            if kind_of(path) is None:
                continue
            old = olds[0]
            if old.strip("0"):
                before[self.key(path, old)] = old
            if new.strip("0"):
                after[self.key(path, new)] = (path, new)
            else:
                after.setdefault(self.key(path, old) if old.strip("0") else path, (path, ""))
        for key in before:
            after.setdefault(key, ("", ""))
        for key, (path, new) in after.items():
            olds_of: tuple[str, ...] = (before.get(key, ""),)
            if len(saved.parents) > 1:
                olds_of = tuple(self._blob_at(parent, key) for parent in saved.parents)
            yield key, Step(saved, path, olds_of, new)

    def _blob_at(self, commit: str, key: str) -> str:
        for path, blob in self.git.tree(commit).items():
            if kind_of(path) is not None and self.key(path, blob) == key:
                return blob
        return ""

    def key(self, path: str, blob: str) -> str:
        """What a document is: a record's id, or the name of any other document.

        A record without an id goes by `records/…`, so that it is never taken for another.
        """
        if kind_of(path) != "record":
            return name_of(path)
        found = self._keys.get((path, blob))
        if found is None:
            found = self._keys[path, blob] = self._record_id(path, blob)
        return found

    def _record_id(self, path: str, blob: str) -> str:
        data = self.git.blob(blob)
        quick = _CANONICAL.match(data)
        if quick:
            return quick[1].decode()
        try:
            found = look_up(read_toml(data, path).tree, "record.id")
        except ReadError:  # a broken text is still that record's, if it says so
            found = None
            text = data.decode("utf-8", "replace").partition("[record]")[2]
            if broken := _RECORD_ID.search(text):
                return broken[1]
        named = isinstance(found, str) and re.fullmatch("wm-[0-9a-z]{6,12}", found)
        return str(found) if named else path.removesuffix(".toml")

    def document(self, path: str, blob: str) -> Document:
        """A document by its blob. ReadError where that text cannot be used."""
        found = self._documents.get((path, blob))
        if found is None:
            try:
                found = read_document(self.git.blob(blob), path)
            except ReadError as error:
                found = error
            self._documents[path, blob] = found
        if isinstance(found, ReadError):
            raise found
        return found

    def values(self, path: str, blob: str) -> dict[str, Value] | None:
        """Every value of a document by address, even of one that breaks a rule.

        Empty for no file, None where the text is no TOML at all.
        """
        if not blob:
            return {}
        if (path, blob) not in self._values:
            self._values[path, blob] = self._read_values(path, blob)
        return self._values[path, blob]

    def _read_values(self, path: str, blob: str) -> dict[str, Value] | None:
        try:
            return self.document(path, blob).values
        except ReadError:
            try:
                return flatten(read_toml(self.git.blob(blob), path).tree)
            except ReadError:
                return None

    def after(self, base: str) -> set[str]:
        """Commits that are in the past of the head but not in that of `base`."""
        if base == self.head:
            return set()
        if base not in self.order:
            return set(self.order)
        return set(self.git.run("rev-list", self.head, f"^{base}", "--").decode().split())
