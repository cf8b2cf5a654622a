"""To ink: one commit, on the disk before anybody is told, nothing overwritten.

What each crash point leaves, and who mends it (`docs/crash-points.md` has the
table in full):

    before the intent is written   pencil as it was; loose objects, harmless
    intent written, branch not     pencil as it was; the intent is dropped
    branch moved, file old         the file still equals the parent's: rewritten
    file half written              the draft beside it is removed, the file rewritten
    file written, index old        git's index is locked by us: no commit by hand; the entry
                                   is brought up to date and the lock let go
    all done, pencil open          the intent names its marks: closed
    pencil closed, intent there    all steps are done again and change nothing

The order is: lock, mend what a crash left, look at the head, compare the work
tree with it, objects, intent, git's lock on its index, branch, work tree, index, pencil,
that lock let go, intent gone. The git that moves the branch is started before the objects
are written, and told only then; the next index is made in a copy while the branch moves,
and takes its place where this says. The branch moves by compare-and-swap, so a save by hand
in between is seen.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Generic, TypeVar

from engine.book.left_words import aside_in_words, mended_in_words, to_do_in_words
from engine.book.mending import A_MOMENT, AsidePencil, InkedPencil, Mended, Mender
from engine.log.formats import Formats
from engine.repo.durable import disk_refused
from engine.repo.git import Git, Signature
from engine.repo.lock import held
from engine.repo.message import compose
from engine.repo.rights import is_denied, no_right_to_write
from engine.repo.stale_locks import NO_BAR
from engine.repo.work_tree import read_file
from schemas.document import kind_of, name_of
from schemas.errors import BookError, Conflict, FoundOnDisk, NoRight, Refused, WitnessmarkError

Kept = TypeVar("Kept")
_KEPT = "Nothing was inked and your pencil is kept."


@dataclass(frozen=True)
class CommitPlan:
    """One commit to be made on top of a head.

    `documents` and `linked` map paths to bytes, None takes a path out. A
    document's file on disk must equal the head's; a linked file's must equal
    what is inked (it is the source) unless `writes_linked`.

    Of a merge, `stored` maps paths to blobs that are in the repository already, and
    `parents` are its further parents. `ready` is a commit to move to as it is.
    """

    subject: str
    body: Sequence[str]
    trailers: Mapping[str, str]
    person: Signature
    documents: Mapping[str, bytes | None]
    linked: Mapping[str, bytes] = field(default_factory=dict)
    writes_linked: bool = False
    pencil: InkedPencil | None = None
    stored: Mapping[str, str | None] = field(default_factory=dict)
    parents: Sequence[str] = ()
    aside: Sequence[AsidePencil] = ()
    ready: str = ""

    @property
    def paths(self) -> list[str]:
        """Every path that it writes."""
        return [*self.documents, *self.linked, *self.stored]


@dataclass(frozen=True)
class Committed(Generic[Kept]):
    """What a transaction did: the commit, and what the maker of its plan wanted to know."""

    commit: str
    plan: CommitPlan
    kept: Kept
    said: tuple[str, ...] = ()  # what could not be done after the branch moved, and the like


class Inker:
    """Makes commits in one book; several processes may each have one."""

    def __init__(self, git: Git) -> None:
        self.git = git
        self.folder = git.folder
        self.private = git.private / "witnessmark"
        self.formats = Formats(git, self.private / "formats.json")
        self._mender = Mender(git, self.private)

    def commit(self, make: Callable[[str], tuple[CommitPlan, Kept]]) -> Committed[Kept]:
        """Make the commit that `make` plans on the present head, with what it wants kept.

        `make` may raise (a conflict, a refusal): nothing is changed then. Refused where a
        newer program wrote a file of the book, or of what is to be taken in. `make` is
        called again where somebody moved the branch meanwhile. Once the branch
        moved the save is one: what the disk refuses after that is left to `mend`.
        """
        try:
            return self._commit(make)
        except PermissionError as error:
            path = Path(error.filename or self.folder)
            raise no_right_to_write(path, self.git.private, kept=_KEPT) from error
        except BookError as error:
            if not is_denied(error.what):
                raise
            path = self.git.private
            raise no_right_to_write(path, self.git.private, kept=_KEPT) from error
        except OSError as error:
            hint = "Nothing was inked and your pencil is kept. Look at space and rights."
            raise disk_refused(error, self.folder, hint) from error

    def _commit(self, make: Callable[[str], tuple[CommitPlan, Kept]]) -> Committed[Kept]:
        with self.locked():
            mended = self._mender.mend()
            self._stop_at_locks(mended)
            branch = self.git.branch()
            for _ in range(100):
                head = self.git.head()
                self.formats.stop_if_newer(head)
                plan, kept = make(head)
                self.formats.stop_if_newer(plan.ready, *plan.parents)
                self._compare_with_disk(
                    plan, self.git.tree(head) if head else {}, mended.todo.files
                )
                with self.git.about_to_move():
                    commit = plan.ready or self._write(plan, head)
                    moved = self._publish(branch, commit, head, plan)
                if moved:
                    said = [*aside_in_words(mended), *self._finish()]
                    return Committed(commit, plan, kept, tuple(said))
            raise Conflict(
                "others moved the book's branch again and again",
                hint="Your pencil is kept. Find out what else writes here.",
            )

    def _stop_at_locks(self, mended: Mended) -> None:
        """Refused where somebody's git keeps the branch locked: nothing could be saved now."""
        of_branch = [each for each in mended.standing if each.name not in NO_BAR]
        end = time.monotonic() + A_MOMENT
        while standing := [each for each in of_branch if each.path.exists()]:
            if time.monotonic() >= end:
                raise Refused(
                    f"another git has a lock on the book's branch: {standing[0].words}",
                    hint=f"Nothing was saved and your pencil is kept. {standing[0].hint}",
                )
            time.sleep(0.02)

    def _publish(self, branch: str, commit: str, head: str, plan: CommitPlan) -> bool:
        """Move the branch, with git's index held; False where somebody else moved it first."""
        try:
            self._mender.intend(commit, head, plan.paths, plan.pencil, plan.aside)
            moved = self.git.move(branch, commit, head)
        except BaseException:  # whatever it was, no git by hand is held up by it
            self._mender.index.let_go()
            raise
        if not moved:
            self._mender.index.let_go()
        return moved

    def _finish(self) -> list[str]:
        """All that comes after the branch moved; what a person should know of it, in words."""
        try:
            return mended_in_words(self._mender.mend())
        except (OSError, WitnessmarkError):
            return self._left()

    def mend_if_needed(self, *, wait: bool = True) -> None:
        """Before looking at files: take the lock only where a save was left unfinished.

        What cannot be done now (a full disk, a reader without rights) is left for later,
        and so is all of it where somebody is saving and there is no time to `wait`.
        """
        if self.unfinished():
            with suppress(OSError, WitnessmarkError), self.locked(wait=wait):
                self._mender.mend()

    def unfinished(self) -> bool:
        """Whether a save is going on now, or was left unfinished."""
        return self._mender.unfinished()

    def left_in_words(self) -> list[str]:
        """What earlier saves could not do yet; nothing while somebody is saving."""
        if not self.unfinished():
            return []
        try:
            with self.locked(wait=False):
                return self._left()
        except (OSError, BookError, NoRight):  # who may only read here is told, too
            return self._left()
        except Refused:
            return []

    def _left(self) -> list[str]:
        try:
            return to_do_in_words(self._mender.to_do())
        except OSError as error:  # the note is another account's, say
            return [f"a save was left unfinished: {error.filename}: {error.strerror}"]
        except (
            WitnessmarkError
        ) as error:  # what is left cannot be read: the save is one all the same
            return [f"a save was left unfinished: {error.what}"]

    def unstage(self, path: str, text: str) -> None:
        """Let git's index have what is inked at a path, where the text `text` (a blob) was
        staged by hand; noted where it cannot be done now. Needs the save lock."""
        with suppress(OSError, WitnessmarkError):
            self._mender.unstage(path, text)

    @contextmanager
    def locked(self, *, wait: bool = True) -> Iterator[None]:
        """The save lock, held by every git that is started under it too."""
        with held(self.private, wait=wait) as handle, self.git.keeping(handle):
            yield

    def _compare_with_disk(
        self, plan: CommitPlan, entries: Mapping[str, str], left: Mapping[str, Sequence[str | None]]
    ) -> None:
        """A hand edit is never overwritten: the file must be the head's, or gone, or what an
        earlier save had to leave there."""
        for path, new in plan.documents.items():
            known = [entries.get(path), *left.get(path, ())]
            if not self._is_as_inked(path, known, new):
                raise FoundOnDisk(
                    "the file was changed outside the program since the last ink",
                    where=path,
                    hint=f"`witnessmark pencil {name_of(path)} --take-from-disk` takes the change "
                    "as pencil, `--put-back` puts the inked text back (a copy is kept).",
                )
        for path, blob in plan.stored.items():
            self._compare_stored(path, blob, entries.get(path))
        for path, new in plan.linked.items() if plan.writes_linked else ():
            if not self._is_as_inked(path, [entries.get(path)], new):
                raise FoundOnDisk(
                    "the file on disk was never inked",
                    where=path,
                    hint="Ink the record that links to it first, so nothing is lost.",
                )

    def _is_as_inked(self, path: str, known: Sequence[str | None], new: bytes | None) -> bool:
        """Whether a file holds what is inked, was or will be, or is gone: nothing can be lost."""
        disk = read_file(self.folder, path)
        return disk in (None, new) or any(disk == self.git.blob(blob) for blob in known if blob)

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
        message = compose(plan.subject, plan.body, plan.trailers)
        with self.git.storing():
            for path, data in {**plan.documents, **plan.linked}.items():
                blobs[path] = None if data is None else self.git.write_blob(data)
            return self.git.commit(head, blobs, message, plan.person, plan.parents)
