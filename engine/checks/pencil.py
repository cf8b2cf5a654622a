"""Rules on pencil: what was forgotten, and what others inked meanwhile."""

from __future__ import annotations

from datetime import timedelta

from engine.checks.book_view import BookView
from engine.checks.rule import Say, Says, rule
from engine.views.wording import count


@rule(
    "stale-pencil",
    "warning",
    "`witnessmark ink {record} --reason TEXT` saves it, `witnessmark pencil {record} --rub-out` "
    "rubs it out.",
    "book",
)
def stale_pencil(view: BookView) -> Says:
    """Pencil is older than the policy's stale_pencil_days."""
    days = view.file.policy.stale_pencil_days if view.file else None
    if days is None:
        return
    for draft in view.drafts:
        oldest = min(draft.marks, key=lambda mark: mark.at)
        age = view.now - oldest.at
        if age > timedelta(days=float(days)):
            values = count(len(draft.marks), "value")
            yield Say(
                oldest.address,
                f"{view.name_of(draft.person)} has had {values} in pencil for {age.days} days",
                document=draft.held.name,
            )


@rule(
    "contested-pencil",
    "warning",
    "Whose pencil it is decides: `witnessmark pencil {record} --keep`, or `--rub-out`.",
    "book",
)
def contested_pencil(view: BookView) -> Says:
    """Somebody inked what another has in pencil, or what belongs together with it."""
    for draft in view.drafts:
        for mark in draft.marks:
            who = draft.against.get(mark.address)
            if who is not None:
                yield Say(
                    mark.address,
                    f"{view.name_of(draft.person)} has it in pencil, and {who.name} "
                    "inked it or what belongs together with it meanwhile",
                    document=draft.held.name,
                )
