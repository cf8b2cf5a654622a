"""Every error says what is wrong, where, and what to do next.

One tree, so that a caller may catch as widely as it likes. `exit_code` is what
the command line answers: 2 for wrong use or an unreadable book, 3 for refused
or in conflict. Nothing here prints.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in one file.

    Attributes: `file` relative to the book; `line` from 1, or 0 where no line
    can be told; `address` dotted, or empty; `what` is wrong; `hint`, what to do.
    """

    file: str
    line: int
    address: str
    what: str
    hint: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        address = f" {self.address}" if self.address else ""
        return f"{place}{address}: {self.what}. {self.hint}".rstrip()


class WitnessmarkError(Exception):
    """The root. `what` happened, `where`, and a `hint` of what to do."""

    exit_code = 2

    def __init__(self, what: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.where}: {self.what}" if self.where else self.what


class UsageError(WitnessmarkError):
    """The words of the call are off: an unknown record, address, mark or date."""


class Gone(UsageError):
    """A document that was in the book and is not any more; its past stays, and pencil on it."""


class BookError(WitnessmarkError):
    """The book itself cannot be opened or is not safe to open."""


class ReadError(WitnessmarkError):
    """A file of the book cannot be read; `problems` holds every reason found."""

    def __init__(self, problems: list[Problem]) -> None:
        first = problems[0]
        place = f"{first.file}:{first.line}" if first.line else first.file
        address = f"{first.address}: " if first.address else ""
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        super().__init__(f"{address}{first.what}{more}", where=place, hint=first.hint)
        self.problems = problems


class ValueRefused(UsageError):
    """A typed value does not suit its field; nothing was changed."""


class NotShown(WitnessmarkError):
    """What was asked for is done and kept; only what stands there now cannot be told."""


@contextmanager
def once_in_pencil(done: str = "your pencil is changed as you asked") -> Iterator[None]:
    """What is only looked at once an act of pencil is accepted. NotShown where that fails."""
    try:
        yield
    except NotShown:
        raise
    except (OSError, WitnessmarkError) as error:
        why = error if isinstance(error, WitnessmarkError) else error.strerror or error
        raise NotShown(
            f"{done}, and kept; but what stands there now cannot be shown: {why}",
            hint="Nothing has to be typed again. Look again once the disk can be read.",
        ) from error


class Refused(WitnessmarkError):
    """The rules do not allow it: role, policy, identity, or a state that forbids it."""

    exit_code = 3


class NoRight(Refused):
    """The machine's own rights do not let this account write here; nothing was lost."""


class Conflict(Refused):
    """Somebody else changed the same thing meanwhile; nothing was overwritten."""


class BelongsTogether(Refused):
    """Pencil that was not named belongs together with what was; the person says what goes."""


class FoundOnDisk(Refused):
    """A file was changed outside the program; it was left as it is."""
