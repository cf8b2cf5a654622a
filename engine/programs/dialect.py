"""How a program is to be read where the standard and common practice part ways.

A dialect changes the meaning of letters and codes, never the text; every
field has one meaning, and nothing is guessed from the program except, where
said so, the digits of a T word. Lengths are in the program's own unit.

Sources: NISTIR 6556 for MILLING (3.5: G17 to G19, G90 and G91, G93 and G94,
G98 and G99, dwell in seconds; default modes from memory). TURNING, X as a
diameter, U and W as increments and G98/G99 for the feed: common practice, no
source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.views.programs import Unit


@dataclass(frozen=True, slots=True)
class Dialect:
    """What letters and codes mean where programs differ.

    units: unit before the first G20 or G21; None: not known.
    plane: plane before the first G17, G18 or G19.
    x_is_diameter: X words are diameters; I stays a radius.
    increments: pairs (letter, axis) whose words are always increments, as ("U", "X").
    per_minute, per_revolution: codes that choose the feed's kind.
    drilling_cycles: whether G81 to G89 mean what the standard says.
    turning_cycles: codes whose words are a cycle's, not a move's; they win over any other
        meaning of the code.
    dwell_seconds: seconds in one unit of a dwell's P (0.001 where P counts milliseconds).
    offset_digits: how many last digits of a T word of more digits name an offset; such a
        dialect's T word also changes the tool, unless the program has an M6. None: two
        digits if four were typed in a program without M6 (common practice), else none.
    """

    units: Unit | None = None
    plane: Literal["G17", "G18", "G19"] = "G17"
    x_is_diameter: bool = False
    increments: tuple[tuple[str, str], ...] = ()
    per_minute: frozenset[str] = frozenset({"G94"})
    per_revolution: frozenset[str] = frozenset({"G95"})
    drilling_cycles: bool = True
    turning_cycles: frozenset[str] = frozenset()
    dwell_seconds: float = 1.0
    offset_digits: int | None = None


MILLING = Dialect()
TURNING = Dialect(
    plane="G18",
    x_is_diameter=True,
    increments=(("U", "X"), ("W", "Z"), ("V", "Y"), ("H", "C")),
    per_minute=frozenset({"G98"}),
    per_revolution=frozenset({"G99"}),
    drilling_cycles=False,
    turning_cycles=frozenset(
        {"G70", "G71", "G72", "G73", "G74", "G75", "G76", "G90", "G92", "G94"}
    ),
    offset_digits=2,
)
