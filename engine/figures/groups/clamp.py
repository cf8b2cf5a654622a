"""Force of one jaw in N, standing and at the program's top speed; it warns, certifies nothing.

Pressure bar, masses kg, radii mm, speeds 1/min. Only on a chuck does turning
change the force: outside it takes m·r·omega² from each jaw, inside it adds it.
So the least force counts at top speed outside and at rest inside, the most the
other way round.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import pi

from engine.figures.inputs import Facts, Missing, gather
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.holding import positive
from engine.figures.verdicts import judge

_SOURCE = (
    "m·r·omega²: Hibbeler, Engineering Mechanics: Dynamics, 14th ed., section 13.5 (from memory); "
    "for chucks: VDI 3106:2004, Determination of permissible speed of lathe chucks (jaw chucks) "
    "(seen quoted, not in the original)"
)
_FORMULA = "force for each bar x clamping pressure; on a chuck, outside, less m·r·omega² of the jaw"
STANDING = FigureKind(
    "jaw force, standing",
    "clamp",
    "N",
    "force for each bar x clamping pressure, of one jaw",
    "common practice, no source",
    section="jaws",
)
TURNING = FigureKind(
    "jaw force, at top speed",
    "clamp",
    "N",
    f"{_FORMULA}; inside, plus it; omega = 2·pi·n/60, n the program's top spindle speed",
    _SOURCE,
    section="jaws",
)
LEAST = FigureKind(
    "jaw force, least",
    "clamp",
    "N",
    f"the lesser of standing and top speed ({_FORMULA}), against what the cut needs x the policy's "
    "safety factor",
    _SOURCE + "; a factor of 1.5 or more: the same",
    bound="least",
    section="jaws",
)
MOST = FigureKind(
    "jaw force, most",
    "clamp",
    "N",
    f"the larger of standing and top speed ({_FORMULA}; inside, plus it), against what the part "
    "bears",
    _SOURCE,
    bound="most",
    tight_share=0.1,
    section="jaws",
)


def centrifugal(mass: float, radius: float, speed: float) -> float:
    """m·r·omega² in N: kg, mm and 1/min."""
    return mass * radius / 1000 * (2 * pi * speed / 60) ** 2


def standing(facts: Facts) -> float:
    """Force of one jaw in N with the spindle at rest."""
    per_bar, pressure = facts.numbers("jaws.force_per_bar", "jaws.clamp_pressure")
    return per_bar * pressure


def at_top_speed(facts: Facts) -> float:
    """Force of one jaw in N at the program's top speed; below zero the jaws let go."""
    force, change = gather(lambda: standing(facts), lambda: _change(facts))
    return force + change


def least_force(facts: Facts) -> float:
    """The least of standing and turning, in N; what turning adds or leaves alone is not asked."""
    return gather(*_ways(facts, when=-1.0))[-1]


def most_force(facts: Facts) -> float:
    """The most of standing and turning, in N."""
    return gather(*_ways(facts, when=1.0))[-1]


def _ways(facts: Facts, when: float) -> list[Callable[[], float]]:
    """The force to look at, last; before it what decides, so that all that is missing is named."""
    try:
        turns = _sign(facts) == when
    except Missing:
        return [lambda: standing(facts), lambda: _sign(facts)]
    return [lambda: standing(facts), lambda: at_top_speed(facts) if turns else standing(facts)]


def _sign(facts: Facts) -> float:
    """What turning does to the force of a jaw: -1 on a chuck outside, 1 inside, 0 elsewhere."""
    if facts.text("jaws.kind") != "chuck":
        return 0.0
    return 1.0 if facts.text("jaws.inside_or_outside") == "inside" else -1.0


def _change(facts: Facts) -> float:
    """What turning adds to the force of a jaw, in N."""
    sign = _sign(facts)
    return sign * _centrifugal(facts) if sign else 0.0


def _centrifugal(facts: Facts) -> float:
    mass, speed, radius = gather(
        lambda: facts.number("jaws.jaw_mass"),
        lambda: facts.number("program.spindle_top"),
        lambda: facts.length("jaws.jaw_radius"),
    )
    return centrifugal(mass, radius, speed)


def _needed(facts: Facts) -> float:
    least, safety = facts.numbers("jaws.force_least", "policy:clamp_safety")
    return least * positive(safety, "policy:clamp_safety")


def figures(facts: Facts) -> list[Figure]:
    """Jaw force in N, standing and turning, least and most."""
    kind = facts.find("jaws.kind")
    at = kind or "jaws"
    found = [judge(facts, STANDING, at, lambda: standing(facts))]
    if kind in (None, "chuck"):
        found.append(judge(facts, TURNING, at, lambda: at_top_speed(facts)))
    most = partial(facts.number, "jaws.force_most")
    return [
        *found,
        judge(facts, LEAST, at, lambda: least_force(facts), lambda: _needed(facts)),
        judge(facts, MOST, at, lambda: most_force(facts), most),
    ]
