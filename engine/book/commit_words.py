"""What a commit's message says: values that changed, the trailers, the reason as it was typed.

Everything here is read back by `engine.log`, so one form of it stands for ever.
"""

from __future__ import annotations

from collections.abc import Sequence

from engine.views import Change, Identity
from engine.views.wording import count
from schemas.address import Value, show
from schemas.errors import UsageError
from schemas.fields import visible_lines


def trailers(
    identity: Identity, kind: str, key: str, reason: str = "", draft: str = ""
) -> dict[str, str]:
    """The trailers that every commit of the program has; those without a value are left out."""
    return {
        "Kind": kind,
        "Record": key,
        "Person": identity.key,
        "Login": identity.login,
        "Reason": checked_reason(reason),
        "Draft": draft,
    }


def checked_reason(reason: str) -> str:
    """A reason as it may stand in history. UsageError where it has signs nobody can see."""
    try:
        visible_lines(reason)
    except ValueError as error:
        hint = "Type it again in plain words."
        raise UsageError(f"the reason has {error}", hint=hint) from None
    if len(reason) > 2000:
        raise UsageError("the reason has more than 2000 characters", hint="Put it in the notes.")
    return reason.strip()


def line(change: Change) -> str:
    """One change on one line: `positions.seat.reach: 612.350 -> 612.500 mm (+0.150)`."""
    old = _short(change.old) if change.old is not None else "nothing"
    new = _short(change.new) if change.new is not None else "nothing"
    unit = f" {change.unit}" if change.unit else ""
    delta = f" ({change.delta:+f})" if change.delta is not None else ""
    return f"{change.address}: {old} -> {new}{unit}{delta}"


def _short(value: Value | None) -> str:
    text = " ".join(show(value).split())
    return text if len(text) <= 60 else f"{text[:59]}…"


def subject_of(changes: Sequence[Change], respelt: int) -> list[str]:
    """What changed, in a few words."""
    if not changes:
        return [f"{count(respelt, 'value')} spelt otherwise"] if respelt else []
    if len(changes) <= 2:
        return [line(change) for change in changes]
    tables = dict.fromkeys(
        ".".join(c.address.split(".")[: 2 if c.address.startswith("positions") else 1])
        for c in changes
    )
    return [f"{len(changes)} values in {', '.join(tables)}"]
