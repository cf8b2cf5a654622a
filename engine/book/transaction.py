"""To ink: one commit, on the disk before anybody is told, nothing overwritten.

What each crash point leaves, and who mends it (`docs/crash-points.md` has the
table in full):

    before the intent is written   pencil as it was; loose objects, harmless
    intent written, branch not     pencil as it was; the intent is dropped
    branch moved, file old         the file still equals the parent's: rewritten
    file half written              the draft beside it is removed, the file rewritten
    file written, index old        the index entry is brought up to date
    all done, pencil open          the intent names its marks: closed
    pencil closed, intent there    all steps are done again and change nothing

The order is: lock, mend what a crash left, look at the head, compare the work
tree with it, objects, intent, branch, work tree, index, pencil, intent gone.
The branch moves by compare-and-swap, so a save by hand in between is seen.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from engine.drafts.pencil import Pencil
from engine.repo.git import Git, Signature
from engine.repo.lock import held, take_stale_aside
from engine.repo.message import compose
from engine.repo.work_tree import forget_drafts, read_file, remove_file, replace, write_file
from schemas.document import kind_of, name_of
from schemas.errors import BookError, Conflict, FoundOnDisk, WitnessmarkError


@dataclass(frozen=True)
class CommitPlan:
    """One commit to be made on top of a head.

    `documents` and `linked` map paths to bytes, None takes a path out. A
    document's file on disk must equal the head's; a linked file's must equal
    what is inked (it is the source) unless `writes_linked`.

    Of a merge, `stored` maps paths to blobs that are in the repository already,
    `parents` are its further parents, and `aside` is pencil to be put down once it
    is published: person, document, marks. `ready` is a commit to move to as it is.
    """

    subject: str
    body: Sequence[str]
    trailers: Mapping[str, str]
    person: Signature
    documents: Mapping[str, bytes | None]
    linked: Mapping[str, bytes] = field(default_factory=dict)
    writes_linked: bool = False
    pencil: tuple[str, str, str, list[dict[str, Any]]] | None = (
        None  # person, document, draft, marks
    )
    stored: Mapping[str, str | None] = field(default_factory=dict)
    parents: Sequence[str] = ()
    aside: Sequence[tuple[str, str, list[dict[str, Any]]]] = ()
    ready: str = ""


class Inker:
    """Makes commits in one book; several processes may each have one."""

    def __init__(self, git: Git) -> None:
        self.git = git
        self.folder = git.folder
        self.private = git.private / "witnessmark"

    def commit(self, make: Callable[[str], CommitPlan]) -> str:
        """Make the commit that `make` plans on the present head; its id.

        `make` may raise (a conflict, a refusal): nothing is changed then. It is
        called again where somebody moved the branch meanwhile. Once the branch
        moved the save is one: what the disk refuses after that is left to `mend`.
        """
        try:
            return self._commit(make)
        except OSError as error:
            raise BookError(
                f"the disk refused: {error.strerror or error}",
                where=str(error.filename or self.folder),
                hint="Nothing was inked and your pencil is kept. Look at space and rights.",
            ) from error

    def _commit(self, make: Callable[[str], CommitPlan]) -> str:
        with self.locked():
            self.mend()
            branch = self.git.branch()
            for _ in range(100):
                head = self.git.head()
                plan = make(head)
                self._compare_with_disk(plan, self.git.tree(head) if head else {})
                commit = plan.ready or self._write(plan, head)
                self._intend(plan, commit, head)
                if self.git.move(branch, commit, head):
                    with suppress(OSError, WitnessmarkError):
                        self.mend()
                    return commit
            raise Conflict(
                "others moved the book's branch again and again",
                hint="Your pencil is kept. Find out what else writes here.",
            )

    @contextmanager
    def locked(self) -> Iterator[None]:
        """The save lock, held by every git that is started under it too."""
        with held(self.private) as handle, self.git.keeping(handle):
            yield

    def _compare_with_disk(self, plan: CommitPlan, entries: Mapping[str, str]) -> None:
        """A hand edit is never overwritten: the file must be the head's, or gone."""
        for path, new in plan.documents.items():
            disk = read_file(self.folder, path)
            inked = self.git.blob(entries[path]) if path in entries else None
            if disk is not None and disk not in (inked, new):
                raise FoundOnDisk(
                    "the file was changed outside the program since the last ink",
                    where=path,
                    hint=f"`witnessmark pencil {name_of(path)} --take-from-disk` takes the change "
                    "as pencil, `--put-back` puts the inked text back (a copy is kept).",
                )
        for path, blob in plan.stored.items():
            self._compare_stored(path, blob, entries.get(path))
        if not plan.writes_linked:
            return
        for path, new in plan.linked.items():
            disk = read_file(self.folder, path)
            inked = self.git.blob(entries[path]) if path in entries else None
            if disk is not None and disk not in (inked, new):
                raise FoundOnDisk(
                    "the file on disk was never inked",
                    where=path,
                    hint="Ink the record that links to it first, so nothing is lost.",
                )

    def _compare_stored(self, path: str, new: str | None, inked: str | None) -> None:
        """The same for what comes from elsewhere, whatever kind of file it is."""
        disk = read_file(self.folder, path)
        if disk is None or any(disk == self.git.blob(blob) for blob in (inked, new) if blob):
            return
        name = name_of(path) if kind_of(path) else "RECORD"
        raise FoundOnDisk(
            "the file on disk is not as inked, and another text of it has come in",
            where=path,
            hint=f"Nothing was taken in. Ink it first, or move it away: `witnessmark ink {name}`, "
            f"`witnessmark pencil {name} --take-from-disk` or `--put-back`. Then sync again.",
        )

    def _write(self, plan: CommitPlan, head: str) -> str:
        blobs: dict[str, str | None] = dict(plan.stored)
        for path, data in {**plan.documents, **plan.linked}.items():
            blobs[path] = None if data is None else self.git.write_blob(data)
        message = compose(plan.subject, plan.body, plan.trailers)
        return self.git.commit(head, blobs, message, plan.person, plan.parents)

    # after a crash, and after every save

    @property
    def _intent(self) -> Path:
        return self.private / "intent.json"

    def _intend(self, plan: CommitPlan, commit: str, head: str) -> None:
        intent = {
            "commit": commit,
            "parent": head,
            "pencil": plan.pencil,
            "paths": [*plan.documents, *plan.linked, *plan.stored],
            "aside": list(plan.aside),
            "behind": self._read_intent().get("behind", {}),
        }
        replace(self._intent, json.dumps(intent).encode())

    def mend(self) -> None:
        """Finish a save that was published, or drop one that was not. Needs the lock."""
        take_stale_aside(self.private, self.git.branch())
        self.git.forget_trees()
        intent = self._read_intent()
        if not intent:
            self._intent.unlink(missing_ok=True)
            return
        head = self.git.head()
        known = self.git.object(intent["commit"])[0]
        published = known and head and self.git.is_ancestor(intent["commit"], head)
        behind = self._finish(intent, head) if published else intent["behind"]
        if behind:
            left = {**intent, "paths": [], "pencil": None, "aside": [], "behind": behind}
            replace(self._intent, json.dumps(left).encode())
        else:
            self._intent.unlink(missing_ok=True)

    def _read_intent(self) -> dict[str, Any]:
        try:
            intent = json.loads(self._intent.read_bytes())
        except (FileNotFoundError, ValueError):
            return {}
        wanted = {"commit", "parent", "pencil", "paths", "behind"}
        return intent if isinstance(intent, dict) and wanted <= intent.keys() else {}

    def mend_if_needed(self) -> None:
        """Before looking at files: take the lock only where a save was left unfinished.

        What cannot be done now (a full disk, a reader without rights) is left for later.
        """
        if self.unfinished():
            with suppress(OSError, WitnessmarkError), self.locked():
                self.mend()

    def unfinished(self) -> bool:
        """Whether a save is going on now, or was left unfinished."""
        return self._intent.exists()

    def _finish(self, intent: Mapping[str, Any], head: str) -> dict[str, str | None]:
        """All steps after the branch moved; index entries that could not be brought."""
        now = self.git.tree(head)
        before = self.git.tree(intent["parent"]) if intent["parent"] else {}
        for path in intent["paths"]:
            self._bring_file(path, before.get(path), now.get(path))
        old = {path: before.get(path) for path in intent["paths"]}
        behind = self._bring_index(intent["behind"] | old, now)
        if intent["pencil"]:
            person, document, draft, marks = intent["pencil"]
            Pencil(self.private, person, document).inked(draft, intent["commit"], marks)
        for person, document, marks in intent.get("aside", ()):
            Pencil(self.private, person, document).set_aside(intent["commit"], marks)
        return behind

    def _bring_file(self, path: str, old: str | None, new: str | None) -> None:
        """Write a work-tree file only where it is still the parent's, or missing."""
        forget_drafts(self.folder, path)
        disk = read_file(self.folder, path)
        data = self.git.blob(new) if new else None
        if disk == data:
            return
        if disk is None or (old and disk == self.git.blob(old)):
            if data is None:
                remove_file(self.folder, path)
            else:
                write_file(self.folder, path, data)

    def _bring_index(
        self, old: Mapping[str, str | None], now: Mapping[str, str]
    ) -> dict[str, str | None]:
        """Bring index entries that are still the parent's up to date; those that failed.

        Without this, a later commit by hand would take a colleague's save back.
        """
        entries = self.git.index_entries(list(old)) if len(old) < 100 else self.git.index_entries()
        stale = {p for p in old if entries.get(p) == old[p] and entries.get(p) != now.get(p)}
        if stale:
            try:
                self.git.set_index({path: now.get(path) for path in stale})
            except BookError:  # somebody's own git holds the index; the save itself is safe
                return {path: old[path] for path in stale}
        return {}
