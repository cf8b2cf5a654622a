"""What the fingers must give to what they hold: g and the loader's acceleration, in m/s².

Directions are those of the cell (x, y, z up). The percentage of full speed does
not scale an acceleration. Where a direction is not known, the pull may point
anywhere; where a sign is not known, the worse one counts: no pull is ever too
small, and none is below rest.

A rotary axis gives alpha x r along its circle and omega² x r towards its centre,
at full speed, at right angles to each other; that sum may point anywhere, as it
does over a swing: `along` is the line that a rotary axis turns about, no direction
of its pull. A linear axis without `along` turns with an
arm and may point anywhere too; moving together with a rotary axis it adds
2 x omega x v. Axes of the machine do not move the fingers.

Source: acceleration in polar coordinates, Hibbeler, Engineering Mechanics:
Dynamics, 14th ed., section 12.8 (from memory); the worst sign: common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from math import hypot, radians, sqrt
from typing import Literal

from engine.figures.cell import (
    above_zero,
    along_of,
    axes_at,
    end_of,
    is_rotary,
    moves_of,
    owner_of,
    path_of,
    scale_of,
    start_of,
)
from engine.figures.inputs import Facts, gather
from schemas.factors import G

MovingMoment = Literal["speeding up", "braking", "emergency stop"]
MOVING: tuple[MovingMoment, ...] = ("speeding up", "braking", "emergency stop")


@dataclass(frozen=True, slots=True)
class Pull:
    """Sizes along x, y and z (z with g in it), and `anywhere`: what may point anywhere. m/s²."""

    x: float = 0.0
    y: float = 0.0
    z: float = G
    anywhere: float = 0.0

    @property
    def total(self) -> float:
        """The whole pull, in m/s²."""
        return sqrt(self.x**2 + self.y**2 + self.z**2) + self.anywhere

    @property
    def level(self) -> float:
        """The part of it that can lie level, in m/s²."""
        return hypot(self.x, self.y) + self.anywhere


REST = Pull()


def steps(facts: Facts, leg: str) -> list[list[str]]:
    """Axes of the loader that move together, step by step; without `moves` all in one step."""
    together = moves_of(facts, leg)
    if not together:
        ends = start_of(facts, leg), end_of(facts, leg)
        together = [list(dict.fromkeys(axis for end in ends for axis in axes_at(facts, end)))]
    return [[name for name in step if owner_of(facts, name) == "loader"] for step in together]


def pulls(facts: Facts, leg: str, moment: MovingMoment) -> tuple[Pull, ...]:
    """The worst pull of each step of a leg at one moment, or `Missing`."""
    return facts.once_per_cell(f"pull.{leg}.{moment}", lambda: _pulls(facts, leg, moment))


def _pulls(facts: Facts, leg: str, moment: MovingMoment) -> tuple[Pull, ...]:
    return gather(*(partial(_pull, facts, leg, step, moment) for step in steps(facts, leg)))


def _pull(facts: Facts, leg: str, step: list[str], moment: MovingMoment) -> Pull:
    """Axes on their own do not end together: one may brake while another still speeds up."""
    mixed = moment == "braking" and len(step) > 1 and path_of(facts, leg) != "straight"
    rates = gather(*(partial(_rate, facts, name, moment, mixed) for name in step))
    known_way, anywhere = {"x": 0.0, "y": 0.0, "z": G}, 0.0
    for name, rate in zip(step, rates, strict=True):
        along = along_of(facts, name)
        if is_rotary(facts, name):
            anywhere += hypot(*_turning(facts, name, rate))
        elif along is None:
            anywhere += rate / 1000
        else:
            known_way[along] += rate / 1000
    return Pull(**known_way, anywhere=anywhere + _across_the_arm(facts, step))


def _rate(facts: Facts, name: str, moment: MovingMoment, mixed: bool) -> float:
    """Acceleration of one axis in mm/s² or deg/s²; braking is as acceleration where not given."""
    asked = {"speeding up": ["acceleration"], "emergency stop": ["stop"]}.get(moment)
    if asked is None:
        given = facts.find(f"cell:axes.{name}.braking") is not None
        asked = ["braking" if given else "acceleration", *(["acceleration"] if mixed else [])]
    return scale_of(facts, name) * max(above_zero(facts, f"axes.{name}.{a}") for a in asked)


def _turning(facts: Facts, name: str, rate: float) -> tuple[float, float]:
    """Along the circle and towards its centre, in m/s²."""
    radius, speed = gather(
        lambda: facts.number(f"cell:axes.{name}.radius"),
        lambda: above_zero(facts, f"axes.{name}.speed"),
    )
    arm = abs(radius) / 1000
    return radians(rate) * arm, radians(speed) ** 2 * arm


def _across_the_arm(facts: Facts, step: list[str]) -> float:
    """2 x omega x v of linear axes that turn with an arm, in m/s²."""
    turning = [name for name in step if is_rotary(facts, name)]
    riding = [n for n in step if n not in turning and along_of(facts, n) is None]
    if not riding or not turning:
        return 0.0
    omega = sum(radians(above_zero(facts, f"axes.{name}.speed")) for name in turning)
    speed = sum(above_zero(facts, f"axes.{n}.speed") * scale_of(facts, n) for n in riding)
    return 2 * omega * speed / 1000
