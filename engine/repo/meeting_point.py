"""Where boxes meet: which repository, which branch, and what was last seen there.

What was last seen is kept in the private folder, by address: that a past was
rewritten is noticed by it, and what waits is counted from it, offline too. The
commit seen last is held by a ref of ours, so nothing throws it away.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from engine.repo.git import Git
from engine.repo.private import read_note, read_private, write_private
from engine.repo.remote import Remote, read_address
from schemas.errors import BookError, Refused, UsageError

_NOTES = "met.json"
_ID = re.compile(r"[0-9a-f]{40}|[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Seen:
    """What was last seen at a meeting point; `at` is None where only a clone has seen it."""

    tip: str
    at: datetime | None


class MeetingPoint:
    """One meeting point of one book."""

    def __init__(self, git: Git, address: str) -> None:
        self.git = git
        self.address = address
        self.branch = git.branch()
        self.place: Remote = read_address(address, git.folder)
        self._mark = hashlib.sha256(address.encode()).hexdigest()[:12]
        self._private = git.private / "witnessmark"

    @property
    def short_branch(self) -> str:
        """The branch as people say it."""
        return self.branch.removeprefix("refs/heads/")

    @property
    def locks(self) -> list[str]:
        """Locks that git takes for a sync, in this repository."""
        ours = f"refs/witnessmark/{self._mark}"
        return [f"{ours}/incoming.lock", f"{ours}/seen.lock", "config.lock"]

    def seen(self) -> Seen | None:
        """What was last seen there, or None where this box never looked."""
        found = self._notes().get(self.address)
        if found:
            return Seen(found["tip"], datetime.fromisoformat(found["at"]))
        cloned = self.git.object(f"refs/remotes/origin/{self.short_branch}")[0]
        if cloned and _settings(self.git).get("remote.origin.url") == self.address:
            return Seen(cloned, None)
        return None

    def saw(self, tip: str, at: datetime) -> None:
        """Note what stands there now, durably."""
        self.git.run("update-ref", "--", f"refs/witnessmark/{self._mark}/seen", tip)
        notes = self._notes() | {self.address: {"tip": tip, "at": at.isoformat()}}
        write_private(self._private, _NOTES, json.dumps(notes).encode())

    def note_rewritten(self, words: str, seen: Seen, at: datetime) -> None:
        """Note that the past there does not hold what was seen, until it is looked at anew."""
        note = {"tip": seen.tip, "at": (seen.at or at).isoformat(), "rewritten": words}
        notes = self._notes() | {self.address: note}
        write_private(self._private, _NOTES, json.dumps(notes).encode())

    def _notes(self) -> dict[str, dict[str, str]]:
        return _notes_in(self._private)

    def fetch(self) -> str:
        """Bring what is there; its commit, or empty where nothing was ever put there."""
        into = f"refs/witnessmark/{self._mark}/incoming"
        try:
            self.place.fetch(self.git, self.branch, into)
        except BookError as error:
            if "couldn't find remote ref" not in error.what:
                raise
            self._stop_at_other_branches()
            return ""
        return self.git.object(into)[0]

    def _stop_at_other_branches(self) -> None:
        others = self.place.branches(self.git)
        if others:
            raise Refused(
                f"the meeting point has no branch {self.short_branch}, only {', '.join(others)}",
                where=self.address,
                hint="It is another book's, or its branch was renamed. Ask who did it.",
            )

    def push(self, commit: str) -> None:
        """Let the branch there go forward to a commit. BookError where it does not."""
        self.place.push(self.git, commit, self.branch)


def rewritten(git: Git) -> dict[str, str]:
    """Meeting points whose past was found rewritten and is not joined yet: how, by address."""
    notes = _notes_in(git.private / "witnessmark")
    return {address: note["rewritten"] for address, note in notes.items() if "rewritten" in note}


def _notes_in(private: Path) -> dict[str, dict[str, str]]:
    """What is noted, by address; of what makes no sense, nothing."""
    try:
        notes = read_note(read_private(private, _NOTES) or b"{}")
        return {a: n for a, n in notes.items() if _is_note(n)}
    except (OSError, ValueError, AttributeError):
        return {}


def find(git: Git, wanted: str = "") -> MeetingPoint | None:
    """The meeting point that is set, or the wanted one; None where there is none.

    UsageError where several are set and none is called origin.
    """
    if wanted:
        place = read_address(wanted, Path.cwd())
        return MeetingPoint(git, place.address)
    found = {
        key.removeprefix("remote.").removesuffix(".url"): value
        for key, value in _settings(git).items()
        if key.startswith("remote.") and key.endswith(".url")
    }
    if not found:
        return None
    if "origin" not in found and len(found) > 1:
        raise UsageError(
            f"several meeting points are set: {', '.join(sorted(found))}",
            hint="Name one with --with, and it is the one from then on.",
        )
    return MeetingPoint(git, found.get("origin") or next(iter(found.values())))


def remember(git: Git, address: str) -> None:
    """Let an address be the meeting point from now on: `remote.origin.url`."""
    if _settings(git).get("remote.origin.url") == address:
        return
    for key, value in (
        ("remote.origin.url", address),
        ("remote.origin.fetch", "+refs/heads/*:refs/remotes/origin/*"),
    ):
        file = str(git.private / "config")
        git.run("config", "--file", file, "--replace-all", key, value)


def _settings(git: Git) -> dict[str, str]:
    return git.config(git.private / "config")


def _is_note(note: object) -> bool:
    """Whether something is what is noted of one meeting point."""
    try:
        return (
            isinstance(note, dict)
            and _ID.fullmatch(note["tip"]) is not None
            and datetime.fromisoformat(note["at"]).tzinfo is not None
            and isinstance(note.get("rewritten", ""), str)
        )
    except (KeyError, TypeError, ValueError):
        return False
