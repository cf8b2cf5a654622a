"""Whether the fingers hold what they carry, on every leg, at its worst moments.

Forces are N for one finger, moments N·m, at full acceleration: the percentage of
full speed does not scale it. A moving moment never asks for less than rest does.
Friction is the one that the record gives for wet pieces; a table value is never
put in its place. The figures warn; they certify nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from engine.figures.cell import out_of
from engine.figures.geometry.sizes import WHATS, What, fingers, size
from engine.figures.groups.mass import mass_of
from engine.figures.inputs import Facts, Missing, gather, lacking
from engine.figures.kinds import Figure, FigureKind
from engine.figures.mechanics.grip import tipping, tipping_held
from engine.figures.mechanics.holding import (
    friction,
    half_angle,
    legs_with,
    needed,
    needed_at_rest,
    safety,
)
from engine.figures.mechanics.payload import carriers
from engine.figures.mechanics.pull import MOVING, REST, pulls
from engine.figures.tables import friction_of, material
from engine.figures.verdicts import judge

_FORMULA = (
    "flat fingers: S·m·(|t|/(2·mu) + |a_c|), t the part of (g + a) across the closing direction "
    "and a_c along it; V fingers outside: S·m·(|t|·sin(half angle)/(2·mu) + |a_c|); fingers that "
    "hold inside count as flat; at the worst signs of all axes that move together, "
    "and never less than at rest"
)
_SOURCE = (
    "Groover, Weiss, Nagel, Odrey, Industrial Robotics: Technology, Programming, and "
    "Applications, 1986, ch. 5 (seen quoted, not in the original); vectors and V: statics, worked"
)
AT_REST, STOP, _RULES = "at rest", MOVING[-1], "rules"
KINDS = {
    moment: FigureKind(
        f"finger force, {moment}", "hold", "N", _FORMULA, _SOURCE, "most", section="fingers"
    )
    for moment in (AT_REST, *MOVING)
}
NO_AIR = {
    moment: FigureKind(
        f"finger force without air, {moment}",
        "hold",
        "N",
        f"the force that is needed {moment}, against that of one finger without air; {_FORMULA}",
        _SOURCE,
        "most",
        section="fingers",
    )
    for moment in (AT_REST, STOP)
}
CRUSH = FigureKind(
    "finger force on the material",
    "hold",
    "N",
    "force of one finger against the force that the material bears; with the air above its "
    "lowest guarded pressure it is more",
    "common practice, no source",
    "most",
    section="fingers",
)
TIPPING = FigureKind(
    "tipping moment",
    "hold",
    "N·m",
    "S x m x pull across the piece x (height - finger bite)/2, at the worst moment of all legs, "
    "against finger force x bite x the lesser of 1/3 and, flat, mu/2, or, V, cot(half angle)/3. "
    "Where a station opens any other way than up, the whole pull counts",
    "statics, worked: pressure over the bite may fall to nothing at one edge",
    "most",
    section="fingers",
)
FRICTION = FigureKind(
    "friction",
    "hold",
    "1",
    "as entered, for pieces as they run: wet; a table value stands beside it to compare only",
    "tables mislead: Blau, The significance and use of the friction coefficient, Tribology "
    "International 34 (2001) 585 (abstract read)",
    section="fingers",
)


def figures(facts: Facts) -> list[Figure]:
    """Forces and moments of the fingers for whatever the round carries."""
    found: list[Figure] = []
    for what in WHATS:
        try:
            grippers = carriers(facts, what)
        except Missing:
            found.append(
                _judge(facts, KINDS[AT_REST], what, what, lacking(partial(carriers, facts, what)))
            )
            continue
        for gripper in grippers:
            found += _of_gripper(facts, what, gripper)
        if grippers:
            found += [_crush(facts, what), _friction(facts, what)]
    return found


def _judge(
    facts: Facts,
    kind: FigureKind,
    what: What,
    at: str,
    compute: Callable[[], float],
    limit: Callable[[], float] | None = None,
    note: str = "",
) -> Figure:
    return judge(facts, kind, at, compute, limit, note=note, look_at=f"fingers.{what}")


def _of_gripper(facts: Facts, what: What, gripper: str) -> list[Figure]:
    forces = _mark_ruling([_rest(facts, what, gripper), *_moving(facts, what, gripper)])
    return [
        *forces,
        *_without_air(facts, what, gripper, forces),
        _tipping(facts, what, gripper),
    ]


def _rest(facts: Facts, what: What, gripper: str) -> Figure:
    needs = partial(needed_at_rest, facts, what, gripper)
    return _judge(facts, KINDS[AT_REST], what, what, needs, partial(_force, facts, what))


def _moving(facts: Facts, what: What, gripper: str) -> list[Figure]:
    try:
        legs = legs_with(facts, what, gripper)
    except Missing:
        return [
            _judge(
                facts, KINDS[STOP], what, what, lacking(partial(legs_with, facts, what, gripper))
            )
        ]
    force = partial(_force, facts, what)
    return [
        _judge(
            facts,
            KINDS[moment],
            what,
            f"{what}, {leg}",
            partial(needed, facts, what, gripper, leg, moment),
            force,
        )
        for leg in legs
        for moment in MOVING
    ]


def _mark_ruling(forces: list[Figure]) -> list[Figure]:
    """Say which leg and moment rule; where one is not known, only as far as can be told."""
    values = [figure.value for figure in forces if figure.value is not None]
    if not values:
        return forces
    first = next(i for i, figure in enumerate(forces) if figure.value == max(values))
    note = _RULES if len(values) == len(forces) else f"{_RULES}, as far as can be told"
    return [replace(f, note=note) if i == first else f for i, f in enumerate(forces)]


def _without_air(facts: Facts, what: What, gripper: str, forces: list[Figure]) -> list[Figure]:
    """At rest, and through the emergency stop that the loss of air brings about."""
    stops = [figure for figure in forces if figure.kind is KINDS[STOP]]
    worst = max(stops, key=lambda figure: figure.value or 0.0)

    def stopping() -> float:
        legs = legs_with(facts, what, gripper)
        return max(gather(*(partial(needed, facts, what, gripper, leg, STOP) for leg in legs)))

    def held() -> float:
        return facts.number(f"{fingers(facts, what)}.force_without_air")

    at_rest = partial(needed_at_rest, facts, what, gripper)
    return [
        _judge(facts, NO_AIR[AT_REST], what, what, at_rest, held),
        _judge(facts, NO_AIR[STOP], what, worst.at, stopping, held),
    ]


def _tipping(facts: Facts, what: What, gripper: str) -> Figure:
    note = "" if _upright(facts) else "not every station opens upwards: the whole pull counts"

    def moment() -> float:
        mass, factor, across, height, bite = gather(
            lambda: mass_of(facts, what),
            lambda: safety(facts),
            lambda: _pull_across(facts, what, gripper),
            lambda: size(facts, what, "height")[1],
            lambda: facts.length(f"{fingers(facts, what)}.bite"),
        )
        return tipping(mass, across, height, bite, factor)

    def held() -> float:
        bite, force, rubbing, angle = gather(
            lambda: facts.length(f"{fingers(facts, what)}.bite"),
            lambda: _force(facts, what),
            lambda: friction(facts, what),
            lambda: half_angle(facts, what),
        )
        return tipping_held(force, bite, rubbing, angle)

    return _judge(facts, TIPPING, what, what, moment, held, note)


def _upright(facts: Facts) -> bool:
    """Whether every station opens upwards."""
    return all(out_of(facts, name) == ("z", 1) for name in facts.keys("cell:stations"))


def _pull_across(facts: Facts, what: What, gripper: str) -> float:
    """The worst pull across the piece in m/s², over all legs and moments."""
    legs = legs_with(facts, what, gripper)
    felt = gather(*(partial(pulls, facts, leg, moment) for leg in legs for moment in MOVING))
    every = [REST, *(pull for step in felt for pull in step)]
    upright = _upright(facts)
    return max(pull.level if upright else pull.total for pull in every)


def _crush(facts: Facts, what: What) -> Figure:
    limit = partial(facts.number, f"{fingers(facts, what)}.crush_limit")
    return _judge(facts, CRUSH, what, what, partial(_force, facts, what), limit)


def _friction(facts: Facts, what: What) -> Figure:
    note = _from_table(facts, what)
    return _judge(facts, FRICTION, what, what, partial(friction, facts, what), note=note)


def _from_table(facts: Facts, what: What) -> str:
    """What handbooks print for the material against steel, and whether that was entered."""
    grade = material(facts.find("blank.material") or "")
    pair = friction_of(grade.family) if grade else None
    if pair is None:
        return "wet, as it runs"
    printed = f"{pair.families[0]} on {pair.against}: dry {pair.dry}"
    printed += f", greasy {pair.greasy}" if pair.greasy is not None else ""
    entered = facts.find(f"{fingers(facts, what)}.friction")
    doubt = entered is not None and float(entered) >= pair.dry
    return printed + ("; entered is no less than dry: is it for wet pieces?" if doubt else "")


def _force(facts: Facts, what: What) -> float:
    return facts.number(f"{fingers(facts, what)}.force")
