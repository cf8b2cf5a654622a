"""How a value is judged: what it is held against, and what follows.

Whatever is missing for value or limit makes a figure `cannot tell`. Policy lengths
are mm. Where the policy makes no rule, a value below zero (things that run into each
other) still does not fit; anything else cannot be told.
"""

from __future__ import annotations

from collections.abc import Callable

from engine.figures.inputs import Attempt, Facts, Missing
from engine.figures.kinds import Figure, FigureKind, Verdict

_NO_LIMIT: Attempt[float] = Attempt(None, (), [])


def judge(
    facts: Facts,
    kind: FigureKind,
    at: str,
    compute: Callable[[], float],
    limit: Callable[[], float] | None = None,
    *,
    note: str = "",
    look_at: str = "",
) -> Figure:
    """Compute one figure against a limit, or for information where there is none."""
    value = facts.attempt(compute)
    bound = facts.attempt(limit) if limit else _NO_LIMIT
    return _figure(kind, at, value, bound, note, look_at)


def judge_by_policy(
    facts: Facts,
    kind: FigureKind,
    at: str,
    compute: Callable[[], float],
    rule: str,
    *,
    note: str = "",
    look_at: str = "",
) -> Figure:
    """Compute one figure against a least value of the policy, or zero where it is below it."""
    value = facts.attempt(compute)

    def limit() -> float:
        try:
            return facts.number(f"policy:{rule}")
        except Missing:
            if value.result is None or value.result >= 0:
                raise
            return 0.0

    return _figure(kind, at, value, facts.attempt(limit), note, look_at)


def _figure(
    kind: FigureKind,
    at: str,
    value: Attempt[float],
    limit: Attempt[float],
    note: str,
    look_at: str,
) -> Figure:
    missing = tuple(dict.fromkeys((*value.missing, *limit.missing)))
    margin = None if missing else _margin(kind, value.result, limit.result)
    verdict: Verdict = "cannot tell" if missing else _verdict(kind, margin, limit.result)
    return Figure(
        *(kind.name, kind.group, at, value.result, kind.unit, limit.result),
        *(margin, verdict, kind, missing, note, look_at or kind.section),
        asked=value.asked,
        asked_for_limit=limit.asked,
    )


def _margin(kind: FigureKind, value: float | None, limit: float | None) -> float | None:
    if value is None or limit is None or kind.bound == "none":
        return None
    # 8.5 against 7.5 + 1.0 must fit in inches too: what a float adds is no shortfall
    return round(value - limit if kind.bound == "least" else limit - value, 9)


def _verdict(kind: FigureKind, margin: float | None, limit: float | None) -> Verdict:
    if margin is None or limit is None:
        return "for information"
    if margin < 0:
        return "does not fit"
    return "tight" if margin < kind.tight_below(limit) else "fits"
