"""How each gripper holds what it carries, as far as the record says; else `Missing`.

Angles degrees, lengths mm, masses kg. Two fingers; those that hold inside count
as flat, since where the edges of a V touch in a hole is in no record, and two
lines in a hole hold no less than flat faces. The axis that turns a gripper turns
it about an upright line, as the offsets of grippers do: a level closing direction
may then point anywhere level, an upright one stays.
"""

from __future__ import annotations

from functools import partial

from engine.figures.cell import closing_of, turned_by
from engine.figures.geometry.sizes import What, fingers
from engine.figures.groups.mass import mass_of
from engine.figures.inputs import Facts, Missing, both, gather
from engine.figures.mechanics.grip import Grip, per_newton_flat, per_newton_v
from engine.figures.mechanics.payload import on_leg
from engine.figures.mechanics.pull import REST, MovingMoment, pulls

FLAT = 90.0


def positive(value: float, address: str) -> float:
    """The value, or `Missing` where it is not above zero: it cannot have been measured."""
    if value <= 0:
        raise Missing(address)
    return value


def friction(facts: Facts, what: What) -> float:
    """Coefficient of friction as it runs, as entered; above zero."""
    address = f"{fingers(facts, what)}.friction"
    return positive(facts.number(address), address)


def half_angle(facts: Facts, what: What) -> float:
    """Half angle of the V in degrees; 90 for flat fingers and for all that hold inside."""
    address = fingers(facts, what)
    form, hold = gather(
        lambda: facts.text(f"{address}.form"), lambda: facts.text(f"{address}.hold")
    )
    if form == "flat" or hold == "inside":
        return FLAT
    angle = positive(facts.number(f"{address}.half_angle"), f"{address}.half_angle")
    if angle > FLAT:
        raise Missing(f"{address}.half_angle")
    return angle


def safety(facts: Facts) -> float:
    """Safety factor on the force of the fingers, from the policy; above zero."""
    return positive(facts.number("policy:hold_safety"), "policy:hold_safety")


def grip_of(facts: Facts, what: What, gripper: str) -> Grip:
    """How a gripper holds it; `Missing` names everything that is not there."""
    return facts.once(f"holding.{what}.{gripper}", lambda: _grip(facts, what, gripper))


def _grip(facts: Facts, what: What, gripper: str) -> Grip:
    (mass, rubbing, angle, factor), closing = both(
        lambda: gather(
            lambda: mass_of(facts, what),
            lambda: friction(facts, what),
            lambda: half_angle(facts, what),
            lambda: safety(facts),
        ),
        lambda: closing_of(facts, gripper),
    )
    across = per_newton_flat(rubbing) if angle == FLAT else per_newton_v(rubbing, angle)
    return Grip(mass, across, factor, closing, turned_by(facts, gripper) is not None)


def legs_with(facts: Facts, what: What, gripper: str) -> list[str]:
    """Legs on which the gripper may hold it; `Missing` cell:legs where there is none."""
    facts.need_cell()
    legs = facts.keys("cell:legs")
    found = [leg for leg in legs if (gripper, what) in on_leg(facts, leg)]
    if not found:
        raise Missing("cell:legs")
    return found


def needed_at_rest(facts: Facts, what: What, gripper: str) -> float:
    """Force of one finger in N, standing still."""
    return grip_of(facts, what, gripper).force(REST)


def needed(facts: Facts, what: What, gripper: str, leg: str, moment: MovingMoment) -> float:
    """Force of one finger in N on a leg at a moment, never below rest."""
    gather(  # names everything that is missing; both are kept by `facts`
        partial(grip_of, facts, what, gripper), partial(pulls, facts, leg, moment)
    )
    grip = grip_of(facts, what, gripper)
    return max(grip.force(pull) for pull in (REST, *pulls(facts, leg, moment)))
