"""Force of one finger in N that holds a mass against a pull; plain numbers, no record.

Masses kg, pulls m/s², lengths mm, moments N·m. The pull holds g already: it is
what the fingers must give, (a - g) as vectors, so that at rest it is g upwards
and in a free descent at g nothing. Two fingers, closing against each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, radians, sin, sqrt, tan

from engine.figures.cell import Direction
from engine.figures.mechanics.pull import Pull

Vector = tuple[float, float, float]
_INDEX = {"x": 0, "y": 1, "z": 2}


def per_newton_flat(friction: float, faces: int = 2) -> float:
    """Finger force for each newton across the closing direction, flat fingers: 1/(mu·n).

    Groover, Weiss, Nagel, Odrey, Industrial Robotics: Technology, Programming, and
    Applications, 1986, ch. 5 (seen quoted, not in the original).
    """
    return 1 / (friction * faces)


def per_newton_v(friction: float, half_angle: float) -> float:
    """The same for V fingers that hold a round piece outside: sin(alpha)/(2·mu).

    Each finger presses with F/(2·sin(alpha)) on either face; four faces rub.
    Statics, worked; 45° gives 0.354/mu.
    """
    return sin(radians(half_angle)) / (2 * friction)


def force(mass: float, pull: Vector, closing: Direction, across: float, safety: float) -> float:
    """S·m·(across·|t| + |a_c|): t the part of the pull across the closing direction, a_c along it.

    `across` is one of the two above. V fingers need a_c too: no form closes along
    the closing direction; at 90° they are flat fingers.
    """
    index = _INDEX[closing]
    sideways = hypot(*(value for i, value in enumerate(pull) if i != index))
    return safety * mass * (across * sideways + abs(pull[index]))


@dataclass(frozen=True, slots=True)
class Grip:
    """How a mass is held. `turned`: a level closing direction may point anywhere level."""

    mass: float
    across: float
    safety: float
    closing: Direction
    turned: bool = False

    def force(self, pull: Pull) -> float:
        """N per finger at the worst direction of whatever has no known one.

        A pull r anywhere adds at most r·root(across² + 1), the most that
        across·sin + cos can be; a closing direction that turns level takes the
        share of the pull that makes across·t + a_c largest.
        """
        steepest = sqrt(self.across**2 + 1)
        if self.turned and self.closing != "z":
            along = min(pull.level, pull.total / steepest)
            sideways = sqrt(max(pull.total**2 - along**2, 0.0))
            return self.safety * self.mass * (self.across * sideways + along)
        vector = (pull.x, pull.y, pull.z)
        fixed = force(self.mass, vector, self.closing, self.across, self.safety)
        return fixed + self.safety * self.mass * pull.anywhere * steepest


def tipping(mass: float, across_arm: float, height: float, bite: float, safety: float) -> float:
    """Moment in N·m about the middle of the bite: S·m·pull x (height - bite)/2."""
    return safety * mass * across_arm * max(height - bite, 0.0) / 2 / 1000


def tipping_held(finger_force: float, bite: float, friction: float, half_angle: float) -> float:
    """Moment in N·m that two fingers hold at least; a half angle of 90 is flat.

    In the closing plane the pressure over the bite may fall to nothing at one
    edge: F·bite/3. About the closing direction flat fingers hold by friction on
    a line of contact, mu·F·bite/2, and V fingers by their faces, F·bite·cot(alpha)/3.
    Statics, worked; a wide flat face holds more.
    """
    lever = finger_force * bite / 1000
    turning = friction / 2
    if half_angle < 90:
        turning = max(turning, 1 / tan(radians(half_angle)) / 3)
    return lever * min(1 / 3, turning)
