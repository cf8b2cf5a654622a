"""A least value from the policy; without one nothing is judged but what cannot be.

Policy lengths are mm. Where the policy makes no rule, a value below zero (things
that run into each other) still does not fit; anything else cannot be told.
"""

from __future__ import annotations

from collections.abc import Callable

from engine.figures.model import Facts, Missing


def floor(facts: Facts, name: str, compute: Callable[[], float]) -> Callable[[], float]:
    """The limit for `judge`: the policy's least value, or zero where the value is below it."""

    def limit() -> float:
        try:
            return facts.of_policy(name)[0]
        except Missing as no_rule:
            try:
                crossed = compute() < 0
            except Missing:
                crossed = False
            if crossed:
                return 0.0
            raise no_rule from None

    return limit
